//! Tests of `demo::hall`: the tail against Schroeder's integration and the room constant.

use deskside::demo::{
    hall::{late, late_power},
    scene::{Pattern, Scene},
};

use crate::support::demo::place;

const RATE_HZ: f64 = 48_000.0;

/// Decay time of a response near a frequency, in seconds: envelope of the band by shifting it to zero and averaging, then
/// backward integration and a line from -5 to -25 dB (M. R. Schroeder, JASA 37, 1965; ISO 3382-2).
fn decay_s(response: &[f32], hz: f64, average_s: f64) -> f64 {
    let angle = std::f64::consts::TAU * hz / RATE_HZ;
    let n_average = place(average_s * RATE_HZ);
    let mut powers: Vec<f64> = response
        .chunks(n_average)
        .enumerate()
        .map(|(chunk, samples)| {
            let (re, im) = samples.iter().enumerate().fold((0.0, 0.0), |(re, im), (n, x)| {
                let phase = angle * (chunk * n_average + n) as f64;
                (re + f64::from(*x) * phase.cos(), im + f64::from(*x) * phase.sin())
            });
            re * re + im * im
        })
        .collect();
    for n in (1..powers.len()).rev() {
        powers[n - 1] += powers[n];
    }
    let step_s = n_average as f64 / RATE_HZ;
    let points: Vec<(f64, f64)> = powers
        .iter()
        .enumerate()
        .map(|(n, power)| (n as f64 * step_s, 10.0 * (power / powers[0]).log10()))
        .filter(|(_, level_db)| (-25.0..-5.0).contains(level_db))
        .collect();
    let n = points.len() as f64;
    let (mean_s, mean_db) =
        (points.iter().map(|p| p.0).sum::<f64>() / n, points.iter().map(|p| p.1).sum::<f64>() / n);
    let slope = points.iter().map(|p| (p.0 - mean_s) * (p.1 - mean_db)).sum::<f64>()
        / points.iter().map(|p| (p.0 - mean_s).powi(2)).sum::<f64>();
    -60.0 / slope
}

/// Mean over some tails: one tail's decay scatters by some percent, as in a real hall from place to place.
fn mean_decay_s(hz: f64, average_s: f64) -> f64 {
    let hall = Scene::cut().hall;
    let decays = (0..12).map(|seed| {
        decay_s(&late(&hall, Pattern::Omni, 0.0, 48_000, 131_072, seed), hz, average_s)
    });
    decays.sum::<f64>() / 12.0
}

#[test]
fn tail_decays_in_1_35_s_at_1_khz() {
    let found_s = mean_decay_s(1000.0, 0.003);
    // A quarter of the just noticeable difference would be 1 %; twelve tails leave a scatter of about 2 %.
    assert!((found_s - 1.35).abs() < 0.07, "{found_s} s");
}

#[test]
fn tail_decays_in_1_9_s_at_63_hz() {
    let found_s = mean_decay_s(63.0, 0.03);
    assert!((found_s - 1.9).abs() < 0.15, "{found_s} s");
}

#[test]
fn room_constant_gives_the_power_of_the_tail() {
    let mut hall = Scene::cut().hall;
    hall.late_trim_db = 0.0;
    // 18 x 11 x 6 m, 744 m², 1.35 s: A = 141.7 m², R = 175.0 m², 16 pi/R = 0.2872 (Sabine).
    let expected = 0.2872;
    let stated = late_power(&hall);
    assert!((stated - expected).abs() < 0.001, "{stated}");
    // With the same decay everywhere the tail holds that power but for its onset of 15 ms.
    hall.decay.iter_mut().for_each(|decay| decay.t60_s = 1.35);
    let tail = late(&hall, Pattern::Omni, 0.0, 48_000, 131_072, 7);
    let power: f64 = tail.iter().map(|x| f64::from(*x).powi(2)).sum();
    let difference_db = 10.0 * (power / expected).log10();
    assert!((-1.2..0.2).contains(&difference_db), "{difference_db} dB");
}

#[test]
fn a_cardioid_takes_4_77_db_less_of_the_tail() {
    let hall = Scene::cut().hall;
    let power = |pattern| -> f64 {
        let tail = late(&hall, pattern, 0.0, 48_000, 131_072, 7);
        tail.iter().map(|x| f64::from(*x).powi(2)).sum()
    };
    let less_db = 10.0 * (power(Pattern::Omni) / power(Pattern::Cardioid)).log10();
    // Directivity index of the polar table.
    assert!((less_db - 4.7712).abs() < 0.001, "{less_db} dB");
}

#[test]
fn tails_of_two_microphones_have_nothing_in_common() {
    let hall = Scene::cut().hall;
    let [a, b] = [1, 2].map(|seed| late(&hall, Pattern::Omni, 0.0, 48_000, 131_072, seed));
    let product = |a: &[f32], b: &[f32]| -> f64 {
        a.iter().zip(b).map(|(a, b)| f64::from(*a) * f64::from(*b)).sum()
    };
    let correlation = product(&a, &b) / (product(&a, &a) * product(&b, &b)).sqrt();
    // Some 20,000 independent samples carry the energy: 0.05 is beyond seven standard deviations.
    assert!(correlation.abs() < 0.05, "{correlation}");
}
