//! Two players whose turns are known.

use deskside::relate::excess::{Listener, Shown, Tails, excess_db, fit};
use deskside::relate::grid::{Grid, N_BANDS};
use deskside::relate::separation::separate;
use deskside::relate::sounding::{Manner, sounding, top_power};

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
        manner: Manner::Struck,
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
        let sounds = sounding(Manner::Struck, &excess_db(&shown), &own, top_power(&own));
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
    let listener =
        Listener { channel: 1, own: None, others: vec![0], from_band: 0, manner: Manner::Struck };
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

/// Whether a struck source sounds, frame by frame, where the powers of its own, of another and of its microphone are these in the lowest
/// band; those above hold less and less.
fn followed(n_frames: usize, own: &Power<'_>, other: &Power<'_>, heard: &Power<'_>) -> Vec<bool> {
    let grid = Grid::short(RATE_HZ);
    // Low bands are louder: those where the player stands out least are left out.
    let tilted = |of: &dyn Fn(usize) -> f32, band: usize| {
        (0..n_frames).map(|frame| of(frame) / (1 + band) as f32).collect::<Vec<f32>>()
    };
    let sources: Vec<Vec<Vec<f32>>> =
        (0..N_BANDS).map(|band| vec![tilted(own, band), tilted(other, band)]).collect();
    let hiss = |band: usize| move |frame: usize| heard(frame) + 1e-5 * band as f32;
    let mic: Vec<Vec<f32>> = (0..N_BANDS).map(|band| tilted(&hiss(band), band)).collect();
    let listener = Listener {
        channel: 0,
        own: Some(0),
        others: vec![1],
        from_band: 0,
        manner: Manner::Struck,
    };
    let gates = fit(&sources, std::slice::from_ref(&mic), &[listener], &grid);
    let gate = gates[0].as_ref().expect("it is followed");
    let mut tails = Tails::new(2, grid.hop_s());
    let shown: Vec<Shown> = (0..n_frames)
        .map(|frame| {
            let power = |band: usize, source: usize| sources[band][source][frame];
            gate.shown(|band| mic[band][frame], &tails.next(power))
        })
        .collect();
    let own: Vec<f64> = shown.iter().map(|one| f64::from(one.own)).collect();
    sounding(Manner::Struck, &excess_db(&shown), &own, top_power(&own))
}

/// Power of a frame.
type Power<'a> = dyn Fn(usize) -> f32 + 'a;

/// A bass that rests in one frame of twelve, at changing levels, and a drum whose separated power holds a part of it.
#[test]
fn a_player_who_hardly_rests_is_not_taken_for_spill() {
    let n_frames = 1200;
    let rests = |frame: usize| frame % 60 < 5;
    let bass = |frame: usize| match rests(frame) {
        true => 1e-6,
        false => 10f32.powf(-((frame / 7 % 9) as f32) / 10.0),
    };
    let strikes = |frame: usize| if frame.is_multiple_of(11) { 3.0 } else { 1e-6 };
    let drum = |frame: usize| strikes(frame) + 0.05 * bass(frame);
    let heard = |frame: usize| bass(frame) + 0.02 * strikes(frame) + 1e-5;
    let sounds = followed(n_frames, &bass, &drum, &heard);
    // The mean over three frames blurs the borders of the rests: two of 60 frames.
    let n_right = (0..n_frames).filter(|&frame| sounds[frame] != rests(frame)).count();
    assert!(n_right as f64 > 0.95 * n_frames as f64, "{n_right} of {n_frames}");
}

/// A hi-hat whose strokes fall by 15 dB until the next, beside a guitar that plays on and holds a part of it.
#[test]
fn what_is_soft_between_strokes_is_not_taken_for_spill() {
    let n_frames = 1200;
    let rests = |frame: usize| frame % 200 < 50;
    let hat = |frame: usize| match rests(frame) {
        true => 1e-6,
        false => 10f32.powf(-((frame % 6) as f32) * 0.4),
    };
    let strums = |frame: usize| match frame % 200 < 40 {
        true => 1e-6,
        false => 10f32.powf(-((frame / 5 % 7) as f32) / 10.0),
    };
    let guitar = |frame: usize| strums(frame) + 0.3 * hat(frame);
    let heard = |frame: usize| hat(frame) + 0.6 * strums(frame) + 1e-5;
    let sounds = followed(n_frames, &hat, &guitar, &heard);
    let near = (0..n_frames).filter(|&frame| !rests(frame) && frame % 6 < 3);
    let (n_near, n_told) =
        near.fold((0, 0), |(n, told), frame| (n + 1, told + usize::from(sounds[frame])));
    assert!(n_told as f64 > 0.95 * n_near as f64, "{n_told} of {n_near} within 8 dB");
    let n_false = (0..n_frames).filter(|&frame| rests(frame) && sounds[frame]).count();
    assert!(n_false < 15, "{n_false} of 300 at rest");
}
