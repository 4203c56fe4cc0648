//! Howls on the stage: the microphone that begins is named, a played note is none.

use deskside::measure::howl::{Change, Course, Held, HowlTrack, howls};
use deskside::relate::howl::{Place, stage_howls};

/// A line without partners that begins 40 dB under its highest level: feedback as a single channel tells it.
fn course(hz: f64, start_s: f64, peak_dbfs: f64) -> Course {
    Course {
        start_s,
        end_s: start_s + 2.0,
        hz,
        peak_dbfs,
        peak_s: start_s + 1.5,
        wander_hz: 0.1,
        drift_hz: 0.1,
        rise: Change { score_db: 30.0, change_db: 36.0, rate_db_s: 40.0, scatter_db: 1.0 },
        fall: Change::default(),
        partner_db: -55.0,
        under_db: -60.0,
        mean_db: 30.0,
        beside_db: 40.0,
        onset_db: -40.0,
        seen: 1.0,
    }
}

fn track(courses: &[Course]) -> HowlTrack {
    let held = courses.iter().map(Held::from).collect();
    let (programme_dbfs, courses) = (Some(-30.0), courses.to_vec());
    HowlTrack { programme_dbfs, courses, held, ..HowlTrack::default() }
}

const HZ: f64 = 2512.0;

#[test]
fn the_microphone_where_it_begins_is_the_source() {
    let (late, early) = (track(&[course(HZ, 10.6, -9.0)]), track(&[course(HZ + 0.4, 10.0, -15.0)]));
    let main = track(&[course(HZ - 0.3, 10.1, -6.0)]);
    assert_eq!(howls(&early).len(), 1, "a channel takes it for a howl");
    let all = stage_howls(&[
        (Place::Microphone, &late),
        (Place::Microphone, &early),
        (Place::Listener, &main),
    ]);
    assert_eq!(all.len(), 1, "one howl in three channels: {all:?}");
    assert_eq!(all[0].source, 1, "it begins there 0.6 s earlier");
    assert_eq!(all[0].heard_in, [0, 1, 2], "and is heard everywhere");
    assert!(all[0].howl.end_s > 12.5, "it lasts until the last microphone is still");
    let single = howls(&early)[0].confidence;
    assert!(all[0].howl.confidence > single, "others confirm it: {}", all[0].howl.confidence);
}

#[test]
fn of_microphones_that_begin_together_the_louder_is_the_source() {
    let (soft, loud) = (track(&[course(HZ, 10.0, -15.0)]), track(&[course(HZ, 10.1, -8.0)]));
    let all = stage_howls(&[(Place::Microphone, &soft), (Place::Microphone, &loud)]);
    assert_eq!(all[0].source, 1, "7 dB more over the programme");
}

#[test]
fn note_of_a_line_input_is_no_howl() {
    let mic = track(&[course(HZ, 10.0, -15.0)]);
    for (start_s, peak_dbfs, is_played) in
        [(10.0, -8.0, true), (9.5, -25.0, true), (10.1, -30.0, false)]
    {
        let line = track(&[course(HZ, start_s, peak_dbfs)]);
        let all = stage_howls(&[(Place::Microphone, &mic), (Place::Line, &line)]);
        assert_eq!(all.is_empty(), is_played, "line from {start_s} s at {peak_dbfs} dBFS: {all:?}");
    }
    let other = track(&[course(HZ * 1.06, 9.0, -3.0)]);
    let all = stage_howls(&[(Place::Microphone, &mic), (Place::Line, &other)]);
    assert_eq!(all.len(), 1, "a note a semitone away explains nothing");
}

#[test]
fn howl_that_no_one_else_hears_is_less_sure() {
    let (mic, deaf) = (track(&[course(HZ, 10.0, -15.0)]), track(&[]));
    let alone = stage_howls(&[(Place::Microphone, &mic)])[0].howl.confidence;
    let unheard =
        stage_howls(&[(Place::Microphone, &mic), (Place::Listener, &deaf)])[0].howl.confidence;
    assert!(unheard < 0.8 * alone, "{unheard} against {alone}");
}

/// A note that a trumpet holds spills into other microphones, and nothing sends it anywhere.
#[test]
fn howl_that_no_loudspeaker_sends_is_less_sure() {
    let (mic, spill) = (track(&[course(HZ, 10.0, -15.0)]), track(&[course(HZ, 10.0, -35.0)]));
    let confidence = |main: &HowlTrack| {
        let places =
            [(Place::Microphone, &mic), (Place::Microphone, &spill), (Place::Listener, main)];
        stage_howls(&places).first().map_or(0.0, |found| found.howl.confidence)
    };
    let (sent, unsent) = (confidence(&spill), confidence(&track(&[])));
    assert!(sent > 0.8 && unsent < 0.8 * sent, "{unsent} against {sent}");
}

/// Common practice: the loop of a microphone that nobody recorded is heard in the mix and the hall all the same.
#[test]
fn howl_of_a_microphone_that_was_not_recorded_is_told_of_the_mix() {
    let (mic, main) = (track(&[]), track(&[course(HZ, 10.0, -9.0)]));
    let room = track(&[course(HZ + 0.5, 10.1, -15.0)]);
    let all = stage_howls(&[
        (Place::Microphone, &mic),
        (Place::Listener, &main),
        (Place::Listener, &room),
    ]);
    assert_eq!(all.len(), 1, "one howl: {all:?}");
    assert_eq!((all[0].source, all[0].heard_in.as_slice()), (1, &[1, 2][..]), "of the mix");
    let own = howls(&main)[0].confidence;
    assert!(all[0].howl.confidence < 0.8 * own, "an instrument may have no channel");
}

#[test]
fn note_that_a_line_or_a_microphone_plays_is_no_howl_of_the_mix() {
    let main = track(&[course(HZ, 10.0, -9.0)]);
    let line = track(&[course(HZ, 9.5, -12.0)]);
    let all = stage_howls(&[(Place::Line, &line), (Place::Listener, &main)]);
    assert!(all.is_empty(), "a line input plays it: {all:?}");
    // Held there, and not taken for a howl: a flute.
    let mut flute = track(&[course(HZ, 10.0, -12.0)]);
    flute.courses.clear();
    let all = stage_howls(&[(Place::Microphone, &flute), (Place::Listener, &main)]);
    assert!(all.is_empty(), "a microphone holds it, and it is none there: {all:?}");
}

#[test]
fn howls_of_two_frequencies_or_times_are_two() {
    let mic = track(&[course(HZ, 10.0, -15.0), course(HZ, 20.0, -15.0)]);
    let other = track(&[course(HZ * 0.7, 10.0, -15.0)]);
    let all = stage_howls(&[(Place::Microphone, &mic), (Place::Microphone, &other)]);
    assert_eq!(all.len(), 3, "{all:?}");
    assert!(stage_howls(&[]).is_empty(), "no channels, no howl");
}
