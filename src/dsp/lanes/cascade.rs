//! Second-order sections in series, eight channels at once.
//!
//! Takes frames and sections, gives filtered frames or their energy. Transposed direct form II. States that have decayed
//! to nothing are set to 0 at the end of a call: numbers below the normal range slow a processor down a hundredfold.

use super::isa::dispatch;
use super::{Frame, LANES};
use crate::dsp::biquad::Biquad;

/// States of `S` sections in single precision: two a section and lane.
pub type State32<const S: usize> = [[Frame; 2]; S];

/// States of `S` sections in double precision: two a section and lane.
pub type State64<const S: usize> = [[[f64; LANES]; 2]; S];

/// States below this count as silence, about -600 dB re full scale.
const NOTHING_F64: f64 = 1e-30;

/// States below this count as silence, -400 dB re full scale.
const NOTHING_F32: f32 = 1e-20;

/// Lanes that take their turn together in double precision: the states of more don't fit into registers, and a state that waits in
/// memory is late for the next frame.
const HALF: usize = LANES / 2;

/// States of half of the lanes.
type HalfState<const S: usize> = [[[f64; HALF]; 2]; S];

/// Half of the lanes of a value.
#[inline(always)]
fn half_of<T: Copy>(lanes: &[T; LANES], half: usize) -> [T; HALF] {
    lanes.as_chunks::<HALF>().0[half]
}

#[inline(always)]
fn put_half<T: Copy>(lanes: &mut [T; LANES], half: usize, values: [T; HALF]) {
    lanes.as_chunks_mut::<HALF>().0[half] = values;
}

#[inline(always)]
fn half_state<const S: usize>(state: &State64<S>, half: usize) -> HalfState<S> {
    state.map(|section| section.map(|lanes| half_of(&lanes, half)))
}

/// Puts states back that have come to rest where they were taken from.
#[inline(always)]
fn settle<const S: usize>(state: &mut State64<S>, half: usize, now: &HalfState<S>) {
    for (lanes, values) in state.iter_mut().flatten().zip(now.iter().flatten()) {
        put_half(
            lanes,
            half,
            values.map(|value| if value.abs() < NOTHING_F64 { 0.0 } else { value }),
        );
    }
}

#[inline(always)]
fn run<const S: usize>(
    mut signal: [f64; HALF],
    sections: &[Biquad; S],
    state: &mut HalfState<S>,
) -> [f64; HALF] {
    for (section, [first, second]) in sections.iter().zip(state.iter_mut()) {
        let mut out = [0.0; HALF];
        for lane in 0..HALF {
            out[lane] = section.b0 * signal[lane] + first[lane];
        }
        for lane in 0..HALF {
            first[lane] = (section.b1 * signal[lane] + second[lane]) - section.a1 * out[lane];
        }
        for lane in 0..HALF {
            second[lane] = section.b2 * signal[lane] - section.a2 * out[lane];
        }
        signal = out;
    }
    signal
}

dispatch! {
    /// Adds the squares of the filtered samples to `energy`; states in double precision.
    pub fn weighted_energy[const S](
        frames: &[Frame],
        sections: &[Biquad; S],
        state: &mut State64<S>,
        energy: &mut [f64; LANES],
    ) {
        for half in 0..LANES / HALF {
            let (mut now, mut sum) = (half_state(state, half), half_of(energy, half));
            for frame in frames {
                let out = run(half_of(frame, half).map(f64::from), sections, &mut now);
                for lane in 0..HALF {
                    sum[lane] += out[lane] * out[lane];
                }
            }
            settle(state, half, &now);
            put_half(energy, half, sum);
        }
    }
}

dispatch! {
    /// As [`weighted_energy`]; adds the products of lanes that stand side by side (0 and 1, 2 and 3 ..) to `both`, once in
    /// either lane.
    pub fn paired_energy[const S](
        frames: &[Frame],
        sections: &[Biquad; S],
        state: &mut State64<S>,
        energy: &mut [f64; LANES],
        both: &mut [f64; LANES],
    ) {
        for half in 0..LANES / HALF {
            let mut now = half_state(state, half);
            let (mut sum, mut shared) = (half_of(energy, half), half_of(both, half));
            for frame in frames {
                let out = run(half_of(frame, half).map(f64::from), sections, &mut now);
                for lane in 0..HALF {
                    sum[lane] += out[lane] * out[lane];
                }
                for lane in 0..HALF {
                    shared[lane] += out[lane] * out[lane ^ 1];
                }
            }
            settle(state, half, &now);
            put_half(energy, half, sum);
            put_half(both, half, shared);
        }
    }
}

dispatch! {
    /// Filters the frames in place; states in double precision.
    #[expect(clippy::cast_possible_truncation, reason = "samples are single precision")]
    pub fn filter_f64[const S](frames: &mut [Frame], sections: &[Biquad; S], state: &mut State64<S>) {
        for half in 0..LANES / HALF {
            let mut now = half_state(state, half);
            for frame in frames.iter_mut() {
                let out = run(half_of(frame, half).map(f64::from), sections, &mut now);
                put_half(frame, half, out.map(|sample| sample as f32));
            }
            settle(state, half, &now);
        }
    }
}

dispatch! {
    /// Filters the frames in place; states in single precision, for corners above about a hundredth of the rate.
    #[expect(clippy::cast_possible_truncation, reason = "coefficients are rounded on purpose")]
    pub fn filter_f32[const S](frames: &mut [Frame], sections: &[Biquad; S], state: &mut State32<S>) {
        let rounded = sections.map(|section| {
            [section.b0, section.b1, section.b2, section.a1, section.a2].map(|value| value as f32)
        });
        let mut now = *state;
        for frame in frames {
            let mut signal = *frame;
            for ([b0, b1, b2, a1, a2], [first, second]) in rounded.iter().zip(now.iter_mut()) {
                let mut out = [0.0; LANES];
                for lane in 0..LANES {
                    out[lane] = b0 * signal[lane] + first[lane];
                }
                for lane in 0..LANES {
                    first[lane] = b1 * signal[lane] - a1 * out[lane] + second[lane];
                }
                for lane in 0..LANES {
                    second[lane] = b2 * signal[lane] - a2 * out[lane];
                }
                signal = out;
            }
            *frame = signal;
        }
        for value in now.iter_mut().flatten().flatten() {
            *value = if value.abs() < NOTHING_F32 { 0.0 } else { *value };
        }
        *state = now;
    }
}
