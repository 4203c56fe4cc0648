//! Levels and excesses on either side of every border.

use deskside::relate::sounding::{Manner, clear, sounding, top_power};
use deskside::session::Role;

/// What is said of frames that lie so far under the top, with such an excess: plain and clear.
fn told(manner: Manner, frames: &[(f64, f64)]) -> [Vec<bool>; 2] {
    let own: Vec<f64> = frames.iter().map(|(under_db, _)| 10f64.powf(-under_db / 10.0)).collect();
    let excess_db: Vec<f64> = frames.iter().map(|(_, excess_db)| *excess_db).collect();
    [sounding(manner, &excess_db, &own, 1.0), clear(manner, &excess_db, &own, 1.0)]
}

#[test]
fn a_struck_source_sounds_clearly_within_25_db_of_its_top_and_2_db_beyond_spill() {
    let cases = [(0.0, 1.9, false), (0.0, 2.1, true), (24.5, 2.1, true), (25.5, 9.0, false)];
    for (under_db, excess_db, expected) in cases {
        let found = told(Manner::Struck, &[(under_db, excess_db)]);
        assert_eq!(found, [[expected], [expected]], "{under_db} dB under, {excess_db} dB beyond");
    }
}

#[test]
fn a_soft_frame_of_a_hit_sounds_beside_three_clear_ones_alone() {
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
        let [sounds, clearly] =
            told(Manner::Struck, &[soft, soft, clear, clear, clear, soft, soft]);
        assert_eq!(clearly, [false, false, true, true, true, false, false], "{why}");
        assert_eq!(sounds, [false, expected, true, true, true, expected, false], "{why}");
        let [sounds, clearly] = told(Manner::Struck, &[soft, clear, clear, soft]);
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

/// So many equal frames.
fn frames(n: usize, under_db: f64, excess_db: f64) -> Vec<(f64, f64)> {
    vec![(under_db, excess_db); n]
}

/// Frames one after the other.
fn row(parts: &[Vec<(f64, f64)>]) -> Vec<(f64, f64)> {
    parts.concat()
}

#[test]
fn a_held_source_is_no_single_frame_and_keeps_its_borders() {
    let rest = frames(40, 40.0, 0.0);
    let glitch = row(&[rest.clone(), frames(5, 3.0, 6.0), rest.clone()]);
    let [sounds, _] = told(Manner::Held, &glitch);
    assert!(!sounds.contains(&true), "5 frames of 43 ms are no word");
    let word = row(&[rest.clone(), frames(12, 3.0, 20.0), rest.clone()]);
    let [sounds, _] = told(Manner::Held, &word);
    let expected: Vec<bool> = (0..92).map(|frame| (40..52).contains(&frame)).collect();
    assert_eq!(sounds, expected, "half a second begins and ends where it does");
    let breath = row(&[frames(20, 3.0, 20.0), frames(4, 40.0, 0.0), frames(20, 3.0, 20.0)]);
    let [sounds, _] = told(Manner::Held, &breath);
    assert!(!sounds.contains(&false), "4 frames between two notes are no rest");
}

#[test]
fn what_is_left_of_others_is_not_a_source_that_stands_out_far() {
    let take = |excess_db| row(&[frames(100, 5.0, excess_db), frames(60, 18.0, 2.8)]);
    let sounds = |excess_db, frame: usize| told(Manner::Held, &take(excess_db))[0][frame];
    assert!(sounds(24.0, 50) && !sounds(24.0, 130), "2.8 dB beside 24 dB");
    assert!(sounds(6.0, 50) && sounds(6.0, 130), "2.8 dB beside 6 dB");
}

#[test]
fn a_choir_under_a_band_is_told_by_seconds_and_alone_by_half_seconds() {
    let rest = frames(100, 9.0, 0.3);
    let hits: Vec<(f64, f64)> =
        (0..100).map(|n| if n % 12 < 3 { (2.0, 5.0) } else { (9.0, 0.3) }).collect();
    let sung = row(&[hits.clone(), frames(100, 4.0, 1.4), hits]);
    let [sounds, clearly] = told(Manner::Massed, &sung);
    assert_eq!(sounds, clearly, "nothing is added beside them");
    let (inside, outside): (Vec<_>, Vec<_>) =
        sounds.iter().enumerate().partition(|(frame, _)| (100..200).contains(frame));
    let n_inside = inside.iter().filter(|(_, sounds)| **sounds).count();
    let n_outside = outside.iter().filter(|(_, sounds)| **sounds).count();
    assert!(n_inside >= 95 && n_outside <= 24, "{n_inside} of 100, {n_outside} of 200");
    let alone = row(&[rest.clone(), frames(12, 12.0, 15.0), rest]);
    let n_alone = told(Manner::Massed, &alone)[0].iter().filter(|sounds| **sounds).count();
    assert_eq!(n_alone, 12, "alone it stands out like any source");
}

#[test]
fn voices_hold_drums_are_struck_and_choirs_are_many() {
    let cases = [
        (Role::LeadVocal, Manner::Held),
        (Role::Brass, Manner::Held),
        (Role::SnareTop, Manner::Struck),
        (Role::Percussion, Manner::Struck),
        (Role::Choir, Manner::Massed),
        (Role::Unknown, Manner::Struck),
    ];
    for (role, expected) in cases {
        assert_eq!(Manner::of(role), expected, "{role:?}");
    }
}
