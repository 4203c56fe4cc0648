//! Preamp gain too low.
//!
//! Looks at the loud level of inputs, and the hit peaks of drums and cymbals. Never speaks where the microphone hears the band nearly as loud as its own source.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{Channel, Reading};
use crate::session::Role;
use crate::unit::Unit;

const SOURCE: Source = Source::Published(
    "EBU R 68 alignment (from memory); an average around -18 dBFS is common practice",
);
/// Where loud passages should sit, in dBFS.
const AIM_DBFS: f64 = -18.0;
/// Where the top peak should stay at a rehearsal, in dBFS.
const TOP_DBFS: f64 = -12.0;
/// More than this at once startles, in dB.
const MOST_DB: f64 = 12.0;
/// A smaller change is not worth the trouble, in dB.
const LEAST_DB: f64 = 2.0;
/// Below this the microphone hears the band nearly as loud as its own source, in dB.
const OWN_DB: f64 = 6.0;

pub(super) const RULE: Rule = Rule {
    id: "gain-too-low",
    title: "Preamp gain too low",
    group: Group::Gain,
    tier: Tier::A,
    effect: 3,
    ease: 1,
    explains: &["hiss-floor", "fader-far", "voice-buried"],
    measures: "Loud level (95th percentile of 400 ms RMS, active frames); for drums and cymbals the 90th percentile of the peaks of hits.",
    limbs: &[
        Limb {
            name: "loud level",
            unit: Unit::Dbfs,
            windows: &[
                Window::at_least(-24.0, -32.0, SOURCE).roles(pick::SUSTAINED),
                Window::at_least(-24.0, -32.0, SOURCE).roles(&[Role::Playback]),
            ],
        },
        Limb {
            name: "hit peak",
            unit: Unit::Dbfs,
            windows: &[
                Window::at_least(-14.0, -24.0, SOURCE).roles(pick::DRUMS),
                Window::at_least(-20.0, -30.0, SOURCE).roles(pick::CYMBALS),
            ],
        },
    ],
    combine: Combine::Worst,
    needs: &[Need::Raw],
    guards: Guards::USUAL,
    guard_text: "20 s of active time; own-to-spill of 6 dB or more; recordings right after the preamplifier.",
    absent: "no input was recorded",
    heard: "{who} {is} low at the input",
    why: "The fader ends high, with more hiss.",
    advice: &[
        "Bring the source closer; then lower sends and fader, raise the gain by {db}, return the sends slowly.",
        "Turn the instrument up to three quarters or full before touching the gain.",
        "Set the gain on the solo meter in the line check: loud phrases about -18 dBFS RMS, peaks about -12.",
    ],
    backing: &[Source::CommonPractice, SOURCE],
    shows: "Level histogram with the target window, and the suggested change.",
    fooled_by: "two soft bars, a channel used for its spill, or a desk with a trim after the recording",
    other_causes: "a singer far from the microphone, an instrument turned down, or a pad left in",
    question: "Where did the fader of this channel end up?",
    exercise: "Set the gain of three inputs on the solo meter within one minute each, sends down first.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    pick::inputs(reading)
        .map(|input| {
            let is_hit = pick::DRUMS.contains(&input.role) || pick::CYMBALS.contains(&input.role);
            let facts = if is_hit {
                vec![None, Some(input.hit_peak_dbfs.clone())]
            } else {
                vec![Some(input.loud_level_dbfs.clone()), None]
            };
            let is_spill =
                !input.is_line && input.own_to_spill_db.value().is_some_and(|own| own < OWN_DB);
            let rise_db = rise_db(input, is_hit);
            let has_room = rise_db.is_none_or(|rise_db| rise_db >= LEAST_DB);
            let change_db = rise_db.filter(|rise_db| *rise_db > 0.0);
            Observation { change_db, ..pick::raw_by_role(input, facts) }
                .doubted(pick::is_cut_before_the_desk(input), CUT)
                .doubted(!has_room, "its peaks leave no room to raise the gain")
                .doubted(is_spill, "its microphone hears the band nearly as loud as its own source")
        })
        .collect()
}

/// Why a low gain is not the first thing to look at.
const CUT: &str = "its tops are cut off before the desk, which comes first";

/// How far the gain may go up: to the aim, 12 dB at most, and no further than the top peak allows.
fn rise_db(input: &Channel, is_hit: bool) -> Option<f64> {
    let room_db = TOP_DBFS - input.top_peak_dbfs.value()?;
    let missing_db = match input.loud_level_dbfs.value() {
        Some(loud_dbfs) if !is_hit => AIM_DBFS - loud_dbfs,
        _ => room_db,
    };
    Some(room_db.min(missing_db).min(MOST_DB).floor().max(0.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, only, session};
    use crate::unit::Fact;

    fn voice(loud_dbfs: f64, peak_dbfs: f64) -> Channel {
        let mut voice = channel(1, Role::LeadVocal);
        voice.loud_level_dbfs = Fact::exact(loud_dbfs);
        voice.top_peak_dbfs = Fact::exact(peak_dbfs);
        voice
    }

    fn rise(loud_dbfs: f64, peak_dbfs: f64) -> Option<f64> {
        observe(&session(vec![voice(loud_dbfs, peak_dbfs)]))[0].change_db
    }

    #[test]
    fn fires_when_loud_passages_stay_under_the_target() {
        assert_eq!(only(&RULE, &session(vec![voice(-24.1, -14.0)])), Near, "just under -24");
        assert_eq!(only(&RULE, &session(vec![voice(-35.0, -26.0)])), Outside, "under -32");
        let mut hat = channel(4, Role::HiHat);
        hat.hit_peak_dbfs = Fact::exact(-21.0);
        hat.top_peak_dbfs = Fact::exact(-17.0);
        assert_eq!(only(&RULE, &session(vec![hat])), Near, "cymbals under -20");
    }

    #[test]
    fn stays_quiet_at_the_edge_of_the_target() {
        assert_eq!(only(&RULE, &session(vec![voice(-24.0, -14.0)])), OnTarget, "-24 is inside");
    }

    #[test]
    fn is_not_fooled_by_a_quiet_first_verse() {
        let mut verse = voice(-20.0, -10.0);
        verse.typical_level_dbfs = Fact::exact(-36.0);
        assert_eq!(only(&RULE, &session(vec![verse])), OnTarget, "the loud passages are fine");
    }

    #[test]
    fn is_not_fooled_by_a_microphone_full_of_spill() {
        let mut far = voice(-35.0, -26.0);
        far.own_to_spill_db = Fact::exact(5.0);
        assert!(matches!(only(&RULE, &session(vec![far])), NotJudged(_)), "distance comes first");
    }

    #[test]
    fn suggests_no_more_than_the_peaks_and_12_db_allow() {
        assert_eq!(rise(-35.0, -26.0), Some(12.0), "17 dB are missing, 14 dB are free: 12 at most");
        assert_eq!(rise(-35.0, -20.5), Some(8.0), "8.5 dB are free");
        assert_eq!(rise(-26.0, -30.0), Some(8.0), "8 dB are missing");
        assert_eq!(rise(-26.0, -11.0), None, "no room under -12 dBFS");
    }

    #[test]
    fn is_not_fooled_by_peaks_that_leave_no_room() {
        let outcome = only(&RULE, &session(vec![voice(-25.0, -12.0)]));
        assert!(matches!(outcome, NotJudged(_)), "a rise would take the peaks over -12 dBFS");
    }
}
