//! Complex values of some frames, real and imaginary parts apart.
//!
//! Takes the cells in which spectra are held, gives their values, powers and weighted sums, all frames side by side. A sum over the frames
//! is that of both halves, and so on: it is the same in every copy. A kernel takes one channel, where it can: of several the compiler would
//! take the same frame side by side, and gather.

use rustfft::num_complex::Complex32;

use super::isa::dispatch;
use super::{Frame, LANES};

/// Values of `F` frames.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Parts<const F: usize> {
    /// Real parts.
    pub re: [f32; F],
    /// Imaginary parts.
    pub im: [f32; F],
}

impl<const F: usize> Parts<F> {
    /// Frames without sound.
    pub const SILENT: Self = Self { re: [0.0; F], im: [0.0; F] };

    #[inline(always)]
    fn powers(&self) -> [f32; F] {
        let Self { re, im } = *self;
        let mut powers = [0.0; F];
        for at in 0..F {
            powers[at] = re[at] * re[at] + im[at] * im[at];
        }
        powers
    }
}

/// Sum over the frames, whose count is a power of two.
#[inline(always)]
fn total<const F: usize>(mut values: [f32; F]) -> f32 {
    let mut width = F;
    while width > 1 {
        width /= 2;
        for at in 0..width {
            values[at] += values[at + width];
        }
    }
    values[0]
}

dispatch! {
    narrow
    /// Values of the cells of eight channels.
    pub fn unpack_parts[const F](
        cells: &[[[i16; 2]; F]; LANES],
        scales: &Frame,
        parts: &mut [Parts<F>; LANES],
    ) {
        for ((cells, &scale), parts) in cells.iter().zip(scales).zip(parts) {
            let (mut re, mut im) = ([0.0; F], [0.0; F]);
            for at in 0..F {
                re[at] = f32::from(cells[at][0]) * scale;
                im[at] = f32::from(cells[at][1]) * scale;
            }
            *parts = Parts { re, im };
        }
    }
}

dispatch! {
    narrow
    /// Values times a gain for each frame. Adds frame by frame their powers, times a weight for each side, to `sums`.
    pub fn move_parts[const F](
        heard: &Parts<F>,
        gains: &[f32; F],
        weights: [f32; 2],
        sums: &mut [[f32; F]; 2],
    ) -> Parts<F> {
        let Parts { mut re, mut im } = *heard;
        for at in 0..F {
            re[at] *= gains[at];
            im[at] *= gains[at];
        }
        let moved = Parts { re, im };
        let powers = moved.powers();
        for (sums, weight) in sums.iter_mut().zip(weights) {
            for at in 0..F {
                sums[at] += weight * powers[at];
            }
        }
        moved
    }
}

dispatch! {
    narrow
    /// Adds frame by frame the powers of values; gives that of all frames together.
    pub fn add_part_powers[const F](parts: &Parts<F>, sums: &mut [f32; F]) -> f32 {
        let powers = parts.powers();
        for at in 0..F {
            sums[at] += powers[at];
        }
        total(powers)
    }
}

dispatch! {
    narrow
    /// Takes from values what others give by their colours, one after the other.
    ///
    /// # Panics
    ///
    /// If there are not as many colours.
    pub fn take_parts[const F](values: &mut Parts<F>, others: &[Parts<F>], colours: &[Complex32]) {
        assert_eq!(others.len(), colours.len(), "a colour for each");
        // A copy: behind a reference the compiler keeps it in memory.
        let mut left = *values;
        for (other, colour) in others.iter().zip(colours) {
            for at in 0..F {
                left.re[at] -= colour.re * other.re[at] - colour.im * other.im[at];
            }
            for at in 0..F {
                left.im[at] -= colour.re * other.im[at] + colour.im * other.re[at];
            }
        }
        *values = left;
    }
}

dispatch! {
    narrow
    /// Sum over the frames of values times the conjugates of others.
    pub fn part_product[const F](values: &Parts<F>, others: &Parts<F>) -> Complex32 {
        let (Parts { re: a, im: b }, Parts { re: x, im: y }) = (*values, *others);
        let (mut re, mut im) = ([0.0f32; F], [0.0f32; F]);
        for at in 0..F {
            re[at] = a[at] * x[at] + b[at] * y[at];
        }
        for at in 0..F {
            im[at] = b[at] * x[at] - a[at] * y[at];
        }
        Complex32::new(total(re), total(im))
    }
}
