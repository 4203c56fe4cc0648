//! Tests of the halving kernel in `dsp::lanes`.

use deskside::dsp::lanes::{HalvingState, Isa, LANES, N_HALVING_SECTIONS, halve};

use super::noisy_frames;
use crate::support::feeding::assert_near;

const SECTIONS: [f32; N_HALVING_SECTIONS] = [0.1, 0.2, 0.4, 0.6, 0.9];

/// What the sections do to the samples of one chain, in double precision.
fn chain(samples: impl Iterator<Item = f32>, sections: &[f32]) -> Vec<f64> {
    let mut signal: Vec<f64> = samples.map(f64::from).collect();
    for &a in sections {
        let (mut input, mut output) = (0.0, 0.0);
        for x in &mut signal {
            // H(z) = (a + 1/z) / (1 + a/z)
            output = f64::from(a) * *x + input - f64::from(a) * output;
            input = *x;
            *x = output;
        }
    }
    signal
}

#[test]
fn halving_equals_two_plain_chains_in_every_copy() {
    let input = noisy_frames(600);
    let mut first = None;
    for isa in Isa::all() {
        let (mut state, mut output) = (HalvingState::default(), vec![[0.0; LANES]; 300]);
        // In two calls: states go over from one to the next.
        halve(isa, &input[..200], &SECTIONS, &mut state, &mut output[..100]);
        halve(isa, &input[200..], &SECTIONS, &mut state, &mut output[100..]);
        for lane in 0..LANES {
            let samples = |from: usize| input.iter().skip(from).step_by(2).map(move |x| x[lane]);
            let late = chain(samples(1), &[SECTIONS[0], SECTIONS[2], SECTIONS[4]]);
            let early = chain(samples(0), &[SECTIONS[1], SECTIONS[3]]);
            for (frame, (late, early)) in output.iter().zip(late.iter().zip(&early)) {
                assert_near(frame[lane].into(), (late + early) / 2.0, 1e-6, "half the rate");
            }
        }
        assert_eq!(&output, first.get_or_insert(output.clone()), "{isa:?}: other bits");
    }
}

#[test]
fn silence_comes_to_rest() {
    let (mut state, mut output) = (HalvingState::default(), vec![[0.0; LANES]; 4_000]);
    halve(Isa::best(), &noisy_frames(8_000), &SECTIONS, &mut state, &mut output);
    halve(Isa::best(), &vec![[0.0; LANES]; 8_000], &SECTIONS, &mut state, &mut output);
    assert_eq!(state, HalvingState::default(), "nothing below the normal range stays");
}
