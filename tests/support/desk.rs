//! A small desk whose every setting is known: players with spill, strips, two sides of a mix.

use deskside::relate::colour::Patch;
use deskside::relate::grid::Grid;
use deskside::relate::spectrogram::{Spectrogram, SpectrogramMeter};

use super::signals::{Rng, noise};

/// Sample rate, in Hz.
pub(crate) const RATE_HZ: u32 = 48_000;

/// Length of a take, in seconds.
pub(crate) const LENGTH_S: usize = 24;

/// Players of a take.
pub(crate) const N_PLAYERS: usize = 6;

/// Pressure of each player in the other microphones.
const SPILL: f32 = 0.08;

/// Noise of each microphone.
const NOISE: f64 = 1e-4;

/// How a strip is set.
#[derive(Clone, Debug)]
pub(crate) struct Strip {
    pub(crate) gain_db: f64,
    pub(crate) pan: f64,
    /// Begin and end of a mute, in seconds.
    pub(crate) mute_s: Option<[f64; 2]>,
    /// Begin, length in seconds and height of a fader's move.
    pub(crate) ride: Option<[f64; 3]>,
    /// Corner of a high-pass of 6 dB an octave, in Hz.
    pub(crate) high_pass_hz: Option<f64>,
    /// Level above which it turns down by two thirds of what is above, in dBFS.
    pub(crate) squeeze_dbfs: Option<f64>,
    pub(crate) is_inverted: bool,
}

impl Strip {
    /// A strip with nothing but a gain and a pan.
    pub(crate) fn plain(gain_db: f64, pan: f64) -> Self {
        Self {
            gain_db,
            pan,
            mute_s: None,
            ride: None,
            high_pass_hz: None,
            squeeze_dbfs: None,
            is_inverted: false,
        }
    }

    /// The channel as it enters the mix, left and right.
    pub(crate) fn run(&self, raw: &[f32]) -> [Vec<f32>; 2] {
        let pole = self.high_pass_hz.map(pole);
        let (mut last, mut before) = (0.0, 0.0);
        let (mut power, mut turned_db) = (0.0, 0.0);
        let sign = if self.is_inverted { -1.0 } else { 1.0 };
        let angle = (self.pan + 1.0) * std::f64::consts::FRAC_PI_4;
        let mut sides = [Vec::with_capacity(raw.len()), Vec::with_capacity(raw.len())];
        for (place, &x) in raw.iter().enumerate() {
            let at_s = place as f64 / f64::from(RATE_HZ);
            let mut y = f64::from(x);
            if let Some(pole) = pole {
                last = 0.5 * (1.0 + pole) * (y - before) + pole * last;
                before = y;
                y = last;
            }
            let mut gain_db = self.gain_db;
            if let Some(threshold_dbfs) = self.squeeze_dbfs {
                power += (y * y - power) / (0.01 * f64::from(RATE_HZ));
                let over_db = (10.0 * (power + 1e-12).log10() - threshold_dbfs).max(0.0);
                turned_db += (over_db * 2.0 / 3.0 - turned_db) / (0.03 * f64::from(RATE_HZ));
                gain_db -= turned_db;
            }
            if let Some([start_s, length_s, height_db]) = self.ride {
                gain_db += height_db * ((at_s - start_s) / length_s).clamp(0.0, 1.0);
            }
            let is_muted = self.mute_s.is_some_and(|m| m[0] <= at_s && at_s < m[1]);
            let gain = if is_muted { 0.0 } else { sign * 10f64.powf(gain_db / 20.0) };
            for (side, share) in sides.iter_mut().zip([angle.cos(), angle.sin()]) {
                side.push((y * gain * share) as f32);
            }
        }
        sides
    }
}

fn pole(corner_hz: f64) -> f64 {
    let tan = (std::f64::consts::PI * corner_hz / f64::from(RATE_HZ)).tan();
    (1.0 - tan) / (1.0 + tan)
}

/// Gain of the high-pass at a frequency, in dB.
pub(crate) fn high_pass_db(corner_hz: f64, hz: f64) -> f64 {
    let ratio = hz / corner_hz;
    10.0 * (ratio * ratio / (1.0 + ratio * ratio)).log10()
}

/// What all microphones hear: each player in bursts of its own, in its own colour.
pub(crate) fn microphones() -> Vec<Vec<f32>> {
    let n = LENGTH_S * RATE_HZ as usize;
    let players: Vec<Vec<f32>> = (0..N_PLAYERS as u64)
        .map(|player| {
            let mut rng = Rng::new(300 + player);
            let (mut goal, mut level, mut last) = (0.0f64, 0.0f64, 0.0f64);
            let pole = 0.15 * (player % 4) as f64;
            let turn = 9_000 + 1_500 * player as usize;
            noise(200 + player, 0.1, n)
                .into_iter()
                .enumerate()
                .map(|(place, x)| {
                    if place % turn == 0 {
                        goal = if rng.even() < 0.35 { 0.01 } else { 0.2 + 0.8 * rng.even() };
                    }
                    level += (goal - level) / 1_500.0;
                    last = pole * last + f64::from(x) * level;
                    last as f32
                })
                .collect()
        })
        .collect();
    (0..N_PLAYERS)
        .map(|mic| {
            let mut heard = noise(400 + mic as u64, NOISE, n);
            for (player, samples) in players.iter().enumerate() {
                let (share, delay) =
                    if player == mic { (1.0, 0) } else { (SPILL, 60 * mic.abs_diff(player)) };
                heard[delay..].iter_mut().zip(samples).for_each(|(sum, x)| *sum += share * x);
            }
            heard
        })
        .collect()
}

/// The mix of some strips.
pub(crate) fn mix(raw: &[Vec<f32>], strips: &[Strip]) -> [Vec<f32>; 2] {
    let n = raw.first().map_or(0, Vec::len);
    let mut main = [vec![0.0; n], vec![0.0; n]];
    for (raw, strip) in raw.iter().zip(strips) {
        add(&mut main, &strip.run(raw));
    }
    main
}

/// Adds to a mix.
pub(crate) fn add(main: &mut [Vec<f32>; 2], more: &[Vec<f32>; 2]) {
    for (side, more) in main.iter_mut().zip(more) {
        side.iter_mut().zip(more).for_each(|(sum, x)| *sum += x);
    }
}

/// Spectra of channels and, behind them, the mix; all channels may be in the mix.
pub(crate) fn held(raw: &[Vec<f32>], main: &[Vec<f32>; 2]) -> (Spectrogram, Patch) {
    let mut meter = SpectrogramMeter::new(Grid::short(RATE_HZ), raw.len() + 2);
    meter.begin(0.0);
    let planes: Vec<&[f32]> = raw.iter().chain(main).map(Vec::as_slice).collect();
    meter.push(&planes);
    let patch = Patch {
        channels: (0..raw.len()).collect(),
        main: [raw.len(), raw.len() + 1],
        leads: Vec::new(),
    };
    (meter.finish(), patch)
}

/// The median; the values are not empty.
pub(crate) fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted[sorted.len() / 2]
}
