//! Jump in level at a change.
//!
//! Looks at steps of loudness at borders between segments. Never treats talk to song like song to song.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{Reading, SegmentKind};
use crate::unit::{Span, Unit};

/// Trace shown around a border, in seconds each way.
const AROUND_S: f64 = 10.0;

pub(super) const RULE: Rule = Rule {
    id: "segment-jump",
    title: "Jump in level at a change",
    group: Group::Loudness,
    tier: Tier::B,
    effect: 2,
    ease: 1,
    explains: &[],
    measures: "Loudness of 3 s after a border minus that of 3 s before it; playback against a song counts as like to like over the song's last 10 s.",
    limbs: &[Limb {
        name: "jump",
        unit: Unit::Lu,
        windows: &[
            Window::at_most(4.0, 8.0, Source::CommonPractice).variant("like"),
            Window::at_most(10.0, 15.0, Source::CommonPractice).variant("unlike"),
        ],
    }],
    combine: Combine::Worst,
    needs: &[Need::Main],
    guards: Guards::USUAL,
    guard_text: "What comes within 10 s; applause between the two is not counted.",
    absent: "no change between segments was found in the main mix",
    heard: "{who} {is} jumping at a change",
    why: "A sudden jump startles, above all with video or playback.",
    advice: &[
        "Check the playback level against speech at sound check.",
        "Fade in over 2 s.",
        "Note the level on the song list.",
    ],
    backing: &[Source::CommonPractice],
    shows: "Trace of 20 s around the border.",
    fooled_by: "a musical surprise, or applause before the border",
    other_causes: "a playback file mastered louder than the songs",
    question: "Was the level of this playback checked before?",
    exercise: "Start a playback after a song five times so that nobody jumps, 5 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let jumps = reading.main.iter().flat_map(|main| &main.jumps);
    jumps
        .map(|jump| {
            let around = Span::new((jump.at_s - AROUND_S).max(0.0), jump.at_s + AROUND_S);
            let songs = reading
                .segments_of(SegmentKind::Song)
                .filter(|song| song.span.shared(around).is_some());
            Observation {
                variant: if jump.like_to_like { "like" } else { "unlike" },
                songs: songs.map(|song| song.title.clone()).collect(),
                evidence: vec![around],
                affected_s: around.length_s(),
                ..pick::main_mix(reading, vec![Some(pick::map(&jump.step_lu, f64::abs))])
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, OnTarget, Outside};
    use crate::coach::example::{main_mix, only, with_main};
    use crate::reading::{Jump, MainMix};
    use crate::unit::Fact;

    fn jump(step_lu: f64, like_to_like: bool) -> Reading {
        let jump = Jump {
            at_s: 250.0,
            from_to: "song to song".to_owned(),
            like_to_like,
            step_lu: Fact::exact(step_lu),
        };
        with_main(MainMix { jumps: vec![jump], ..main_mix() })
    }

    #[test]
    fn fires_when_the_level_jumps() {
        assert_eq!(only(&RULE, &jump(5.0, true)), Near, "over 4 LU");
        assert_eq!(only(&RULE, &jump(-9.0, true)), Outside, "over 8 LU, downwards");
        assert_eq!(only(&RULE, &jump(16.0, false)), Outside, "over 15 LU from talk to song");
    }

    #[test]
    fn stays_quiet_at_the_edges_of_the_target() {
        assert_eq!(only(&RULE, &jump(4.0, true)), OnTarget, "4 LU is inside");
        assert_eq!(only(&RULE, &jump(10.0, false)), OnTarget, "10 LU is inside");
    }

    #[test]
    fn is_not_fooled_by_the_step_from_talk_to_song() {
        assert_eq!(only(&RULE, &jump(9.0, false)), OnTarget, "songs are louder than talk");
    }
}
