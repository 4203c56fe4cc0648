//! Tests of the windows of the ten bands.

use deskside::coach::{BANDS, window};
use deskside::session::Role;

/// Published spectrum of speech in the ten bands, re the total, dB: Byrne et al., JASA 1994, combined talkers,
/// summed from the third-octaves 63 Hz to 16 kHz (no value below).
const SPEECH_DB: [Option<f64>; 10] = [
    None,
    Some(-15.2),
    Some(-6.8),
    Some(-7.3),
    Some(-3.2),
    Some(-12.3),
    Some(-17.3),
    Some(-21.9),
    Some(-23.0),
    Some(-23.3),
];

#[test]
fn the_published_speech_spectrum_lies_inside_the_speech_windows() {
    for (band, level_db) in SPEECH_DB.into_iter().enumerate() {
        let (low, high) = window(Role::Speech, band);
        let Some(level_db) = level_db else { continue };
        let is_inside =
            low.is_none_or(|low| level_db >= low) && high.is_none_or(|high| level_db <= high);
        assert!(is_inside, "{}: {level_db} dB is outside {low:?} to {high:?}", BANDS[band]);
    }
}

#[test]
fn a_kick_has_its_weight_below_112_hz() {
    assert_eq!(window(Role::Kick, 0), (Some(-10.0), Some(-2.0)));
    assert_eq!(window(Role::Kick, 9), (None, Some(-20.0)));
}

#[test]
fn every_window_is_a_range_and_every_pitched_role_has_one() {
    let mut n_roles = 0;
    for role in Role::ALL {
        let windows: Vec<_> = (0..BANDS.len()).map(|band| window(role, band)).collect();
        n_roles += usize::from(windows.iter().any(|(_, high)| high.is_some()));
        for (low, high) in windows {
            assert!(
                low.zip(high).is_none_or(|(low, high)| low < high),
                "{}: {low:?} to {high:?}",
                role.word()
            );
        }
    }
    assert_eq!(n_roles, 19, "nineteen roles have windows");
    assert_eq!(window(Role::Click, 0), (None, None), "a click has none");
    assert_eq!(window(Role::Speech, 10), (None, None), "there are ten bands");
}
