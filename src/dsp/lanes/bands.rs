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

/// Lanes of two bands side by side.
const BOTH: usize = 2 * LANES;

#[inline(always)]
fn both<T: Copy + Default>(a: [T; LANES], b: [T; LANES]) -> [T; BOTH] {
    std::array::from_fn(|lane| if lane < LANES { a[lane] } else { b[lane - LANES] })
}

#[inline(always)]
fn half<T: Copy>(both: &[T; BOTH], which: usize) -> [T; LANES] {
    both.as_chunks::<LANES>().0[which]
}

/// As [`section`], of two bands at once.
#[inline(always)]
fn section_of_both(
    signal: [f32; BOTH],
    [a1, a2]: &[[f32; BOTH]; 2],
    [first, second]: &mut [[f32; BOTH]; 2],
) -> [f32; BOTH] {
    let mut out = [0.0; BOTH];
    for lane in 0..BOTH {
        out[lane] = signal[lane] - first[lane];
    }
    for lane in 0..BOTH {
        first[lane] = second[lane] + a1[lane] * out[lane];
    }
    for lane in 0..BOTH {
        second[lane] = signal[lane] + a2[lane] * out[lane];
    }
    out
}

dispatch! {
    /// As [`band_energy`], of three bands at once, two of them side by side: a band alone waits for its own results most of the time.
    /// For wide registers; where they are few, states that wait in memory cost more than is won.
    fn energy_of_three[](
        frames: &[Frame],
        poles: [&[[f32; 2]; N_BAND_SECTIONS]; 3],
        states: [&mut BandState; 3],
        energies: [&mut [f64; LANES]; 3],
    ) {
        let wide: [[[f32; BOTH]; 2]; N_BAND_SECTIONS] = std::array::from_fn(|at| {
            std::array::from_fn(|which| both([poles[0][at][which]; LANES], [poles[1][at][which]; LANES]))
        });
        let [mut a, mut b, mut c, mut d]: [[[f32; BOTH]; 2]; N_BAND_SECTIONS] = std::array::from_fn(|at| {
            std::array::from_fn(|which| both(states[0][at][which], states[1][at][which]))
        });
        let [[mut e, mut f], [mut g, mut h], [mut i, mut j], [mut k, mut l]] = *states[2];
        let (mut total, mut total_of_third) = (both(*energies[0], *energies[1]), *energies[2]);
        for part in frames.chunks(SUB_SUM) {
            let (mut sum, mut sum_of_third) = ([0.0f32; BOTH], [0.0f32; LANES]);
            for frame in part {
                let two = section_of_both(both(*frame, *frame), &wide[0], &mut a);
                let third = section(*frame, poles[2][0], &mut e, &mut f);
                let two = section_of_both(two, &wide[1], &mut b);
                let third = section(third, poles[2][1], &mut g, &mut h);
                let two = section_of_both(two, &wide[2], &mut c);
                let third = section(third, poles[2][2], &mut i, &mut j);
                let two = section_of_both(two, &wide[3], &mut d);
                let third = section(third, poles[2][3], &mut k, &mut l);
                for lane in 0..BOTH {
                    sum[lane] += two[lane] * two[lane];
                }
                for lane in 0..LANES {
                    sum_of_third[lane] += third[lane] * third[lane];
                }
            }
            for lane in 0..BOTH {
                total[lane] += f64::from(sum[lane]);
            }
            for lane in 0..LANES {
                total_of_third[lane] += f64::from(sum_of_third[lane]);
            }
        }
        let now = [a, b, c, d];
        let part = |which: usize| now.map(|section| section.map(|state| half(&state, which)));
        let third = [[e, f], [g, h], [i, j], [k, l]];
        for (state, now) in states.into_iter().zip([part(0), part(1), third]) {
            *state = now;
            state.iter_mut().flatten().for_each(settle_frame);
        }
        for (energy, now) in energies.into_iter().zip([half(&total, 0), half(&total, 1), total_of_third]) {
            *energy = now;
        }
    }
}

/// Adds the energies of the frames in three bands, at once where there are registers for all.
pub fn band_energies(
    isa: Isa,
    frames: &[Frame],
    poles: [&[[f32; 2]; N_BAND_SECTIONS]; 3],
    states: [&mut BandState; 3],
    energies: [&mut [f64; LANES]; 3],
) {
    if isa.is_wide() {
        energy_of_three(isa, frames, poles, states, energies);
    } else {
        for ((poles, state), energy) in poles.into_iter().zip(states).zip(energies) {
            band_energy(isa, frames, poles, state, energy);
        }
    }
}
