//! Takes of the demo for tests: the short evening, rendered once, small scenes, and a plain reader of the files.
//!
//! Reads integer and floating-point samples on its own, so that writer and reader check each other.

use std::{
    fs,
    path::{Path, PathBuf},
    sync::OnceLock,
};

use deskside::demo::{Which, render, scene::Scene};
use serde_json::Value;
use tempfile::TempDir;

/// The short evening, rendered once for all tests.
pub(crate) fn cut() -> &'static Path {
    static FOLDER: OnceLock<TempDir> = OnceLock::new();
    FOLDER
        .get_or_init(|| {
            let folder = tempfile::tempdir().unwrap();
            render(Which::Cut, folder.path(), &mut |_| {}).unwrap();
            folder
        })
        .path()
}

/// The truth beside a take.
pub(crate) fn truth(folder: &Path) -> Value {
    serde_json::from_str(&fs::read_to_string(folder.join("truth.json")).unwrap()).unwrap()
}

/// The built-in short evening as a scene, with nothing happening in it.
pub(crate) fn quiet_scene(length_s: f64) -> Scene {
    let mut scene = Scene::cut();
    scene.length_s = length_s;
    scene.segments.clear();
    scene.songs.clear();
    scene.talks.clear();
    scene.checks.clear();
    scene.sounds.clear();
    scene.moves.clear();
    scene.switches.clear();
    scene.faults.clear();
    scene.planted.clear();
    scene
}

/// The recording whose name ends like this: `LV` for `17 LV.wav`.
pub(crate) fn file(folder: &Path, name: &str) -> PathBuf {
    let wanted = format!(" {name}.wav");
    let found = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let mut found = found.filter(|path| path.to_string_lossy().ends_with(&wanted));
    found.next().unwrap_or_else(|| panic!("no recording named {name}"))
}

/// The samples of a recording, one vector a channel.
pub(crate) fn samples(path: &Path) -> Vec<Vec<f64>> {
    let bytes = fs::read(path).unwrap();
    let word = |at: usize| u32::from_le_bytes(bytes[at..at + 4].try_into().unwrap());
    let (mut at, mut n_channels, mut bits) = (12, 0, 0);
    loop {
        let (kind, size) = (&bytes[at..at + 4], word(at + 4) as usize);
        if kind == b"fmt " {
            n_channels = usize::from(u16::from_le_bytes([bytes[at + 10], bytes[at + 11]]));
            bits = usize::from(u16::from_le_bytes([bytes[at + 22], bytes[at + 23]]));
        } else if kind == b"data" {
            let data = &bytes[at + 8..at + 8 + size];
            return planes(data, n_channels, bits);
        }
        at += 8 + size + size % 2;
    }
}

fn planes(data: &[u8], n_channels: usize, bits: usize) -> Vec<Vec<f64>> {
    let value = |bytes: &[u8]| match bits {
        24 => f64::from(i32::from_le_bytes([0, bytes[0], bytes[1], bytes[2]])) / 2_147_483_648.0,
        32 => f64::from(f32::from_le_bytes(bytes.try_into().unwrap())),
        other => panic!("a recording of {other} bits"),
    };
    let all: Vec<f64> = data.chunks_exact(bits / 8).map(value).collect();
    (0..n_channels).map(|c| all.iter().skip(c).step_by(n_channels).copied().collect()).collect()
}

/// A recording of one channel.
pub(crate) fn mono(folder: &Path, name: &str) -> Vec<f64> {
    samples(&file(folder, name)).remove(0)
}

/// RMS of samples in decibels.
pub(crate) fn rms_db(samples: &[f64]) -> f64 {
    let sum: f64 = samples.iter().map(|x| x * x).sum();
    10.0 * (sum / samples.len() as f64).log10()
}

/// A place in samples, as an index.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a place in a take, never negative"
)]
pub(crate) fn place(samples: f64) -> usize {
    samples.round().max(0.0) as usize
}

/// A sample in single precision.
#[expect(clippy::cast_possible_truncation, reason = "what recordings hold")]
pub(crate) fn single(x: f64) -> f32 {
    x as f32
}
