//! Tests of the band kernels in `dsp::lanes`.

#![expect(
    clippy::cast_possible_truncation,
    reason = "coefficients are rounded as the kernel's users do"
)]

use deskside::dsp::biquad::{Filter, band_pass};
use deskside::dsp::lanes::{BandState, Isa, LANES, N_BAND_SECTIONS, band_energies, band_energy};

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
fn three_bands_at_once_are_as_each_alone() {
    let frames = noisy_frames(1_000);
    let edges_hz = [[7_079.5, 8_912.5], [8_912.5, 11_220.2], [11_220.2, 14_125.4]];
    let poles = edges_hz.map(|[low_hz, high_hz]| {
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
        let mut three = [(BandState::default(), [1.0; LANES]); 3];
        for part in frames.chunks(300) {
            let [a, b, c] = &mut three;
            let (states, energies) =
                ([&mut a.0, &mut b.0, &mut c.0], [&mut a.1, &mut b.1, &mut c.1]);
            band_energies(isa, part, poles.each_ref(), states, energies);
        }
        assert_eq!(three, alone, "{isa:?}");
    }
}
