//! Pairs of channels with what independent libraries say of them: the recipe of `tests/outside/pairs.py`.

use super::reference::Table;
use super::signals::Rng;

/// Samples of a channel: 12 s at 48 kHz.
const N_SAMPLES: usize = 12 * 48_000;

/// Samples before the first, so that a channel can be early.
const LEAD: usize = 256;

/// Two channels and what was found of them.
pub(crate) struct Pair {
    pub(crate) name: String,
    pub(crate) first: Vec<f32>,
    pub(crate) second: Vec<f32>,
    /// Delay of the second in samples, and its sign; none for strangers.
    pub(crate) arrival: Option<(f64, f64)>,
    /// 40 Hz to 16 kHz, 300 Hz to 3 kHz.
    pub(crate) coherence: [f64; 2],
}

/// All pairs of `corpus/reference/pairs_oracle.csv`.
pub(crate) fn pairs() -> Vec<Pair> {
    let table = Table::read("pairs_oracle.csv");
    (0..table.len()).map(|row| pair(&table, row)).collect()
}

fn pair(table: &Table, row: usize) -> Pair {
    let number = |column: &str| table.number(row, column);
    let seed = 1000 * number("seed") as u64;
    let even = |seed: u64, count: usize| {
        let mut rng = Rng::new(seed);
        (0..count).map(move |_| 2.0 * rng.even() - 1.0)
    };
    let (pole, mut last) = (number("pole"), 0.0);
    let source: Vec<f64> = even(seed, N_SAMPLES + 2 * LEAD)
        .map(|x| {
            last = pole * last + (1.0 - pole) * x;
            last
        })
        .collect();
    let at = |idx: usize, delay: f64| source[(idx as f64 + LEAD as f64 - delay) as usize];
    let (gain, delay) = (number("gain"), number("whole_samples"));
    let (noise_first, noise_second) = (number("noise_first"), number("noise_second"));
    let disturbance = even(seed + 1, N_SAMPLES).enumerate();
    let first = disturbance.map(|(idx, x)| (at(idx, 0.0) + noise_first * x) as f32).collect();
    let later = |idx: usize| 0.5 * (at(idx, delay) + at(idx, delay + 1.0));
    let disturbance = even(seed + 2, N_SAMPLES).enumerate();
    let second =
        disturbance.map(|(idx, x)| (gain * later(idx) + noise_second * x) as f32).collect();
    let has_arrival = number("gcc_delay_samples").is_finite();
    Pair {
        name: table.text(row, "case").to_owned(),
        first,
        second,
        arrival: has_arrival.then(|| (number("gcc_delay_samples"), number("gcc_sign"))),
        coherence: [number("coherence_40_16000_hz"), number("coherence_300_3000_hz")],
    }
}

/// Solutions of a case of `corpus/reference/mix_oracle.csv`: the recipe of `tests/outside/mix.py`.
pub(crate) fn solution(case: &str) -> Vec<[f64; 2]> {
    let table = Table::read("mix_oracle.csv");
    let rows = (0..table.len()).filter(|&row| table.text(row, "case") == case);
    rows.map(|row| [table.number(row, "re"), table.number(row, "im")]).collect()
}

/// Numbers evenly between -1 and 1.
pub(crate) fn even(seed: u64, count: usize) -> Vec<f64> {
    let mut rng = Rng::new(seed);
    (0..count).map(|_| 2.0 * rng.even() - 1.0).collect()
}
