//! What stands beside the program's figures in the same run: an independent meter, a script, and the machine itself.

use std::fs::File;
use std::hint::black_box;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Instant;

use deskside::audio::{Takes, TrustHeader};
use deskside::dsp::Group;
use deskside::dsp::lanes::{Isa, Panel, WIDE, add_pairs};
use deskside::measure::{LoudnessMeter, TruePeakMeter};
use ebur128::{EbuR128, Mode};
use realfft::RealFftPlanner;

/// Samples in a block, as the program has them.
const BLOCK: usize = 32_768;

/// Channels that share a meter.
const N_SHARE: usize = 8;

/// Where the packages of the outside checks lie, if `bash tests/run` has installed them.
const PYTHON: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/target/outside-venv/bin/python");
const SCRIPT: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/bench/whole/script.py");

/// Channel-seconds a second.
pub(crate) type Rate = f64;

/// Recordings in memory.
pub(crate) struct Planes {
    planes: Vec<Vec<f32>>,
    rate_hz: u32,
}

impl Planes {
    /// The first channels of a folder's recordings.
    pub(crate) fn read(paths: &[PathBuf]) -> Self {
        let mut rate_hz = 0;
        let read = |path: &PathBuf| {
            let mut takes = Takes::new(vec![path.clone()], TrustHeader::Yes).expect("a recording");
            rate_hz = takes.rate_hz();
            let mut planes = vec![Vec::new(); takes.n_channels()];
            while takes.read(BLOCK, &mut planes).expect("it can be read") > 0 {}
            planes.swap_remove(0)
        };
        let planes = paths.iter().take(N_SHARE).map(read).collect();
        Self { planes, rate_hz }
    }

    fn rate(&self, begin: Instant) -> Rate {
        let n_samples: usize = self.planes.iter().map(Vec::len).sum();
        n_samples as f64 / f64::from(self.rate_hz) / begin.elapsed().as_secs_f64()
    }

    /// Loudness (integrated, short-term, range) and true peak by the `ebur128` crate, one core.
    pub(crate) fn crate_meter(&self) -> Rate {
        let begin = Instant::now();
        for plane in &self.planes {
            let mode = Mode::I | Mode::S | Mode::LRA | Mode::TRUE_PEAK;
            let mut meter = EbuR128::new(1, self.rate_hz, mode).expect("a mono meter");
            let mut short = f64::NEG_INFINITY;
            for tenth in plane.chunks(self.rate_hz as usize / 10) {
                meter.add_frames_f32(tenth).expect("frames are taken");
                short = short.max(meter.loudness_shortterm().expect("a loudness"));
            }
            black_box((meter.loudness_global().ok(), meter.loudness_range().ok(), short));
            black_box(meter.true_peak(0).ok());
        }
        self.rate(begin)
    }

    /// The same figures by the program's own meters, one core.
    pub(crate) fn own_meters(&self) -> Rate {
        let begin = Instant::now();
        let n_channels = self.planes.len();
        let mut loudness = LoudnessMeter::new(self.rate_hz, n_channels);
        let mut true_peak = TruePeakMeter::new(self.rate_hz, n_channels);
        let n_samples = self.planes.iter().map(Vec::len).min().unwrap_or(0);
        for from in (0..n_samples).step_by(BLOCK) {
            let to = n_samples.min(from + BLOCK);
            let blocks: Vec<&[f32]> = self.planes.iter().map(|plane| &plane[from..to]).collect();
            let group = Group::new(&blocks, self.rate_hz);
            loudness.push(group);
            true_peak.push(group);
        }
        black_box((loudness.finish(), true_peak.finish()));
        self.rate(begin)
    }

    /// Real transforms of 4096 samples every 2048, one core.
    pub(crate) fn transforms(&self) -> Rate {
        let fft = RealFftPlanner::<f32>::new().plan_fft_forward(4096);
        let (mut input, mut bins) = (fft.make_input_vec(), fft.make_output_vec());
        let mut scratch = fft.make_scratch_vec();
        let begin = Instant::now();
        for plane in &self.planes {
            for window in plane.windows(4096).step_by(2048) {
                input.copy_from_slice(window);
                fft.process_with_scratch(&mut input, &mut bins, &mut scratch).expect("lengths fit");
                black_box(&bins);
            }
        }
        self.rate(begin)
    }
}

/// Sums of products of 64 columns (32 channels, real and imaginary) in 2048 bins every 2048 samples, one core.
pub(crate) fn products() -> Rate {
    const N_PANELS: usize = 64 / WIDE;
    const N_ROWS: usize = 256;
    let value = |n: usize| (n % 97) as f32 / 97.0 - 0.5;
    let rows: Vec<Panel> = (0..N_PANELS * N_ROWS)
        .map(|row| std::array::from_fn(|column| value(row * WIDE + column)))
        .collect();
    let panel = |idx: usize| &rows[idx * N_ROWS..(idx + 1) * N_ROWS];
    let mut sums = [[0.0; WIDE]; WIDE];
    let n_times = 2000;
    let begin = Instant::now();
    for _ in 0..n_times {
        for down in 0..N_PANELS {
            for across in down..N_PANELS {
                add_pairs(Isa::best(), panel(down), panel(across), &mut sums);
            }
        }
    }
    black_box(&sums);
    // A row is one bin of one window: a window of 2048 bins stands for 2048 samples of 32 channels.
    let seconds = (n_times * N_ROWS) as f64 / 48_000.0;
    32.0 * seconds / begin.elapsed().as_secs_f64()
}

/// Reading all files, a mebibyte at a time, one core.
pub(crate) fn reading(paths: &[PathBuf], channel_seconds: f64) -> Rate {
    let mut buffer = vec![0; 1 << 20];
    let begin = Instant::now();
    for path in paths {
        let mut file = File::open(path).expect("a recording");
        while file.read(&mut buffer).expect("it can be read") > 0 {}
        black_box(&buffer);
    }
    channel_seconds / begin.elapsed().as_secs_f64()
}

/// The script on both cores; nothing where its packages are not installed.
pub(crate) fn script(paths: &[PathBuf]) -> Option<Rate> {
    if !Path::new(PYTHON).exists() {
        return None;
    }
    let output = Command::new(PYTHON)
        .arg(SCRIPT)
        .args(paths)
        .env("OMP_NUM_THREADS", "1")
        .output()
        .expect("the interpreter starts");
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "the script measures: {said}");
    let found: serde_json::Value = serde_json::from_slice(&output.stdout).expect("it prints JSON");
    Some(found["channel_seconds"].as_f64()? / found["seconds"].as_f64()?)
}
