//! What a source may give in a microphone: ways through air that are even, and what separation leaves of others.

use deskside::relate::energies::{Mic, Sources};
use deskside::relate::grid::N_BANDS;
use deskside::relate::plausible::clean;

use crate::support::feeding::assert_near;

/// What each source gives in its own microphone in every band.
const OWN: f64 = 100.0;

/// Share of it that the other microphone hears: -20 dB.
const WAY: f64 = 0.01;

fn mics() -> Vec<Mic> {
    [0, 1].map(|channel| Mic { channel, own: Some(channel), kin: Vec::new() }).into()
}

/// Two sources, each heard in the other's microphone, by microphone, source and band; `change` spoils them.
fn cleaned(change: impl Fn(&mut Sources)) -> Sources {
    let mut energies: Sources = [[OWN, OWN * WAY], [OWN * WAY, OWN]]
        .map(|mic| mic.map(|energy| vec![energy; N_BANDS]).into())
        .into();
    change(&mut energies);
    let measured: Vec<Vec<f64>> = energies
        .iter()
        .map(|mic| (0..N_BANDS).map(|band| mic.iter().map(|source| source[band]).sum()).collect())
        .collect();
    clean(&mut energies, &mics(), &[0, 1], &measured);
    energies
}

#[test]
fn even_ways_stay_as_they_are() {
    let energies = cleaned(|_| {});
    for (mic, source) in [(0, 1), (1, 0)] {
        assert_eq!(energies[mic][source], vec![OWN * WAY; N_BANDS]);
        assert_eq!(energies[source][source], vec![OWN; N_BANDS]);
    }
}

#[test]
fn ways_that_fall_with_frequency_stay_as_they_are() {
    // Air, and the back of a cardioid, take 12 dB over nine octaves at most (common practice).
    let falls = |band: usize| WAY * 10f64.powf(-1.2 * band as f64 / N_BANDS as f64);
    let energies = cleaned(|energies| {
        (0..N_BANDS).for_each(|band| energies[1][0][band] = OWN * falls(band));
    });
    for (band, energy) in energies[1][0].iter().enumerate() {
        assert_near(energy / OWN, falls(band), 1e-12, &format!("band {band}"));
    }
}

#[test]
fn a_band_far_over_its_neighbours_counts_as_little_as_they_do() {
    let energies = cleaned(|energies| energies[1][0][12] = OWN / 2.0);
    let over_db = 10.0 * (energies[1][0][12] / (OWN * WAY)).log10();
    assert_near(over_db, 4.0, 0.1, "no more than 4 dB over the others");
    assert_near(energies[1][0][11], OWN * WAY, 1e-12, "its neighbour");
}

#[test]
fn bands_in_which_a_source_is_not_clear_do_not_count() {
    // In its own microphone the first source is 10 dB softer than the second in five bands.
    let soft = 3..8;
    let energies = cleaned(|energies| {
        for band in soft.clone() {
            energies[0][0][band] = OWN * WAY;
            energies[0][1][band] = 10.0 * OWN * WAY;
            energies[1][0][band] = OWN;
        }
    });
    for (band, energy) in energies[1][0].iter().enumerate() {
        let expected = if soft.contains(&band) { 0.0 } else { OWN * WAY };
        assert_near(*energy, expected, 1e-12, &format!("band {band}"));
    }
}

#[test]
fn a_source_that_is_clear_nowhere_keeps_all_of_it() {
    // Twice as much of the other as of itself in all bands: nothing else is known of it.
    let energies = cleaned(|energies| energies[0][1] = vec![2.0 * OWN; N_BANDS]);
    assert!(energies[1][0].iter().all(|energy| *energy > 0.0), "still told, as a bound");
    assert!(energies[0][0].iter().all(|energy| *energy > 0.0));
}
