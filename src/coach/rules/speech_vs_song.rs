//! Speech and songs do not fit together.
//!
//! Looks at the loudness of talk against songs in the main mix. Never judges less than a minute of talk.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{Reading, SegmentKind};
use crate::unit::Unit;

const SOURCE: Source = Source::Published(
    "one target for all programme parts (EBU R 128) for streams and recordings; hall window common practice",
);
/// Talk behind the figure, in seconds.
const MIN_TALK_S: f64 = 60.0;

pub(super) const RULE: Rule = Rule {
    id: "speech-vs-song",
    title: "Speech and songs do not fit together",
    group: Group::Loudness,
    tier: Tier::A,
    effect: 3,
    ease: 1,
    explains: &[],
    measures: "Loudness of talk segments minus loudness of songs.",
    limbs: &[Limb {
        name: "talk against songs",
        unit: Unit::Lu,
        windows: &[
            Window::between([-10.0, -3.0], [-14.0, 0.0], SOURCE).variant("hall"),
            Window::between([-4.0, 1.0], [-8.0, 3.0], SOURCE),
        ],
    }],
    combine: Combine::Worst,
    needs: &[Need::Main],
    guards: Guards::USUAL,
    guard_text: "60 s of talk in segments of 10 s or more, median.",
    absent: "the main mix was not recorded",
    heard: "{who} {is} uneven between talk and songs",
    why: "People lean forward for words and jump at the next song.",
    advice: &[
        "Bring the talker closer to the microphone.",
        "Turn the speech channel up and the songs slightly down.",
        "Ride the first words of a talk.",
    ],
    backing: &[Source::CommonPractice],
    shows: "Bars of segments over time.",
    fooled_by: "a whispered story, a shouted greeting, or audience noise",
    other_causes: "a talker far from the microphone, or a quiet story",
    question: "Could the last row follow the words here?",
    exercise: "Go from song to talk five times and land the first word at the right loudness, 5 minutes.",
    praise: Some("Talk sat {value} against the songs."),
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let Some(main) = &reading.main else { return Vec::new() };
    let talk = reading.segments_of(SegmentKind::Talk).map(|segment| segment.span);
    let observation = Observation {
        evidence: talk.take(1).collect(),
        affected_s: main.speech_s,
        ..pick::main_mix(reading, vec![Some(main.speech_vs_song_lu.clone())])
    };
    vec![if main.speech_s >= MIN_TALK_S {
        observation
    } else {
        observation.withheld("less than a minute of talk was heard")
    }]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{main_mix, only, with_main};
    use crate::reading::MainMix;
    use crate::unit::Fact;

    fn talk(step_lu: f64, bus: &str, speech_s: f64) -> Reading {
        let mut reading =
            with_main(MainMix { speech_vs_song_lu: Fact::exact(step_lu), speech_s, ..main_mix() });
        reading.session.main_bus = bus.to_owned();
        reading
    }

    #[test]
    fn fires_when_talk_and_songs_are_far_apart() {
        assert_eq!(
            only(&RULE, &talk(-12.0, "hall", 90.0)),
            Near,
            "12 LU under the songs in a hall"
        );
        assert_eq!(only(&RULE, &talk(-15.0, "hall", 90.0)), Outside, "15 LU under");
        assert_eq!(only(&RULE, &talk(-9.0, "stream", 90.0)), Outside, "9 LU under in a stream");
    }

    #[test]
    fn stays_quiet_at_the_edges_of_the_target() {
        assert_eq!(only(&RULE, &talk(-10.0, "hall", 60.0)), OnTarget, "-10 is inside");
        assert_eq!(only(&RULE, &talk(1.0, "record", 60.0)), OnTarget, "+1 is inside");
    }

    #[test]
    fn is_not_fooled_by_one_shouted_greeting() {
        assert!(matches!(only(&RULE, &talk(2.0, "hall", 8.0)), NotJudged(_)), "8 s of talk");
    }
}
