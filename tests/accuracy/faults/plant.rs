//! Plants faults: flat tops, clicks, gaps, repeated blocks, fades of a wireless link, blasts of air, hum.
//!
//! Takes a clean clip, gives samples as a file stores them and the moments of what was planted.

use std::f64::consts::TAU;

use deskside::demo::random::Random;

use super::clip::{Clip, RATE_HZ, amplitude, samples};
use super::level::{active, loud_db, rms_around};

/// A clip with faults.
pub(crate) struct Faulty {
    /// As a file of 24 bits stores it.
    pub(crate) plane: Vec<f32>,
    /// When the faults begin, in seconds.
    pub(crate) at_s: Vec<f64>,
}

/// As a converter of 24 bits stores it.
pub(crate) fn stored(x: &[f64]) -> Vec<f32> {
    const STEPS: f64 = 8_388_608.0;
    x.iter().map(|x| ((x * STEPS).round().clamp(-STEPS, STEPS - 1.0) / STEPS) as f32).collect()
}

/// A clip that was cut off by 1 to 6 dB and made louder or softer behind it: the flat tops lie at `level_dbfs`. The count is
/// that of the tops with three samples or more.
pub(crate) fn flat_tops(clip: &mut Clip, level_dbfs: f64) -> (Vec<f32>, usize) {
    let peak = clip.x.iter().fold(0.0_f64, |peak, x| peak.max(x.abs()));
    let ceiling = peak / amplitude(clip.random.between(1.0, 6.0));
    let gain = amplitude(level_dbfs) / ceiling;
    let cut: Vec<f64> = clip.x.iter().map(|x| gain * x.clamp(-ceiling, ceiling)).collect();
    let mut n_tops = 0;
    let mut len = 0;
    for x in clip.x.iter().chain(&[0.0]) {
        if x.abs() >= ceiling {
            len += 1;
        } else {
            n_tops += usize::from(len >= 3);
            len = 0;
        }
    }
    (stored(&cut), n_tops)
}

/// The same level without flat tops.
pub(crate) fn scaled(clip: &Clip, peak_dbfs: f64) -> Vec<f32> {
    let peak = clip.x.iter().fold(0.0_f64, |peak, x| peak.max(x.abs()));
    let gain = amplitude(peak_dbfs) / peak;
    stored(&clip.x.iter().map(|x| gain * x).collect::<Vec<_>>())
}

/// Places where something sounds, `n` at most, no two closer than `apart_s`.
fn places(clip: &mut Clip, n: usize, apart_s: f64) -> Vec<usize> {
    let border = amplitude(loud_db(&clip.x) - 25.0);
    let (first, last) = (samples(0.3), clip.x.len() - samples(1.0));
    let mut places: Vec<usize> = Vec::new();
    for _ in 0..400 {
        if places.len() == n {
            break;
        }
        let at = first + (clip.random.unit() * (last - first) as f64) as usize;
        let is_free = places.iter().all(|place| place.abs_diff(at) > samples(apart_s));
        if is_free && rms_around(&clip.x, at, samples(0.02)) > border {
            places.push(at);
        }
    }
    places.sort_unstable();
    places
}

fn moments(places: &[usize]) -> Vec<f64> {
    places.iter().map(|at| *at as f64 / f64::from(RATE_HZ)).collect()
}

/// Clicks of one to eight samples, once to four times as high as the RMS around them: a lost sample, a kink, a short ring.
pub(crate) fn clicks(clip: &mut Clip) -> Faulty {
    let places = places(clip, 4, 0.5);
    let mut x = clip.x.clone();
    for at in &places {
        let around = rms_around(&clip.x, *at, samples(0.01)).max(amplitude(-56.0));
        let height = around * clip.random.between(1.0, 4.0) * *clip.random.pick(&[1.0, -1.0]);
        match clip.random.next_u64() % 3 {
            0 => x[*at] += height,
            1 => {
                let n = 1 + (clip.random.unit() * 4.0) as usize;
                x[*at..*at + n].iter_mut().for_each(|x| *x += height);
                x[*at + n..*at + 2 * n].iter_mut().for_each(|x| *x -= height);
            }
            _ => {
                let hz = clip.random.between(3_000.0, 12_000.0);
                for (n, x) in x[*at..*at + 40].iter_mut().enumerate() {
                    let since_s = n as f64 / f64::from(RATE_HZ);
                    *x += height * (-since_s / 1.5e-4).exp() * (TAU * hz * since_s).cos();
                }
            }
        }
    }
    Faulty { plane: stored(&x), at_s: moments(&places) }
}

/// Gaps of zeros of 1.5 to 60 ms, and blocks of a driver that come twice.
pub(crate) fn gaps(clip: &mut Clip) -> Faulty {
    let places = places(clip, 4, 0.6);
    let mut plane = stored(&clip.x);
    for at in &places {
        if clip.random.unit() < 0.5 {
            let n = samples(0.0015 * 40_f64.powf(clip.random.unit()));
            plane[*at..*at + n].fill(0.0);
        } else {
            let n = *clip.random.pick(&[64, 128, 256, 512, 1024]);
            plane.copy_within(at - n..*at, *at);
        }
    }
    Faulty { plane, at_s: moments(&places) }
}

/// Gaps of a receiver that shuts for 30 to 600 ms, within 1 to 3 ms, and leaves its own noise.
pub(crate) fn fades(clip: &mut Clip) -> Faulty {
    let places = places(clip, 4, 1.2);
    let mut x = clip.x.clone();
    for at in &places {
        let n = samples(0.030 * 20_f64.powf(clip.random.unit()));
        let edge = samples(clip.random.between(0.001, 0.003)) as f64;
        let noise = amplitude(clip.random.between(-105.0, -85.0));
        for (since, x) in x[*at..*at + n].iter_mut().enumerate() {
            let open = (1.0 - since.min(n - since) as f64 / edge).max(0.0);
            *x = open * *x + noise * clip.random.bell();
        }
    }
    Faulty { plane: stored(&x), at_s: moments(&places) }
}

/// Blasts of air on syllables of a voice: noise below some 50 Hz that swells in 8 to 25 ms and is gone after 40 to 150 ms,
/// 8 dB under to 4 dB over the loud level; and half as many knocks while nobody talks, which are none.
pub(crate) fn blasts(clip: &mut Clip) -> Faulty {
    let spans = active(&clip.x);
    let loud_db = loud_db(&clip.x);
    let mut x = clip.x.clone();
    // A blast begins with its syllable: at a place from which on the voice rises.
    let mut begins: Vec<usize> = Vec::new();
    for _ in 0..400 {
        let at = samples(1.0) + (clip.random.unit() * (x.len() - samples(2.5)) as f64) as usize;
        let at_s = at as f64 / f64::from(RATE_HZ);
        let is_active = spans.iter().any(|span| span.holds(at_s));
        let (before, behind) = (
            rms_around(&clip.x, at - samples(0.03), samples(0.02)),
            rms_around(&clip.x, at + samples(0.05), samples(0.03)),
        );
        let is_free = begins.iter().all(|other| other.abs_diff(at) > samples(1.5));
        if is_active && is_free && behind > 1.3 * before {
            begins.push(at);
        }
        if begins.len() == 6 {
            break;
        }
    }
    begins.sort_unstable();
    for at in &begins {
        let level_db = loud_db + clip.random.between(-8.0, 4.0);
        blast(&mut x, *at, level_db, &mut clip.random);
    }
    let pauses: Vec<f64> = spans
        .windows(2)
        .filter(|pair| pair[1].start_s - pair[0].end_s > 1.2)
        .map(|pair| f64::midpoint(pair[0].end_s, pair[1].start_s) - 0.05)
        .take(3)
        .collect();
    for at_s in pauses {
        let level_db = loud_db + clip.random.between(-8.0, 4.0);
        blast(&mut x, samples(at_s), level_db, &mut clip.random);
    }
    Faulty { plane: stored(&x), at_s: moments(&begins) }
}

/// Adds one blast.
pub(crate) fn blast(x: &mut [f64], at: usize, level_db: f64, random: &mut Random) {
    let (swell_s, fall_s) = (random.between(0.008, 0.025), random.between(0.015, 0.05));
    let rate_hz = f64::from(RATE_HZ);
    let n = samples(0.3).min(x.len() - at);
    let hz = random.between(12.0, 45.0);
    let (mut low, mut lower) = (0.0, 0.0);
    let keep = (-TAU * 50.0 / rate_hz).exp();
    let phase = random.between(0.0, TAU);
    let shape: Vec<f64> = (0..n)
        .map(|since| {
            let since_s = since as f64 / rate_hz;
            low = keep * low + (1.0 - keep) * random.bell();
            lower = keep * lower + (1.0 - keep) * low;
            let swell = (since_s / swell_s).min(1.0);
            let fall = (-(since_s - swell_s).max(0.0) / fall_s).exp();
            // Air that swings slowly, and its turbulence.
            swell * fall * ((TAU * hz * since_s + phase).sin() + 12.0 * lower)
        })
        .collect();
    let strongest = samples(0.06).min(n);
    let power = shape[..strongest].iter().map(|x| x * x).sum::<f64>() / strongest as f64;
    let gain = amplitude(level_db) / power.sqrt();
    x[at..at + n].iter_mut().zip(&shape).for_each(|(x, shape)| *x += gain * shape);
}

/// Hum of a mains and its multiples, of a level.
pub(crate) fn hum(x: &[f64], mains_hz: f64, level_dbfs: f64, random: &mut Random) -> Vec<f64> {
    let lines: Vec<(f64, f64, f64)> = (1..=12)
        .map(|multiple| {
            let times = f64::from(multiple);
            let height = random.between(0.3, 1.0) / times.sqrt();
            (mains_hz * times, height, random.between(0.0, TAU))
        })
        .collect();
    let power: f64 = lines.iter().map(|(_, height, _)| 0.5 * height * height).sum();
    let gain = amplitude(level_dbfs) / power.sqrt();
    let at = |n: usize| -> f64 {
        let at_s = n as f64 / f64::from(RATE_HZ);
        lines.iter().map(|(hz, height, phase)| height * (TAU * hz * at_s + phase).sin()).sum()
    };
    x.iter().enumerate().map(|(n, x)| x + gain * at(n)).collect()
}
