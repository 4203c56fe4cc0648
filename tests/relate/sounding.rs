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
fn a_soft_frame_sounds_beside_three_clear_ones_alone() {
    let clear = (3.0, 4.0);
    let cases = [
        ((28.0, 2.5), true, "within 29 dB, 2 dB beyond"),
        ((29.5, 9.0), false, "too soft"),
        ((28.0, 1.5), false, "soft, and little beyond spill"),
        ((9.0, 0.6), true, "near the top"),
        ((9.0, 0.4), false, "near the top, but spill"),
        ((11.0, 0.6), false, "not near the top"),
    ];
    for (soft, expected, why) in cases {
        let [sounds, clearly] = told(&[soft, soft, clear, clear, clear, soft, soft]);
        assert_eq!(clearly, [false, false, true, true, true, false, false], "{why}");
        assert_eq!(sounds, [false, expected, true, true, true, expected, false], "{why}");
        let [sounds, clearly] = told(&[soft, clear, clear, soft]);
        assert_eq!(sounds, clearly, "two clear frames do not bear it out: {why}");
    }
}

#[test]
fn the_top_is_reached_by_one_frame_in_fifty() {
    let powers: Vec<f64> = (1..=1000).map(f64::from).collect();
    let top = top_power(&powers);
    assert!((top - 980.0).abs() <= 1.0, "98th percentile of 1 to 1000: {top}");
    assert!(top_power(&[]) < 1e-12, "nothing has no top");
}
