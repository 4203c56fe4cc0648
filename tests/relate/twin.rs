//! Twin channels: copies are found at the residual that follows from what was added to them.

use deskside::relate::twin::{Twin, TwinMeter};

use crate::support::planted::{Dice, UNEVEN, mix, samples, stored};

fn find(planes: &[Vec<f32>], lengths: &[usize]) -> Vec<Twin> {
    let mut meter = TwinMeter::new(planes.len());
    let (mut from, mut turn) = (0, 0);
    while from < planes[0].len() {
        let to = (from + lengths[turn % lengths.len()]).min(planes[0].len());
        let block: Vec<&[f32]> = planes.iter().map(|plane| &plane[from..to]).collect();
        meter.push(&block);
        (from, turn) = (to, turn + 1);
    }
    meter.finish()
}

fn noise(seed: u64) -> Vec<f64> {
    Dice::new(seed).noise(0.1, samples(30.0))
}

fn scaled(x: &[f64], gain: f64) -> Vec<f64> {
    x.iter().map(|x| gain * x).collect()
}

/// A copy with independent noise at r of its power has correlation 1/sqrt(1 + r), so a residual of r/(1 + r).
#[test]
fn residual_is_the_share_that_was_added() {
    for added_db in [-25.0, -40.0, -55.0] {
        let share: f64 = 10f64.powf(added_db / 10.0);
        let other = mix(&noise(1), &scaled(&noise(2), share.sqrt()));
        let found = find(&[stored(&noise(1), 24), stored(&other, 24)], &UNEVEN);
        let expected = 10.0 * (share / (1.0 + share)).log10();
        // 90 000 samples give the power of the rest within 1.5 % (3 sigma): 0.06 dB.
        assert!((found[0].residual_db - expected).abs() < 0.1, "{found:?}, expected {expected}");
    }
}

#[test]
fn scaled_and_inverted_copies_are_twins() {
    let planes = [noise(1), noise(2), scaled(&noise(1), -0.25), scaled(&noise(2), 1.0)];
    let found = find(&planes.map(|x| stored(&x, 24)), &UNEVEN);
    let pairs: Vec<(usize, usize)> = found.iter().map(|twin| (twin.first, twin.second)).collect();
    assert_eq!(pairs, [(0, 2), (1, 3)], "{found:?}");
    assert!(found[0].polarity < 0.0 && found[1].polarity > 0.0, "{found:?}");
    assert!(found.iter().all(|twin| twin.residual_db < -60.0), "{found:?}");
}

#[test]
fn independent_delayed_and_silent_channels_are_none() {
    let delayed: Vec<f64> = noise(1).iter().skip(5).copied().chain([0.0; 5]).collect();
    let silent = vec![0.0; delayed.len()];
    let planes = [noise(1), noise(2), delayed, silent.clone(), silent].map(|x| stored(&x, 24));
    assert_eq!(find(&planes, &UNEVEN), [], "white noise 5 samples apart has no correlation");
}

#[test]
fn common_offset_makes_no_twins() {
    let offset = |seed| scaled(&noise(seed), 0.01).iter().map(|x| x + 0.1).collect::<Vec<_>>();
    assert_eq!(
        find(&[stored(&offset(1), 24), stored(&offset(2), 24)], &UNEVEN),
        [],
        "means are taken out"
    );
}

#[test]
fn result_does_not_depend_on_how_blocks_are_cut() {
    let planes = [stored(&noise(1), 24), stored(&mix(&noise(1), &scaled(&noise(3), 0.02)), 24)];
    let whole = find(&planes, &[1 << 22]);
    assert_eq!(whole.len(), 1, "there is something to compare");
    assert_eq!(find(&planes, &UNEVEN), whole, "uneven blocks");
}
