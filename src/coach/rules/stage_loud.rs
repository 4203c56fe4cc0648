//! Stage sound competes with the loudspeakers.
//!
//! Looks at a hall microphone beside the main mix, song by song. Never judges where only one end of the range lies beyond the target.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{Reading, Room, SongWeight};
use crate::unit::spans::longest;
use crate::unit::{Fact, Span, Unit};

/// Songs that a verdict rests on: an arrangement may be loud or soft.
const MIN_SONGS: usize = 3;

/// Upper edge of the target: above it the hall hears the band from the stage as well, in dB.
pub(super) const MOST_DB: f64 = -6.0;

/// Passages that are told.
const EVIDENCE: usize = 3;

pub(super) const RULE: Rule = Rule {
    id: "stage-loud",
    title: "Stage sound competes with the loudspeakers",
    group: Group::Source,
    tier: Tier::C,
    effect: 3,
    ease: 3,
    explains: &[],
    measures: "What a hall microphone hears straight from the stage over what it hears from the loudspeakers, 250 Hz to 4 kHz, median of the songs. How loudspeakers reach it is known from a recording that is played, or from talk.",
    limbs: &[Limb {
        name: "stage re loudspeakers",
        unit: Unit::Db,
        windows: &[Window::at_most(MOST_DB, 0.0, Source::CommonPractice)],
    }],
    combine: Combine::Worst,
    needs: &[Need::Main],
    guards: Guards::USUAL,
    guard_text: "Three songs; 8 s of a recording from the loudspeakers or of talk; a recorder that does not set its level by itself; judged only where the range lies wholly beyond the target. From talk alone the figure is a lower bound.",
    absent: "no hall microphone was recorded while songs were played",
    heard: "{who} {is} filled by the stage",
    why: "A fader can only add to what fills the hall already.",
    advice: &[
        "Ask the loudest source to play softer, with its amplifier toward the ears.",
        "Put soft absorbing material around the loudest source.",
        "Lower the wedges before the mains.",
        "Mix around what is already loud only then.",
    ],
    backing: &[Source::CommonPractice],
    shows: "The song in the middle; all songs stand in review.json.",
    fooled_by: "an audience that sings or claps, or loudspeakers whose level was changed behind the recorded mix",
    other_causes: "loudspeakers that are turned low, or a hall microphone close to the stage",
    question: "What can be heard of the band when the loudspeakers are off?",
    exercise: "Mute the loudspeakers for one chorus and listen in the middle of the hall to what is left, 3 minutes.",
    praise: None,
    page: Page::Mentor,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    reading.room.iter().filter_map(observation).collect()
}

fn observation(room: &Room) -> Option<Observation> {
    let spans: Vec<Span> = room.songs.iter().map(|song| song.span).collect();
    let songs_s: f64 = spans.iter().map(|span| span.length_s()).sum();
    let mut known: Vec<&SongWeight> =
        room.songs.iter().filter(|song| song.stage_db.ends().is_some()).collect();
    known.sort_by(|one, other| middle_db(&one.stage_db).total_cmp(&middle_db(&other.stage_db)));
    let median = known.get(known.len() / 2).copied().or(room.songs.first())?;
    let observation = Observation {
        evidence: longest(&spans, EVIDENCE),
        ..pick::of_hall(room, vec![Some(median.stage_db.clone())], songs_s)
    };
    let is_few = !known.is_empty() && known.len() < MIN_SONGS;
    Some(if is_few {
        observation.withheld("fewer than three songs were heard")
    } else {
        observation
    })
}

/// Where a range lies, by its known end or ends.
fn middle_db(fact: &Fact) -> f64 {
    let [low, high] = fact.ends().unwrap_or_default();
    match (low.is_finite(), high.is_finite()) {
        (true, true) => f64::midpoint(low, high),
        (true, false) => low,
        _ => high,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{only, with_room};

    fn hall(stage_db: &[Fact]) -> Reading {
        with_room(|room| {
            let song = room.songs[0].clone();
            room.songs = stage_db
                .iter()
                .map(|fact| SongWeight { stage_db: fact.clone(), ..song.clone() })
                .collect();
        })
    }

    fn range(low: f64, high: f64) -> Fact {
        Fact::Range { low, high, confidence: 0.7 }
    }

    #[test]
    fn fires_when_the_stage_is_loud_in_most_songs() {
        let songs = [range(1.0, 4.0), range(-9.0, -5.0), range(2.0, 5.0)];
        assert_eq!(only(&RULE, &hall(&songs)), Outside, "over 0");
        let songs = [range(-5.0, 1.0), range(-4.0, 1.5), range(-5.5, 0.5)];
        assert_eq!(only(&RULE, &hall(&songs)), Near, "over -6");
        let least = Fact::AtLeast { at_least: 0.5, confidence: 0.7 };
        assert_eq!(only(&RULE, &hall(&[least.clone(), least.clone(), least])), Outside, "a bound");
    }

    #[test]
    fn stays_quiet_where_the_loudspeakers_lead() {
        let most = Fact::AtMost { at_most: -6.0, confidence: 0.7 };
        assert_eq!(only(&RULE, &hall(&[most.clone(), most.clone(), most])), OnTarget, "-6");
    }

    #[test]
    fn is_not_fooled_by_one_loud_song_or_by_a_wide_range() {
        let wide = [range(-9.0, 1.0), range(-9.0, 1.0), range(2.0, 5.0)];
        assert!(matches!(only(&RULE, &hall(&wide)), NotJudged(_)), "both sides of the target");
        let few = [range(2.0, 5.0), range(2.0, 5.0)];
        assert!(matches!(only(&RULE, &hall(&few)), NotJudged(_)), "two songs");
    }
}
