//! Turns of two players, followed with what was learnt at the beginning.

use deskside::relate::excess::{Listener, fit};
use deskside::relate::follow::Follower;
use deskside::relate::grid::Grid;
use deskside::relate::separation::separate;
use deskside::relate::sounding::Manner;
use deskside::relate::spectrogram::Transform;

use crate::support::sharing::{RATE_HZ, microphones, plays, spectra};

/// Frames at the borders of turns may go either way: two a second, 23 frames a second.
const LEAST_RIGHT: f64 = 0.9;

fn follower(minutes: &[Vec<f32>]) -> Follower {
    let held = spectra(Grid::short(RATE_HZ), minutes);
    let separation = separate(&held, &[0, 1], None);
    let listeners = [0, 1].map(|one| Listener {
        channel: one,
        own: Some(one),
        others: vec![1 - one],
        from_band: 0,
        manner: Manner::Held,
    });
    let mics = [0, 1].map(|one| held.band_power(one));
    let gates = fit(&separation.power, &mics, &listeners, held.grid());
    let gates = gates.into_iter().flatten().collect();
    let transform = Transform::new(held.grid().clone());
    Follower::new(transform, 2, &[0, 1], &separation.demix, gates)
}

#[test]
fn players_are_followed_beyond_the_minutes_that_were_learnt() {
    let all = microphones(30);
    let minutes = all.clone().map(|samples| samples[..12 * RATE_HZ as usize].to_vec());
    let mut whole = follower(&minutes);
    let hop_s = whole.hop_s();
    whole.push(&[&all[0], &all[1]]);
    let whole = whole.finish();
    assert_eq!(whole.len(), 2);
    for (player, followed) in whole.iter().enumerate() {
        assert_eq!(followed.channel, player);
        let right = followed.sounds.iter().enumerate();
        let n_right =
            right.filter(|(t, sounds)| plays(player, (t + 1) as f64 * hop_s) == **sounds).count();
        let share = n_right as f64 / followed.sounds.len() as f64;
        assert!(share > LEAST_RIGHT, "player {player}: {share}");
    }
    let mut cut = follower(&minutes);
    for (first, second) in all[0].chunks(5003).zip(all[1].chunks(5003)) {
        cut.push(&[first, second]);
    }
    assert_eq!(whole, cut.finish(), "blocks may be cut anywhere");
}
