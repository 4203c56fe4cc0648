//! Narrow bands, eight channels at once.
//!
//! Takes frames, gives the energy of a band. A Butterworth band-pass has its zeros at 0 Hz and at half the rate, so a section costs
//! two multiplications; its gain is left out here and belongs to the energy.

use super::isa::dispatch;
use super::{Frame, Isa, LANES};

/// Sections of a band: an eighth-order band-pass.
pub const N_BAND_SECTIONS: usize = 4;

/// States of a band: two a section and lane.
pub type BandState = [[Frame; 2]; N_BAND_SECTIONS];

/// Frames summed in single precision before the sum goes to double precision.
const SUB_SUM: usize = 64;

/// States below this count as silence, -400 dB re full scale.
const NOTHING: f32 = 1e-20;

/// One section; gives its output. The states are held with the opposite sign, which spares turning the signal's.
#[inline(always)]
fn section(signal: Frame, [a1, a2]: [f32; 2], first: &mut Frame, second: &mut Frame) -> Frame {
    let mut out = [0.0; LANES];
    for lane in 0..LANES {
        out[lane] = signal[lane] - first[lane];
    }
    for lane in 0..LANES {
        first[lane] = second[lane] + a1 * out[lane];
    }
    for lane in 0..LANES {
        second[lane] = signal[lane] + a2 * out[lane];
    }
    out
}

/// Sets states that are as good as silent to 0: the smallest numbers take the processor many times as long.
#[inline(always)]
pub(super) fn settle_frame(state: &mut Frame) {
    for value in state {
        *value = if value.abs() < NOTHING { 0.0 } else { *value };
    }
}

dispatch! {
    narrow
    /// Adds the energy of the frames in a band to `energy`. Each section is `(1 - z^-2) / (1 + a1 z^-1 + a2 z^-2)`.
    pub fn band_energy[](
        frames: &[Frame],
        poles: &[[f32; 2]; N_BAND_SECTIONS],
        state: &mut BandState,
        energy: &mut [f64; LANES],
    ) {
        // Sections and states stand one by one, not in arrays under a loop: so they stay in registers.
        let [[mut a, mut b], [mut c, mut d], [mut e, mut f], [mut g, mut h]] = *state;
        for part in frames.chunks(SUB_SUM) {
            let mut sum = [0.0f32; LANES];
            for frame in part {
                let signal = section(*frame, poles[0], &mut a, &mut b);
                let signal = section(signal, poles[1], &mut c, &mut d);
                let signal = section(signal, poles[2], &mut e, &mut f);
                let signal = section(signal, poles[3], &mut g, &mut h);
                for lane in 0..LANES {
                    sum[lane] += signal[lane] * signal[lane];
                }
            }
            for lane in 0..LANES {
                energy[lane] += f64::from(sum[lane]);
            }
        }
        for one in [&mut a, &mut b, &mut c, &mut d, &mut e, &mut f, &mut g, &mut h] {
            settle_frame(one);
        }
        *state = [[a, b], [c, d], [e, f], [g, h]];
    }
}

/// Adds the energies of the frames in three bands, at once where there are registers for all: a band alone waits for its own results
/// most of the time. Where registers are few, states that wait in memory would cost more than is won.
pub fn band_energies(
    isa: Isa,
    frames: &[Frame],
    poles: [&[[f32; 2]; N_BAND_SECTIONS]; 3],
    states: [&mut BandState; 3],
    energies: [&mut [f64; LANES]; 3],
) {
    #[cfg(target_arch = "x86_64")]
    if isa.is_wide() {
        #[expect(unsafe_code, reason = "wide registers are used only where they were detected")]
        // SAFETY: `Isa::is_wide` is true only if the processor has the features that the function names.
        return unsafe { at_once::energy_of_three(frames, poles, states, energies) };
    }
    for ((poles, state), energy) in poles.into_iter().zip(states).zip(energies) {
        band_energy(isa, frames, poles, state, energy);
    }
}

/// Three bands in 32 registers. The compiler by itself would glue lanes of two bands into registers twice as wide, which such a processor
/// works on in two halves all the same, and part them again: here registers are named.
#[cfg(target_arch = "x86_64")]
mod at_once {
    use std::arch::x86_64::{
        __m256, _mm256_add_ps, _mm256_mul_ps, _mm256_set1_ps, _mm256_setzero_ps, _mm256_sub_ps,
    };

    use bytemuck::cast;

    use super::{BandState, N_BAND_SECTIONS, SUB_SUM, settle_frame};
    use crate::dsp::lanes::{Frame, LANES};

    /// As [`super::section`].
    #[inline]
    #[target_feature(enable = "avx512f,avx512vl")]
    fn section(signal: __m256, [a1, a2]: [f32; 2], [first, second]: &mut [__m256; 2]) -> __m256 {
        let out = _mm256_sub_ps(signal, *first);
        *first = _mm256_add_ps(*second, _mm256_mul_ps(_mm256_set1_ps(a1), out));
        *second = _mm256_add_ps(signal, _mm256_mul_ps(_mm256_set1_ps(a2), out));
        out
    }

    #[target_feature(enable = "avx512f,avx512vl")]
    pub(super) fn energy_of_three(
        frames: &[Frame],
        poles: [&[[f32; 2]; N_BAND_SECTIONS]; 3],
        mut states: [&mut BandState; 3],
        mut energies: [&mut [f64; LANES]; 3],
    ) {
        let mut now: [[[__m256; 2]; N_BAND_SECTIONS]; 3] =
            [cast(*states[0]), cast(*states[1]), cast(*states[2])];
        for part in frames.chunks(SUB_SUM) {
            let mut sums = [_mm256_setzero_ps(); 3];
            for frame in part {
                let mut signals = [cast::<Frame, __m256>(*frame); 3];
                for at in 0..N_BAND_SECTIONS {
                    for band in 0..3 {
                        signals[band] = section(signals[band], poles[band][at], &mut now[band][at]);
                    }
                }
                for (sum, signal) in sums.iter_mut().zip(signals) {
                    *sum = _mm256_add_ps(*sum, _mm256_mul_ps(signal, signal));
                }
            }
            for (energy, sum) in energies.iter_mut().zip(sums) {
                for (energy, sum) in energy.iter_mut().zip(cast::<__m256, Frame>(sum)) {
                    *energy += f64::from(sum);
                }
            }
        }
        for (state, now) in states.iter_mut().zip(now) {
            **state = cast(now);
            state.iter_mut().flatten().for_each(settle_frame);
        }
    }
}
