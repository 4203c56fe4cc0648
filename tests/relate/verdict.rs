//! What bears spill out, against the coherence that spill makes: `g / (1 + g)` where it lies `10 log10 g` over the microphone's own
//! source (G. C. Carter, C. H. Knapp, A. H. Nuttall, IEEE Trans. Audio Electroacoust. AU-21(4), 1973: SNR/(1 + SNR)).

use deskside::relate::verdict::{Arrives, borne_out, capped};
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
        let most = |arrives, coherent_share| borne_out(&told, arrives, Some(coherent_share));
        assert_eq!(most(Arrives::Surely, coherent(db)), Some(1.0), "{db} dB, dry");
        assert_eq!(most(Arrives::Surely, coherent(db - ROOM_DB)), Some(1.0), "{db} dB, in a room");
        assert_eq!(most(Arrives::Surely, coherent(db - TOO_MUCH_DB)), None, "{db} dB, of no room");
        assert_eq!(most(Arrives::Surely, 0.0), None, "{db} dB of a stranger");
        assert_eq!(most(Arrives::Never, coherent(db)), None, "{db} dB that never arrives");
        assert_eq!(most(Arrives::Somehow, coherent(db)), Some(0.5), "{db} dB at some time");
    }
}

#[test]
fn what_is_not_known_speaks_against_nothing() {
    let bound = Fact::AtMost { at_most: -20.0, confidence: 0.9 };
    assert_eq!(borne_out(&Fact::sure(-10.0, 0.7), Arrives::Surely, None), Some(1.0));
    assert_eq!(borne_out(&bound, Arrives::Surely, Some(0.0)), Some(1.0), "no value");
}

#[test]
fn a_level_that_is_doubted_bounds_from_above() {
    let told = Fact::sure(-12.0, 0.7);
    let Fact::AtMost { at_most, .. } = capped(&told, None) else { panic!("a bound") };
    assert!(at_most >= -12.0, "what was told may be true: {at_most}");
    let missing = Fact::missing(Unmeasured::Silent);
    assert_eq!(capped(&missing, None), missing);
    assert_eq!(capped(&told, Some(0.5)), Fact::sure(-12.0, 0.5));
    assert_eq!(capped(&told, Some(1.0)), told);
}
