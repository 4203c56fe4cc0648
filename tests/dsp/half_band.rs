//! Halving of the rate: what passes, what is stopped, and how late it comes.

use deskside::dsp::HalfBand;
use deskside::dsp::lanes::{Frame, Isa, LANES};

use crate::support::feeding::assert_near;
use crate::support::planted::{float, tone};

/// Rate of the input; only ratios matter.
const RATE_HZ: f64 = 48_000.0;

fn halved(samples: &[f32]) -> Vec<f32> {
    let frames: Vec<Frame> = samples.iter().map(|&sample| [sample; LANES]).collect();
    let mut output = vec![[0.0; LANES]; frames.len() / 2];
    HalfBand::new(Isa::best()).process(&frames, &mut output);
    output.iter().map(|frame| frame[LANES - 1]).collect()
}

/// Level of a full sine behind it, in dB.
fn level_db(hz: f64) -> f64 {
    let output = halved(&float(&tone(hz, 1.0, 0.3, 100_000, RATE_HZ)));
    // Behind the onset.
    let settled = &output[2_000..];
    let power: f64 = settled.iter().map(|&x| f64::from(x).powi(2)).sum();
    10.0 * (2.0 * power / settled.len() as f64).log10()
}

#[test]
fn what_is_kept_passes_and_what_would_fold_onto_it_is_80_db_down() {
    // Up to 0.206 of the rate; a sine that is cut anywhere is known within 0.001 dB.
    for hz in [50.0, 1_000.0, 4_000.0, 8_000.0, 9_800.0] {
        assert_near(level_db(hz), 0.0, 0.002, &format!("{hz} Hz"));
    }
    for hz in [14_200.0, 16_000.0, 19_000.0, 21_000.0, 23_700.0] {
        assert!(level_db(hz) < -80.0, "{hz} Hz: {} dB", level_db(hz));
    }
}

#[test]
fn a_low_tone_comes_late_as_stated() {
    let (hz, delay) = (300.0, HalfBand::delay());
    let output = halved(&float(&tone(hz, 1.0, 0.0, 40_000, RATE_HZ)));
    let phase_at = |samples: f64| std::f64::consts::TAU * hz * samples / RATE_HZ;
    for (at, &found) in output.iter().enumerate().skip(2_000).step_by(97) {
        let expected = phase_at(2.0 * at as f64 - delay).sin();
        // The delay grows with the frequency: by a thousandth of a sample up to 300 Hz.
        assert_near(found.into(), expected, 2e-4, "output");
    }
    assert!((1.0..3.0).contains(&delay), "{delay} samples");
}
