//! Spill of two players whose ways to the microphones are known.

use deskside::relate::bleed::{Powers, Turns, bleeds};
use deskside::relate::energies::{Energies, Mic};
use deskside::relate::excess::{Listener, fit};
use deskside::relate::grid::Grid;
use deskside::relate::separation::separate;
use deskside::relate::sounding::Manner;
use deskside::relate::verdict::Arrives;
use deskside::unit::Fact;

use crate::support::feeding::assert_near;
use crate::support::sharing::{RATE_HZ, SPILL, microphones, plays, presence, spectra};
use crate::support::signals::noise;

/// What is asked of the median pair of a stage; here nothing but chance stands between.
const TOLERANCE_DB: f64 = 0.7;

fn found(seconds: usize, turns: &Turns) -> Vec<(usize, usize, Fact, Fact)> {
    found_in(&microphones(seconds), turns)
}

/// The first two channels are the players' own, a third is another of the first player.
fn found_in(channels: &[Vec<f32>], turns: &Turns) -> Vec<(usize, usize, Fact, Fact)> {
    let [short, middle, long] =
        [Grid::short, Grid::middle, Grid::long].map(|grid| spectra(grid(RATE_HZ), channels));
    let own = |channel: usize| channel % 2;
    let mics: Vec<Mic> = (0..channels.len())
        .map(|channel| Mic { channel, own: Some(own(channel)), kin: Vec::new() })
        .collect();
    let separated = separate(&short, &[0, 1], None);
    let listeners: Vec<Listener> = (0..channels.len())
        .map(|channel| Listener {
            channel,
            own: Some(own(channel)),
            others: vec![1 - own(channel)],
            from_band: 0,
            manner: Manner::Struck,
        })
        .collect();
    let heard: Vec<_> = (0..channels.len()).map(|channel| short.band_power(channel)).collect();
    let gates = fit(&separated.power, &heard, &listeners, short.grid());
    let energies = [&middle, &long].map(|held| {
        let presence = presence(held);
        let separation = separate(held, &[0, 1], Some(&presence));
        Energies::new(held, &separation, &presence, &mics)
    });
    let powers = Powers { spectrogram: &short, sources: &separated.power, gates: &gates };
    bleeds(&mics, &[0, 1], &energies[1], &energies[0], &powers, turns)
        .into_iter()
        .map(|one| {
            let levels = one.levels(Arrives::Surely, None);
            (one.source, one.mic, levels.bleed_db, levels.transfer_db)
        })
        .collect()
}

#[test]
fn spill_between_two_players_is_what_was_mixed() {
    // Five of eight turns of half a second each: both play as long as each other.
    let turns =
        [0, 1].map(|player| (0..320).map(|at| plays(player, 0.1 * f64::from(at))).collect());
    let pairs = found(32, &Turns::new(&turns, 0.1));
    assert_eq!(pairs.len(), 2, "each in the other's microphone");
    for (source, mic, bleed_db, transfer_db) in pairs {
        assert_eq!(mic, 1 - source);
        let expected_db = 20.0 * f64::from(SPILL[source]).log10();
        for fact in [bleed_db, transfer_db] {
            let Fact::Value { value, .. } = fact else { panic!("{source}: {fact:?}") };
            assert!(
                (value - expected_db).abs() < TOLERANCE_DB,
                "{source}: {value}, not {expected_db}"
            );
        }
    }
}

#[test]
fn spill_is_not_told_re_a_few_strokes() {
    // The second plays for 2.9 s: what its level is depends on how long its strokes are said to ring.
    let turns = [0..200, 290..319].map(|at| (0..320).map(|one| at.contains(&one)).collect());
    let pairs = found(32, &Turns::new(&turns, 0.1));
    let of_first = pairs.iter().find(|pair| pair.0 == 0).expect("the first in the other's");
    assert!(matches!(of_first.2, Fact::Missing { .. }), "re the few strokes: {:?}", of_first.2);
    assert_near(of_first.3.confidence(), 0.7, 0.0, "re its own microphone");
}

#[test]
fn what_no_source_explains_is_the_microphones_own() {
    let turns: [Vec<bool>; 2] =
        [0, 1].map(|player| (0..320).map(|at| plays(player, 0.1 * f64::from(at))).collect());
    let mut channels = microphones(32).to_vec();
    // Singers whom the first microphone does not hear, in the same turns and as loud; the second player 14 dB softer.
    let mut third = noise(31, 0.3, channels[0].len());
    for (at, sample) in third.iter_mut().enumerate() {
        if !plays(0, at as f64 / f64::from(RATE_HZ)) {
            *sample = 0.0;
        }
        *sample += 0.2 * channels[1][at];
    }
    channels.push(third);
    let pairs = found_in(&channels, &Turns::new(&turns, 0.1));
    let there = pairs.iter().find(|pair| (pair.0, pair.1) == (1, 2)).expect("the second there");
    let Fact::Value { value, .. } = there.2 else { panic!("{:?}", there.2) };
    assert_near(value, 20.0 * 0.2f64.log10(), TOLERANCE_DB, "re what only this microphone hears");
}

#[test]
fn a_source_that_hardly_sounds_has_no_figure() {
    let turns = [49, 50].map(|n| (0..80).map(|at| at < n).collect());
    let pairs = found(8, &Turns::new(&turns, 0.1));
    let is_missing = |source: usize| {
        pairs.iter().any(|one| one.0 == source && matches!(one.2, Fact::Missing { .. }))
    };
    assert!(is_missing(0), "4.9 s are too little");
    assert!(!is_missing(1), "5 s are enough");
}
