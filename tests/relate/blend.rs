//! A mix, read: what is known of channels that carry one signal, and of nothing.

use deskside::relate::blend::blend;
use deskside::relate::colour::Patch;

use crate::support::desk::{N_PLAYERS, Strip, held, microphones, mix};

#[test]
fn colours_and_gains_together_make_the_channel_in_the_mix() {
    let raw = microphones();
    let mut strips = vec![Strip::plain(-4.0, 0.0); N_PLAYERS];
    strips[2].ride = Some([10.0, 1.0, 6.0]);
    let (held, patch) = held(&raw, &mix(&raw, &strips));
    let found = blend(&held, &patch).expect("there are channels and sound");
    let at = |channel: usize, s: f64| {
        let frame = (s / held.grid().hop_s()) as usize;
        let gain = f64::from(found.course.gains[channel][frame]);
        20.0 * (gain * found.colours[0][90][channel].norm()).log10()
    };
    for channel in 0..N_PLAYERS {
        // Each side has -3.01 dB of a channel in the middle.
        let expected_db = -7.01;
        let error_db = at(channel, 5.0) - expected_db;
        assert!(error_db.abs() < 0.4, "{channel}: {error_db} dB");
        let moved_db = at(channel, 18.0) - at(channel, 5.0);
        let expected_db = if channel == 2 { 6.0 } else { 0.0 };
        assert!((moved_db - expected_db).abs() < 0.5, "{channel}: moved by {moved_db} dB");
    }
}

#[test]
fn one_signal_twice_is_coherent_and_neighbours_are_not() {
    let mut raw = microphones();
    raw.truncate(3);
    raw.push(raw[0].iter().map(|x| 0.5 * x).collect());
    let (held, patch) = held(&raw, &mix(&raw, &vec![Strip::plain(-4.0, 0.0); 4]));
    let coherence = blend(&held, &patch).expect("there are channels and sound").coherence;
    assert!(coherence[0][3] > 0.99, "{coherence:?}");
    assert!(coherence[0][1] < 0.3 && coherence[1][2] < 0.3, "{coherence:?}");
}

#[test]
fn without_channels_or_frames_there_is_nothing_to_read() {
    let raw = microphones();
    let (full, _) = held(&raw[..1], &mix(&raw[..1], &[Strip::plain(0.0, 0.0)]));
    assert!(
        blend(&full, &Patch { channels: Vec::new(), main: [1, 2], leads: Vec::new() }).is_none()
    );
    let (empty, patch) = held(&[vec![0.0; 100]], &[vec![0.0; 100], vec![0.0; 100]]);
    assert!(blend(&empty, &patch).is_none());
}
