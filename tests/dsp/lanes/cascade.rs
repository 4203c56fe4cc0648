//! Tests of the cascades in `dsp::lanes`.

use deskside::dsp::biquad::{Biquad, Filter, band_pass};
use deskside::dsp::lanes::{
    Frame, Isa, LANES, State32, State64, filter_f32, filter_f64, paired_energy, weighted_energy,
};

use super::noisy_frames;
use crate::support::feeding::assert_near;

/// Single precision keeps 24 bits; a resonant band-pass loses a few of them.
const SINGLE_TOLERANCE: f64 = 3e-6;

/// Rounding of the output to single precision.
const OUTPUT_TOLERANCE: f64 = 1e-7;

/// Order of additions in double precision.
const DOUBLE_TOLERANCE: f64 = 1e-11;

fn sections() -> [Biquad; 3] {
    band_pass(48_000.0, 500.0, 2_000.0, 3).try_into().expect("three sections")
}

/// The plain twin: one channel, double precision.
fn twin(frames: &[Frame], lane: usize) -> Vec<f64> {
    let mut filter = Filter::new(sections().to_vec());
    frames.iter().map(|frame| filter.step(f64::from(frame[lane]))).collect()
}

#[test]
fn filters_equal_the_plain_twin_in_every_copy() {
    let frames = noisy_frames(3_000);
    let (mut single_first, mut double_first) = (None, None);
    for isa in Isa::all() {
        let (mut single, mut double) = (frames.clone(), frames.clone());
        let (mut state32, mut state64): (State32<3>, State64<3>) =
            ([[[0.0; LANES]; 2]; 3], [[[0.0; LANES]; 2]; 3]);
        for part in single.chunks_mut(700) {
            filter_f32(isa, part, &sections(), &mut state32);
        }
        for part in double.chunks_mut(700) {
            filter_f64(isa, part, &sections(), &mut state64);
        }
        for lane in 0..LANES {
            for (at, expected) in twin(&frames, lane).into_iter().enumerate() {
                assert_near(single[at][lane].into(), expected, SINGLE_TOLERANCE, "single");
                assert_near(double[at][lane].into(), expected, OUTPUT_TOLERANCE, "double");
            }
        }
        assert_eq!(&single, single_first.get_or_insert(single.clone()), "{isa:?}: other bits");
        assert_eq!(&double, double_first.get_or_insert(double.clone()), "{isa:?}: other bits");
    }
}

#[test]
fn weighted_energy_equals_the_plain_twin_in_every_copy() {
    let frames = noisy_frames(3_000);
    let mut first = None;
    for isa in Isa::all() {
        let (mut state, mut energy) = ([[[0.0; LANES]; 2]; 3], [0.0; LANES]);
        for part in frames.chunks(480) {
            weighted_energy(isa, part, &sections(), &mut state, &mut energy);
        }
        for (lane, &found) in energy.iter().enumerate() {
            let expected: f64 = twin(&frames, lane).iter().map(|out| out * out).sum();
            assert_near(found, expected, DOUBLE_TOLERANCE * expected, "energy");
        }
        let bits = energy.map(f64::to_bits);
        assert_eq!(bits, *first.get_or_insert(bits), "{isa:?}: other bits");
    }
}

#[test]
fn paired_energy_equals_the_plain_twin_in_every_copy() {
    let frames = noisy_frames(3_000);
    let mut first = None;
    for isa in Isa::all() {
        let (mut energy, mut both) = ([0.0; LANES], [0.0; LANES]);
        let mut state = [[[0.0; LANES]; 2]; 3];
        for part in frames.chunks(480) {
            paired_energy(isa, part, &sections(), &mut state, &mut energy, &mut both);
        }
        for lane in 0..LANES {
            let (own, other) = (twin(&frames, lane), twin(&frames, lane ^ 1));
            let expected: f64 = own.iter().map(|out| out * out).sum();
            assert_near(energy[lane], expected, DOUBLE_TOLERANCE * expected, "energy");
            let shared: f64 = own.iter().zip(&other).map(|(own, other)| own * other).sum();
            assert_near(both[lane], shared, DOUBLE_TOLERANCE * expected, "product");
        }
        let bits = (energy.map(f64::to_bits), both.map(f64::to_bits));
        assert_eq!(bits, *first.get_or_insert(bits), "{isa:?}: other bits");
    }
}

#[test]
fn states_that_have_decayed_become_0() {
    let mut state: State64<3> = [[[1e-31; LANES]; 2]; 3];
    filter_f64(Isa::best(), &mut [], &sections(), &mut state);
    assert_eq!(state, [[[0.0; LANES]; 2]; 3], "nothing is left below the normal range");
    let mut state: State32<3> = [[[1e-21; LANES]; 2]; 3];
    filter_f32(Isa::best(), &mut [], &sections(), &mut state);
    assert_eq!(state, [[[0.0; LANES]; 2]; 3], "nothing is left below the normal range");
}
