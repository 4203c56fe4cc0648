//! Top peaks against places that were set by hand.

use deskside::measure::Trace;
use deskside::measure::peaks::top_peaks_at_s;

/// Ten seconds at -40 dB with steps set to other levels.
fn trace(levels: &[(f64, f64)]) -> Trace {
    let mut trace = Trace::new(0.01);
    for step in 0..1000 {
        let at_s = f64::from(step) * 0.01;
        let level_db = levels
            .iter()
            .find(|(set_s, _)| (set_s - at_s).abs() < 0.005)
            .map_or(-40.0, |(_, level_db)| *level_db);
        trace.push_power(10f64.powf(level_db / 10.0));
    }
    trace
}

#[test]
fn peaks_within_1_db_are_told_highest_first() {
    let found = top_peaks_at_s(&trace(&[(2.0, -6.5), (5.0, -6.0), (8.0, -7.5)]));
    assert_eq!(found, vec![5.0, 2.0], "-7.5 dB is more than 1 dB under -6");
}

#[test]
fn peaks_of_one_passage_count_once() {
    let found = top_peaks_at_s(&trace(&[(2.0, -6.0), (2.5, -6.1), (3.2, -6.2)]));
    assert_eq!(found, vec![2.0, 3.2], "2.5 s is within a second of 2.0 s");
}

#[test]
fn silence_has_no_peaks() {
    let mut silent = Trace::new(0.01);
    (0..100).for_each(|_| silent.push_power(0.0));
    assert!(top_peaks_at_s(&silent).is_empty(), "no moment is the highest of nothing");
}
