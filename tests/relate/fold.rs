//! Mono loss and lean: sides whose sum is known.

use deskside::relate::{Fold, FoldMeter};
use deskside::unit::{Span, Unmeasured};

use crate::support::planted::{Dice, RATE_HZ, UNEVEN, amplitude, mix, samples, sine, stored};

fn measure(left: &[f64], right: &[f64], lengths: &[usize]) -> Fold {
    let (left, right) = (stored(left, 24), stored(right, 24));
    let mut meter = FoldMeter::new(RATE_HZ);
    let (mut from, mut turn) = (0, 0);
    while from < left.len() {
        let to = (from + lengths[turn % lengths.len()]).min(left.len());
        meter.push(&left[from..to], &right[from..to]);
        (from, turn) = (to, turn + 1);
    }
    meter.finish()
}

fn noise(seed: u64, time_s: f64) -> Vec<f64> {
    Dice::new(seed).noise(0.05, samples(time_s))
}

fn scaled(x: &[f64], gain: f64) -> Vec<f64> {
    x.iter().map(|x| gain * x).collect()
}

/// 20 s of noise have some 10^5 independent values in the narrower band: 0.03 dB; times three.
const TOLERANCE_LU: f64 = 0.1;

/// The powers of (l + r)/2 on both sides: `2 ((1 + c)/2) / 2 = (1 + c)/2` of the sides' power at correlation c
/// (ITU-R BS.1770 adds the channels' powers).
#[test]
fn loss_follows_from_the_correlation_of_the_sides() {
    let same = noise(1, 20.0);
    let span = [Span::new(0.0, 20.0)];
    for (correlation, right) in [(1.0, same.clone()), (0.0, noise(2, 20.0))] {
        let found = measure(&same, &right, &UNEVEN).mono_fold(&span).unwrap();
        let expected = 10.0 * f64::log10(f64::midpoint(1.0, correlation));
        assert!((found.whole_lu - expected).abs() < TOLERANCE_LU, "{found:?}, not {expected}");
        assert!((found.middle_lu - expected).abs() < TOLERANCE_LU, "{found:?}, not {expected}");
    }
    let inverted = measure(&same, &scaled(&same, -1.0), &UNEVEN).mono_fold(&span).unwrap();
    assert!(inverted.whole_lu < -60.0 && inverted.whole_lu.is_finite(), "{inverted:?}");
}

/// A tone at 1 kHz is inverted, one at 8 kHz is not: the middle band loses what the whole keeps.
#[test]
fn middle_band_is_told_apart() {
    let (low, high) = (sine(1000.0, 0.05, 20.0), sine(8000.0, 0.2, 20.0));
    let left = mix(&low, &high);
    let right = mix(&scaled(&low, -1.0), &high);
    let found = measure(&left, &right, &UNEVEN).mono_fold(&[Span::new(1.0, 19.0)]).unwrap();
    assert!(found.middle_lu < -6.0 && found.whole_lu > -1.0, "{found:?}");
}

#[test]
fn only_the_spans_asked_for_count() {
    let left = noise(1, 40.0);
    let right: Vec<f64> =
        left.iter().enumerate().map(|(n, x)| if n < samples(20.0) { -x } else { *x }).collect();
    let fold = measure(&left, &right, &UNEVEN);
    let song = fold.mono_fold(&[Span::new(21.0, 39.0)]).unwrap();
    assert!(song.whole_lu.abs() < TOLERANCE_LU, "{song:?}");
}

#[test]
fn lean_is_the_difference_of_the_sides() {
    let (left, right) = (noise(1, 150.0), scaled(&noise(2, 150.0), amplitude(-4.0)));
    let found = measure(&left, &right, &UNEVEN).lean().unwrap();
    assert!((found.median_lu - 4.0).abs() < TOLERANCE_LU, "{found:?}");
    // Two blocks of 60 s and one of 30 s, all beyond 3 LU.
    assert!((found.far_s - 150.0).abs() < 0.11, "{found:?}");
    let level = measure(&left, &noise(2, 150.0), &UNEVEN).lean().unwrap();
    assert!(level.median_lu.abs() < TOLERANCE_LU && level.far_s < 0.1, "{level:?}");
}

#[test]
fn silent_side_and_silence_have_no_lean() {
    let (sound, silence) = (noise(1, 65.0), vec![0.0; samples(65.0)]);
    let one = Unmeasured::Because("one side is silent");
    assert_eq!(measure(&sound, &silence, &[4096]).lean(), Err(one), "right is silent");
    assert_eq!(measure(&silence, &silence, &[4096]).lean(), Err(Unmeasured::Silent), "both");
    let short = measure(&noise(1, 10.0), &noise(2, 10.0), &[4096]).lean();
    assert_eq!(short, Err(Unmeasured::TooShort { have_s: 10.0, need_s: 30.0 }), "10 s");
}

#[test]
fn result_does_not_depend_on_how_blocks_are_cut() {
    let (left, right) = (noise(1, 5.0), noise(2, 5.0));
    assert_eq!(measure(&left, &right, &UNEVEN), measure(&left, &right, &[1 << 22]), "uneven");
}
