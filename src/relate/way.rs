//! # Way of a source into a microphone
//!
//! When a source that was told apart arrives in a microphone, from the phases of the way that it takes there.
//!
//! - **Formula:** per kept bin `H = sum x y* / |x|^2` over the frames in which the source sounds, with the microphone's spectra `x`
//!   and the separated source `y`: other sources are strangers to `y` and cancel, and frames in which they rule `x` weigh little;
//!   `r(t) = Re sum H/|H| exp(2 pi i f t)` between 60 Hz and 14 kHz; delay: the largest value of `r` in size within 50 ms;
//!   polarity: its sign; quality: its size re the largest farther than 15 samples (at 48 kHz) from it
//! - **Unit:** s; 1 or -1; ratio
//! - **Range:** -0.05 to 0.05 s, positive: later than in the source's own microphone
//! - **Source:** phases of a separation's ways as arrivals: H. Sawada, R. Mukai, S. Araki, S. Makino, "Robust real-time blind source
//!   separation for moving speakers in a room", IEEE ICASSP 2003 (from memory); the weights are own trials on simulated stages
//! - **Window:** chosen minutes
//! - **No value:** a source or a microphone that is silent
//! - **Misleads when:** a reflection or a loudspeaker is louder than direct sound: its arrival is found

use rayon::prelude::*;
use realfft::num_complex::{Complex32, Complex64};

use super::arrival::{Arrival, BAND_HZ, FAR_S, NEAR_S};
use super::grid::Grid;
use super::lag::error_s;
use super::separation::demixed_row;
use super::spectrogram::{Series, Spectrogram};
use crate::dsp::Square;

/// Steps in which an arrival is looked for, in seconds: seven in the shortest period.
const STEP_S: f64 = 1.0 / 96_000.0;

/// Halvings of the step that place the peak.
const HALVINGS: usize = 6;

/// Frames without any sound of the microphone count no more than those 200 dB under full scale.
const LEAST_POWER: f32 = 1e-20;

/// Arrivals of sources in channels: `wanted` pairs the place of a source with a channel. `demix` is the separation of the
/// `references` on this spectrogram, `sounds` says for each source in which frames it sounds.
///
/// None where either is silent.
pub fn ways(
    spectrogram: &Spectrogram,
    references: &[usize],
    demix: &[Square],
    sounds: &[Vec<bool>],
    wanted: &[(usize, usize)],
) -> Vec<Option<Arrival>> {
    let of_bin = |(bin, demix): (usize, &Square)| -> Vec<Complex64> {
        let heard: Vec<Series> = references.iter().map(|&c| spectrogram.series(c, bin)).collect();
        let mut sources: Vec<Option<Series>> = vec![None; references.len()];
        let of_pair = |&(source, channel): &(usize, usize)| {
            let y = sources[source].get_or_insert_with(|| demixed_row(demix.row(source), &heard));
            let counts = |frame: usize| sounds[source][frame] && !spectrogram.left_out()[frame];
            let way = way(&spectrogram.series(channel, bin), y, counts);
            if way.norm() > 0.0 { way / way.norm() } else { way }
        };
        wanted.iter().map(of_pair).collect()
    };
    let by_bin: Vec<Vec<Complex64>> = demix.par_iter().enumerate().map(of_bin).collect();
    (0..wanted.len())
        .into_par_iter()
        .map(|pair| arrival(spectrogram.grid(), |bin| by_bin[bin][pair]))
        .collect()
}

/// How a source comes into a microphone, in one bin.
fn way(mic: &Series, source: &Series, counts: impl Fn(usize) -> bool) -> Complex64 {
    let frames = (0..mic.len()).filter(|&frame| counts(frame));
    frames
        .map(|frame| {
            let (x, y) = (at(mic, frame), at(source, frame));
            let product = x * y.conj() / (x.norm_sqr() + LEAST_POWER);
            Complex64::new(f64::from(product.re), f64::from(product.im))
        })
        .sum()
}

fn at(series: &Series, frame: usize) -> Complex32 {
    Complex32::new(series.re[frame], series.im[frame])
}

/// The arrival that fits the phases best.
#[expect(clippy::cast_precision_loss, reason = "bins and steps are small numbers")]
fn arrival(grid: &Grid, phase: impl Fn(usize) -> Complex64) -> Option<Arrival> {
    let bin_hz = f64::from(grid.rate_hz()) / grid.frame() as f64;
    let phases: Vec<(f64, Complex64)> = grid
        .bins()
        .iter()
        .enumerate()
        .map(|(place, &bin)| (bin as f64 * bin_hz, phase(place)))
        .filter(|(hz, phase)| (BAND_HZ[0]..BAND_HZ[1]).contains(hz) && phase.norm() > 0.0)
        .map(|(hz, phase)| (std::f64::consts::TAU * hz, phase))
        .collect();
    let at = |lag_s: f64| -> f64 {
        phases.iter().map(|(turn, phase)| (phase * Complex64::cis(turn * lag_s)).re).sum()
    };
    let lags = (FAR_S / STEP_S).round();
    let mut turning: Vec<Complex64> =
        phases.iter().map(|(turn, phase)| phase * Complex64::cis(-turn * FAR_S)).collect();
    let steps: Vec<Complex64> =
        phases.iter().map(|(turn, _)| Complex64::cis(turn * STEP_S)).collect();
    let mut sizes = Vec::new();
    let mut lag = -lags;
    while lag <= lags {
        sizes.push((lag * STEP_S, turning.iter().map(|x| x.re).sum::<f64>().abs()));
        turning.iter_mut().zip(&steps).for_each(|(x, step)| *x *= step);
        lag += 1.0;
    }
    let &(coarse_s, size) = sizes.iter().max_by(|a, b| a.1.total_cmp(&b.1))?;
    let rest = sizes.iter().filter(|(lag_s, _)| (lag_s - coarse_s).abs() > NEAR_S);
    let rest = rest.map(|(_, size)| *size).fold(0.0, f64::max);
    if size <= 0.0 || rest <= 0.0 {
        return None;
    }
    let (mut delay_s, mut step_s) = (coarse_s, STEP_S);
    for _ in 0..HALVINGS {
        step_s /= 2.0;
        let near = [delay_s - step_s, delay_s, delay_s + step_s];
        delay_s = near.into_iter().max_by(|&a, &b| at(a).abs().total_cmp(&at(b).abs()))?;
    }
    let turned = phases.iter().map(|(turn, phase)| (*turn, phase * Complex64::cis(turn * delay_s)));
    let error_s = error_s(turned);
    Some(Arrival { delay_s, polarity: at(delay_s).signum(), quality: size / rest, error_s })
}
