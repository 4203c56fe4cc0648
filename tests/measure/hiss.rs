//! Quiet level above a frequency against sines whose power follows from their amplitude.

use deskside::dsp::Group;
use deskside::measure::ThirdsMeter;
use deskside::measure::hiss::quiet_level_above_dbfs;
use deskside::unit::{Span, Unmeasured};

const RATE_HZ: u32 = 48_000;

/// Skirts of the bands beside the sine's and the onset of the filters.
const TOLERANCE_DB: f64 = 0.2;

/// Ten seconds of a loud 50 Hz and a soft 1 kHz sine.
fn hum_and_tone() -> Vec<f32> {
    (0..10 * RATE_HZ)
        .map(|n| {
            let at = std::f64::consts::TAU * f64::from(n) / f64::from(RATE_HZ);
            (0.1 * (50.0 * at).sin() + 0.001 * (1000.0 * at).sin()) as f32
        })
        .collect()
}

#[test]
fn hum_is_left_out_and_the_tone_above_is_kept() {
    let plane = hum_and_tone();
    let mut meter = ThirdsMeter::new(RATE_HZ, 1);
    meter.push(Group::new(&[&plane], RATE_HZ));
    let thirds = meter.finish().remove(0);
    let found = quiet_level_above_dbfs(&thirds, &[Span::new(2.0, 9.0)], 200.0).unwrap();
    // A sine of amplitude 0.001 has -60 dBFS peak, -63.01 dBFS RMS.
    let expected = -63.01;
    assert!((found - expected).abs() < TOLERANCE_DB, "expected {expected}, found {found}");
    let none = quiet_level_above_dbfs(&thirds, &[Span::new(2.0, 4.0)], 200.0);
    assert_eq!(none, Err(Unmeasured::NoQuietStretch), "two seconds are too short");
}
