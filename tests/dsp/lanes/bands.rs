//! Tests of the band kernels in `dsp::lanes`.

#![expect(
    clippy::cast_possible_truncation,
    reason = "coefficients are rounded as the kernel's users do"
)]

use deskside::dsp::biquad::{Filter, band_pass};
use deskside::dsp::lanes::{
    BandState, HALF_BAND_TAPS, Isa, LANES, N_BAND_SECTIONS, band_energies, band_energy, halve,
};

use super::noisy_frames;
use crate::support::feeding::assert_near;

/// Single precision keeps 24 bits; a resonant band-pass loses a few of them.
const SINGLE_TOLERANCE: f64 = 1e-5;

#[test]
fn band_energy_equals_the_plain_twin_in_every_copy() {
    let frames = noisy_frames(4_000);
    let sections = band_pass(48_000.0, 8_912.5, 11_220.2, N_BAND_SECTIONS);
    let gain = sections[0].b0;
    let poles = std::array::from_fn(|idx| [sections[idx].a1 as f32, sections[idx].a2 as f32]);
    let mut first = None;
    for isa in Isa::all() {
        let (mut state, mut energy) = (BandState::default(), [0.0; LANES]);
        for part in frames.chunks(1_024) {
            band_energy(isa, part, &poles, &mut state, &mut energy);
        }
        for lane in 0..LANES {
            let mut filter = Filter::new(sections.clone());
            let out = frames.iter().map(|frame| filter.step(f64::from(frame[lane])));
            let expected: f64 = out.map(|out| out * out).sum();
            let found = energy[lane] * gain * gain;
            assert_near(found, expected, SINGLE_TOLERANCE * expected, "energy");
        }
        let bits = energy.map(f64::to_bits);
        assert_eq!(bits, *first.get_or_insert(bits), "{isa:?}: other bits");
    }
}

#[test]
fn two_bands_at_once_are_as_each_alone() {
    let frames = noisy_frames(1_000);
    let poles = [[8_912.5, 11_220.2], [11_220.2, 14_125.4]].map(|[low_hz, high_hz]| {
        let sections = band_pass(48_000.0, low_hz, high_hz, N_BAND_SECTIONS);
        std::array::from_fn(|idx| [sections[idx].a1 as f32, sections[idx].a2 as f32])
    });
    let alone = poles.map(|poles| {
        let (mut state, mut energy) = (BandState::default(), [1.0; LANES]);
        // As they are given below: a state comes to rest at the end of a call.
        for part in frames.chunks(300) {
            band_energy(Isa::PLAIN, part, &poles, &mut state, &mut energy);
        }
        (state, energy)
    });
    for isa in Isa::all() {
        let mut both = [(BandState::default(), [1.0; LANES]); 2];
        for part in frames.chunks(300) {
            let [(one, one_energy), (other, other_energy)] = &mut both;
            let energies = [one_energy, other_energy];
            band_energies(isa, part, [&poles[0], &poles[1]], [one, other], energies);
        }
        assert_eq!(both, alone, "{isa:?}");
    }
}

#[test]
fn halving_equals_a_plain_convolution_in_every_copy() {
    const REACH: usize = 2 * HALF_BAND_TAPS - 1;
    let input = noisy_frames(2 * 100 + 2 * REACH);
    let taps =
        std::array::from_fn(|tap| 0.3 / (1.0 + tap as f32) * if tap % 2 == 0 { 1.0 } else { -1.0 });
    let mut first = None;
    for isa in Isa::all() {
        let mut output = vec![[0.0; LANES]; 100];
        halve(isa, &input, &taps, &mut output);
        for (at, frame) in output.iter().enumerate() {
            for (lane, &found) in frame.iter().enumerate() {
                let centre = 2 * at + 2 * HALF_BAND_TAPS;
                let sides = taps.iter().enumerate().map(|(tap, &weight)| {
                    let distance = 2 * tap + 1;
                    let (one, other) = (input[centre - distance], input[centre + distance]);
                    f64::from(weight) * (f64::from(one[lane]) + f64::from(other[lane]))
                });
                let expected = 0.5 * f64::from(input[centre][lane]) + sides.sum::<f64>();
                assert_near(found.into(), expected, 1e-6, "sample at half the rate");
            }
        }
        assert_eq!(&output, first.get_or_insert(output.clone()), "{isa:?}: other bits");
    }
}
