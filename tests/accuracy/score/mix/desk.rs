//! A desk at work on the recordings of a stage: writes the main mix beside them, and keeps what every strip gave to it.
//!
//! Never holds more than a few channels.

use std::fs;
use std::path::Path;

use deskside::audio::{SampleFormat, WaveSpec, WaveWriter};
use deskside::demo::desk::Reverberator;
use realfft::{RealFftPlanner, num_complex::Complex};

use super::super::recording::Recording;
use super::RATE_HZ;
use super::strip::Strip;
use crate::support::squeeze::Squeeze;

/// How much later the mix stands in its recording, in samples.
pub(crate) const LATENCY: usize = 613;

/// The presence range of voices, in Hz: the outer edges of the third-octaves from 1 to 4 kHz.
const PRESENCE_HZ: [f64; 2] = [891.25, 4466.8];

/// How full the mix is at its loudest.
const PEAK: f32 = 0.5;

/// What works on the whole mix.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Kind {
    /// Nothing: everything in the mix was recorded.
    Plain,
    /// A compressor on the mix, an effect whose return was not recorded, and a part that was not recorded.
    Hard,
}

impl Kind {
    pub(crate) const ALL: [Self; 2] = [Self::Plain, Self::Hard];

    pub(crate) const fn word(self) -> &'static str {
        match self {
            Self::Plain => "plain",
            Self::Hard => "hard",
        }
    }
}

/// A desk.
#[derive(Clone, Debug)]
pub(crate) struct Desk {
    pub(crate) kind: Kind,
    pub(crate) strips: Vec<Strip>,
    pub(crate) length_s: f64,
}

/// What a strip gave to the mix, second by second, both sides together.
#[derive(Clone, Debug, Default)]
pub(crate) struct Given {
    /// Power of its raw recording.
    pub(crate) raw: Vec<f64>,
    /// Power in the mix.
    pub(crate) mixed: Vec<f64>,
    /// Its spectrum in the presence range, before the pan.
    pub(crate) presence: Spectra,
}

/// Bins of the presence range, second by second; their squares add up to mean squares.
pub(crate) type Spectra = Vec<Vec<Complex<f32>>>;

/// What is true of a mix.
#[derive(Clone, Debug)]
pub(crate) struct Mixed {
    /// Each strip.
    pub(crate) given: Vec<Given>,
    /// Power of the mix, second by second.
    pub(crate) main: Vec<f64>,
    /// Spectra of its sides in the presence range.
    pub(crate) presence: [Spectra; 2],
    /// How far each compressor swings: 90th minus 10th percentile of what it takes off in the loud half of the time; 0 without one.
    pub(crate) swing_db: Vec<f64>,
}

impl Desk {
    /// Mixes the recordings of `stage` into `folder`, which gets those that are recorded and the mix.
    pub(crate) fn mix(&self, stage: &Path, folder: &Path) -> Mixed {
        fs::create_dir_all(folder).expect("a scratch folder");
        let n = (self.length_s * RATE_HZ as f64) as usize;
        let mut main = [vec![0.0f32; n], vec![0.0f32; n]];
        let mut send = vec![0.0f32; n];
        for strip in &self.strips {
            let faded = strip.run(&raw(stage, strip, n));
            for (side, share) in main.iter_mut().zip(strip.sides()) {
                add(side, &faded, share as f32);
            }
            if let Some(send_db) = strip.send_db {
                add(&mut send, &faded, 10f64.powf(send_db / 20.0) as f32);
            }
            if strip.is_recorded {
                link(&stage.join(&strip.file), &folder.join(&strip.file));
            }
        }
        if self.kind == Kind::Hard {
            let effect = Reverberator::new(1.6, 0.02, RATE_HZ as f64).run(&send);
            main.iter_mut().zip(&effect).for_each(|(side, wet)| add(side, wet, 1.0));
        }
        let bus = self.bus(&main);
        for side in &mut main {
            side.iter_mut().zip(&bus).for_each(|(x, gain)| *x *= gain);
        }
        let note = stage.join("session.toml");
        if note.exists() {
            fs::copy(note, folder.join("session.toml")).expect("the scratch folder is writable");
        }
        let mixed = self.told(stage, &main, &bus);
        write(&folder.join("99 Main.wav"), &main);
        mixed
    }

    /// Gain of the main bus, sample by sample: it keeps the mix below full scale.
    fn bus(&self, main: &[Vec<f32>; 2]) -> Vec<f32> {
        let linked: Vec<f32> =
            main[0].iter().zip(&main[1]).map(|(l, r)| l.abs().max(r.abs())).collect();
        let peak = linked.iter().copied().fold(1e-6f32, f32::max);
        let level = (PEAK / peak).min(1.0);
        if self.kind == Kind::Plain {
            return vec![level; linked.len()];
        }
        let compressor = Squeeze {
            threshold_dbfs: 20.0 * f64::from(peak).log10() - 14.0,
            ratio: 3.0,
            knee_db: 6.0,
            attack_s: 0.015,
            release_s: 0.2,
            rms_s: Some(0.005),
            is_decoupled: false,
        };
        let reductions_db = compressor.reductions_db(&linked);
        reductions_db.iter().map(|db| level * 10f64.powf(-db / 20.0) as f32).collect()
    }

    /// Measures every strip in the mix that is made.
    fn told(&self, stage: &Path, main: &[Vec<f32>; 2], bus: &[f32]) -> Mixed {
        let n = bus.len();
        let mut given = Vec::new();
        let mut swing_db = Vec::new();
        for strip in &self.strips {
            let raw = raw(stage, strip, n);
            let mut faded = strip.run(&raw);
            faded.iter_mut().zip(bus).for_each(|(x, gain)| *x *= gain);
            given.push(Given {
                raw: powers(&raw),
                mixed: powers(&faded),
                presence: presence(&faded),
            });
            swing_db.push(strip.squeeze.map_or(0.0, |squeeze| swing(&squeeze, strip, &raw)));
        }
        let sides = main.each_ref().map(|side| powers(side));
        Mixed {
            given,
            main: sides[0].iter().zip(&sides[1]).map(|(l, r)| l + r).collect(),
            presence: main.each_ref().map(|side| presence(side)),
            swing_db,
        }
    }
}

/// What a compressor takes off while its channel is loud, most minus least in nine tenths of the time.
fn swing(squeeze: &Squeeze, strip: &Strip, raw: &[f32]) -> f64 {
    let plain = Strip { squeeze: None, moves: Vec::new(), edges_s: Vec::new(), ..strip.clone() };
    let before = Strip { gain_db: 0.0, is_inverted: false, ..plain }.run(raw);
    let reductions = squeeze.reductions_db(&before);
    let step = RATE_HZ / 20;
    let mut by_level: Vec<(f64, f64)> = before
        .chunks_exact(step)
        .zip(reductions.chunks_exact(step))
        .map(|(x, reduction)| {
            let power: f64 = x.iter().map(|x| f64::from(*x).powi(2)).sum();
            (power, reduction.iter().sum::<f64>() / step as f64)
        })
        .collect();
    by_level.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut loud: Vec<f64> =
        by_level[..by_level.len() / 2].iter().map(|(_, reduction)| *reduction).collect();
    loud.sort_by(f64::total_cmp);
    loud[loud.len() * 95 / 100] - loud[loud.len() * 5 / 100]
}

fn raw(stage: &Path, strip: &Strip, n: usize) -> Vec<f32> {
    let recording = Recording::read(&stage.join(&strip.file));
    let mut samples: Vec<f32> = recording.samples(0, n).map(|x| x as f32).collect();
    samples.resize(n, 0.0);
    samples
}

fn add(sum: &mut [f32], samples: &[f32], gain: f32) {
    sum.iter_mut().zip(samples).for_each(|(sum, x)| *sum += gain * x);
}

/// Mean squares of whole seconds.
fn powers(samples: &[f32]) -> Vec<f64> {
    let mean =
        |second: &[f32]| second.iter().map(|x| f64::from(*x).powi(2)).sum::<f64>() / RATE_HZ as f64;
    samples.chunks_exact(RATE_HZ).map(mean).collect()
}

/// Spectra of whole seconds in the presence range (Parseval).
fn presence(samples: &[f32]) -> Spectra {
    let forward = RealFftPlanner::<f32>::new().plan_fft_forward(RATE_HZ);
    let mut spectrum = forward.make_output_vec();
    let scale = std::f32::consts::SQRT_2 / RATE_HZ as f32;
    let of_second = |second: &[f32]| {
        forward.process(&mut second.to_vec(), &mut spectrum).expect("lengths fit");
        // A bin a hertz.
        let [low, high] = PRESENCE_HZ.map(|hz| hz.round() as usize);
        spectrum[low..high].iter().map(|bin| bin * scale).collect()
    };
    samples.chunks_exact(RATE_HZ).map(of_second).collect()
}

fn write(path: &Path, main: &[Vec<f32>; 2]) {
    let spec = WaveSpec {
        track_names: vec!["Main L".to_owned(), "Main R".to_owned()],
        ..WaveSpec::new(RATE_HZ as u32, 2, SampleFormat::Int24)
    };
    let mut writer = WaveWriter::create(path, spec).expect("the scratch folder is writable");
    let late = main.each_ref().map(|side| {
        let end = side.len() - LATENCY;
        [&vec![0.0; LATENCY], &side[..end]].concat()
    });
    writer.write(&[&late[0], &late[1]]).expect("the mix is written");
    writer.finish().expect("the mix is written");
}

fn link(from: &Path, to: &Path) {
    let _ = fs::remove_file(to);
    fs::hard_link(from, to).expect("a link in the scratch folder");
}
