//! Louder than the agreed level.
//!
//! Looks at sound levels of a calibrated hall microphone. Never says a sound level without a calibration.

use crate::coach::rule::{
    Combine, Group, Guards, Limb, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{AgreedLimit, Reading, SoundLevels};
use crate::unit::{Fact, Unit};

pub(super) const RULE: Rule = Rule {
    id: "level-over-limit",
    title: "Louder than the agreed level",
    group: Group::Loudness,
    tier: Tier::B,
    effect: 4,
    ease: 1,
    explains: &[],
    measures: "Loudest A-weighted average over the agreed time minus the agreed limit, at the calibrated hall microphone.",
    limbs: &[Limb {
        name: "average re the agreed limit",
        unit: Unit::Db,
        windows: &[Window::at_most(-3.0, 0.0, SOURCE)],
    }],
    combine: Combine::Worst,
    needs: &[],
    guards: Guards { min_active_s: 0.0, min_events: 0, ..Guards::USUAL },
    guard_text: "A calibrated microphone whose recorder does not set its level by itself, and a limit that was agreed; the level is uncertain by 2 dB or more.",
    absent: "no calibrated hall microphone and agreed limit are stated",
    heard: "{who} {is} near or over the agreed level",
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
        "The level at the measuring point stood near or over the agreed limit (uncertain by 2 dB or more; no measurement for the record). Hearing damage is permanent and adds up. Turn down sources on stage first, then the main; offer ear plugs; take quiet breaks. Ringing or dull hearing is a warning: if it lasts more than a day, see a doctor; if hearing goes suddenly, on one side or both, get medical help the same day. The law and the house rules of your place decide.",
    ),
    observe,
};

const SOURCE: Source = Source::Published(
    "the limit is the team's; bounds to know: 100 dB LAeq over 15 min (WHO, Global standard for safe listening venues and events, 2022), 99 dB LAeq over 30 min and 135 dB LCpeak (DIN 15905-5:2007, check the current edition)",
);

fn observe(reading: &Reading) -> Vec<Observation> {
    let sound = reading.room.iter().filter_map(|room| room.sound.as_ref());
    sound.filter_map(|sound| Some(observation(sound, sound.limit.as_ref()?, reading))).collect()
}

fn observation(sound: &SoundLevels, limit: &AgreedLimit, reading: &Reading) -> Observation {
    let re_limit = match limit.loudest_db_spl.value() {
        Some(level_db) => {
            Fact::sure(level_db - limit.limit_db_spl, limit.loudest_db_spl.confidence())
        }
        None => limit.loudest_db_spl.clone(),
    };
    let is_over = re_limit.value().is_some_and(|over_db| over_db > 0.0);
    let told = limit.loudest_db_spl.value().zip(sound.lcpeak_db_spl.value());
    Observation {
        subject: Some("The evening"),
        evidence: limit.at.clone(),
        affected_s: 60.0 * limit.window_min,
        is_safety: is_over,
        detail: told.map(|(level_db, peak_db)| {
            format!(
                "About {level_db:.0} dB(A) over {:.0} minutes (2 dB more or less), agreed: {:.0} dB(A); highest peak about {peak_db:.0} dB(C).",
                limit.window_min, limit.limit_db_spl
            )
            .into()
        }),
        ..Observation::of_session(vec![Some(re_limit)], reading.session.duration_s)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{judged, only, sound_levels, with_room};
    use crate::unit::Unmeasured;

    fn loud(level_db: f64) -> Reading {
        with_room(|room| room.sound = Some(sound_levels(Fact::sure(level_db, 0.8), 96.0)))
    }

    #[test]
    fn fires_when_the_average_nears_or_passes_the_limit() {
        assert_eq!(only(&RULE, &loud(95.0)), Near, "within 3 dB");
        assert_eq!(only(&RULE, &loud(97.0)), Outside, "over it");
        assert!(observe(&loud(97.0))[0].is_safety, "it can hurt");
    }

    #[test]
    fn stays_quiet_three_decibels_below() {
        assert_eq!(only(&RULE, &loud(93.0)), OnTarget, "3 below");
        assert!(!observe(&loud(93.0))[0].is_safety, "nothing to warn of");
    }

    #[test]
    fn is_not_fooled_by_a_microphone_without_calibration() {
        assert!(judged(&RULE, &with_room(|room| room.sound = None)).is_empty(), "no sound level");
        let short = Unmeasured::TooShort { have_s: 600.0, need_s: 900.0 };
        let reading = with_room(|room| room.sound = Some(sound_levels(Fact::missing(short), 96.0)));
        assert!(matches!(only(&RULE, &reading), NotJudged(_)), "too short for the window");
    }
}
