//! Tests of `measure::standing`.

use deskside::measure::LevelMeter;
use deskside::measure::Trace;
use deskside::measure::standing::{
    loud_level_dbfs, pause_level_dbfs, quiet_level_dbfs, typical_level_dbfs,
};
use deskside::unit::{Span, Unmeasured};

use crate::support::feeding::{assert_near, measure_whole};
use crate::support::signals::segments;

/// Rounding of the trace.
const TOLERANCE_DB: f64 = 0.003;

fn power(parts: &[(f64, Option<f64>)]) -> Trace {
    let plane = segments(48_000, parts);
    let levels =
        measure_whole(48_000, &[&plane], LevelMeter::new, LevelMeter::push, LevelMeter::finish);
    levels.into_iter().next().expect("one channel, one result").power
}

#[test]
fn levels_are_plain_rms_of_what_lies_in_the_stretches() {
    // A sine of peak P has an RMS of P - 3.01: 4 s at -20, 10 s at -30, 6 s at -60, 6 s at -80.
    let parts = [(4.0, Some(-20.0)), (10.0, Some(-30.0)), (6.0, Some(-60.0)), (6.0, Some(-80.0))];
    let power = power(&parts);
    let active = [Span::new(0.0, 4.0), Span::new(4.0, 14.0)];
    let near = |found: Result<f64, Unmeasured>, expected, what| {
        assert_near(found.expect("a value"), expected, TOLERANCE_DB, what);
    };
    near(loud_level_dbfs(&power, &active), -23.01, "loud");
    near(typical_level_dbfs(&power, &active), -33.01, "typical");
    near(pause_level_dbfs(&power, &[Span::new(14.0, 20.0)]), -63.01, "pause");
    // Half of the quiet stretch is louder: the 5th percentile does not mind.
    near(quiet_level_dbfs(&power, &[Span::new(14.0, 26.0)]), -83.01, "quiet");
}

#[test]
fn the_loud_level_is_that_of_a_twentieth_of_the_time() {
    // 94 windows of soft, then loud: with 3 % of windows loud the percentile stays soft, with 8 % it is loud.
    for (loud_s, expected) in [(0.7, -43.01), (1.6, -23.01)] {
        let power = power(&[(18.0 - loud_s, Some(-40.0)), (loud_s, Some(-20.0))]);
        let found = loud_level_dbfs(&power, &[Span::new(0.0, 18.0)]).expect("a value");
        assert_near(found, expected, TOLERANCE_DB, "loud level");
    }
}

#[test]
fn what_has_no_level_says_why() {
    let power = power(&[(5.0, Some(-20.0)), (5.0, None)]);
    let (short, silent) = (Span::new(0.0, 1.0), Span::new(5.0, 10.0));
    let too_short = Unmeasured::TooShort { have_s: 1.0, need_s: 3.0 };
    assert_eq!(loud_level_dbfs(&power, &[]), Err(Unmeasured::NeverActive), "never active");
    assert_eq!(typical_level_dbfs(&power, &[silent]), Err(Unmeasured::Silent), "silent");
    assert!(matches!(pause_level_dbfs(&power, &[]), Err(Unmeasured::Because(_))), "never rests");
    assert_eq!(pause_level_dbfs(&power, &[short]), Err(too_short.clone()), "too short");
    assert!(matches!(pause_level_dbfs(&power, &[silent]), Err(Unmeasured::Because(_))), "silent");
    assert_eq!(quiet_level_dbfs(&power, &[]), Err(Unmeasured::NoQuietStretch), "never quiet");
    assert_eq!(quiet_level_dbfs(&power, &[short]), Err(too_short), "too short");
    // A little sound in a long silence: the percentile falls on digital silence, which has no level.
    let mixed = quiet_level_dbfs(&power, &[Span::new(4.0, 10.0)]);
    assert!(matches!(mixed, Err(Unmeasured::Because(_))), "mostly silent");
}
