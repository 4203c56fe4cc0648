//! Main mix: differences that were planted between stretches of known power.

use deskside::measure::Trace;
use deskside::relate::main_mix::{creep_db_per_hour, jumps, speech_vs_song, squashed_percent};
use deskside::relate::{Kind, Stretch};
use deskside::unit::{Span, Unmeasured};

/// A trace holds levels in steps of 0.005 dB.
const CODE_LU: f64 = 0.006;

/// An evening from kinds, lengths in seconds and levels in dB of each side.
fn evening(parts: &[(Kind, f64, f64)]) -> (Trace, Vec<Stretch>) {
    let (mut trace, mut stretches, mut at_s) = (Trace::new(0.01), Vec::new(), 0.0);
    for &(kind, length_s, level_db) in parts {
        for _ in 0..(length_s * 100.0) as usize {
            trace.push_power(10f64.powf(level_db / 10.0));
        }
        stretches.push(Stretch { kind, span: Span::new(at_s, at_s + length_s), confidence: 0.9 });
        at_s += length_s;
    }
    (trace, stretches)
}

#[test]
fn talk_against_songs_is_the_difference_of_medians() {
    let (k, stretches) = evening(&[
        (Kind::Talk, 30.0, -30.0),
        (Kind::Song, 60.0, -20.0),
        (Kind::Talk, 5.0, -10.0),
        (Kind::Song, 60.0, -18.0),
        (Kind::Talk, 30.0, -28.0),
        (Kind::Song, 60.0, -22.0),
        (Kind::Talk, 30.0, -24.0),
    ]);
    let found = speech_vs_song(&[&k, &k], &stretches).unwrap();
    assert!((found.difference_lu + 8.0).abs() < CODE_LU, "-28 against -20: {found:?}");
    assert!((found.talk_s - 90.0).abs() < 1e-9, "the talk of 5 s doesn't count: {found:?}");
    let none = speech_vs_song(&[&k], &stretches[1..3]);
    let reason = Unmeasured::Because("nobody talks for 10 s in the main mix");
    assert_eq!(none, Err(reason), "no talk of 10 s");
}

#[test]
fn jumps_are_measured_at_borders_that_lie_close() {
    let (k, stretches) = evening(&[
        (Kind::Talk, 20.0, -28.0),
        (Kind::Song, 60.0, -20.0),
        (Kind::Silence, 2.0, -80.0),
        (Kind::Playback, 30.0, -11.0),
        (Kind::Silence, 30.0, -80.0),
        (Kind::Song, 60.0, -20.0),
    ]);
    let found = jumps(&[&k], &stretches);
    let steps: Vec<(Kind, Kind, bool)> =
        found.iter().map(|step| (step.from, step.to, step.like_to_like)).collect();
    let expected = [(Kind::Talk, Kind::Song, false), (Kind::Song, Kind::Playback, true)];
    assert_eq!(steps, expected, "30 s of silence part the last song from the playback");
    for (step, expected_lu) in found.iter().zip([8.0, 9.0]) {
        let found_lu = step.step_lu.clone().unwrap();
        assert!((found_lu - expected_lu).abs() < CODE_LU, "{step:?}, planted {expected_lu} LU");
    }
    assert!((found[1].at_s - 82.0).abs() < 1e-9, "where the playback begins: {:?}", found[1]);
}

/// A fade of the last seconds is no jump: the loudest 3 s within 6 s count.
#[test]
fn soft_last_note_is_no_jump() {
    let (k, mut stretches) =
        evening(&[(Kind::Song, 57.0, -20.0), (Kind::Song, 3.0, -40.0), (Kind::Song, 60.0, -20.0)]);
    stretches[0].span.end_s = 60.0;
    stretches.remove(1);
    let found = jumps(&[&k], &stretches);
    assert!(found[0].step_lu.clone().unwrap().abs() < CODE_LU, "{found:?}");
}

/// Songs on a straight line of 2 dB an hour, one far off it: the median slope (Theil 1950) stays.
#[test]
fn creep_is_the_median_slope() {
    let mut parts = Vec::new();
    for song in 0..8 {
        let outlier = if song == 3 { 6.0 } else { 0.0 };
        parts.push((Kind::Song, 240.0, -20.0 + 2.0 * f64::from(song) * 360.0 / 3600.0 + outlier));
        parts.push((Kind::Silence, 120.0, -80.0));
    }
    let (k, stretches) = evening(&parts);
    let found = creep_db_per_hour(&[&k, &k], &stretches).unwrap();
    assert!((found - 2.0).abs() < 0.1, "found {found} dB/h");
    let few = creep_db_per_hour(&[&k], &stretches[..6]);
    assert_eq!(few, Err(Unmeasured::TooFewEvents { have: 3, need: 4 }), "three songs");
    let short = creep_db_per_hour(&[&k], &stretches[..8]);
    assert_eq!(short, Err(Unmeasured::TooShort { have_s: 1320.0, need_s: 2400.0 }), "22 min");
}

/// A crest of 6 dB in a quarter of the song, 14 dB in the rest.
#[test]
fn squashed_share_is_the_time_with_a_low_crest() {
    let (mut power, mut peak) = (Trace::new(0.01), Trace::new(0.01));
    for step in 0..12_000 {
        power.push_power(0.01);
        let crest_db: f64 = if step < 3000 { 6.0 } else { 14.0 };
        peak.push_power(0.01 * 10f64.powf(crest_db / 10.0));
    }
    let span = Span::new(0.0, 120.0);
    let song = [Stretch { kind: Kind::Song, span, confidence: 0.9 }];
    let found = squashed_percent(&[&power], &[&peak], &song).unwrap();
    // 118 windows of 3 s; those on the border have the higher crest.
    assert!((found - 100.0 * 28.0 / 118.0).abs() < 0.01, "found {found} %");
    let none = squashed_percent(&[&power], &[&peak], &[]);
    assert_eq!(none, Err(Unmeasured::Because("the main mix holds no song")), "no song");
}
