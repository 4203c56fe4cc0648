//! Whole-program figures: channel-seconds a second and peak memory of a review, beside a plain loudness meter in the same run.
//!
//! `cargo bench --bench whole` makes 32 mono 24-bit files of 5 minutes in a scratch folder (1.4 GB), reads them once so
//! that they lie in the page cache, reviews them three times, and prints the best run: the whole review, and the measurements of
//! the channels alone (recordings declared as processed, from which nothing is told about spill); the difference is what telling
//! the sources apart takes. The same for half of the channels, and how each grows from there. `-- MINUTES CHANNELS` changes the size.
//! The ratio to the `ebur128` crate (loudness and true peak of the same seconds) is the figure to compare between machines.

#![expect(
    clippy::cast_possible_truncation,
    clippy::print_stdout,
    clippy::unwrap_used,
    reason = "a benchmark prints its figures and stops where it can't go on"
)]

#[path = "../support/wave.rs"]
mod wave;

use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

const RATE_HZ: u32 = 48_000;

fn main() {
    let numbers: Vec<usize> = std::env::args().filter_map(|word| word.parse().ok()).collect();
    let n_minutes = numbers.first().copied().unwrap_or(5);
    let n_channels = numbers.get(1).copied().unwrap_or(32);
    let dir = tempfile::tempdir().expect("a scratch folder can be made");
    let n_half = n_channels / 2;
    let folders =
        [("half", n_half), ("night", n_channels)].map(|(name, n)| (dir.path().join(name), n));
    for (folder, _) in &folders {
        std::fs::create_dir(folder).expect("the scratch folder is writable");
    }
    let plane = material(n_minutes * 60);
    let names = ["Kik", "Sn Top", "Bs DI", "AcGtr", "LV", "BV 1", "Keys L", "Keys R"];
    for number in 1..=n_channels {
        // The same sound, moved in time: no two channels are twins, all play.
        let shift = number * 9_973 % plane.len();
        let turned: Vec<f32> = plane[shift..].iter().chain(&plane[..shift]).copied().collect();
        let name = names[number % names.len()];
        let file = format!("{number:02} {name}.wav");
        wave::write_pcm24(&folders[1].0.join(&file), RATE_HZ, &[&turned]);
        if number <= n_half {
            std::fs::hard_link(folders[1].0.join(&file), folders[0].0.join(&file)).expect("a link");
        }
    }
    let plain = plain_meter(&plane);
    println!(
        "ebur128 crate, loudness and true peak, one core: {plain:.0} channel-seconds a second"
    );
    let spent = folders.map(|(folder, n)| {
        let channel_seconds = (n * n_minutes * 60) as f64;
        let alone_and_whole = [
            ("the measurements of the channels", "tap = \"processed\"\n"),
            ("the whole review", ""),
        ];
        let [alone_s, whole_s] = alone_and_whole.map(|(what, note)| {
            std::fs::write(folder.join("session.toml"), note).expect("the scratch folder is writable");
            let runs: Vec<(f64, f64)> = (0..3).map(|_| review(&folder, dir.path())).collect();
            let (seconds, peak_mb) =
                runs.iter().copied().min_by(|a, b| a.0.total_cmp(&b.0)).expect("three runs");
            let rate = channel_seconds / seconds;
            println!(
                "{what}, {n} channels x {n_minutes} min: {seconds:.1} s, {rate:.0} channel-seconds a second, {peak_mb:.0} MB at the peak, ratio {:.2}",
                rate / plain
            );
            seconds
        });
        println!(
            "telling sources apart, {n} channels: {:.1} s, {:.2} of the measurements",
            whole_s - alone_s,
            (whole_s - alone_s) / alone_s
        );
        [whole_s, whole_s - alone_s]
    });
    let [[half_s, half_apart_s], [all_s, all_apart_s]] = spent;
    println!(
        "from {n_half} to {n_channels} channels: the whole review takes {:.2} times as long, telling sources apart {:.2} times",
        all_s / half_s,
        all_apart_s / half_apart_s
    );
}

/// Seconds and peak memory, in MB, of one review.
fn review(night: &Path, dir: &Path) -> (f64, f64) {
    let begin = Instant::now();
    let mut child = Command::new(env!("CARGO_BIN_EXE_deskside"))
        .args(["review", "--quiet"])
        .arg(night)
        .current_dir(dir)
        .stdout(Stdio::null())
        .spawn()
        .expect("the program starts");
    let status = format!("/proc/{}/status", child.id());
    let mut peak_kb = 0.0f64;
    while child.try_wait().expect("the program can be waited for").is_none() {
        let now_kb = std::fs::read_to_string(&status)
            .ok()
            .and_then(|text| {
                let line = text.lines().find(|line| line.starts_with("VmHWM"))?.to_owned();
                line.split_whitespace().nth(1)?.parse::<f64>().ok()
            })
            .unwrap_or(0.0);
        peak_kb = peak_kb.max(now_kb);
        std::thread::sleep(Duration::from_millis(5));
    }
    (begin.elapsed().as_secs_f64(), peak_kb / 1024.0)
}

/// Channel-seconds a second of the `ebur128` crate on one core.
fn plain_meter(plane: &[f32]) -> f64 {
    use ebur128::{EbuR128, Mode};
    let begin = Instant::now();
    let mut meter = EbuR128::new(1, RATE_HZ, Mode::I | Mode::S | Mode::LRA | Mode::TRUE_PEAK)
        .expect("a mono meter at 48 kHz");
    meter.add_frames_f32(plane).expect("frames are taken");
    std::hint::black_box(meter.loudness_global().expect("a loudness"));
    plane.len() as f64 / f64::from(RATE_HZ) / begin.elapsed().as_secs_f64()
}

/// Tones and noise in phrases with pauses, at a usual level: something for every meter to do.
fn material(seconds: usize) -> Vec<f32> {
    let mut state = 0x9e37_79b9_7f4a_7c15u64;
    (0..seconds * RATE_HZ as usize)
        .map(|n| {
            state ^= state << 13;
            state ^= state >> 7;
            state ^= state << 17;
            let noise = (state >> 40) as f64 / 8_388_608.0 - 1.0;
            let at_s = n as f64 / f64::from(RATE_HZ);
            let open = if at_s % 9.0 < 6.0 { 1.0 } else { 0.003 };
            let tone = (std::f64::consts::TAU * 196.0 * at_s).sin()
                + 0.5 * (std::f64::consts::TAU * 1_571.0 * at_s).sin();
            (open * (0.12 * tone + 0.03 * noise)) as f32
        })
        .collect()
}
