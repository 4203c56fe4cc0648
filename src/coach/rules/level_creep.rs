//! Level creeps up during the evening.
//!
//! Looks at the loudness of songs over the evening. Never speaks to the trainee: whether the band itself plays louder is not compared yet.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::Reading;
use crate::unit::Unit;

/// Fewer songs make no slope.
const MIN_SONGS: usize = 4;
/// A shorter time makes none either, in seconds.
const MIN_S: f64 = 40.0 * 60.0;

pub(super) const RULE: Rule = Rule {
    id: "level-creep",
    title: "Level creeps up during the evening",
    group: Group::Loudness,
    tier: Tier::B,
    effect: 2,
    ease: 1,
    explains: &["level-over-limit"],
    measures: "Slope of the loudness of songs in the main mix over time.",
    limbs: &[Limb {
        name: "rise",
        unit: Unit::DbPerHour,
        windows: &[Window::at_most(
            1.5,
            3.0,
            Source::Published(
                "common practice; hearing adapts (temporary threshold shift, Ballou, from memory)",
            ),
        )],
    }],
    combine: Combine::Worst,
    needs: &[Need::Main],
    guards: Guards::USUAL,
    guard_text: "Four songs or more over 40 minutes or more; for the mentor, as the band itself may play louder.",
    absent: "the main mix was not recorded",
    heard: "{who} {is} creeping up",
    why: "Ears tire and ask for more; the audience gets tired first.",
    advice: &[
        "Mark the main fader at sound check.",
        "Take a short quiet break for the ears.",
        "Lower something else when something is missing.",
    ],
    backing: &[Source::CommonPractice],
    shows: "Song loudness over the clock.",
    fooled_by: "a set list built to grow, a quiet opener, or a band that plays louder",
    other_causes: "the band itself, or the set list",
    question: "Did the band play louder, or did the fader move?",
    exercise: "Mix one song without touching the main fader, 4 minutes.",
    praise: None,
    page: Page::Mentor,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let Some(main) = &reading.main else { return Vec::new() };
    let begin_s = main.songs.first().map_or(0.0, |song| song.span.start_s);
    let end_s = main.songs.last().map_or(0.0, |song| song.span.end_s);
    let observation = Observation {
        evidence: main.songs.last().map(|song| song.span).into_iter().collect(),
        ..pick::main_mix(reading, vec![Some(main.creep_db_per_hour.clone())])
    };
    let is_enough = main.songs.len() >= MIN_SONGS && end_s - begin_s >= MIN_S;
    vec![if is_enough {
        observation
    } else {
        observation.withheld("it takes four songs over 40 minutes to tell")
    }]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{main_mix, only, song, with_main};
    use crate::unit::Fact;

    fn evening(n_songs: u32, creep_db_per_hour: f64) -> Reading {
        let mut main = main_mix();
        main.songs = (0..n_songs).map(|place| song("Brambles", f64::from(place) * 800.0)).collect();
        main.creep_db_per_hour = Fact::exact(creep_db_per_hour);
        with_main(main)
    }

    #[test]
    fn fires_when_songs_get_louder() {
        assert_eq!(only(&RULE, &evening(4, 2.0)), Near, "2 dB an hour");
        assert_eq!(only(&RULE, &evening(4, 3.5)), Outside, "over 3 dB an hour");
    }

    #[test]
    fn stays_quiet_at_the_edge_of_the_target() {
        assert_eq!(only(&RULE, &evening(4, 1.5)), OnTarget, "1.5 dB an hour is inside");
    }

    #[test]
    fn is_not_fooled_by_a_quiet_opener() {
        assert!(matches!(only(&RULE, &evening(3, 9.0)), NotJudged(_)), "three songs");
        assert_eq!(only(&RULE, &evening(4, -6.0)), OnTarget, "getting quieter is no creep");
    }
}
