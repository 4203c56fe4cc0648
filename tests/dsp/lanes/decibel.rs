//! Powers in dB: every copy gives the bits of the plain one, and what the logarithm of the standard library gives.

use deskside::dsp::lanes::{Isa, to_db};

/// As the kernel promises.
const TOLERANCE_DB: f64 = 1e-4;

#[test]
fn every_copy_gives_the_logarithm() {
    // Across and beside the powers of two, from -138 dB to +30 dB.
    let powers: Vec<f32> = (0..56)
        .flat_map(|octave| {
            let base = 1.6e-14 * 2f32.powi(octave);
            [1.0, 1.2, 1.399, 1.4143, 1.7, 1.9999].map(|rest| rest * base)
        })
        .collect();
    let mut first = None;
    for isa in Isa::all() {
        let mut levels = powers.clone();
        to_db(isa, &mut levels);
        for (power, level) in powers.iter().zip(&levels) {
            let expected = 10.0 * f64::from(*power).log10();
            let off = (f64::from(*level) - expected).abs();
            assert!(off < TOLERANCE_DB, "{power}: {level} dB, not {expected}");
        }
        assert_eq!(&levels, first.get_or_insert(levels.clone()), "{isa:?}: other bits");
    }
}

#[test]
fn nothing_is_140_db_down() {
    let mut levels = [0.0, 1e-20, -1.0];
    to_db(Isa::PLAIN, &mut levels);
    for level in levels {
        assert!((level + 140.0).abs() < 1e-3, "{level} dB");
    }
}
