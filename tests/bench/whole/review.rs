//! One review by the program: how long it takes, and what it holds.

use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// What a review took.
#[derive(Clone, Copy)]
pub(crate) struct Cost {
    /// By the clock.
    pub(crate) seconds: f64,
    /// Of all cores together.
    pub(crate) processor_s: f64,
    /// Highest resident memory.
    pub(crate) peak_mb: f64,
}

/// Clock ticks a second that the kernel counts processor time in.
const TICKS: f64 = 100.0;

/// Reviews a folder, page included; keeps what it writes in `dir`.
pub(crate) fn review(folder: &Path, dir: &Path) -> Cost {
    let begin = Instant::now();
    let mut child = Command::new(env!("CARGO_BIN_EXE_deskside"))
        .args(["review", "--quiet"])
        .arg(folder)
        .current_dir(dir)
        .stdout(Stdio::null())
        .spawn()
        .expect("the program starts");
    let proc = Path::new("/proc").join(child.id().to_string());
    let mut cost = Cost { seconds: 0.0, processor_s: 0.0, peak_mb: 0.0 };
    let status = loop {
        if let Some(status) = child.try_wait().expect("the program can be waited for") {
            break status;
        }
        cost.peak_mb = cost.peak_mb.max(peak_mb(&proc).unwrap_or(0.0));
        cost.processor_s = cost.processor_s.max(processor_s(&proc).unwrap_or(0.0));
        std::thread::sleep(Duration::from_millis(5));
    };
    assert!(status.success(), "the review ends well");
    cost.seconds = begin.elapsed().as_secs_f64();
    cost
}

fn peak_mb(proc: &Path) -> Option<f64> {
    let text = std::fs::read_to_string(proc.join("status")).ok()?;
    let line = text.lines().find(|line| line.starts_with("VmHWM"))?;
    Some(line.split_whitespace().nth(1)?.parse::<f64>().ok()? / 1024.0)
}

fn processor_s(proc: &Path) -> Option<f64> {
    let text = std::fs::read_to_string(proc.join("stat")).ok()?;
    // Behind the name, which may hold blanks: user and system time are the 12th and 13th.
    let behind: Vec<&str> = text.rsplit_once(')')?.1.split_whitespace().collect();
    let ticks = |at: usize| behind.get(at)?.parse::<f64>().ok();
    Some((ticks(11)? + ticks(12)?) / TICKS)
}
