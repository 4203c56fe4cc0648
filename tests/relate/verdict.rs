//! What bears spill out, against the coherence that spill makes: `g / (1 + g)` where it lies `10 log10 g` over the microphone's own
//! source (G. C. Carter, C. H. Knapp, A. H. Nuttall, IEEE Trans. Audio Electroacoust. AU-21(4), 1973: SNR/(1 + SNR)).

use deskside::relate::verdict::{doubted, is_borne_out};
use deskside::unit::{Fact, Unmeasured};

/// Most of the coherence that a room takes away on simulated stages, in dB.
const ROOM_DB: f64 = 5.0;

/// What no room takes away there, in dB.
const TOO_MUCH_DB: f64 = 9.0;

fn coherent(bleed_db: f64) -> f64 {
    let gain = 10f64.powf(bleed_db / 10.0);
    gain / (1.0 + gain)
}

#[test]
fn spill_is_borne_out_by_the_coherence_that_it_makes() {
    for db in -25..0 {
        let db = f64::from(db);
        let told = Fact::sure(db, 0.7);
        assert!(is_borne_out(&told, true, Some(coherent(db))), "{db} dB, dry");
        assert!(is_borne_out(&told, true, Some(coherent(db - ROOM_DB))), "{db} dB, in a room");
        assert!(
            !is_borne_out(&told, true, Some(coherent(db - TOO_MUCH_DB))),
            "{db} dB, of no room"
        );
        assert!(!is_borne_out(&told, true, Some(0.0)), "{db} dB of a stranger");
        assert!(!is_borne_out(&told, false, Some(coherent(db))), "{db} dB that never arrives");
    }
}

#[test]
fn what_is_not_known_speaks_against_nothing() {
    let bound = Fact::AtMost { at_most: -20.0, confidence: 0.9 };
    assert!(is_borne_out(&Fact::sure(-10.0, 0.7), true, None), "no coherence");
    assert!(is_borne_out(&bound, true, Some(0.0)), "no value");
}

#[test]
fn a_level_that_is_doubted_bounds_from_above() {
    let Fact::AtMost { at_most, .. } = doubted(&Fact::sure(-12.0, 0.7)) else { panic!("a bound") };
    assert!(at_most >= -12.0, "what was told may be true: {at_most}");
    let missing = Fact::missing(Unmeasured::Silent);
    assert_eq!(doubted(&missing), missing);
}
