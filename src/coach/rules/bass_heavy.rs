//! Low end rules the room.
//!
//! Looks at songs as a hall microphone hears them. Never needs a calibration: it is a difference of two levels.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{Reading, Room, SongWeight};
use crate::unit::Unit;

pub(super) const RULE: Rule = Rule {
    id: "bass-heavy",
    title: "Low end rules the room",
    group: Group::Loudness,
    tier: Tier::B,
    effect: 2,
    ease: 1,
    explains: &["low-pile"],
    measures: "C-weighted minus A-weighted level of the songs at the hall microphone; the heaviest song.",
    limbs: &[Limb {
        name: "C over A",
        unit: Unit::Db,
        windows: &[Window::at_most(15.0, 20.0, Source::CommonPractice)],
    }],
    combine: Combine::Worst,
    needs: &[],
    guards: Guards::USUAL,
    guard_text: "20 s of songs at a hall microphone.",
    absent: "no hall microphone was recorded while a song was played",
    heard: "{who} {is} heavy in the low end",
    why: "Too much bass tires, travels to neighbours and hides words.",
    advice: &[
        "Lower the send to the subwoofers by 3 dB.",
        "Switch the high-pass on in every channel that has no low notes.",
        "Play kick and bass shorter.",
    ],
    backing: &[Source::CommonPractice],
    shows: "C over A, song by song.",
    fooled_by: "a microphone in a corner or at a wall, where low notes pile up",
    other_causes: "a hall that holds low notes, or a bass amplifier on a hollow stage",
    question: "Can every word be understood at the back while the bass plays?",
    exercise: "Lower the subwoofers by 3 dB for one song, and ask somebody at the back what changed, 4 minutes.",
    praise: None,
    page: Page::Lead,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    reading.room.iter().filter_map(observation).collect()
}

fn observation(room: &Room) -> Option<Observation> {
    let value = |song: &&SongWeight| song.c_minus_a_db.value().unwrap_or(f64::MIN);
    let heaviest = room.songs.iter().max_by(|a, b| value(a).total_cmp(&value(b)))?;
    let songs_s: f64 = room.songs.iter().map(|song| song.span.length_s()).sum();
    Some(Observation {
        subject: Some("The room"),
        songs: vec![heaviest.title.clone()],
        evidence: vec![heaviest.span],
        confidence_cap: PLACE,
        ..pick::of_hall(room, vec![Some(heaviest.c_minus_a_db.clone())], songs_s)
    })
}

/// One microphone says this little of a hall: at a wall it hears twice the bass.
const PLACE: f64 = 0.75;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, OnTarget, Outside};
    use crate::coach::example::{judged, only, with_room};
    use crate::unit::Fact;

    fn songs(c_minus_a_db: f64) -> Reading {
        with_room(|room| room.songs[0].c_minus_a_db = Fact::sure(c_minus_a_db, 0.9))
    }

    #[test]
    fn fires_when_bass_outweighs_the_rest() {
        assert_eq!(only(&RULE, &songs(17.0)), Near, "over 15");
        assert_eq!(only(&RULE, &songs(22.0)), Outside, "over 20");
    }

    #[test]
    fn stays_quiet_at_the_edge_of_the_target() {
        assert_eq!(only(&RULE, &songs(15.0)), OnTarget, "15 is inside");
    }

    #[test]
    fn is_not_fooled_by_a_night_without_songs() {
        assert!(judged(&RULE, &with_room(|room| room.songs.clear())).is_empty(), "no song");
    }
}
