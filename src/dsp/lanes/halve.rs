//! Halving of the rate behind two chains of all-pass sections, eight channels at once.
//!
//! Takes frames, gives half as many. What the chains add up to is a low-pass at a quarter of the rate; each runs at the new rate, so
//! an output costs five multiplications by numbers that differ.

use super::bands::settle_frame;
use super::isa::dispatch;
use super::{Frame, LANES};

/// Sections of both chains together.
pub const N_HALVING_SECTIONS: usize = 5;

/// States: the last input and the last output of each section.
pub type HalvingState = [[Frame; 2]; N_HALVING_SECTIONS];

/// One section, `(a + z^-1) / (1 + a z^-1)`. What is known of the input before stands in brackets: the output waits for the last one
/// through a multiplication and a subtraction alone.
#[inline(always)]
fn section(signal: Frame, a: f32, [input, output]: &mut [Frame; 2]) -> Frame {
    let mut out = [0.0; LANES];
    for lane in 0..LANES {
        out[lane] = (a * signal[lane] + input[lane]) - a * output[lane];
    }
    (*input, *output) = (signal, out);
    out
}

dispatch! {
    narrow
    /// Low-passes the frames and keeps every second one. Sections 0, 2, 4 take the later frame of two, 1 and 3 the earlier one.
    ///
    /// # Panics
    ///
    /// If there are not two frames in for one out.
    pub fn halve[](
        input: &[Frame],
        sections: &[f32; N_HALVING_SECTIONS],
        state: &mut HalvingState,
        output: &mut [Frame],
    ) {
        assert_eq!(input.len(), 2 * output.len(), "two frames in for one out");
        // States stand one by one, not in an array under a loop: so they stay in registers.
        let [mut a, mut b, mut c, mut d, mut e] = *state;
        for ([early, late], out) in input.as_chunks::<2>().0.iter().zip(output.iter_mut()) {
            let one = section(*late, sections[0], &mut a);
            let other = section(*early, sections[1], &mut b);
            let one = section(one, sections[2], &mut c);
            let other = section(other, sections[3], &mut d);
            let one = section(one, sections[4], &mut e);
            for lane in 0..LANES {
                out[lane] = 0.5 * (one[lane] + other[lane]);
            }
        }
        *state = [a, b, c, d, e];
        for value in state.iter_mut().flatten() {
            settle_frame(value);
        }
    }
}
