//! Tests of `dsp::PowerSpectrum`, against the `realfft` crate.

use deskside::dsp::PowerSpectrum;
use realfft::RealFftPlanner;

use crate::support::signals::noise;

/// Rounding of single precision, re the largest power.
const TOLERANCE: f32 = 1e-5;

#[test]
fn a_tapered_row_has_the_powers_of_a_real_transform() {
    let n = 3072;
    let taper = noise(7, 1.0, n);
    let mut spectrum = PowerSpectrum::new(&taper);
    assert_eq!(spectrum.length(), n, "as long as the taper");
    for seed in [1, 2] {
        let row = noise(seed, 0.3, n);
        let forward = RealFftPlanner::new().plan_fft_forward(n);
        let mut tapered: Vec<f32> = row.iter().zip(&taper).map(|(x, w)| x * w).collect();
        let mut bins = forward.make_output_vec();
        assert!(forward.process(&mut tapered, &mut bins).is_ok(), "the plan's lengths");
        let most = bins.iter().map(|bin| bin.norm_sqr()).fold(0.0, f32::max);
        let power = spectrum.of(&row).to_vec();
        assert_eq!(power.len(), bins.len(), "from 0 Hz to half the rate");
        for (bin, (found, expected)) in power.iter().zip(&bins).enumerate() {
            let off = (found - expected.norm_sqr()).abs();
            assert!(off < TOLERANCE * most, "bin {bin}: {found}, not {}", expected.norm_sqr());
        }
        assert_eq!(spectrum.power(), power, "kept until the next row");
    }
}

#[test]
fn a_sine_of_a_bin_stands_in_it_alone() {
    let n = 256;
    let mut spectrum = PowerSpectrum::new(&vec![2.0 / n as f32; n]);
    let turn = std::f32::consts::TAU * 10.0 / n as f32;
    let sine: Vec<f32> = (0..n).map(|k| 0.5 * (turn * k as f32).sin()).collect();
    for (bin, power) in spectrum.of(&sine).iter().enumerate() {
        let expected = if bin == 10 { 0.25 } else { 0.0 };
        assert!((power - expected).abs() < 1e-6, "bin {bin}: {power}");
    }
}
