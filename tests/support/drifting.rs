//! A stage of which a second recorder with a clock of its own records a part: players, one of whom may walk, and air that may warm.
//!
//! Truth by construction: the files of the second recorder are resampled by known parts per million. Speed of sound
//! `331.3 sqrt(1 + T/273.15)` m/s.

use deskside::demo::drift::Drift;
use deskside::demo::random::Random;
use deskside::demo::source::{Instrument, phrase, render};

/// Rate of all files, in Hz.
pub(crate) const RATE_HZ: u32 = 48_000;

/// Who plays, and where, in metres to the right and towards the hall.
const PLAYERS: [(Instrument, [f64; 2]); 5] = [
    (Instrument::LeadVoice, [0.0, -0.5]),
    (Instrument::Fiddle, [2.4, -1.2]),
    (Instrument::BackingVoice(1), [-1.2, -1.0]),
    (Instrument::SnareTop, [0.5, -3.2]),
    (Instrument::ElectricGuitar, [-2.2, -2.0]),
];

/// The microphone in the hall, and distance of each player to the own microphone, in metres.
const HALL: [f64; 2] = [1.0, 9.0];
const CLOSE_M: f64 = 0.3;

/// Walls to the left and the right of the middle, in metres, and what they leave of the sound.
const WALLS_M: [f64; 2] = [-6.0, 7.0];
const WALL_GAIN: f64 = 0.5;

/// Samples between two looks at where everything is.
const STEP: usize = 4_800;

/// A stage.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Stage {
    pub(crate) seed: u64,
    pub(crate) length_s: f64,
    /// How many of the players are there, from the first on.
    pub(crate) n_players: usize,
    /// How far the first walks towards the hall, evenly over the whole take, with the own microphone.
    pub(crate) walks_m: f64,
    /// By how much the air warms, from 20 °C on.
    pub(crate) warms_by_k: f64,
}

impl Stage {
    /// A band that stands still.
    pub(crate) const fn band(seed: u64, length_s: f64) -> Self {
        Self { seed, length_s, n_players: 4, walks_m: 0.0, warms_by_k: 0.0 }
    }

    fn n_samples(&self) -> usize {
        (self.length_s * f64::from(RATE_HZ)).round() as usize
    }

    /// What the players play.
    pub(crate) fn players(&self) -> Vec<Vec<f32>> {
        let played = |idx: usize| {
            let (who, _) = PLAYERS[idx];
            let seed = Random::branch(self.seed, idx as u64).next_u64();
            let notes = phrase(who, self.length_s, seed);
            let mut x = render(who, &notes, self.n_samples(), RATE_HZ, seed);
            x.resize(self.n_samples(), 0.0);
            x
        };
        (0..self.n_players).map(played).collect()
    }

    fn place(&self, player: usize, at_s: f64) -> [f64; 2] {
        let [x, y] = PLAYERS[player].1;
        if player == 0 { [x, y + self.walks_m * at_s / self.length_s] } else { [x, y] }
    }

    /// What the close microphone of a player hears of all.
    pub(crate) fn close(&self, players: &[Vec<f32>], player: usize) -> Vec<f32> {
        self.heard(players, 100 + player as u64, 1e-4, |stage, at_s| {
            let [x, y] = stage.place(player, at_s);
            [x, y + CLOSE_M]
        })
    }

    /// What the microphone in the hall hears.
    pub(crate) fn hall(&self, players: &[Vec<f32>]) -> Vec<f32> {
        self.heard(players, 99, 3e-4, |_, _| HALL)
    }

    fn heard(
        &self,
        players: &[Vec<f32>],
        branch: u64,
        noise: f64,
        mic: impl Fn(&Self, f64) -> [f64; 2],
    ) -> Vec<f32> {
        let mut random = Random::branch(self.seed, branch);
        let mut out: Vec<f32> =
            (0..self.n_samples()).map(|_| (noise * random.bell()) as f32).collect();
        for (player, samples) in players.iter().enumerate() {
            for wall in 0..3 {
                let way = |at_s: f64| {
                    let [mut x, y] = self.place(player, at_s);
                    if wall > 0 {
                        x = 2.0 * WALLS_M[wall - 1] - x;
                    }
                    let [mic_x, mic_y] = mic(self, at_s);
                    let away_m = (x - mic_x).hypot(y - mic_y);
                    let warm_c = 20.0 + self.warms_by_k * at_s / self.length_s;
                    let speed_m_s = 331.3 * (1.0 + warm_c / 273.15).sqrt();
                    let gain = CLOSE_M / away_m * if wall > 0 { WALL_GAIN } else { 1.0 };
                    (away_m / speed_m_s * f64::from(RATE_HZ), gain)
                };
                add(&mut out, samples, way);
            }
        }
        out
    }
}

/// Adds a sound that arrives by a way: its delay in samples and its gain at a time, even between two looks.
fn add(out: &mut [f32], sound: &[f32], way: impl Fn(f64) -> (f64, f64)) {
    let at_s = |sample: usize| sample as f64 / f64::from(RATE_HZ);
    let mut here = way(0.0);
    for (step, part) in out.chunks_mut(STEP).enumerate() {
        let begin = step * STEP;
        let next = way(at_s(begin + part.len()));
        for (idx, out) in part.iter_mut().enumerate() {
            let share = idx as f64 / STEP as f64;
            let place = (begin + idx) as f64 - (here.0 + share * (next.0 - here.0));
            if place >= 1.0 {
                let (whole, between) = (place as usize, place.fract());
                let gain = here.1 + share * (next.1 - here.1);
                let value = f64::from(sound[whole]) * (1.0 - between)
                    + f64::from(sound[(whole + 1).min(sound.len() - 1)]) * between;
                *out += (gain * value) as f32;
            }
        }
        here = next;
    }
}

/// What a recorder stores whose clock is faster by some parts per million, and which was started earlier by some seconds.
pub(crate) fn by_clock(x: &[f32], ppm: f64, earlier_s: f64) -> Vec<f32> {
    let mut random = Random::branch(7, 7);
    let n_before = (earlier_s * f64::from(RATE_HZ)).round() as usize;
    let mut begun: Vec<f32> = (0..n_before).map(|_| (1e-4 * random.bell()) as f32).collect();
    begun.extend_from_slice(x);
    let mut clock = Drift::new(ppm);
    let mut out = Vec::with_capacity(begun.len() + 64);
    for part in begun.chunks(RATE_HZ as usize) {
        out.extend(clock.run(part));
    }
    out.extend(clock.finish());
    out
}
