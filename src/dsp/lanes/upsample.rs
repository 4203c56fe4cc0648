//! Values between samples, for one channel; the lanes are consecutive moments.
//!
//! Takes a stretch of samples, gives interpolated values or bounds on them.

use super::isa::dispatch;

/// Samples in a part, whose points are computed and looked through at once.
pub const PART: usize = 32;

/// Size of a sample as a number that orders alike: so the search for the largest runs in lanes.
#[inline(always)]
fn size_bits(sample: f32) -> i32 {
    (sample.to_bits() & 0x7fff_ffff).cast_signed()
}

dispatch! {
    /// For each part: the largest size of a sample, and of a second difference `x[n] - 2 x[n+1] + x[n+2]` that begins in it.
    ///
    /// # Panics
    ///
    /// If there are not two samples behind the last part.
    pub fn part_tops[](samples: &[f32], tops: &mut [[f32; 2]]) {
        for (idx, top) in tops.iter_mut().enumerate() {
            let part = &samples[idx * PART..idx * PART + PART + 2];
            let (mut size, mut bend) = (0, 0);
            for lane in 0..PART {
                size = size.max(size_bits(part[lane]));
                bend = bend.max(size_bits(part[lane] - 2.0 * part[lane + 1] + part[lane + 2]));
            }
            *top = [size, bend].map(|bits| f32::from_bits(bits.cast_unsigned()));
        }
    }
}

dispatch! {
    /// Whether a local maximum in size may rise above a level between the points.
    ///
    /// Row `p` of four holds the points `p` quarters behind a sample, from the sample before a part to the one behind it.
    /// The height is that of the parabola through a point and its two neighbours.
    pub fn peaks_above[](points: &[[f32; PART + 2]; 4], level: f32) -> bool {
        let rises = |before: &[f32], here: &[f32], after: &[f32]| -> u32 {
            let mut n_rising = 0;
            for lane in 0..PART {
                let (before, here, after) = (before[lane].abs(), here[lane].abs(), after[lane].abs());
                let (tilt, bend) = (after - before, 2.0 * here - before - after);
                // The parabola's height is here + tilt^2 / (8 bend); the bend of a maximum is above 0.
                n_rising += u32::from(before <= here)
                    & u32::from(after < here)
                    & u32::from(tilt * tilt > 8.0 * (level - here) * bend);
            }
            n_rising
        };
        let [whole, quarter, half, last] = points;
        let n_rising = rises(&last[..PART], &whole[1..=PART], &quarter[1..=PART])
            + rises(&whole[1..=PART], &quarter[1..=PART], &half[1..=PART])
            + rises(&quarter[1..=PART], &half[1..=PART], &last[1..=PART])
            + rises(&half[1..=PART], &last[1..=PART], &whole[2..]);
        n_rising > 0
    }
}

dispatch! {
    /// Writes `out[n] = sum over k of taps[k] * samples[n + k]`.
    ///
    /// # Panics
    ///
    /// If there are fewer samples than the output needs.
    pub fn upsample[const T](samples: &[f32], taps: &[f32; T], out: &mut [f32]) {
        assert!(samples.len() + 1 >= out.len() + T, "the taps reach into samples that exist");
        let (parts, rest) = out.as_chunks_mut::<PART>();
        for (idx, part) in parts.iter_mut().enumerate() {
            let window = &samples[idx * PART..idx * PART + PART + T - 1];
            let mut sum = [0.0f32; PART];
            for (tap, &weight) in taps.iter().enumerate() {
                for (sum, sample) in sum.iter_mut().zip(&window[tap..tap + PART]) {
                    *sum += weight * sample;
                }
            }
            *part = sum;
        }
        let done = parts.len() * PART;
        for (idx, value) in rest.iter_mut().enumerate() {
            let window = &samples[done + idx..done + idx + T];
            *value = taps.iter().zip(window).fold(0.0, |sum, (tap, sample)| sum + tap * sample);
        }
    }
}

dispatch! {
    /// Sum of the products of taps and samples.
    pub fn tap_sum[const T](samples: &[f32; T], taps: &[f32; T]) -> f32 {
        let mut sum = [0.0f32; 16];
        for (part, weights) in samples.as_chunks::<16>().0.iter().zip(taps.as_chunks::<16>().0) {
            for lane in 0..16 {
                sum[lane] += part[lane] * weights[lane];
            }
        }
        let done = T / 16 * 16;
        let rest = samples[done..].iter().zip(&taps[done..]).map(|(sample, tap)| sample * tap);
        rest.chain(sum).fold(0.0, |total, value| total + value)
    }
}
