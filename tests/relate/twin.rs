//! Twins against copies, copies with noise of a known level, and strangers.

use deskside::relate::twin::{Twin, TwinMeter};

use crate::support::noise::Noise;

const N_SAMPLES: usize = 10 * 48_000;

/// 60,000 samples count: the power of the noise is known within 0.05 dB.
const TOLERANCE_DB: f64 = 0.2;

fn twins(planes: &[Vec<f32>], cuts: usize) -> Vec<Twin> {
    let mut meter = TwinMeter::new(planes.len());
    let mut start = 0;
    while start < N_SAMPLES {
        let end = (start + cuts).min(N_SAMPLES);
        let block: Vec<&[f32]> = planes.iter().map(|plane| &plane[start..end]).collect();
        meter.push(&block);
        start = end;
    }
    meter.finish()
}

#[test]
fn a_copy_is_found_with_its_sign_whatever_its_gain() {
    let source = Noise::new(1).samples(N_SAMPLES);
    let copy: Vec<f32> = source.iter().map(|sample| -0.25 * sample).collect();
    let stranger = Noise::new(2).samples(N_SAMPLES);
    let silent = vec![0.0; N_SAMPLES];
    let found = twins(&[source, stranger, copy, silent.clone(), silent], 4096);
    assert_eq!(found.len(), 1, "strangers and silent channels are no twins: {found:?}");
    assert_eq!((found[0].first, found[0].second), (0, 2), "which");
    assert!(found[0].residual_db < -100.0, "identical: {} dB", found[0].residual_db);
    assert!(found[0].polarity < 0.0, "inverted");
}

#[test]
fn the_residual_is_the_noise_between_them() {
    // y = x + n with n 30 dB down: 1 - r^2 = n^2 / (x^2 + n^2), -30.0 dB.
    let source = Noise::new(1).samples(N_SAMPLES);
    let mut noise = Noise::new(2);
    let other: Vec<f32> = source.iter().map(|x| x + 0.031_623 * noise.next()).collect();
    let found = twins(&[source, other], N_SAMPLES);
    let residual_db = found[0].residual_db;
    assert!((residual_db + 30.0).abs() < TOLERANCE_DB, "expected -30 dB, found {residual_db}");
}

#[test]
fn a_neighbour_15_db_apart_is_no_twin() {
    let source = Noise::new(1).samples(N_SAMPLES);
    let mut noise = Noise::new(2);
    let other: Vec<f32> = source.iter().map(|x| x + 0.178 * noise.next()).collect();
    assert!(twins(&[source, other], 4096).is_empty(), "-15 dB is above -20 dB");
}

#[test]
fn the_cut_of_blocks_changes_nothing_that_is_told() {
    let source = Noise::new(1).samples(N_SAMPLES);
    let mut noise = Noise::new(2);
    let other: Vec<f32> = source.iter().map(|x| x + 0.01 * noise.next()).collect();
    let planes = [source, other];
    let (whole, cut) = (twins(&planes, N_SAMPLES), twins(&planes, 777));
    // Products are summed in single precision within a run: cut runs round differently.
    let difference_db = (whole[0].residual_db - cut[0].residual_db).abs();
    assert!(difference_db < 0.01, "uneven blocks differ by {difference_db} dB");
}
