//! Preamp gain too high.
//!
//! Looks at loud level, top peak and flat tops of the inputs. Never counts a peak that came less than three times (a cough, a dropped microphone).

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{Channel, Reading};
use crate::session::Role;
use crate::unit::Unit;

const SOURCE: Source = Source::Published(
    "EBU R 68 alignment (from memory); peaks of -12 to -6 dBFS with an average near -18 dBFS are common practice",
);
/// Room that peaks and loud passages should leave, in dBFS.
const PEAK_DBFS: f64 = -6.0;
const LOUD_DBFS: f64 = -14.0;

pub(super) const RULE: Rule = Rule {
    id: "gain-too-hot",
    title: "Preamp gain too high",
    group: Group::Gain,
    tier: Tier::A,
    effect: 3,
    ease: 1,
    explains: &["clip-input", "headroom-thin"],
    measures: "Loud level (95th percentile of 400 ms RMS, active frames), top peak, and flat tops.",
    limbs: &[
        Limb {
            name: "loud level",
            unit: Unit::Dbfs,
            windows: &[Window::at_most(-14.0, -10.0, SOURCE).roles(pick::SUSTAINED)],
        },
        Limb {
            name: "top peak",
            unit: Unit::Dbfs,
            windows: &[
                Window::at_most(-3.0, -1.0, SOURCE).roles(&[Role::Playback]),
                Window::at_most(-6.0, -2.0, SOURCE),
            ],
        },
        Limb {
            name: "flat tops",
            unit: Unit::Count,
            windows: &[Window::at_most(0.0, 0.0, SOURCE)],
        },
    ],
    combine: Combine::Worst,
    needs: &[Need::Raw],
    guards: Guards::USUAL,
    guard_text: "A peak counts if it came three times or more; recordings right after the preamplifier; flat tops at full scale.",
    absent: "no input was recorded",
    heard: "{who} {is} hot at the input",
    why: "Without room to spare, the loudest chorus distorts for good.",
    advice: &[
        "Lower the gain by at least {db}, after telling the stage, then hear the loudest passage.",
        "Keep the instrument at three quarters to full; use a pad only if the gain is at its lowest.",
        "Bring faders and sends up slowly from below.",
        "Expect about 6 dB more at the performance than at the check.",
    ],
    backing: &[Source::CommonPractice, SOURCE],
    shows: "Level histogram with the target window, and the time of the top peak.",
    fooled_by: "one dropped microphone or cough, mastered playback, or a floating-point file with its own scale",
    other_causes: "a player louder than at the check, or a pad left out",
    question: "When was the gain set, and what was played then?",
    exercise: "Set the gain of three inputs on their loudest passage within one minute each.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    pick::inputs(reading)
        .map(|input| {
            let loud = pick::SUSTAINED.contains(&input.role).then(|| input.loud_level_dbfs.clone());
            // The gain of the desk does not cut tops off below full scale.
            let tops = pick::flat_tops(input).filter(|_| !pick::is_cut_before_the_desk(input));
            let facts = vec![loud, Some(pick::repeated_peak(input)), tops.clone()];
            Observation {
                n_events: input.n_top_peaks,
                evidence: pick::at(&input.top_peaks_at_s),
                change_db: change_db(input),
                detail: tops
                    .and_then(|count| count.value())
                    .filter(|count| *count > 0.0)
                    .map(|_| "Its tops are cut off: how far over it went can't be told.".into()),
                ..pick::raw_by_role(input, facts)
            }
            .doubted(pick::has_own_scale(input), pick::OWN_SCALE)
        })
        .collect()
}

/// How far the gain may come down, as a negative change: to the room that peaks and loud passages should leave.
fn change_db(input: &Channel) -> Option<f64> {
    let peak_db = input.top_peak_dbfs.value()? - PEAK_DBFS;
    let is_sustained = pick::SUSTAINED.contains(&input.role);
    let loud_db =
        input.loud_level_dbfs.value().filter(|_| is_sustained).map(|loud| loud - LOUD_DBFS);
    let change_db = peak_db.max(loud_db.unwrap_or(peak_db)).ceil();
    (change_db > 0.0).then_some(-change_db)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, only, session};
    use crate::reading::Events;
    use crate::unit::Fact;

    fn outcome(role: Role, loud_dbfs: f64, peak_dbfs: f64, n_peaks: usize) -> Outcome {
        let mut input = channel(1, role);
        input.loud_level_dbfs = Fact::exact(loud_dbfs);
        input.top_peak_dbfs = Fact::exact(peak_dbfs);
        input.n_top_peaks = n_peaks;
        only(&RULE, &session(vec![input]))
    }

    #[test]
    fn fires_when_level_or_peak_leave_no_room() {
        assert_eq!(outcome(Role::LeadVocal, -13.9, -7.0, 3), Near, "loud level over -14");
        assert_eq!(outcome(Role::Kick, -20.0, -1.9, 3), Outside, "peaks over -2");
        assert_eq!(outcome(Role::Playback, -9.0, -2.9, 3), Near, "playback over -3");
    }

    #[test]
    fn is_not_fooled_by_tops_that_were_cut_before_the_desk() {
        let of_tops_at = |level_dbfs: f64| {
            let mut input = channel(1, Role::LeadVocal);
            input.flat_tops = Events { count: 6, at_s: vec![60.0; 6] };
            input.flat_top_level_dbfs = Fact::exact(level_dbfs);
            only(&RULE, &session(vec![input]))
        };
        assert_eq!(of_tops_at(-0.1), Outside, "the desk cut them off");
        assert_eq!(of_tops_at(-20.0), OnTarget, "a pack or a pedal did");
    }

    #[test]
    fn stays_quiet_at_the_edges_of_the_target() {
        assert_eq!(outcome(Role::LeadVocal, -14.0, -6.0, 3), OnTarget, "-14 and -6 are inside");
        assert_eq!(outcome(Role::Playback, -8.0, -3.0, 3), OnTarget, "playback is mastered");
    }

    #[test]
    fn is_not_fooled_by_one_dropped_microphone() {
        assert!(matches!(outcome(Role::LeadVocal, -18.0, -1.0, 1), NotJudged(_)), "one peak only");
    }

    #[test]
    fn suggests_what_brings_peaks_to_6_db_below_full_scale() {
        let mut drum = channel(1, Role::Kick);
        drum.top_peak_dbfs = Fact::exact(-1.5);
        assert_eq!(
            observe(&session(vec![drum]))[0].change_db,
            Some(-5.0),
            "-1.5 to -6, rounded up"
        );
    }
}
