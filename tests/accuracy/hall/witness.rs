//! The published criteria for howls, each alone, as a clip's highest mark.
//!
//! After T. van Waterschoot and M. Moonen, "Fifty years of acoustic feedback control", Proc. IEEE 99(2), 2011, section V-B: power over the
//! mean (PAPR), over harmonics (PHPR), over neighbours two to seven bins away (PNPR), persistence as the share of the last frames
//! in which the bin is among the candidates (IPMP), and straightness of the growth over 16 frames (IMSD), here only where the line
//! grows by 3 dB, for a level that stays is straight too. Evenness in time (NINOS2-T) after M. Mounir, G. Bernardi and T. van Waterschoot,
//! "Robust and early howling detection based on a sparsity measure", EURASIP J. Audio Speech Music Process. 2025: of the magnitudes
//! of a bin in the last frames.

use std::f64::consts::TAU;

use realfft::RealFftPlanner;
use realfft::num_complex::Complex32;

/// Marks of a clip, higher for a howl.
pub(super) type Marks = [f64; 7];

/// Their names, and the published F1 at the threshold that did best, in speech and in music, each over all of a howl and early in it;
/// none was published of two criteria together. Tables 3 and 4 of Mounir and others, scored by bins and frames on 58 excerpts.
pub(super) const NAMES: [(&str, Option<[[f64; 2]; 2]>); 7] = [
    ("power over mean (PAPR)", Some([[0.63, 0.45], [0.33, 0.17]])),
    ("over harmonics (PHPR)", Some([[0.59, 0.46], [0.18, 0.09]])),
    ("over neighbours (PNPR)", Some([[0.55, 0.41], [0.16, 0.08]])),
    ("PHPR and PNPR", None),
    ("persistence (IPMP)", Some([[0.68, 0.50], [0.47, 0.23]])),
    ("straight growth (IMSD)", Some([[0.13, 0.07], [0.05, 0.03]])),
    ("evenness in time (NINOS2-T)", Some([[0.88, 0.74], [0.70, 0.42]])),
];

const LENGTH: usize = 2048;
const HOP: usize = 320;
const BIN_HZ: f64 = 16_000.0 / LENGTH as f64;

/// Candidates of a frame: the strongest peaks. Frames of a growth, and the least growth in dB.
const CANDIDATES: usize = 10;
const GROWS_FRAMES: usize = 16;
const GROWS_DB: f32 = 3.0;

/// Frames of the persistence: the 0.3 s of five frames as published, which overlap by less. Frames of the evenness, as published.
const STAYS_FRAMES: usize = 16;
const EVEN_FRAMES: usize = 32;

/// Lines further than this under the loud level of the clip don't count, in dB.
const UNDER_DB: f32 = 20.0;

/// Marks of a clip at 16 kHz.
pub(super) fn marks(clip: &[f32]) -> Marks {
    let frames = levels(clip);
    let mut highest: Vec<f32> =
        frames.iter().map(|frame| frame.iter().copied().fold(-120.0, f32::max)).collect();
    highest.sort_by(f32::total_cmp);
    let loud_db = highest[highest.len() * 9 / 10];
    let tops: Vec<Vec<usize>> = frames.iter().map(|frame| candidates(frame)).collect();
    let mut marks = [f64::MIN; 7];
    for (at, frame) in frames.iter().enumerate() {
        let mean = frame.iter().map(|db| 10f32.powf(db / 10.0)).sum::<f32>() / frame.len() as f32;
        for &bin in tops[at].iter().filter(|bin| frame[**bin] >= loud_db - UNDER_DB) {
            let over_mean = frame[bin] - 10.0 * mean.log10();
            let (harmonics, beside) = (over_harmonics(frame, bin), over_neighbours(frame, bin));
            let mut mark = |way: usize, value: f32| marks[way] = marks[way].max(f64::from(value));
            mark(0, over_mean);
            mark(1, harmonics);
            mark(2, beside);
            mark(3, harmonics.min(beside));
            let first = |n_frames: usize| (at + 1).checked_sub(n_frames);
            let course = |from: usize| -> Vec<f32> {
                frames[from..=at].iter().map(|frame| frame[bin]).collect()
            };
            if let Some(from) = first(STAYS_FRAMES) {
                let n_in = tops[from..=at].iter().filter(|tops| tops.contains(&bin)).count();
                mark(4, n_in as f32 / STAYS_FRAMES as f32);
            }
            if let Some(course) = first(GROWS_FRAMES).map(course)
                && course[GROWS_FRAMES - 1] - course[0] > GROWS_DB
            {
                mark(5, -bend(&course));
            }
            if let Some(from) = first(EVEN_FRAMES) {
                mark(6, evenness(&course(from)));
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

/// How evenly a course of levels in dB lies in time, by its magnitudes y over Q frames: `(|y|2 / |y|4 - 1) / (Q^(1/4) - 1)`, 1 for a
/// level that stays and 0 for a single frame.
pub(super) fn evenness(course_db: &[f32]) -> f32 {
    let squares: Vec<f64> = course_db.iter().map(|db| 10f64.powf(f64::from(*db) / 10.0)).collect();
    let fourths: f64 = squares.iter().map(|square| square * square).sum();
    let ratio = squares.iter().sum::<f64>().sqrt() / fourths.powf(0.25);
    ((ratio - 1.0) / ((course_db.len() as f64).powf(0.25) - 1.0)) as f32
}
