//! What bears spill out, against the coherence that spill makes: `g / (1 + g)` where it lies `10 log10 g` over the microphone's own
//! source (G. C. Carter, C. H. Knapp, A. H. Nuttall, IEEE Trans. Audio Electroacoust. AU-21(4), 1973: SNR/(1 + SNR)).

use deskside::relate::verdict::{Agreement, Arrives, confidence, fact, is_coherent};
use deskside::unit::Fact;

/// Most of the coherence that a room takes away on simulated stages, in dB.
const ROOM_DB: f64 = 5.0;

/// What no room takes away there, in dB.
const TOO_MUCH_DB: f64 = 9.0;

/// Agreements and arrivals, what tells most first.
const AGREEMENTS: [Agreement; 4] =
    [Agreement::Close, Agreement::Fair, Agreement::Loose, Agreement::None];
const ARRIVALS: [Arrives; 3] = [Arrives::Surely, Arrives::Somehow, Arrives::Never];

fn coherent(bleed_db: f64) -> f64 {
    let gain = 10f64.powf(bleed_db / 10.0);
    gain / (1.0 + gain)
}

#[test]
fn spill_is_borne_out_by_the_coherence_that_it_makes() {
    for db in -25..0 {
        let db = f64::from(db);
        assert!(is_coherent(db, coherent(db)), "{db} dB, dry");
        assert!(is_coherent(db, coherent(db - ROOM_DB)), "{db} dB, in a room");
        assert!(!is_coherent(db, coherent(db - TOO_MUCH_DB)), "{db} dB, of no room");
        assert!(!is_coherent(db, 0.0), "{db} dB of a stranger");
    }
}

#[test]
fn less_that_bears_it_out_never_makes_it_surer() {
    let sure = |agreement, arrives| confidence(agreement, arrives).unwrap_or(0.0);
    for pair in AGREEMENTS.windows(2) {
        for arrives in ARRIVALS {
            assert!(sure(pair[0], arrives) >= sure(pair[1], arrives), "{pair:?}, {arrives:?}");
        }
    }
    for pair in ARRIVALS.windows(2) {
        for agreement in AGREEMENTS {
            assert!(
                sure(agreement, pair[0]) >= sure(agreement, pair[1]),
                "{pair:?}, {agreement:?}"
            );
        }
    }
    for arrives in ARRIVALS {
        assert_eq!(confidence(Agreement::None, arrives), None, "estimates that do not agree");
    }
    assert_eq!(confidence(Agreement::Fair, Arrives::Never), None, "what never arrives");
    assert!(sure(Agreement::Close, Arrives::Surely) >= 0.7);
}

#[test]
fn what_is_not_sure_bounds_from_above() {
    assert_eq!(fact(-12.0, 3.0, Some(0.5), -25.0), Fact::sure(-12.0, 0.5));
    for (level_db, sure) in [(-12.0, None), (-30.0, None), (-30.0, Some(0.7))] {
        let Fact::AtMost { at_most, .. } = fact(level_db, 3.0, sure, -25.0) else {
            panic!("{level_db} dB, {sure:?}: a bound")
        };
        assert!(at_most >= level_db + 3.0, "what was highest may be true: {at_most}");
        assert!(at_most >= -25.0, "what is softer was never tried: {at_most}");
    }
}
