//! Faults of equipment and room in a raw channel.
//!
//! Takes a piece of a channel, adds what the scene states. Never touches another channel.

use std::f64::consts::TAU;

use crate::demo::{desk::Biquad, random::Random, scene::Fault};

/// Mains harmonics against the first, in amplitude: a rectifier's odd and even ones (common practice; invented figures).
const HARMONICS: [f64; 9] = [1.0, 0.55, 0.8, 0.3, 0.45, 0.22, 0.28, 0.1, 0.14];

/// Band of rumble, in Hz: footfall and stage floor.
const RUMBLE_HZ: [f64; 2] = [22.0, 42.0];

/// Rise of a howl over its length, in dB: it starts below the programme.
const HOWL_RISE_DB: f64 = 45.0;

/// Time in which a howl dies once the gain is taken back, in seconds to 60 dB.
const HOWL_FALL_S: f64 = 0.25;

/// A fault at work on one channel.
#[derive(Clone, Debug)]
pub struct Faulty {
    kind: Kind,
    rate_hz: f64,
}

#[derive(Clone, Debug)]
enum Kind {
    Hum { mains_hz: f64, amplitude: f64 },
    Rumble { filters: Vec<Biquad>, gain: f64, chance: Random },
    Howl { start_s: f64, end_s: f64, hz: f64, peak: f64 },
    Ring { start_s: f64, end_s: f64, filter: Biquad, gain: f64 },
}

impl Faulty {
    /// The faults of a channel at the start of a take; `loud_rms` is its loud level.
    pub fn of(
        faults: &[Fault],
        channel: &str,
        loud_rms: f64,
        rate_hz: u32,
        seed: u64,
    ) -> Vec<Self> {
        let rate_hz = f64::from(rate_hz);
        let kinds = faults.iter().filter(|fault| concerns(fault, channel));
        kinds.map(|fault| Self { kind: kind(fault, loud_rms, rate_hz, seed), rate_hz }).collect()
    }

    /// Adds the fault to samples of which the first is number `first` of the take.
    #[expect(clippy::cast_possible_truncation, reason = "a sample in single precision")]
    pub fn run(&mut self, samples: &mut [f32], first: usize) {
        for (place, x) in samples.iter_mut().enumerate() {
            let at_s = (first + place) as f64 / self.rate_hz;
            *x += self.kind.step(at_s, f64::from(*x)) as f32;
        }
    }
}

impl Kind {
    fn step(&mut self, at_s: f64, x: f64) -> f64 {
        match self {
            Self::Hum { mains_hz, amplitude } => {
                let tones = HARMONICS.iter().zip(1_u32..);
                let sum: f64 = tones
                    .map(|(level, n)| {
                        level * (TAU * (f64::from(n) * *mains_hz * at_s).fract()).sin()
                    })
                    .sum();
                *amplitude * sum
            }
            Self::Rumble { filters, gain, chance } => {
                *gain * filters.iter_mut().fold(chance.bell(), |y, filter| filter.step(y))
            }
            Self::Howl { start_s, end_s, hz, peak } => {
                let level_db = if at_s < *start_s {
                    return 0.0;
                } else if at_s < *end_s {
                    -HOWL_RISE_DB * (*end_s - at_s) / (*end_s - *start_s)
                } else {
                    -60.0 * (at_s - *end_s) / HOWL_FALL_S
                };
                if level_db < -120.0 {
                    return 0.0;
                }
                *peak * 10_f64.powf(level_db / 20.0) * (TAU * (*hz * at_s).fract()).sin()
            }
            Self::Ring { start_s, end_s, filter, gain } => {
                let input = if (*start_s..*end_s).contains(&at_s) { x } else { 0.0 };
                *gain * filter.step(input)
            }
        }
    }
}

fn concerns(fault: &Fault, name: &str) -> bool {
    match fault {
        Fault::Hum { channel, .. } | Fault::Howl { channel, .. } | Fault::Ring { channel, .. } => {
            channel == name
        }
        Fault::Rumble { channels, .. } => channels.iter().any(|channel| channel == name),
    }
}

fn kind(fault: &Fault, loud_rms: f64, rate_hz: f64, seed: u64) -> Kind {
    let factor = |db: f64| 10_f64.powf(db / 20.0);
    match fault {
        Fault::Hum { mains_hz, re_loud_db, .. } => {
            let rms = (HARMONICS.iter().map(|level| level * level).sum::<f64>() / 2.0).sqrt();
            Kind::Hum { mains_hz: *mains_hz, amplitude: loud_rms * factor(*re_loud_db) / rms }
        }
        Fault::Rumble { re_loud_db, .. } => {
            let filters: Vec<Biquad> = vec![
                Biquad::high_pass(RUMBLE_HZ[0], rate_hz),
                Biquad::low_pass(RUMBLE_HZ[1], rate_hz),
                Biquad::low_pass(RUMBLE_HZ[1], rate_hz),
            ];
            let rms = noise_rms(filters.clone(), rate_hz);
            let gain = loud_rms * factor(*re_loud_db) / rms;
            Kind::Rumble { filters, gain, chance: Random::new(seed) }
        }
        Fault::Howl { start_s, length_s, hz, peak_dbfs, .. } => Kind::Howl {
            start_s: *start_s,
            end_s: start_s + length_s,
            hz: *hz,
            peak: factor(*peak_dbfs),
        },
        Fault::Ring { start_s, end_s, hz, t60_s, gain_db, .. } => Kind::Ring {
            start_s: *start_s,
            end_s: *end_s,
            filter: Biquad::resonance(*hz, *t60_s, rate_hz),
            gain: factor(*gain_db),
        },
    }
}

/// RMS of white noise of RMS 1 behind filters: the root of the energy of their impulse response.
fn noise_rms(mut filters: Vec<Biquad>, rate_hz: f64) -> f64 {
    let impulse =
        std::iter::once(1.0).chain(std::iter::repeat_n(0.0, super::stem::sample(rate_hz)));
    let response = impulse.map(|x| filters.iter_mut().fold(x, |y, filter| filter.step(y)));
    response.map(|y| y * y).sum::<f64>().sqrt()
}
