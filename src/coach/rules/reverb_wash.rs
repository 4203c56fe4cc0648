//! Too much reverb or echo on voices.
//!
//! Looks at returns of effects against the lead voices in the mix. For the mentor only: the hall adds its own.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::Reading;
use crate::reading::SongMix;
use crate::session::Role;
use crate::unit::Unit;

pub(super) const RULE: Rule = Rule {
    id: "reverb-wash",
    title: "Too much reverb or echo on voices",
    group: Group::Effects,
    tier: Tier::C,
    effect: 2,
    ease: 1,
    explains: &[],
    measures: "Loudness of the returns of effects in the mix minus that of the lead voices, K-weighted, 3 s, while these sing; the worst song counts.",
    limbs: &[Limb {
        name: "effect against the voice",
        unit: Unit::Lu,
        windows: &[Window::at_most(-12.0, -9.0, SOURCE)],
    }],
    combine: Combine::Worst,
    needs: &[Need::Main],
    guards: Guards { min_active_s: 20.0, min_confidence: 0.6, ..Guards::USUAL },
    guard_text: "20 s of singing; the return was recorded; the tighter target holds, since the decay of the hall is not known.",
    absent: "the mix could not be read back, or no return of an effect was recorded",
    heard: "{who} {is} strong against the voices",
    why: "The hall adds its own; more makes words swim.",
    advice: &[
        "Lower the return by 3 dB, or shorten it to 1.5 s.",
        "Set a high-pass on the return at 200 to 300 Hz.",
        "Mute it in fast songs.",
    ],
    backing: &[SOURCE],
    shows: "The end of a phrase, raw and in the mix.",
    fooled_by: "a long natural decay, and playback with effects of its own",
    other_causes: "a dry hall that needs it",
    question: "Is the effect heard, or only missed when it is gone?",
    exercise: "Raise the effect until it is heard as an effect, then take 3 dB off, 2 minutes.",
    praise: None,
    page: Page::Mentor,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let songs = reading.mix.iter().flat_map(|mix| &mix.songs);
    let told = songs.filter(|song| song.effects_re_voice_lu.value().is_some());
    let level = |song: &SongMix| song.effects_re_voice_lu.value().unwrap_or(f64::MIN);
    let worst = told.max_by(|a, b| level(a).total_cmp(&level(b)));
    worst
        .and_then(|song| {
            let first = reading.with_role(&[Role::FxReturn]).next()?;
            let sung_s: f64 = song.leads.iter().map(|lead| lead.sung_s).sum();
            Some(Observation {
                songs: vec![song.title.clone()],
                active_s: sung_s,
                affected_s: sung_s,
                confidence_cap: first.role_confidence,
                ..pick::through_mix(first, vec![Some(song.effects_re_voice_lu.clone())])
            })
        })
        .into_iter()
        .collect()
}

const SOURCE: Source = Source::Published(
    "listeners preferred a return about 9 LU below the dry voice (Pestana and Reiss 2014, from a secondary source)",
);

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, OnTarget, Outside};
    use crate::coach::example::{channel, judged, mixed, only};
    use crate::unit::Fact;

    fn wet(levels_lu: [f64; 2]) -> Reading {
        let mut reading = mixed(vec![channel(17, Role::LeadVocal), channel(25, Role::FxReturn)]);
        let mix = reading.mix.as_mut().expect("it was mixed");
        for (song, level_lu) in mix.songs.iter_mut().zip(levels_lu) {
            song.effects_re_voice_lu = Fact::sure(level_lu, 0.85);
        }
        reading
    }

    #[test]
    fn fires_on_the_worst_song() {
        assert_eq!(only(&RULE, &wet([-20.0, -10.0])), Near, "over -12");
        assert_eq!(only(&RULE, &wet([-5.0, -20.0])), Outside, "over -9");
    }

    #[test]
    fn stays_quiet_at_the_edge() {
        assert_eq!(only(&RULE, &wet([-12.0, -20.0])), OnTarget, "-12 is inside");
    }

    #[test]
    fn is_not_fooled_by_a_session_without_returns() {
        assert!(judged(&RULE, &mixed(vec![channel(17, Role::LeadVocal)])).is_empty(), "none");
    }
}
