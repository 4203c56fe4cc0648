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
    let cases = [
        ((0.0, 1.9), false, false),
        ((0.0, 2.1), true, true),
        ((24.5, 2.1), true, true),
        ((25.5, 9.0), true, false),
        ((30.5, 9.0), false, false),
    ];
    for (frame, expected, clearly) in cases {
        let (under_db, excess_db) = frame;
        let found = told(Manner::Struck, &[frame]);
        assert_eq!(found, [[expected], [clearly]], "{under_db} dB under, {excess_db} dB beyond");
    }
}

#[test]
fn a_frame_stands_out_less_where_those_of_its_level_mostly_sound() {
    // 2 - 1.5 ln((n + 0.5) / (m + 0.5)) for n clear frames and m others.
    let cases = [
        (90, 10, 0.1, true, "2 - 3.2 dB"),
        (90, 10, -0.1, false, "the others account for all"),
        (60, 40, 1.5, true, "2 - 0.6 dB"),
        (60, 40, 1.3, false, "2 - 0.6 dB"),
        (20, 80, 3.9, false, "2 + 2.1 dB"),
        (20, 80, 4.2, true, "2 + 2.1 dB"),
    ];
    for (n_clear, n_other, excess_db, expected, why) in cases {
        // The first of them is the one that is asked for; all stand apart, so that none lies beside another.
        let is_clear = excess_db > 2.0;
        let clear = vec![12.0; n_clear - usize::from(is_clear)];
        let other = vec![0.0; n_other - usize::from(!is_clear)];
        let apart = |excess_db| [(20.0, excess_db), (60.0, 0.0)];
        let take: Vec<(f64, f64)> =
            [vec![excess_db], clear, other].concat().into_iter().flat_map(apart).collect();
        let [sounds, _] = told(Manner::Struck, &take);
        assert_eq!(sounds[0], expected, "{n_clear} clear, {n_other} not, {excess_db} dB: {why}");
    }
}

#[test]
fn a_frame_beside_one_that_sounds_may_be_softer() {
    let clear = (3.0, 4.0);
    let cases = [
        ((28.0, 2.5), true, "within 29 dB, 2 dB beyond"),
        ((29.5, 2.5), false, "too soft"),
        ((28.0, 1.5), false, "soft, and little beyond spill"),
        ((11.5, 0.1), true, "near the top"),
        ((11.5, -0.1), false, "near the top, but spill"),
        ((12.5, 0.1), false, "not near the top"),
    ];
    for (soft, expected, why) in cases {
        let [sounds, clearly] =
            told(Manner::Struck, &[soft, soft, clear, clear, clear, soft, soft]);
        assert_eq!(sounds, [false, expected, true, true, true, expected, false], "{why}");
        assert_eq!(
            clearly[1..6],
            [soft.1 > 2.0 && soft.0 < 25.0, true, true, true, false],
            "{why}"
        );
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
fn what_is_left_of_others_is_not_a_source_that_holds_on() {
    let sounds = |soft: (f64, f64)| {
        let take =
            row(&[frames(100, 5.0, 24.0), frames(20, 60.0, 0.0), frames(10, soft.0, soft.1)]);
        told(Manner::Held, &take)[0][125]
    };
    assert!(sounds((16.0, 2.8)), "2.8 dB at 16 dB under the top");
    assert!(!sounds((20.0, 2.8)), "2.8 dB at 20 dB under the top");
    assert!(sounds((20.0, 8.0)), "8 dB at 20 dB: 2 + 1.5 ln 21 are 6.6");
    assert!(!sounds((24.0, 10.0)) && sounds((24.0, 12.0)), "11 dB at 24 dB");
    assert!(!sounds((27.0, 30.0)), "26 dB under the top nothing holds on");
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
