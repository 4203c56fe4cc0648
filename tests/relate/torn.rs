//! When a channel's way through the desk was changed.
//!
//! Source: planted changes; common practice is to change a filter or a pan while the channel plays.

use deskside::relate::blend::blend;
use deskside::relate::shares::shares;
use deskside::relate::torn::torn;

use crate::support::desk::{LENGTH_S, RATE_HZ, Strip, held, microphones, mix};

/// When, in seconds.
const AT_S: usize = 10;

/// The frames with which the ways of three channels change whose first goes by one strip and from [`AT_S`] on by another.
fn found(before: Strip, behind: Strip) -> Vec<Option<usize>> {
    let raw = &microphones()[..3];
    let others = [Strip::plain(-6.0, 1.0), Strip::plain(-3.0, -0.5)];
    let of = |first: Strip| mix(raw, &[vec![first], others.to_vec()].concat());
    let (first, second) = (of(before), of(behind));
    let at = AT_S * RATE_HZ as usize;
    let main = [0, 1].map(|side: usize| [&first[side][..at], &second[side][at..]].concat());
    let (held, patch) = held(raw, &main);
    let blend = blend(&held, &patch).expect("there are channels and sound");
    let (slots, changes) = shares(&held, &patch, &blend, &blend.course.gains, &[]);
    torn(&slots, &changes)
}

#[test]
fn a_high_pass_or_a_pan_that_is_changed_is_found_within_a_second() {
    let plain = Strip::plain(-2.0, -0.5);
    let thin = Strip { high_pass_hz: Some(1_500.0), ..plain.clone() };
    let right = Strip::plain(-2.0, 0.7);
    for behind in [thin, right] {
        let found = found(plain.clone(), behind);
        let frame = found[0].expect("the change is found");
        let at_s = frame as f64 * 2048.0 / f64::from(RATE_HZ);
        assert!((at_s - AT_S as f64).abs() < 1.0, "at {at_s:.1} of {LENGTH_S} s");
    }
}

#[test]
fn a_fader_a_mute_and_a_compressor_change_no_way() {
    let plain = Strip::plain(-2.0, -0.5);
    let louder = Strip::plain(2.0, -0.5);
    let muted = Strip { mute_s: Some([12.0, 16.0]), ..plain.clone() };
    let squeezed = Strip { squeeze_dbfs: Some(-30.0), ..plain.clone() };
    for (before, behind) in
        [(plain.clone(), plain), (louder.clone(), muted), (squeezed.clone(), squeezed)]
    {
        assert_eq!(found(before, behind), [None; 3], "nothing but gains moved");
    }
}
