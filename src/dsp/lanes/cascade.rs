//! Second-order sections in series, eight channels at once.
//!
//! Takes frames and sections, gives filtered frames or their energy. Transposed direct form II. States that have decayed
//! to nothing are set to 0 at the end of a call: numbers below the normal range slow a processor down a hundredfold.

use super::bands::settle_frame;
use super::isa::dispatch;
use super::{Frame, Isa, LANES};
use crate::dsp::biquad::Biquad;

/// States of `S` sections in single precision: two a section and lane.
pub type State32<const S: usize> = [[Frame; 2]; S];

/// States of `S` sections in double precision: two a section and lane.
pub type State64<const S: usize> = [[[f64; LANES]; 2]; S];

/// States below this count as silence, about -600 dB re full scale.
const NOTHING_F64: f64 = 1e-30;

/// Lanes that take their turn together in double precision where registers are few: the states of more don't fit into them, and a state
/// that waits in memory is late for the next frame. Wide registers hold all: a turn waits for its own results most of the time.
const HALF: usize = LANES / 2;

/// States of `W` lanes that take their turn together.
type TurnState<const S: usize, const W: usize> = [[[f64; W]; 2]; S];

/// The lanes of a value whose turn it is.
#[inline(always)]
fn turn_of<T: Copy, const W: usize>(lanes: &[T; LANES], turn: usize) -> [T; W] {
    lanes.as_chunks::<W>().0[turn]
}

#[inline(always)]
fn put_turn<T: Copy, const W: usize>(lanes: &mut [T; LANES], turn: usize, values: [T; W]) {
    lanes.as_chunks_mut::<W>().0[turn] = values;
}

#[inline(always)]
fn turn_state<const S: usize, const W: usize>(state: &State64<S>, turn: usize) -> TurnState<S, W> {
    state.map(|section| section.map(|lanes| turn_of(&lanes, turn)))
}

/// Puts states back that have come to rest where they were taken from.
#[inline(always)]
fn settle<const S: usize, const W: usize>(
    state: &mut State64<S>,
    turn: usize,
    now: &TurnState<S, W>,
) {
    for (lanes, values) in state.iter_mut().flatten().zip(now.iter().flatten()) {
        put_turn(
            lanes,
            turn,
            values.map(|value| if value.abs() < NOTHING_F64 { 0.0 } else { value }),
        );
    }
}

#[inline(always)]
fn run<const S: usize, const W: usize>(
    mut signal: [f64; W],
    sections: &[Biquad; S],
    state: &mut TurnState<S, W>,
) -> [f64; W] {
    for (section, [first, second]) in sections.iter().zip(state.iter_mut()) {
        let mut out = [0.0; W];
        for lane in 0..W {
            out[lane] = section.b0 * signal[lane] + first[lane];
        }
        for lane in 0..W {
            first[lane] = (section.b1 * signal[lane] + second[lane]) - section.a1 * out[lane];
        }
        for lane in 0..W {
            second[lane] = section.b2 * signal[lane] - section.a2 * out[lane];
        }
        signal = out;
    }
    signal
}

/// Adds the squares of the filtered samples to `energy`; states in double precision.
pub fn weighted_energy<const S: usize>(
    isa: Isa,
    frames: &[Frame],
    sections: &[Biquad; S],
    state: &mut State64<S>,
    energy: &mut [f64; LANES],
) {
    if isa.is_wide() {
        energy_by_turns::<S, LANES>(isa, frames, sections, state, energy);
    } else {
        energy_by_turns::<S, HALF>(isa, frames, sections, state, energy);
    }
}

dispatch! {
    fn energy_by_turns[const S, const W](
        frames: &[Frame],
        sections: &[Biquad; S],
        state: &mut State64<S>,
        energy: &mut [f64; LANES],
    ) {
        for turn in 0..LANES / W {
            let (mut now, mut sum) = (turn_state::<S, W>(state, turn), turn_of::<_, W>(energy, turn));
            for frame in frames {
                let out = run(turn_of(frame, turn).map(f64::from), sections, &mut now);
                for lane in 0..W {
                    sum[lane] += out[lane] * out[lane];
                }
            }
            settle(state, turn, &now);
            put_turn(energy, turn, sum);
        }
    }
}

/// As [`weighted_energy`]; adds the products of lanes that stand side by side (0 and 1, 2 and 3 ..) to `both`, once in
/// either lane.
pub fn paired_energy<const S: usize>(
    isa: Isa,
    frames: &[Frame],
    sections: &[Biquad; S],
    state: &mut State64<S>,
    energy: &mut [f64; LANES],
    both: &mut [f64; LANES],
) {
    if isa.is_wide() {
        pairs_by_turns::<S, LANES>(isa, frames, sections, state, energy, both);
    } else {
        pairs_by_turns::<S, HALF>(isa, frames, sections, state, energy, both);
    }
}

dispatch! {
    fn pairs_by_turns[const S, const W](
        frames: &[Frame],
        sections: &[Biquad; S],
        state: &mut State64<S>,
        energy: &mut [f64; LANES],
        both: &mut [f64; LANES],
    ) {
        for turn in 0..LANES / W {
            let mut now = turn_state::<S, W>(state, turn);
            let (mut sum, mut shared) = (turn_of::<_, W>(energy, turn), turn_of::<_, W>(both, turn));
            for frame in frames {
                let out = run(turn_of(frame, turn).map(f64::from), sections, &mut now);
                for lane in 0..W {
                    sum[lane] += out[lane] * out[lane];
                }
                for lane in 0..W {
                    shared[lane] += out[lane] * out[lane ^ 1];
                }
            }
            settle(state, turn, &now);
            put_turn(energy, turn, sum);
            put_turn(both, turn, shared);
        }
    }
}

/// Filters the frames in place; states in double precision.
pub fn filter_f64<const S: usize>(
    isa: Isa,
    frames: &mut [Frame],
    sections: &[Biquad; S],
    state: &mut State64<S>,
) {
    if isa.is_wide() {
        filter_by_turns::<S, LANES>(isa, frames, sections, state);
    } else {
        filter_by_turns::<S, HALF>(isa, frames, sections, state);
    }
}

dispatch! {
    #[expect(clippy::cast_possible_truncation, reason = "samples are single precision")]
    fn filter_by_turns[const S, const W](frames: &mut [Frame], sections: &[Biquad; S], state: &mut State64<S>) {
        for turn in 0..LANES / W {
            let mut now = turn_state::<S, W>(state, turn);
            for frame in frames.iter_mut() {
                let out = run(turn_of(frame, turn).map(f64::from), sections, &mut now);
                put_turn(frame, turn, out.map(|sample| sample as f32));
            }
            settle(state, turn, &now);
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
        now.iter_mut().flatten().for_each(settle_frame);
        *state = now;
    }
}
