//! Constant cymbal wash in the mix.
//!
//! Looks at the treble of the mix in songs with a kit, and at who gives it. Never speaks of a treble that moves with the music.

use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{Reading, SongMix};
use crate::unit::Unit;

const SOURCE: Source = Source::Published(
    "popular mixes fall by about 5 dB an octave (Pestana et al. 2013, from memory), which gives about -12 to -17 dB there (computed)",
);
/// A treble that moves by this is music, not wash, near the target and far from it, in dB.
const MOVES_NEAR_DB: f64 = 8.0;
const MOVES_FAR_DB: f64 = 6.0;
const FAR_DB: f64 = -8.0;
/// Songs that have to show it.
const NEEDS_SONGS: usize = 2;
/// Channels that a sentence names.
const NAMED: usize = 1;

pub(super) const RULE: Rule = Rule {
    id: "cymbal-wash",
    title: "Constant cymbal wash in the mix",
    group: Group::Tone,
    tier: Tier::B,
    effect: 3,
    ease: 1,
    explains: &[],
    measures: "Share of the mix between 5.6 and 17.8 kHz in songs with a kit, where it hardly moves; the middle of all songs.",
    limbs: &[Limb {
        name: "treble of the mix",
        unit: Unit::Db,
        windows: &[Window::at_most(-11.0, FAR_DB, SOURCE)],
    }],
    combine: Combine::Worst,
    needs: &[Need::Main],
    guards: Guards { min_active_s: 60.0, min_confidence: 0.6, ..Guards::USUAL },
    guard_text: "A minute of songs with a kit, two songs at least; a treble that moves by 6 to 8 dB is music.",
    absent: "the mix could not be read back, or no song with a kit was found",
    heard: "{who} {is} filled with cymbals",
    why: "A steady hiss hides consonants, strings and detail.",
    advice: &[
        "Pull the overheads down or out; use only what the hall needs.",
        "Mute vocal microphones that nobody sings into.",
        "Ask the drummer for fewer crashes or lighter sticks.",
        "Mute the speech microphones during songs.",
    ],
    backing: &[SOURCE, Source::CommonPractice],
    shows: "Who feeds the range from 5.6 to 17.8 kHz: overheads against vocal microphones.",
    fooled_by: "a shaker or tambourine part, and playback that sounds like noise",
    other_causes: "bright vocal microphones that stand near the kit",
    question: "Which channel takes most of the hiss with it when it is closed?",
    exercise: "Close the overheads and then each vocal microphone in turn, and listen which one takes the hiss away, 5 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let songs = reading.mix.iter().flat_map(|mix| &mix.songs);
    let mut told: Vec<&SongMix> = songs.filter(|song| song.treble_db.value().is_some()).collect();
    let level = |song: &SongMix| song.treble_db.value().unwrap_or(0.0);
    told.sort_by(|a, b| level(a).total_cmp(&level(b)));
    let Some(middle) = told.get(told.len() / 2) else { return Vec::new() };
    let moves_db = middle.treble_movement_db.value().unwrap_or(f64::INFINITY);
    let most_db = if level(middle) > FAR_DB { MOVES_FAR_DB } else { MOVES_NEAR_DB };
    let song_s: f64 = told.iter().map(|song| song.span.length_s()).sum();
    let mut ids = middle.treble_from.clone();
    let also = ids.split_off(NAMED.min(ids.len()));
    let observation = Observation {
        subject: Some("The mix"),
        channels: ids,
        also,
        evidence: vec![middle.span],
        ..Observation::of_session(vec![Some(middle.treble_db.clone())], song_s)
    };
    vec![
        observation
            .doubted(told.len() < NEEDS_SONGS, "one song may have a part that hisses")
            .doubted(moves_db >= most_db, "the treble moves with the music"),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, mixed, only};
    use crate::session::Role;
    use crate::unit::Fact;

    fn washed(treble_db: f64, moves_db: f64) -> Reading {
        let mut reading = mixed(vec![channel(7, Role::Overhead), channel(17, Role::LeadVocal)]);
        for song in &mut reading.mix.as_mut().expect("it was mixed").songs {
            song.treble_db = Fact::sure(treble_db, 0.9);
            song.treble_movement_db = Fact::sure(moves_db, 0.9);
            song.treble_from = vec!["ch07".to_owned(), "ch17".to_owned()];
        }
        reading
    }

    #[test]
    fn fires_when_a_steady_hiss_fills_the_mix() {
        assert_eq!(only(&RULE, &washed(-9.0, 4.0)), Near, "over -11");
        assert_eq!(only(&RULE, &washed(-7.0, 4.0)), Outside, "over -8");
    }

    #[test]
    fn stays_quiet_at_the_edge_of_the_target() {
        assert_eq!(only(&RULE, &washed(-11.0, 2.0)), OnTarget, "-11 is inside");
    }

    #[test]
    fn is_not_fooled_by_cymbals_that_come_and_go_or_by_one_song() {
        assert!(matches!(only(&RULE, &washed(-9.0, 9.0)), NotJudged(_)), "it moves");
        assert!(matches!(only(&RULE, &washed(-7.0, 7.0)), NotJudged(_)), "it moves enough");
        let mut one = washed(-7.0, 2.0);
        one.mix.as_mut().expect("it was mixed").songs.truncate(1);
        assert!(matches!(only(&RULE, &one), NotJudged(_)), "a shaker, perhaps");
    }
}
