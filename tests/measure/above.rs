//! Level above a corner against the closed form of a Butterworth high-pass.

use deskside::dsp::Group;
use deskside::measure::Trace;
use deskside::measure::above::AboveMeter;

use crate::support::feeding::{assert_near, measure_whole};
use crate::support::signals::sine;

const RATE_HZ: u32 = 48_000;
const CORNER_HZ: f64 = 120.0;

/// The filter is designed at its corner; elsewhere the bilinear transform bends the frequency axis by less than 0.01 % below
/// 1 kHz. A step of 10 ms holds no whole number of periods, so means over a second are compared.
const TOLERANCE_DB: f64 = 0.05;

fn level_db(frequency_hz: f64) -> f64 {
    let plane = sine(RATE_HZ, frequency_hz, 0.5, 0.0, 3 * RATE_HZ as usize);
    let traces: Vec<Trace> = measure_whole(
        RATE_HZ,
        &[&plane],
        |rate_hz, n_channels| AboveMeter::new(rate_hz, &vec![true; n_channels], CORNER_HZ),
        AboveMeter::push,
        |meter| meter.finish().into_iter().flatten().collect(),
    );
    10.0 * traces[0].mean_power(100, 200).log10()
}

#[test]
fn tones_lose_what_a_fourth_order_butterworth_takes() {
    for frequency_hz in [30.0, 60.0, 120.0, 240.0, 1000.0] {
        // |H|^2 = 1 / (1 + (fc / f)^8); a sine of amplitude 0.5 has a mean square of 1/8.
        let ratio = CORNER_HZ / frequency_hz;
        let expected = 10.0 * (0.125 / (1.0 + ratio.powi(8))).log10();
        assert_near(level_db(frequency_hz), expected, TOLERANCE_DB, "level");
    }
}

#[test]
fn only_what_is_asked_for_is_held() {
    let plane = sine(RATE_HZ, 1000.0, 0.5, 0.0, RATE_HZ as usize);
    let mut meter = AboveMeter::new(RATE_HZ, &[false, true], CORNER_HZ);
    meter.push(Group::new(&[&plane, &plane], RATE_HZ));
    let found = meter.finish();
    assert!(found[0].is_none(), "not asked for");
    assert_eq!(found[1].as_ref().map(Trace::len), Some(100), "a second in steps of 10 ms");
}
