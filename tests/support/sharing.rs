//! Two players and what their microphones hear of each other: each plays in turns, alone and together.

use deskside::relate::grid::Grid;
use deskside::relate::spectrogram::{Spectrogram, SpectrogramMeter};

use super::signals::noise;

/// Sample rate, in Hz.
pub(crate) const RATE_HZ: u32 = 48_000;

/// Pressure of the first player in the second microphone, and of the second in the first.
pub(crate) const SPILL: [f32; 2] = [0.3, 0.2];

/// Length of a turn, in samples.
const TURN: usize = 24_000;

/// Turns: which of the two plays.
const TURNS: [[bool; 2]; 8] = [
    [true, false],
    [true, true],
    [false, true],
    [false, false],
    [true, true],
    [false, true],
    [true, false],
    [true, true],
];

/// Whether a player plays at a time, in seconds.
pub(crate) fn plays(player: usize, at_s: f64) -> bool {
    let turn = (at_s * f64::from(RATE_HZ)) as usize / TURN;
    TURNS[turn % TURNS.len()][player]
}

/// What both microphones hear over `n_s` seconds.
pub(crate) fn microphones(n_s: usize) -> [Vec<f32>; 2] {
    let n = n_s * RATE_HZ as usize;
    let players: Vec<Vec<f32>> = [0, 1]
        .map(|player| {
            let mut samples = noise(7 + player as u64, 0.3, n);
            for (at, sample) in samples.iter_mut().enumerate() {
                if !TURNS[at / TURN % TURNS.len()][player] {
                    *sample = 0.0;
                }
            }
            samples
        })
        .into();
    let hiss = [noise(90, 0.0003, n), noise(91, 0.0003, n)];
    [0, 1].map(|mic| {
        let own = players[mic].iter();
        let other = players[1 - mic].iter();
        own.zip(other)
            .zip(&hiss[mic])
            .map(|((own, other), hiss)| own + SPILL[1 - mic] * other + hiss)
            .collect()
    })
}

/// Spectra of channels over one stretch.
pub(crate) fn spectra(grid: Grid, channels: &[Vec<f32>]) -> Spectrogram {
    let mut meter = SpectrogramMeter::new(grid, channels.len());
    meter.begin(0.0);
    let planes: Vec<&[f32]> = channels.iter().map(Vec::as_slice).collect();
    meter.push(&planes);
    meter.finish()
}

/// How much of each frame holds each player, 0 to 1.
pub(crate) fn presence(held: &Spectrogram) -> Vec<Vec<f32>> {
    let hop_s = held.grid().hop_s();
    let frame_s = held.grid().frame() as f64 / f64::from(RATE_HZ);
    let present = |player: usize, frame: usize| {
        let at = |part: usize| frame as f64 * hop_s + (part as f64 + 0.5) * frame_s / 10.0;
        (0..10).filter(|&part| plays(player, at(part))).count() as f32 / 10.0
    };
    let of = |player: usize| (0..held.n_frames()).map(|frame| present(player, frame)).collect();
    vec![of(0), of(1)]
}
