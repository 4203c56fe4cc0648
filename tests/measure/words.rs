//! Words in the hall: shares of speech and decay times whose modulation transfer is known in closed form.

use deskside::dsp::thirds::N_BANDS;
use deskside::measure::words::{kept, words};
use deskside::measure::{Thirds, Trace};
use deskside::unit::{Span, Unmeasured};

use crate::support::feeding::assert_near;

/// Codes of a trace are 0.02 dB apart; where speech lies under the noise, their difference counts tenfold.
const ROUNDING: f64 = 0.01;

const TALK: [Span; 1] = [Span { start_s: 0.0, end_s: 30.0 }];
const QUIET: [Span; 1] = [Span { start_s: 30.0, end_s: 60.0 }];

/// A minute: talk at a level in the first half, noise throughout at another, in every band.
fn minute(talk_db: f64, noise_db: f64) -> Thirds {
    let power = |db: f64| 10f64.powf(db / 10.0);
    let mut bands = vec![Trace::new(0.2); N_BANDS];
    for step in 0..300 {
        let own = if step < 150 { power(talk_db) } else { 0.0 };
        bands.iter_mut().for_each(|band| band.push_power(own + power(noise_db)));
    }
    Thirds { bands }
}

#[test]
fn noise_alone_takes_what_the_band_audibility_of_ansi_s3_5_says() {
    // (S/N + 15) / 30, held within 0 and 1.
    for (over_db, expected) in [(20.0, 1.0), (15.0, 1.0), (6.0, 0.7), (0.0, 0.5), (-9.0, 0.2)] {
        let found = words(&minute(-40.0 + over_db, -40.0), &TALK, &QUIET, None).unwrap();
        // The quietest tenth of equal noise is that noise.
        assert_near(found.in_noise, expected, ROUNDING, &format!("{over_db} dB over the noise"));
        assert_eq!(found.in_hall, None, "no decay time");
    }
}

#[test]
fn decay_alone_takes_what_its_modulation_transfer_says() {
    // Houtgast and Steeneken 1985: m = 1 / sqrt(1 + (2 pi F T / 13.8)^2); by hand for T = 1 s.
    let by_hand: f64 = (0..14)
        .map(|nth| {
            let rate_hz = 0.63 * 2f64.powf(f64::from(nth) / 3.0);
            let m = (1.0 + (0.455_303 * rate_hz).powi(2)).powf(-0.5);
            ((10.0 * (m / (1.0 - m)).log10() + 15.0) / 30.0).clamp(0.0, 1.0)
        })
        .sum();
    assert_near(kept(1.0, 1.0), by_hand / 14.0, 1e-4, "T = 1 s");
    assert_near(kept(1.0, 0.0), 1.0, 1e-6, "no decay");
    // From memory: a hall with T = 1 s is "fair" (0.45 to 0.60), one of 0.4 s "good", one of 3 s "poor".
    assert!((0.45..0.66).contains(&kept(1.0, 1.0)), "{}", kept(1.0, 1.0));
    assert!(kept(1.0, 0.4) > 0.66, "{}", kept(1.0, 0.4));
    assert!(kept(1.0, 3.0) < 0.45, "{}", kept(1.0, 3.0));
}

#[test]
fn noise_and_decay_take_more_than_each() {
    let found = words(&minute(-34.0, -40.0), &TALK, &QUIET, Some(1.2)).unwrap();
    let in_hall = found.in_hall.unwrap();
    assert!(in_hall < found.in_noise && in_hall < kept(1.0, 1.2), "{found:?}");
}

#[test]
fn too_little_talk_low_rates_and_silence_say_nothing() {
    let short = [Span { start_s: 0.0, end_s: 10.0 }];
    let little = words(&minute(-20.0, -40.0), &short, &QUIET, None);
    assert!(matches!(little, Err(Unmeasured::TooLittleActive { .. })), "{little:?}");
    let mut narrow = minute(-20.0, -40.0);
    narrow.bands.truncate(20);
    assert!(words(&narrow, &TALK, &QUIET, None).is_err(), "4 kHz is not there");
    let mut zeros = vec![Trace::new(0.2); N_BANDS];
    zeros.iter_mut().for_each(|band| (0..300).for_each(|_| band.push_power(0.0)));
    assert_eq!(words(&Thirds { bands: zeros }, &TALK, &QUIET, None), Err(Unmeasured::Silent));
}
