//! Arrivals told from separated sources, against delays and signs that were put in.

use deskside::relate::arrival::Arrival;
use deskside::relate::grid::Grid;
use deskside::relate::separation::separate;
use deskside::relate::spectrogram::Spectrogram;
use deskside::relate::way::ways;

use crate::support::feeding::assert_near;
use crate::support::paths::{add_delayed, add_in_a_room};
use crate::support::sharing::{RATE_HZ, plays, spectra};
use crate::support::signals::{Rng, noise};

const SECONDS: usize = 24;

/// What is promised of half of the pairs, in samples.
const TOLERANCE_SAMPLES: f64 = 0.1;

/// Later in the other player's microphone, in samples, and the gain there: the second is inverted.
const WAYS: [(f64, f64); 2] = [(83.3, 0.25), (140.6, -0.2)];

/// Two players in a room, each before a microphone, and a third microphone that hears the first from afar.
fn stage() -> Vec<Vec<f32>> {
    let n_samples = SECONDS * RATE_HZ as usize;
    let mut rng = Rng::new(7);
    let mut planes =
        vec![noise(90, 1e-4, n_samples), noise(91, 1e-4, n_samples), noise(92, 1e-4, n_samples)];
    for player in 0..2 {
        let mut source = noise(player as u64 + 1, 0.1, n_samples);
        for (at, sample) in source.iter_mut().enumerate() {
            if !plays(player, at as f64 / f64::from(RATE_HZ)) {
                *sample = 0.0;
            }
        }
        add_delayed(&mut planes[player], &source, 0.0, 1.0);
        let (delay, gain) = WAYS[player];
        add_in_a_room(&mut planes[1 - player], &source, delay, gain, &mut rng);
        if player == 0 {
            add_in_a_room(&mut planes[2], &source, 800.4, 0.1, &mut rng);
        }
    }
    planes
}

fn sounding(held: &Spectrogram) -> Vec<Vec<bool>> {
    let hop_s = held.grid().hop_s();
    let of = |player| (0..held.n_frames()).map(|t| plays(player, (t + 1) as f64 * hop_s)).collect();
    [0, 1].map(of).into()
}

fn found(wanted: &[(usize, usize)]) -> Vec<Option<Arrival>> {
    let held = spectra(Grid::short(RATE_HZ), &stage());
    let separation = separate(&held, &[0, 1], None);
    ways(&held, &[0, 1], &separation.demix, &sounding(&held), wanted)
}

#[test]
fn each_player_arrives_in_the_others_microphone_when_the_way_says() {
    let found = found(&[(0, 1), (1, 0), (0, 2), (0, 0)]);
    let expected = [(WAYS[0].0, 1.0), (WAYS[1].0, -1.0), (800.4, 1.0), (0.0, 1.0)];
    for (found, (delay, sign)) in found.into_iter().zip(expected) {
        let found = found.expect("both sound");
        assert_near(found.delay_s * f64::from(RATE_HZ), delay, TOLERANCE_SAMPLES, "samples");
        assert_near(found.polarity, sign, 0.0, "polarity");
        assert!(found.quality > 1.5, "{found:?}");
    }
}

#[test]
fn a_player_who_never_reaches_a_microphone_has_no_sharp_arrival_there() {
    let found = found(&[(1, 2)]);
    assert!(found[0].is_none_or(|one| one.quality < 1.5), "{found:?}");
}

#[test]
fn a_source_that_never_sounds_has_no_arrival() {
    let held = spectra(Grid::short(RATE_HZ), &stage());
    let separation = separate(&held, &[0, 1], None);
    let never = vec![vec![false; held.n_frames()]; 2];
    assert_eq!(ways(&held, &[0, 1], &separation.demix, &never, &[(0, 1)]), [None]);
}
