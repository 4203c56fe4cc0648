//! Two players whose turns are known.

use deskside::relate::excess::{Listener, Shown, Tails, excess_db, fit, sounding, top_power};
use deskside::relate::grid::Grid;
use deskside::relate::separation::separate;

use crate::support::sharing::{RATE_HZ, microphones, plays, spectra};

/// Frames at the borders of turns may go either way; there are 23 borders in 275 frames.
const LEAST_RIGHT: f64 = 0.9;

#[test]
fn turns_of_a_player_are_told_from_spill() {
    let held = spectra(Grid::short(RATE_HZ), &microphones(12));
    let separation = separate(&held, &[0, 1], None);
    let listeners = [0, 1].map(|one| Listener {
        channel: one,
        own: Some(one),
        others: vec![1 - one],
        from_band: 0,
    });
    let mics = [0, 1].map(|one| held.band_power(one));
    let gates = fit(&separation.power, &mics, &listeners, held.grid());
    let hop_s = held.grid().hop_s();
    for (player, gate) in gates.iter().enumerate() {
        let gate = gate.as_ref().expect("both players rest for seconds");
        let mut tails = Tails::new(2, hop_s);
        let shown: Vec<Shown> = (0..held.n_frames())
            .map(|frame| {
                let power = |band: usize, source: usize| separation.power[band][source][frame];
                gate.shown(|band| mics[player][band][frame], &tails.next(power))
            })
            .collect();
        let own: Vec<f64> = shown.iter().map(|one| f64::from(one.own)).collect();
        let sounds = sounding(&excess_db(&shown), own.iter().copied(), top_power(&own));
        let is_right =
            |(frame, sounds): (usize, &bool)| plays(player, (frame + 1) as f64 * hop_s) == *sounds;
        let n_right = sounds.iter().enumerate().filter(|&one| is_right(one)).count();
        let share = n_right as f64 / sounds.len() as f64;
        assert!(share > LEAST_RIGHT, "player {player}: {share}");
    }
}

#[test]
fn equal_powers_have_an_excess_of_0_db_and_twice_the_power_3_db() {
    let frame = |heard: f32| Shown { heard, explained: 1.0, own: 0.0 };
    for (heard, expected_db) in [(1.0, 0.0), (2.0, 3.0103), (0.5, -3.0103)] {
        for found_db in excess_db(&[frame(heard); 5]) {
            assert!((found_db - expected_db).abs() < 1e-4, "{heard}: {found_db}");
        }
    }
}

#[test]
fn a_microphone_that_hears_nothing_of_its_own_never_sounds_or_has_no_gate() {
    let [first, _] = microphones(12);
    let spill: Vec<f32> = first.iter().map(|x| 0.4 * x).collect();
    let held = spectra(Grid::short(RATE_HZ), &[first, spill]);
    let powers = vec![vec![held.band_power(0)]; 1];
    // One source, heard direct: the second microphone is a copy at -8 dB.
    let sources: Vec<Vec<Vec<f32>>> = powers[0][0].iter().map(|band| vec![band.clone()]).collect();
    let listener = Listener { channel: 1, own: None, others: vec![0], from_band: 0 };
    let mic = held.band_power(1);
    let gates = fit(&sources, std::slice::from_ref(&mic), &[listener], held.grid());
    let Some(gate) = &gates[0] else { return };
    let mut tails = Tails::new(1, held.grid().hop_s());
    let mut shown = Vec::new();
    for frame in 0..held.n_frames() {
        let power = |band: usize, _: usize| sources[band][0][frame];
        shown.push(gate.shown(|band| mic[band][frame], &tails.next(power)));
    }
    let highest = excess_db(&shown).into_iter().fold(f64::MIN, f64::max);
    assert!(highest < 2.0, "a copy is explained to the last frame: {highest} dB");
}
