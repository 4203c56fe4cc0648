//! All-quiet stretches: found where every channel is quiet, hidden by any that sounds.

use deskside::measure::Trace;
use deskside::relate::quiet::all_quiet;
use deskside::unit::Span;

/// A channel that is loud outside `quiet_s`, at levels in dBFS.
fn channel(quiet_s: std::ops::Range<f64>, loud_dbfs: f64, noise_dbfs: f64) -> Trace {
    let mut trace = Trace::new(0.01);
    for step in 0..3000 {
        let is_quiet = quiet_s.contains(&(f64::from(step) / 100.0));
        trace.push_power(10f64.powf(if is_quiet { noise_dbfs } else { loud_dbfs } / 10.0));
    }
    trace
}

#[test]
fn quiet_is_where_every_channel_is_quiet() {
    let (a, b) = (channel(5.0..15.0, -20.0, -70.0), channel(9.0..20.0, -30.0, -56.0));
    let found = all_quiet(&[&a, &b], &[Some(-20.0), Some(-30.0)]);
    assert_eq!(found, [Span::new(9.0, 15.0)], "25 dB under both");
}

#[test]
fn channel_without_typical_level_is_passed_over() {
    let (a, b) = (channel(5.0..15.0, -20.0, -70.0), channel(0.0..0.0, -30.0, -60.0));
    assert_eq!(all_quiet(&[&a, &b], &[Some(-20.0), None]), [Span::new(5.0, 15.0)], "b never plays");
    assert_eq!(all_quiet(&[&a], &[None]), [], "nothing has sounded");
}

#[test]
fn humming_input_does_not_hide_the_quiet() {
    let (a, b) = (channel(5.0..15.0, -20.0, -70.0), channel(2.0..28.0, -20.0, -40.0));
    let found = all_quiet(&[&a, &b], &[Some(-20.0), Some(-20.0)]);
    assert_eq!(found, [Span::new(5.0, 15.0)], "its floor lies 20 dB under its typical level");
}

#[test]
fn less_than_a_second_is_no_stretch() {
    let a = channel(5.0..5.9, -20.0, -70.0);
    assert_eq!(all_quiet(&[&a], &[Some(-20.0)]), [], "0.9 s");
}
