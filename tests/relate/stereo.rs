//! Stereo pairs: correlation of mixes whose correlation is known.

use deskside::relate::{StereoMeter, StereoPair};
use deskside::unit::Unmeasured;

use crate::support::planted::{Dice, RATE_HZ, UNEVEN, mix, samples, sine, stored};

fn measure(left: &[f64], right: &[f64], lengths: &[usize]) -> Result<StereoPair, Unmeasured> {
    let (left, right) = (stored(left, 24), stored(right, 24));
    let mut meter = StereoMeter::new(RATE_HZ);
    let (mut from, mut turn) = (0, 0);
    while from < left.len() {
        let to = (from + lengths[turn % lengths.len()]).min(left.len());
        meter.push(&left[from..to], &right[from..to]);
        (from, turn) = (to, turn + 1);
    }
    meter.finish()
}

fn noise(seed: u64, time_s: f64) -> Vec<f64> {
    Dice::new(seed).noise(0.1, samples(time_s))
}

fn scaled(x: &[f64], gain: f64) -> Vec<f64> {
    x.iter().map(|x| gain * x).collect()
}

/// Common noise of power c beside independent noise of power 1 - c on each side has correlation c.
#[test]
fn correlation_is_the_common_share_of_power() {
    for common in [0.0, 0.3, 0.8] {
        for sign in [1.0, -1.0] {
            let both = scaled(&noise(1, 30.0), f64::sqrt(common));
            let [left, right] =
                [2, 3].map(|seed| scaled(&noise(seed, 30.0), f64::sqrt(1.0 - common)));
            let left = mix(&left, &both);
            let right = mix(&right, &scaled(&both, sign));
            let found = measure(&left, &right, &UNEVEN).unwrap();
            // A block holds 2 x 1900 Hz x 0.4 s = 1520 independent values, the median of 75 is ten times surer; the
            // low band has a fifth of that.
            assert!(
                (found.correlation - sign * common).abs() < 0.02,
                "{found:?}, planted {common}"
            );
            assert!((found.low_correlation - sign * common).abs() < 0.04, "{found:?}");
        }
    }
}

#[test]
fn inverted_side_is_inverted_in_every_block() {
    let left = noise(1, 20.0);
    let found = measure(&left, &scaled(&left, -0.7), &UNEVEN).unwrap();
    assert!(found.correlation < -0.999, "{found:?}");
    assert!(found.inverted_percent > 99.9 && found.low_inverted_percent > 99.9, "{found:?}");
    assert_eq!(found.inverted.len(), 1, "one stretch: {:?}", found.inverted);
}

/// Inverted below 100 Hz or above 2 kHz alone is not this measure's business.
#[test]
fn only_the_band_counts() {
    let middle = noise(1, 20.0);
    let left = mix(&sine(40.0, 0.1, 20.0), &mix(&sine(7000.0, 0.3, 20.0), &middle));
    let right = mix(&sine(40.0, -0.1, 20.0), &mix(&sine(7000.0, -0.3, 20.0), &middle));
    assert!(measure(&left, &right, &UNEVEN).unwrap().correlation > 0.9, "the middle agrees");
}

#[test]
fn half_the_time_inverted_reads_half() {
    let left = noise(1, 40.0);
    let right: Vec<f64> =
        left.iter().enumerate().map(|(n, x)| if n < samples(20.0) { -x } else { *x }).collect();
    let found = measure(&left, &right, &UNEVEN).unwrap();
    assert!((found.inverted_percent - 50.0).abs() < 1.5, "one block of 100: {found:?}");
    assert!((found.inverted[0].end_s - 20.0).abs() < 0.5, "{:?}", found.inverted);
}

#[test]
fn silence_on_one_or_both_sides_has_no_value() {
    let (sound, silence) = (noise(1, 10.0), vec![0.0; samples(10.0)]);
    let one = Unmeasured::Because("one side is silent");
    assert_eq!(measure(&sound, &silence, &[4096]), Err(one), "right is silent");
    assert_eq!(measure(&silence, &silence, &[4096]), Err(Unmeasured::Silent), "both");
    let short = measure(&noise(1, 3.0), &noise(2, 3.0), &[4096]);
    assert!(matches!(short, Err(Unmeasured::TooLittleActive { .. })), "3 s: {short:?}");
}

#[test]
fn result_does_not_depend_on_how_blocks_are_cut() {
    let (left, right) = (noise(1, 8.0), mix(&noise(1, 8.0), &noise(2, 8.0)));
    assert_eq!(measure(&left, &right, &UNEVEN), measure(&left, &right, &[1 << 22]), "uneven");
}
