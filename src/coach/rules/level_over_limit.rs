//! Louder than the agreed level, or than published bounds.
//!
//! Looks at averages, peaks and exposure of a calibrated hall microphone. Never says a sound level without a calibration.

use crate::coach::rule::{
    Combine, Group, Guards, Limb, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{AgreedLimit, Reading, SoundLevels};
use crate::unit::{Fact, Unit};

pub(super) const RULE: Rule = Rule {
    id: "level-over-limit",
    title: "Louder than the limit",
    group: Group::Loudness,
    tier: Tier::B,
    effect: 4,
    ease: 1,
    explains: &[],
    measures: "Loudest A-weighted average over the agreed time minus the agreed limit, highest C-weighted peak over 135 dB, and the daily exposure of somebody who stays through the recording over 85 dB(A) for 8 h, at the calibrated hall microphone.",
    limbs: &[
        Limb {
            name: "average re the agreed limit",
            unit: Unit::Db,
            windows: &[Window::at_most(-3.0, 0.0, SOURCE)],
        },
        Limb {
            name: "peak re 135 dB(C)",
            unit: Unit::Db,
            windows: &[Window::at_most(0.0, 5.0, PEAK_SOURCE)],
        },
        Limb {
            name: "daily exposure re 85 dB(A)",
            unit: Unit::Db,
            windows: &[Window::at_most(0.0, 2.0, EXPOSURE_SOURCE)],
        },
    ],
    combine: Combine::Worst,
    needs: &[],
    guards: Guards { min_active_s: 0.0, min_events: 0, ..Guards::USUAL },
    guard_text: "A calibrated microphone whose recorder does not set its level by itself, and for the average a limit that was agreed; the level is uncertain by 2 dB or more.",
    absent: "there is no hall microphone whose calibration is stated and holds",
    heard: "{who} {is} over the limit",
    why: "Hearing damage is permanent and adds up over weeks.",
    advice: &[
        "Lower the main by the excess; ask the stage to play softer.",
        "Make the loudest stretch shorter, and take quiet breaks.",
        "Give ear plugs to crew and to guests near loudspeakers.",
        "Ask the house or a qualified person: the law of the place decides.",
    ],
    backing: &[SOURCE],
    shows: "The loudest average, and when it was.",
    fooled_by: "a microphone nearer to a loudspeaker than the audience, or further away",
    other_causes: "loud sources on stage, or a cheering audience",
    question: "Which sources on stage could play softer?",
    exercise: "Read a sound level meter beside the desk through two songs and say the level before looking, 5 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: Some(
        "The level at the measuring point stood near or over the limit (uncertain by 2 dB or more; no measurement for the record). Hearing damage is permanent and adds up. Turn down sources on stage first, then the main; offer ear plugs; take quiet breaks. A tone in the ears or dull hearing is a warning: if it lasts more than a day, see a doctor; if hearing goes suddenly, on one side or both, get medical help the same day. The law and the house rules of your place decide.",
    ),
    observe,
};

const SOURCE: Source = Source::Published(
    "the limit is the team's; bounds to know: 100 dB LAeq over 15 min (WHO, Global standard for safe listening venues and events, 2022), 99 dB LAeq over 30 min and 135 dB LCpeak (DIN 15905-5:2007, check the current edition)",
);

/// Lower and upper action values and the limit of peaks and of daily exposure.
const PEAK_DB: f64 = 135.0;
const EXPOSURE_DB: f64 = 85.0;
const PEAK_SOURCE: Source = Source::Published(
    "135 dB LCpeak (DIN 15905-5:2007, check the current edition; lower action value of 2003/10/EC), 140 dB (its limit)",
);
const EXPOSURE_SOURCE: Source = Source::Published(
    "85 dB(A) for 8 h (upper action value of 2003/10/EC; NIOSH 1998), 87 dB(A) (limit of 2003/10/EC)",
);

fn observe(reading: &Reading) -> Vec<Observation> {
    let sound = reading.room.iter().filter_map(|room| room.sound.as_ref());
    sound
        .flat_map(|sound| {
            let agreed = sound.limit.as_ref().map(|limit| by_agreement(sound, limit, reading));
            agreed.into_iter().chain([by_bounds(sound, reading)])
        })
        .collect()
}

/// Against what the team agreed.
fn by_agreement(sound: &SoundLevels, limit: &AgreedLimit, reading: &Reading) -> Observation {
    let told = limit.loudest_db_spl.value().zip(sound.lcpeak_db_spl.value());
    Observation {
        evidence: limit.at.clone(),
        affected_s: 60.0 * limit.window_min,
        detail: told.map(|(level_db, peak_db)| {
            format!(
                "About {level_db:.0} dB(A) over {} (2 dB more or less), agreed: {:.0} dB(A); highest peak about {peak_db:.0} dB(C).",
                minutes(limit.window_min),
                limit.limit_db_spl
            )
            .into()
        }),
        ..of_evening(vec![Some(over(&limit.loudest_db_spl, limit.limit_db_spl))], reading)
    }
}

fn minutes(minutes: f64) -> String {
    if (minutes - 1.0).abs() < 0.5 {
        "1 minute".to_owned()
    } else {
        format!("{minutes:.0} minutes")
    }
}

/// Against what is published: peaks, and the exposure of somebody who stays all the time.
fn by_bounds(sound: &SoundLevels, reading: &Reading) -> Observation {
    let told = sound.daily_exposure_db_spl.value().zip(sound.lcpeak_db_spl.value());
    let facts = vec![
        None,
        Some(over(&sound.lcpeak_db_spl, PEAK_DB)),
        Some(over(&sound.daily_exposure_db_spl, EXPOSURE_DB)),
    ];
    Observation {
        evidence: sound.lcpeak_at.clone(),
        detail: told.map(|(exposure_db, peak_db)| {
            format!(
                "For who stays all the time about {exposure_db:.0} dB(A), spread over 8 hours (2 dB more or less); highest peak about {peak_db:.0} dB(C)."
            )
            .into()
        }),
        ..of_evening(facts, reading)
    }
}

fn of_evening(facts: Vec<Option<Fact>>, reading: &Reading) -> Observation {
    let is_over = |fact: &Fact| fact.value().is_some_and(|over_db| over_db > 0.0);
    Observation {
        subject: Some("The evening"),
        is_safety: facts.iter().flatten().any(is_over),
        ..Observation::of_session(facts, reading.session.duration_s)
    }
}

/// How far a level lies over a limit, in dB.
fn over(level: &Fact, limit_db: f64) -> Fact {
    match level.value() {
        Some(level_db) => Fact::sure(level_db - limit_db, level.confidence()),
        None => level.clone(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{judged, only, sound_levels, with_room};
    use crate::unit::Unmeasured;

    fn loud(level_db: f64) -> Reading {
        with_room(|room| room.sound = Some(sound_levels(Fact::sure(level_db, 0.8), 96.0)))
    }

    /// What the agreed limit says.
    fn agreed(reading: &Reading) -> Outcome {
        judged(&RULE, reading)[0].outcome.clone()
    }

    /// What published bounds say of a peak and an exposure.
    fn bounds(peak_db: f64, exposure_db: f64) -> Outcome {
        let reading = with_room(|room| {
            let mut sound = sound_levels(Fact::sure(90.0, 0.8), 96.0);
            sound.limit = None;
            sound.lcpeak_db_spl = Fact::sure(peak_db, 0.8);
            sound.daily_exposure_db_spl = Fact::sure(exposure_db, 0.8);
            room.sound = Some(sound);
        });
        only(&RULE, &reading)
    }

    #[test]
    fn fires_when_the_average_nears_or_passes_the_limit() {
        assert_eq!(agreed(&loud(95.0)), Near, "within 3 dB");
        assert_eq!(agreed(&loud(97.0)), Outside, "over it");
        assert!(observe(&loud(97.0))[0].is_safety, "it can hurt");
    }

    /// 2003/10/EC: 135 and 140 dB(C), 85 and 87 dB(A) for 8 h.
    #[test]
    fn fires_when_peaks_or_exposure_pass_published_bounds() {
        assert_eq!(bounds(136.0, 80.0), Near, "over the action value of peaks");
        assert_eq!(bounds(140.5, 80.0), Outside, "over their limit");
        assert_eq!(bounds(120.0, 86.0), Near, "over the action value of exposure");
        assert_eq!(bounds(120.0, 88.0), Outside, "over its limit");
    }

    #[test]
    fn stays_quiet_three_decibels_below() {
        assert_eq!(agreed(&loud(93.0)), OnTarget, "3 below");
        assert!(!observe(&loud(93.0))[0].is_safety, "nothing to warn of");
        assert_eq!(bounds(135.0, 85.0), OnTarget, "135 dB(C) and 85 dB(A) are inside");
    }

    #[test]
    fn is_not_fooled_by_a_microphone_without_calibration() {
        assert!(judged(&RULE, &with_room(|room| room.sound = None)).is_empty(), "no sound level");
        let short = Unmeasured::TooShort { have_s: 600.0, need_s: 900.0 };
        let reading = with_room(|room| room.sound = Some(sound_levels(Fact::missing(short), 96.0)));
        assert!(matches!(agreed(&reading), NotJudged(_)), "too short for the window");
    }
}
