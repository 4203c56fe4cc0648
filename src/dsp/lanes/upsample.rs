//! Values between samples, for one channel; the lanes are consecutive moments.
//!
//! Takes a stretch of samples, gives interpolated values or bounds on them.

use super::isa::dispatch;

/// Moments computed at once.
const WIDTH: usize = 32;

dispatch! {
    /// Largest size of a sample.
    pub fn largest_size[](samples: &[f32]) -> f32 {
        let (parts, rest) = samples.as_chunks::<16>();
        let mut top = [0.0f32; 16];
        for part in parts {
            for (top, sample) in top.iter_mut().zip(part) {
                let size = sample.abs();
                *top = if size > *top { size } else { *top };
            }
        }
        rest.iter().map(|sample| sample.abs()).chain(top).fold(0.0, f32::max)
    }
}

dispatch! {
    /// Largest size of a second difference `x[n] - 2 x[n+1] + x[n+2]`.
    pub fn largest_curvature[](samples: &[f32]) -> f32 {
        let n_out = samples.len().saturating_sub(2);
        let mut top = [0.0f32; 16];
        let mut at = 0;
        while at + 16 <= n_out {
            let part = &samples[at..at + 18];
            for lane in 0..16 {
                let size = (part[lane] - 2.0 * part[lane + 1] + part[lane + 2]).abs();
                top[lane] = if size > top[lane] { size } else { top[lane] };
            }
            at += 16;
        }
        let rest = samples[at..].windows(3).map(|three| (three[0] - 2.0 * three[1] + three[2]).abs());
        rest.chain(top).fold(0.0, f32::max)
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
        let (parts, rest) = out.as_chunks_mut::<WIDTH>();
        for (idx, part) in parts.iter_mut().enumerate() {
            let window = &samples[idx * WIDTH..idx * WIDTH + WIDTH + T - 1];
            let mut sum = [0.0f32; WIDTH];
            for (tap, &weight) in taps.iter().enumerate() {
                for (sum, sample) in sum.iter_mut().zip(&window[tap..tap + WIDTH]) {
                    *sum += weight * sample;
                }
            }
            *part = sum;
        }
        let done = parts.len() * WIDTH;
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
