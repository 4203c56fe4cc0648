//! Voice reaches the mic from the side.
//!
//! Looks at the treble of talk, half a minute against others of the same voice. Never looks at what is sung, nor at what chance or a softer voice explains.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{Channel, Reading};
use crate::unit::{Span, Unit};

const SOURCE: Source = Source::Published(
    "common practice; microphones and mouths from the side (Ballou, Handbook for Sound Engineers, from memory)",
);

/// Of a passage so much is heard, in seconds: enough to hear the treble.
const HEARD_S: f64 = 15.0;

pub(super) const RULE: Rule = Rule {
    id: "mic-offaxis",
    title: "Voice reaches the mic from the side",
    group: Group::Microphone,
    tier: Tier::C,
    effect: 3,
    ease: 1,
    explains: &["dull"],
    measures: "Fall of 5.6-11.2 kHz against 224-1122 Hz in one half-minute of talk, re the brightest fifth of the passages that are alike, where the voice falls against its pauses too.",
    limbs: &[Limb {
        name: "fall of treble",
        unit: Unit::Db,
        windows: &[Window::at_most(4.0, 8.0, SOURCE)],
    }],
    combine: Combine::Worst,
    needs: &[Need::Raw],
    guards: Guards::USUAL,
    guard_text: "Three passages of 30 s of talk or more, of like level and like voice (within 4 dB in 224-1122 Hz and in each third-octave below); silent where chance or a softer voice explains the fall, and about what is sung.",
    absent: "no voice talked into a microphone",
    heard: "{who} {is} duller in one passage of talk",
    why: "From the side a microphone loses consonants.",
    advice: &[
        "Turn the stand or the arm until the microphone looks at the mouth.",
        "Mark a place for the feet from which the talker faces both hall and microphone.",
        "Try a headset or a clip microphone for people who move, where there is one.",
    ],
    backing: &[Source::CommonPractice],
    shows: "The dull passage and a bright one to compare with.",
    fooled_by: "a second talker with a like voice, or words with few S sounds for half a minute",
    other_causes: "a hand over the grille, a page held before the mouth, a wet windshield",
    question: "Where did the talker look in the first passage, and where in the second?",
    exercise: "Read ten lines while the head turns to slides, to a neighbour and back, and say by ear when, 3 minutes.",
    praise: None,
    page: Page::Mentor,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    reading.with_role(pick::SOLO_VOICES).filter_map(of).collect()
}

fn of(voice: &Channel) -> Option<Observation> {
    let fall = voice.microphone.treble_fall.as_ref()?;
    let is_explained = fall
        .fall_db
        .value()
        .is_some_and(|fall_db| fall.explained_db.is_some_and(|explained| fall_db <= explained));
    let begin = |span: &Span| Span::new(span.start_s, span.end_s.min(span.start_s + HEARD_S));
    let observation = pick::raw_by_role(voice, vec![Some(fall.fall_db.clone())]);
    let evidence = match fall.at.as_slice() {
        [] => observation.evidence,
        at => at.iter().map(begin).collect(),
    };
    let affected_s = fall.at.first().map_or(0.0, |dull| dull.length_s());
    let observation = Observation { evidence, affected_s, ..observation };
    Some(observation.doubted(is_explained, "chance or a softer voice explains as much"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, judged, only, session};
    use crate::reading::TrebleFall;
    use crate::session::{Role, Tap};
    use crate::unit::{Fact, Unmeasured};

    fn host(fall_db: f64, explained_db: f64) -> Channel {
        let mut host = channel(21, Role::Speech);
        host.microphone.treble_fall = Some(TrebleFall {
            fall_db: Fact::sure(fall_db, 0.7),
            explained_db: Some(explained_db),
            at: vec![Span::new(300.0, 340.0), Span::new(40.0, 75.0)],
        });
        host
    }

    fn outcome(fall_db: f64, explained_db: f64) -> Outcome {
        only(&RULE, &session(vec![host(fall_db, explained_db)]))
    }

    #[test]
    fn fires_when_treble_falls_further_than_chance_lets_it() {
        assert_eq!(outcome(6.0, 4.0), Near, "over 4");
        assert_eq!(outcome(8.5, 4.0), Outside, "over 8");
        let judgement = &judged(&RULE, &session(vec![host(6.0, 4.0)]))[0];
        let heard = [Span::new(300.0, 315.0), Span::new(40.0, 55.0)];
        assert_eq!(judgement.observation.evidence, heard, "the dull passage, then a bright one");
    }

    #[test]
    fn stays_quiet_at_the_edge_of_the_target() {
        assert_eq!(outcome(4.0, 1.0), OnTarget, "4 is inside");
    }

    #[test]
    fn is_not_fooled_by_chance_or_a_softer_voice() {
        assert!(matches!(outcome(6.0, 6.0), NotJudged(_)), "chance reaches 6 dB");
    }

    #[test]
    fn has_nothing_to_say_behind_an_equaliser_or_of_few_words() {
        let mut behind = host(9.0, 4.0);
        behind.tap = Tap::Processed;
        assert!(matches!(only(&RULE, &session(vec![behind])), NotJudged(_)), "an EQ may move");
        let mut short = host(9.0, 4.0);
        short.microphone.treble_fall = Some(TrebleFall {
            fall_db: Fact::missing(Unmeasured::Because("too little talk")),
            explained_db: None,
            at: Vec::new(),
        });
        assert!(matches!(only(&RULE, &session(vec![short])), NotJudged(_)), "one passage");
    }
}
