//! The published criteria for howls, each alone, as a clip's highest mark.
//!
//! After T. van Waterschoot and M. Moonen, "Fifty years of acoustic feedback control", Proc. IEEE 99(2), 2011, section V-B: power over the
//! mean (PAPR), over harmonics (PHPR), over neighbours two to seven bins away (PNPR), and straightness of the growth over 16
//! frames (IMSD), here only where the line grows by 3 dB, for a level that stays is straight too.

use std::f64::consts::TAU;

use realfft::RealFftPlanner;
use realfft::num_complex::Complex32;

/// Marks of a clip, higher for a howl.
pub(super) type Marks = [f64; 4];

/// Their names.
pub(super) const NAMES: [&str; 4] =
    ["power over mean (PAPR)", "over harmonics (PHPR)", "PHPR and PNPR", "straight growth (IMSD)"];

const LENGTH: usize = 2048;
const HOP: usize = 320;
const BIN_HZ: f64 = 16_000.0 / LENGTH as f64;

/// Candidates of a frame: the strongest peaks. Frames of a growth, and the least growth in dB.
const CANDIDATES: usize = 10;
const GROWS_FRAMES: usize = 16;
const GROWS_DB: f32 = 3.0;

/// Lines further than this under the loud level of the clip don't count, in dB.
const UNDER_DB: f32 = 20.0;

/// Marks of a clip at 16 kHz.
pub(super) fn marks(clip: &[f32]) -> Marks {
    let frames = levels(clip);
    let mut tops: Vec<f32> =
        frames.iter().map(|frame| frame.iter().copied().fold(-120.0, f32::max)).collect();
    tops.sort_by(f32::total_cmp);
    let loud_db = tops[tops.len() * 9 / 10];
    let mut marks = [f64::MIN; 4];
    for (at, frame) in frames.iter().enumerate() {
        let mean = frame.iter().map(|db| 10f32.powf(db / 10.0)).sum::<f32>() / frame.len() as f32;
        for bin in candidates(frame).into_iter().filter(|bin| frame[*bin] >= loud_db - UNDER_DB) {
            let over_mean = frame[bin] - 10.0 * mean.log10();
            let (harmonics, beside) = (over_harmonics(frame, bin), over_neighbours(frame, bin));
            let mut mark = |way: usize, db: f32| marks[way] = marks[way].max(f64::from(db));
            mark(0, over_mean);
            mark(1, harmonics);
            mark(2, harmonics.min(beside));
            if let Some(from) = (at + 1).checked_sub(GROWS_FRAMES) {
                let course: Vec<f32> = frames[from..=at].iter().map(|frame| frame[bin]).collect();
                if course[GROWS_FRAMES - 1] - course[0] > GROWS_DB {
                    mark(3, -bend(&course));
                }
            }
        }
    }
    marks
}

/// Levels of the bins by frames, in dB.
fn levels(clip: &[f32]) -> Vec<Vec<f32>> {
    let fft = RealFftPlanner::<f32>::new().plan_fft_forward(LENGTH);
    let hann = |n: usize| 0.5 - 0.5 * (TAU * n as f64 / LENGTH as f64).cos();
    let shape: Vec<f32> = (0..LENGTH).map(|n| hann(n) as f32).collect();
    let (mut input, mut bins) = (fft.make_input_vec(), fft.make_output_vec());
    let starts = (0..=clip.len() - LENGTH).step_by(HOP);
    starts
        .map(|start| {
            let part = clip[start..start + LENGTH].iter().zip(&shape);
            input.iter_mut().zip(part).for_each(|(slot, (x, weight))| *slot = x * weight);
            fft.process(&mut input, &mut bins).unwrap();
            let level = |bin: &Complex32| 10.0 * (bin.norm_sqr() / 2.6e5).max(1e-12).log10();
            bins.iter().map(level).collect()
        })
        .collect()
}

fn candidates(frame: &[f32]) -> Vec<usize> {
    let range = (80.0 / BIN_HZ) as usize..(7600.0 / BIN_HZ) as usize;
    let is_top = |bin: &usize| frame[*bin] >= frame[bin - 1] && frame[*bin] > frame[bin + 1];
    let mut tops: Vec<usize> = range.filter(is_top).collect();
    tops.sort_by(|&a, &b| frame[b].total_cmp(&frame[a]));
    tops.truncate(CANDIDATES);
    tops
}

fn over_harmonics(frame: &[f32], bin: usize) -> f32 {
    let at = |multiple: f64| frame.get((multiple * bin as f64).round() as usize).copied();
    let highest = [0.5, 1.5, 2.0, 3.0, 4.0].into_iter().filter_map(at).fold(-120.0, f32::max);
    frame[bin] - highest
}

fn over_neighbours(frame: &[f32], bin: usize) -> f32 {
    let beside = (2..=7).flat_map(|m| [bin.checked_sub(m), Some(bin + m)]);
    let over: Vec<f32> =
        beside.flatten().filter_map(|at| Some(frame[bin] - frame.get(at)?)).collect();
    over.iter().sum::<f32>() / over.len() as f32
}

/// Mean distance of the steps of a course from their mean, in dB a frame.
fn bend(course: &[f32]) -> f32 {
    let steps: Vec<f32> = course.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let mean = steps.iter().sum::<f32>() / steps.len() as f32;
    steps.iter().map(|step| (step - mean).abs()).sum::<f32>() / steps.len() as f32
}
