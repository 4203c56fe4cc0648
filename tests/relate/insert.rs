//! Channels that enter the mix later than the others, or inverted.

use deskside::relate::colour::{apart, products};
use deskside::relate::insert::inserts;
use deskside::relate::spectrogram::BLOCK;

use crate::support::desk::{N_PLAYERS, Strip, add, held, microphones, mix};

#[test]
fn an_extra_delay_and_an_inversion_are_found_and_others_have_none() {
    let raw = microphones();
    let mut strips = vec![Strip::plain(-6.0, -0.2); N_PLAYERS];
    strips[3].is_inverted = true;
    let mut main = mix(&raw[1..], &strips[1..]);
    let late = strips[0].run(&raw[0]).map(|side| [vec![0.0; 64], side].concat());
    add(&mut main, &late);
    let (held, patch) = held(&raw, &main);
    let blocks: Vec<usize> = (0..held.n_frames().div_ceil(BLOCK)).collect();
    let ones = vec![vec![1.0; held.n_frames()]; N_PLAYERS];
    let found = products(&held, &patch, &ones, &ones[0], &blocks);
    let found = inserts(held.grid(), &found, &apart(&found));
    for (channel, insert) in found.iter().enumerate() {
        let insert = insert.expect("every channel is heard");
        let expected = if channel == 0 { 64.0 } else { 0.0 };
        assert!((insert.samples - expected).abs() <= 0.5, "{channel}: {insert:?}");
        let sign = if channel == 3 { -1.0 } else { 1.0 };
        assert!((insert.polarity - sign).abs() < 1e-9, "{channel}: {insert:?}");
    }
}

#[test]
fn channels_that_are_not_in_the_mix_have_no_delay() {
    let raw = microphones();
    let (held, patch) = held(&raw[..2], &mix(&raw[4..5], &[Strip::plain(0.0, 0.0)]));
    let ones = vec![vec![1.0; held.n_frames()]; 2];
    let blocks: Vec<usize> = (0..held.n_frames().div_ceil(BLOCK)).collect();
    let silent = products(&held, &patch, &ones, &ones[0], &[]);
    assert_eq!(inserts(held.grid(), &silent, &apart(&silent)), vec![None, None], "no frames");
    let found = products(&held, &patch, &ones, &ones[0], &blocks);
    for insert in inserts(held.grid(), &found, &apart(&found)).into_iter().flatten() {
        // What is found is the way of the spill: 60 samples a place, not the desk.
        assert!(insert.samples.abs() > 50.0, "{insert:?}");
    }
}
