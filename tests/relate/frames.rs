//! Frames of 100 ms under the activity: traces of different length, traces of other steps.

use deskside::measure::Trace;
use deskside::relate::activity::{Source, own_activity};
use deskside::session::Role;

const LINE: Source = Source { role: Role::Keys, is_line: true };

/// A line input that sounds in every other second.
fn trace(length_s: usize) -> Trace {
    let mut trace = Trace::new(0.01);
    for step in 0..100 * length_s {
        trace.push_power(if step / 100 % 2 == 0 { 0.01 } else { 1e-9 });
    }
    trace
}

#[test]
fn what_a_shorter_trace_lacks_is_silence() {
    let (long, short) = (trace(60), trace(20));
    let found = own_activity(&[&long, &short], &[LINE; 2], &[]);
    assert!((found[0].active_s - 30.0).abs() < 1e-9, "every other second of 60: {:?}", found[0]);
    assert!((found[1].active_s - 10.0).abs() < 1e-9, "every other second of 20: {:?}", found[1]);
    let alone = own_activity(&[&short], &[LINE], &[]);
    assert_eq!(alone[0].spans, found[1].spans, "a longer neighbour moves nothing");
}

#[test]
fn spans_lie_on_tenths_of_a_second() {
    let found = own_activity(&[&trace(20)], &[LINE], &[]);
    let starts: Vec<f64> = found[0].spans.iter().map(|span| span.start_s).collect();
    let expected: Vec<f64> = (0..10u8).map(|second| 2.0 * f64::from(second)).collect();
    assert_eq!(starts, expected, "written as they are planted");
}

#[test]
#[should_panic(expected = "traces have steps of 10 ms")]
fn trace_of_other_steps_is_refused() {
    let coarse = trace(20).coarser(10);
    own_activity(&[&coarse], &[LINE], &[]);
}
