//! What the samples of one channel come to.
//!
//! Takes samples, gives their sum or the size of the largest. Never keeps anything.

use super::LANES;
use super::isa::dispatch;

dispatch! {
    /// Sum of samples, in double precision and eight strands: one alone would wait for each addition.
    pub fn sum_of[](samples: &[f32]) -> f64 {
        let (eights, rest) = samples.as_chunks::<LANES>();
        let mut sums = [0.0f64; LANES];
        for eight in eights {
            for lane in 0..LANES {
                sums[lane] += f64::from(eight[lane]);
            }
        }
        sums.iter().sum::<f64>() + rest.iter().map(|&x| f64::from(x)).sum::<f64>()
    }
}

dispatch! {
    /// Size of the largest sample; 0 if there is none. Compared as integers, which order like sizes.
    pub fn largest_size[](samples: &[f32]) -> f32 {
        let bits = samples.iter().fold(0i32, |most, x| most.max((x.to_bits() & 0x7fff_ffff).cast_signed()));
        f32::from_bits(bits.cast_unsigned())
    }
}
