//! The published criteria for howls on courses and tones whose marks are known.
//!
//! Source: definitions of the two papers that the criteria are after; values of the evenness follow from its formula.

use super::howl_witness::{NAMES, evenness, marks};
use crate::support::howling::{Programme, RATE_HZ, howling_in};
use crate::support::planted::Dice;

/// Frames of a course, as published.
const N_FRAMES: usize = 32;

#[test]
fn evenness_in_time_has_its_known_values() {
    let of = |level_db: fn(f32) -> f32| {
        let course: Vec<f32> = (0..N_FRAMES).map(|frame| level_db(frame as f32)).collect();
        evenness(&course)
    };
    assert!((of(|_| -30.0) - 1.0).abs() < 1e-6, "a level that stays");
    assert!(
        of(|frame| if (frame - 9.0).abs() < 0.5 { -30.0 } else { f32::NEG_INFINITY }).abs() < 1e-6,
        "a spike"
    );
    assert!((of(|frame| frame - 60.0) - 0.521).abs() < 5e-4, "growth of 1 dB a frame");
    // Magnitudes of noise in a bin: the root of two normal squares.
    let mut dice = Dice::new(5);
    let mut noise = || -> Vec<f32> {
        let level = |(a, b): (f64, f64)| (10.0 * (a * a + b * b).log10()) as f32;
        (0..N_FRAMES).map(|_| level((dice.normal(), dice.normal()))).collect()
    };
    let mean = (0..4_000).map(|_| f64::from(evenness(&noise()))).sum::<f64>() / 4_000.0;
    assert!((mean - 0.740).abs() < 0.005, "noise: {mean}");
}

/// The mark of a criterion, by a word of its name.
fn mark(clip: &[f32], word: &str) -> f64 {
    let way = NAMES.iter().position(|(name, _)| name.contains(word)).unwrap();
    marks(clip)[way]
}

#[test]
fn a_tone_that_stays_persists_is_even_and_does_not_grow() {
    let at = |n: u32| std::f64::consts::TAU * 1_003.0 * f64::from(n) / f64::from(RATE_HZ);
    let tone: Vec<f32> = (0..3 * RATE_HZ).map(|n| (0.1 * at(n).sin()) as f32).collect();
    assert!((mark(&tone, "IPMP") - 1.0).abs() < 1e-9, "a candidate in all frames");
    assert!((mark(&tone, "NINOS2-T") - 1.0).abs() < 1e-3, "even");
    assert!(mark(&tone, "IMSD") < -1e9, "straight, but without growth");
    // Published for peaks of howls; a steady sine under this window stands 24 dB or more over the bins two to seven away in the mean.
    assert!(mark(&tone, "(PNPR)") > 15.0, "over its neighbours");
}

#[test]
fn loops_that_howl_persist_and_are_even_in_talk_and_in_music() {
    for programme in [Programme::Talk, Programme::Music] {
        let howls = (1..7).map(|seed| howling_in(seed, programme));
        let loud: Vec<_> = howls.filter(|(_, truth)| truth.over_db > 10.0).collect();
        assert!(loud.len() >= 2, "{programme:?}: {} howl", loud.len());
        for (clip, truth) in &loud {
            assert!(mark(clip, "IPMP") > 0.9, "{programme:?}, {:?}", truth.lines_hz);
            assert!(mark(clip, "NINOS2-T") > 0.9, "{programme:?}, {:?}", truth.lines_hz);
        }
    }
}
