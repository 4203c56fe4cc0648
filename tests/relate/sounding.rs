//! Levels and excesses on either side of every border.

use deskside::relate::sounding::{clear, sounding, top_power};

/// What is said of frames that lie so far under the top, with such an excess: plain and clear.
fn told(frames: &[(f64, f64)]) -> [Vec<bool>; 2] {
    let own: Vec<f64> = frames.iter().map(|(under_db, _)| 10f64.powf(-under_db / 10.0)).collect();
    let excess_db: Vec<f64> = frames.iter().map(|(_, excess_db)| *excess_db).collect();
    [sounding(&excess_db, &own, 1.0), clear(&excess_db, &own, 1.0)]
}

#[test]
fn a_source_sounds_clearly_within_25_db_of_its_top_and_2_db_beyond_spill() {
    let cases = [(0.0, 1.9, false), (0.0, 2.1, true), (24.5, 2.1, true), (25.5, 9.0, false)];
    for (under_db, excess_db, expected) in cases {
        let found = told(&[(under_db, excess_db)]);
        assert_eq!(found, [[expected], [expected]], "{under_db} dB under, {excess_db} dB beyond");
    }
}

#[test]
fn what_sounds_goes_on_while_it_fades_and_what_is_apart_does_not_begin() {
    let [sounds, clearly] = told(&[
        (27.0, 3.0),
        (40.0, 0.0),
        (28.0, 3.0),
        (5.0, 0.6),
        (3.0, 4.0),
        (9.0, 0.6),
        (26.0, 3.0),
        (28.5, 2.5),
        (29.5, 2.5),
        (28.0, 2.5),
        (2.0, 0.4),
    ]);
    assert_eq!(clearly.iter().filter(|one| **one).count(), 1, "one frame is clear: {clearly:?}");
    let expected = [false, false, true, true, true, true, true, true, false, false, false];
    assert_eq!(sounds, expected, "from what begins before it to where it has faded by 29 dB");
}

#[test]
fn the_top_is_reached_by_one_frame_in_fifty() {
    let powers: Vec<f64> = (1..=1000).map(f64::from).collect();
    let top = top_power(&powers);
    assert!((top - 980.0).abs() <= 1.0, "98th percentile of 1 to 1000: {top}");
    assert_eq!(top_power(&[]), 0.0, "nothing has no top");
}
