//! What a channel gave to a mix, as sound.

use deskside::relate::blend::blend;
use deskside::relate::part::Way;

use crate::support::desk::{Strip, held, microphones, mix};

/// Power of a difference re the power of what it should be, in dB, first and last tenth of a second left out.
fn error_db(found: &[f32], expected: &[f32]) -> f64 {
    let inside = 4_800..found.len() - 9_600;
    let (found, expected) = (&found[inside.clone()], &expected[inside]);
    let square = |x: f32| f64::from(x) * f64::from(x);
    let error: f64 = found.iter().zip(expected).map(|(a, b)| square(a - b)).sum();
    let power: f64 = expected.iter().map(|&b| square(b)).sum();
    10.0 * (error / power).log10()
}

fn strips() -> Vec<Strip> {
    [(-3.0, 0.0), (-6.0, -0.5), (-12.0, 0.5), (0.0, 0.2), (-9.0, -0.2), (-4.0, 0.0)]
        .map(|(gain_db, pan)| Strip::plain(gain_db, pan))
        .to_vec()
}

#[test]
fn a_part_is_what_the_strip_gave() {
    let raw = microphones();
    let (held, patch) = held(&raw, &mix(&raw, &strips()));
    let read = blend(&held, &patch).expect("there is sound");
    for k in [0, 2, 3] {
        let expected = strips()[k].run(&raw[k]);
        let way = Way::of(held.grid(), &read.colours, k, |_| 1.0);
        let part = way.part(&raw[k], &read.course.gains[k]);
        for side in 0..2 {
            let error_db = error_db(&part[side], &expected[side]);
            assert!(error_db < -20.0, "channel {k}, side {side}: {error_db} dB");
        }
    }
}

#[test]
fn a_changed_mix_is_the_mix_of_a_changed_strip() {
    let raw = microphones();
    let mut louder = strips();
    louder[3].gain_db += 6.0;
    let (as_it_was, changed) = (mix(&raw, &strips()), mix(&raw, &louder));
    let (held, patch) = held(&raw, &as_it_was);
    let read = blend(&held, &patch).expect("there is sound");
    let way = Way::of(held.grid(), &read.colours, 3, |_| 10f64.powf(6.0 / 20.0) - 1.0);
    let more = way.part(&raw[3], &read.course.gains[3]);
    for side in 0..2 {
        let found: Vec<f32> =
            as_it_was[side].iter().zip(&more[side]).map(|(was, more)| was + more).collect();
        let error_db = error_db(&found, &changed[side]);
        assert!(error_db < -25.0, "side {side}: {error_db} dB");
    }
}
