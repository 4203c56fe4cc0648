//! Loudness of excerpts.

use deskside::measure::excerpt::{loudness_power, matched};

use crate::support::signals::{noise, sine};

#[test]
fn a_sine_at_1_khz_is_as_loud_as_the_standard_says() {
    // ITU-R BS.1770-5 annex 1: a full-scale sine of 997 Hz on one side reads -3.01 LUFS, -0.691 dB being part of the formula.
    let sides = [sine(48_000, 997.0, 1.0, 0.0, 5 * 48_000), vec![0.0; 5 * 48_000]];
    let lufs = -0.691 + 10.0 * loudness_power(&sides, 48_000).log10();
    assert!((lufs + 3.01).abs() < 0.02, "{lufs}");
}

#[test]
fn a_matched_passage_is_as_loud_and_never_over() {
    let soft = [noise(1, 0.02, 96_000), noise(2, 0.02, 96_000)];
    let mut loud = [noise(3, 0.3, 96_000), noise(4, 0.1, 96_000)];
    let power = loudness_power(&soft, 48_000);
    matched(&mut loud, power, 48_000);
    let ratio_db = 10.0 * (loudness_power(&loud, 48_000) / power).log10();
    assert!(ratio_db.abs() < 0.01, "{ratio_db}");
    matched(&mut loud, 100.0, 48_000);
    let top = loud.iter().flatten().fold(0.0f32, |top, x| top.max(x.abs()));
    assert!(top <= 1.0 && top > 0.999, "{top}");
    let mut silent = [vec![0.0f32; 100], vec![0.0; 100]];
    matched(&mut silent, power, 48_000);
    assert!(silent.iter().flatten().all(|&x| x == 0.0), "silence stays silence");
}
