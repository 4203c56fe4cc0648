//! Little headroom left at rehearsal.
//!
//! Looks at the top peak of inputs at rehearsals. Never judges a performance.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{Channel, Reading};
use crate::session::Role;
use crate::unit::{Fact, Unit};

pub(super) const RULE: Rule = Rule {
    id: "headroom-thin",
    title: "Little headroom left at rehearsal",
    group: Group::Gain,
    tier: Tier::A,
    effect: 2,
    ease: 1,
    explains: &[],
    measures: "0 dBFS minus the top peak of the channel, rehearsals only.",
    limbs: &[Limb {
        name: "headroom",
        unit: Unit::Db,
        windows: &[Window::at_least(6.0, 3.0, Source::CommonPractice)],
    }],
    combine: Combine::Worst,
    needs: &[Need::Raw],
    guards: Guards::USUAL,
    guard_text: "Rehearsals only; a peak counts if it came three times or more; silent where peaks are limited before the recording (crest under 6 dB).",
    absent: "no input was recorded",
    heard: "{who} {is} short of headroom",
    why: "People play louder with an audience.",
    advice: &[
        "Lower the gain by 3-6 dB and raise the fader by the same.",
        "Ask for the loudest song at sound check.",
    ],
    backing: &[Source::CommonPractice],
    shows: "The five highest peaks with their times.",
    fooled_by: "a channel that is limited before the recording",
    other_causes: "a player louder than at the check",
    question: "Was this the loudest song of the set?",
    exercise: "Ask each player for the loudest passage and write down the peak, 5 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    pick::inputs(reading)
        .filter(|input| input.role != Role::Playback)
        .map(|input| {
            let is_limited =
                input.active_crest_db.value().is_some_and(|crest_db| crest_db < LIMITED_DB);
            let observation = Observation {
                n_events: input.n_top_peaks,
                evidence: pick::at(&input.top_peaks_at_s),
                confidence_cap: 1.0,
                ..pick::raw_by_role(input, vec![Some(headroom(input))])
            }
            .doubted(is_limited, "its peaks are limited before the recording")
            .doubted(pick::has_own_scale(input), pick::OWN_SCALE);
            if reading.session.is_rehearsal {
                observation
            } else {
                observation.withheld("headroom is judged at rehearsals only")
            }
        })
        .collect()
}

/// Crest of a channel that is limited before the recording, in dB.
const LIMITED_DB: f64 = 6.0;

fn headroom(input: &Channel) -> Fact {
    match pick::repeated_peak(input) {
        Fact::AtMost { at_most, confidence } => Fact::AtLeast { at_least: -at_most, confidence },
        peak => pick::map(&peak, |peak_dbfs| -peak_dbfs),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, only, session};

    fn input(peak_dbfs: f64, n_peaks: usize) -> Channel {
        let mut input = channel(1, Role::Strings);
        input.top_peak_dbfs = Fact::exact(peak_dbfs);
        input.n_top_peaks = n_peaks;
        input
    }

    #[test]
    fn fires_when_less_than_6_db_are_left() {
        assert_eq!(only(&RULE, &session(vec![input(-5.9, 3)])), Near, "under 6 dB");
        assert_eq!(only(&RULE, &session(vec![input(-2.9, 3)])), Outside, "under 3 dB");
    }

    #[test]
    fn stays_quiet_at_6_db() {
        assert_eq!(only(&RULE, &session(vec![input(-6.0, 3)])), OnTarget, "6 dB is inside");
    }

    #[test]
    fn is_not_fooled_by_one_peak_a_limiter_or_a_performance() {
        assert!(matches!(only(&RULE, &session(vec![input(-1.0, 1)])), NotJudged(_)), "one peak");
        let mut limited = input(-1.0, 3);
        limited.active_crest_db = Fact::exact(5.0);
        assert!(matches!(only(&RULE, &session(vec![limited])), NotJudged(_)), "limited");
        let mut night = session(vec![input(-1.0, 3)]);
        night.session.is_rehearsal = false;
        assert!(matches!(only(&RULE, &night), NotJudged(_)), "a performance");
    }
}
