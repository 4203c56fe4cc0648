//! Sudden peak in an in-ear mix.
//!
//! Looks at peaks of mixes for ears that no input has an onset for. Never counts a loud fill.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::Reading;
use crate::unit::{Fact, Unit};

const SOURCE: Source = Source::Published(
    "personal monitors need a limiter at the receiver; unplugging can exceed 130 dB SPL (Ballou, Handbook for Sound Engineers, from memory)",
);

/// How sure a single spike is.
const SURE: f64 = 0.8;

pub(super) const RULE: Rule = Rule {
    id: "ear-spike",
    title: "Sudden peak in an in-ear mix",
    group: Group::Feedback,
    tier: Tier::B,
    effect: 4,
    ease: 1,
    explains: &[],
    measures: "Peaks 6 dB or more above the 99.9th percentile of the mix's peaks that no input has an onset for, or that come with a plug or a howl.",
    limbs: &[Limb {
        name: "spikes",
        unit: Unit::Count,
        windows: &[Window::at_most(0.0, 1.0, SOURCE)],
    }],
    combine: Combine::Worst,
    needs: &[],
    guards: Guards { min_active_s: 0.0, ..Guards::USUAL },
    guard_text: "Monitor mixes that are noted as in-ear, from 60 s of sound; a peak that an input's onset explains within 40 ms is music.",
    absent: "no monitor mix was recorded and noted as in-ear",
    heard: "{who} {is} hit by a sudden peak",
    why: "In-ears put a bang straight at the eardrum.",
    advice: &[
        "Mute before plugging, unplugging or power moves.",
        "Check the limiter at the pack, keep its volume moderate, and wear both ears.",
        "Fade sends up from zero.",
    ],
    backing: &[SOURCE],
    shows: "Time, and the channel that caused it.",
    fooled_by: "a sound that was not recorded on a channel of its own",
    other_causes: "a send that was opened at full level, a digital burst",
    question: "What was plugged, opened or switched there?",
    exercise: "Open a send to the ears from zero while its player listens, three times, 3 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: Some(
        "A bang in an in-ear can damage hearing. Switch the limiter at the pack on, keep volumes moderate, wear both sides, and mute the sends before anything is plugged, unplugged or switched: unplugging can send a peak above 130 dB into an ear. Nobody wears in-ears while feedback is looked for. After ringing ears or dull hearing, see a doctor; if hearing goes suddenly, the same day.",
    ),
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let mixes = reading.channels.iter();
    mixes
        .filter_map(|mix| {
            let spikes = mix.ear_spikes.as_ref()?;
            Some(Observation {
                n_events: spikes.count,
                evidence: pick::moments(spikes),
                confidence_cap: 1.0,
                is_raw: false,
                own_to_spill_db: None,
                is_safety: spikes.count > 0,
                ..Observation::of(mix, vec![Some(Fact::sure(spikes.count as f64, SURE))])
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, OnTarget, Outside};
    use crate::coach::example::{channel, judged, only, session};
    use crate::reading::{Channel, Events};
    use crate::session::Role;

    fn ears(count: usize) -> Channel {
        let mut mix = channel(33, Role::MonitorMix);
        mix.is_in_ear = true;
        mix.ear_spikes = Some(Events { count, at_s: vec![60.0; count] });
        mix
    }

    #[test]
    fn fires_on_a_spike_and_warns() {
        assert_eq!(only(&RULE, &session(vec![ears(1)])), Near, "one");
        assert_eq!(only(&RULE, &session(vec![ears(2)])), Outside, "two");
        assert!(observe(&session(vec![ears(1)]))[0].is_safety, "it can hurt");
    }

    #[test]
    fn stays_quiet_without_spikes() {
        assert_eq!(only(&RULE, &session(vec![ears(0)])), OnTarget, "none");
        assert!(!observe(&session(vec![ears(0)]))[0].is_safety, "nothing to warn of");
    }

    #[test]
    fn is_not_fooled_by_a_wedge() {
        let wedge = channel(33, Role::MonitorMix);
        assert!(judged(&RULE, &session(vec![wedge])).is_empty(), "not for ears");
    }
}
