//! DI source arrives too low.
//!
//! Looks at line inputs of instruments and playback. Never judges microphones.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::Reading;
use crate::unit::Unit;

const SOURCE: Source = Source::Published(
    "common practice: instrument volume at three quarters to full before anything is attenuated",
);

pub(super) const RULE: Rule = Rule {
    id: "di-low",
    title: "DI source arrives too low",
    group: Group::Gain,
    tier: Tier::A,
    effect: 2,
    ease: 1,
    explains: &["hiss-floor", "gain-too-low"],
    measures: "Loud level of a line input, and its loud level minus its quiet level above 200 Hz.",
    limbs: &[
        Limb {
            name: "loud level",
            unit: Unit::Dbfs,
            windows: &[Window::at_least(-28.0, -36.0, SOURCE)],
        },
        Limb {
            name: "level over noise",
            unit: Unit::Db,
            windows: &[Window::at_least(45.0, 35.0, SOURCE)],
        },
    ],
    combine: Combine::Worst,
    needs: &[Need::Raw],
    guards: Guards::USUAL,
    guard_text: "20 s of active time; level over noise needs a stretch in which every channel is quiet.",
    absent: "no line input of an instrument was recorded",
    heard: "{who} {is} weak at the source",
    why: "A weak instrument output lifts noise along with the tone.",
    advice: &[
        "Turn the instrument, laptop or pedal to three quarters or full.",
        "Set the desk gain after that.",
        "Use the pad of DI or desk only if it is then too strong.",
    ],
    backing: &[Source::CommonPractice],
    shows: "Level histogram and noise spectrum.",
    fooled_by: "a player who turned down for one song, or a volume pedal",
    other_causes: "a flat battery, a worn cable, or a pad left in",
    question: "Where did the player's volume control stand?",
    exercise: "Set one instrument at a quarter, half and full volume and listen to the noise at equal loudness, 5 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    pick::inputs(reading)
        .filter(|input| input.is_line && pick::LINE.contains(&input.role))
        .map(|input| {
            let over_noise =
                pick::minus(&input.loud_level_dbfs, &input.quiet_level_above_200_hz_dbfs);
            pick::raw_by_role(input, vec![Some(input.loud_level_dbfs.clone()), Some(over_noise)])
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, OnTarget, Outside};
    use crate::coach::example::{channel, judged, only, session};
    use crate::session::Role;
    use crate::unit::Fact;

    fn bass(loud_dbfs: f64, quiet_dbfs: f64) -> Reading {
        let mut bass = channel(10, Role::Bass);
        bass.loud_level_dbfs = Fact::exact(loud_dbfs);
        bass.quiet_level_above_200_hz_dbfs = Fact::exact(quiet_dbfs);
        session(vec![bass])
    }

    #[test]
    fn fires_when_level_or_distance_to_noise_is_small() {
        assert_eq!(only(&RULE, &bass(-28.5, -90.0)), Near, "under -28");
        assert_eq!(only(&RULE, &bass(-36.5, -95.0)), Outside, "under -36");
        assert_eq!(only(&RULE, &bass(-20.0, -54.0)), Outside, "34 dB over noise");
    }

    #[test]
    fn stays_quiet_at_the_edges_of_the_target() {
        assert_eq!(only(&RULE, &bass(-28.0, -73.0)), OnTarget, "-28 and 45 dB are inside");
    }

    #[test]
    fn is_not_fooled_by_a_microphone() {
        let mut reading = bass(-40.0, -90.0);
        reading.channels[0].is_line = false;
        assert!(judged(&RULE, &reading).is_empty(), "a microphone before the amplifier is no DI");
    }
}
