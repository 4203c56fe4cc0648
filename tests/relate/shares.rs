//! Powers of a mix and of what makes it up.

use deskside::relate::blend::blend;
use deskside::relate::shares::shares;

use crate::support::desk::{LENGTH_S, Strip, held, microphones, mix};

#[test]
fn shares_and_the_rest_add_up_to_the_mix() {
    let raw = &microphones()[..3];
    let strips = [Strip::plain(-2.0, -1.0), Strip::plain(-6.0, 1.0), Strip::plain(-3.0, -1.0)];
    let (held, patch) = held(raw, &mix(raw, &strips));
    let found = blend(&held, &patch).expect("there are channels and sound");
    let groups = [vec![0, 2], vec![1]];
    let (slots, _) = shares(&held, &patch, &found, &found.course.gains, &groups);
    assert!((slots.len() as i64 - LENGTH_S as i64).abs() <= 1, "a slot a second");
    let mut frame = 0;
    for (place, slot) in slots.iter().enumerate() {
        assert_eq!(slot.frames[0], frame, "slots adjoin");
        frame = slot.frames[1];
        assert!((slot.start_s - place as f64).abs() < 1e-9, "{}", slot.start_s);
        for band in 10..24 {
            // The first group makes the left side alone, the second the right.
            let main = slot.main[0][band] + slot.main[1][band];
            let made = slot.together[0][band] + slot.together[1][band];
            let rest = slot.rest[0][band] + slot.rest[1][band];
            // A group is added as it is: what it makes differs from the mix by no more than the rest allows.
            let allowed = rest + 2.0 * (rest * main).sqrt() + 1e-3 * main;
            assert!((made - main).abs() <= allowed, "slot {place}, band {band}: {made} of {main}");
            assert!(rest < 0.02 * main, "slot {place}, band {band}: {rest} is left of {main}");
        }
    }
    assert_eq!(frame, held.n_frames(), "all frames");
}
