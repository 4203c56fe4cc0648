//! Powers and excesses on either side of every border.

use deskside::relate::rest::{at_first, by_excess, is_enough, softest};

/// Powers that lie so far under 1.
fn powers(under_db: &[f64]) -> Vec<f64> {
    under_db.iter().map(|under_db| 10f64.powf(-under_db / 10.0)).collect()
}

#[test]
fn at_first_a_source_rests_15_db_under_its_top_if_it_does_so_for_18_percent() {
    let take =
        |n_soft: usize, soft_db: f64| [vec![0.0; 100 - n_soft], vec![soft_db; n_soft]].concat();
    let rests = at_first(&powers(&take(19, 15.1))).expect("19 % are enough");
    assert_eq!(rests, (0..100).map(|frame| frame >= 81).collect::<Vec<bool>>());
    assert_eq!(at_first(&powers(&take(17, 15.1))), None, "17 % are too few");
    assert_eq!(at_first(&powers(&take(19, 14.9))), None, "14.9 dB are no rest");
}

#[test]
fn without_a_frame_nothing_rests() {
    assert!(!is_enough(&[]), "nothing");
    assert_eq!(at_first(&[]), None, "no power");
    assert!(by_excess(&[], None).is_empty(), "no excess");
}

#[test]
fn what_hardly_stands_out_rests_unless_much_is_explained_that_is_not_heard() {
    let plain = [vec![0.0; 20], vec![2.4, 2.6]].concat();
    assert_eq!(by_excess(&plain, None)[20..], [true, false], "2.5 dB over what the others give");
    let taken = [vec![-2.0; 20], vec![0.9, 1.1]].concat();
    assert_eq!(by_excess(&taken, None)[20..], [true, false], "3 dB over the lowest tenth");
}

#[test]
fn what_is_within_8_db_of_its_top_does_not_rest_however_little_it_stands_out() {
    let own = powers(&[vec![0.0; 100], vec![7.9, 8.1, 30.0]].concat());
    let rests = by_excess(&[0.0; 103], Some(&own));
    assert_eq!(rests[99..], [false, false, true, true]);
    assert!(!by_excess(&[0.0; 103], None).contains(&false), "where separation gives no power");
}

#[test]
fn the_softest_are_a_quarter() {
    let own: Vec<f64> = (0..100).map(|nth| f64::from(nth * 37 % 100)).collect();
    let found = softest(&own);
    assert_eq!(found.iter().filter(|soft| **soft).count(), 25);
    assert!(own.iter().zip(&found).all(|(power, soft)| (*power < 24.9) == *soft));
}
