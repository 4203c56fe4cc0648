//! Two players whose ways to the microphones are known.

use deskside::dsp::Square;
use deskside::relate::grid::{Grid, N_BANDS};
use deskside::relate::separation::{halves, separate};
use deskside::unit::Span;

use crate::support::sharing::{RATE_HZ, SPILL, microphones, presence, spectra};

/// Twelve seconds of noise tell a way within this, in dB, as the mean of the bins of a band.
const TOLERANCE_DB: f64 = 0.7;

#[test]
fn ways_between_two_microphones_come_out_as_they_were_mixed() {
    let held = spectra(Grid::short(RATE_HZ), &microphones(12));
    let separation = separate(&held, &[0, 1], None);
    for (mic, source) in [(0, 1), (1, 0)] {
        let expected_db = 20.0 * f64::from(SPILL[source]).log10();
        for band in 8..N_BANDS {
            let bins = held.grid().band(band);
            let n = bins.len() as f64;
            let power: f64 =
                bins.map(|bin| separation.mix[bin].at(mic, source).norm_sqr()).sum::<f64>() / n;
            let error_db = 10.0 * power.log10() - expected_db;
            assert!(error_db.abs() < TOLERANCE_DB, "{source} in {mic}, band {band}: {error_db} dB");
        }
    }
}

#[test]
fn ways_come_out_where_it_is_known_who_rests_though_the_hall_rings_on() {
    let n_s = 24;
    let mut channels = microphones(n_s);
    // What no way explains: each microphone also hears the other player 20 dB under its spill, all of it from a second before.
    let late = channels.clone();
    for (mic, channel) in channels.iter_mut().enumerate() {
        let second = RATE_HZ as usize;
        let past = late[1 - mic].iter().take(channel.len() - second);
        let gain = 0.1 * SPILL[1 - mic];
        channel[second..].iter_mut().zip(past).for_each(|(sample, past)| *sample += gain * past);
    }
    let held = spectra(Grid::long(RATE_HZ), &channels);
    let separation = separate(&held, &[0, 1], Some(&presence(&held)));
    for (mic, source) in [(0, 1), (1, 0)] {
        let powers = separation.mix.iter().map(|mix| mix.at(mic, source).norm_sqr());
        let power = powers.sum::<f64>() / separation.mix.len() as f64;
        let error_db = 10.0 * power.log10() - 20.0 * f64::from(SPILL[source]).log10();
        assert!(error_db.abs() < 0.5, "{source} in {mic}: off by {error_db} dB");
    }
}

#[test]
fn separated_powers_rest_where_the_player_rests() {
    let held = spectra(Grid::short(RATE_HZ), &microphones(12));
    let separation = separate(&held, &[0, 1], None);
    let hop_s = held.grid().hop_s();
    let mean = |plays: bool| {
        let frames: Vec<f64> = (0..held.n_frames())
            .filter(|&frame| {
                let (start_s, end_s) = (frame as f64 * hop_s, (frame + 2) as f64 * hop_s);
                crate::support::sharing::plays(0, start_s) == plays
                    && crate::support::sharing::plays(0, end_s) == plays
            })
            .map(|frame| f64::from(separation.power[16][0][frame]))
            .collect();
        frames.iter().sum::<f64>() / frames.len() as f64
    };
    let fall_db = 10.0 * (mean(true) / mean(false)).log10();
    // The microphone itself falls by no more than the 14 dB that the other player lies under it.
    assert!(fall_db > 25.0, "{fall_db} dB");
}

#[test]
fn halves_share_all_frames_and_none_twice() {
    let [even, odd] = halves(1003);
    let mut all: Vec<usize> = even.into_iter().chain(odd).flatten().collect();
    all.sort_unstable();
    assert_eq!(all, (0..1003).collect::<Vec<_>>());
}

#[test]
fn frames_with_flat_tops_are_left_out_of_the_ways() {
    let mut channels = microphones(12);
    // Two seconds in which the first microphone is cut off low: what it hears of the other no longer fits.
    let clipped = 3 * RATE_HZ as usize..5 * RATE_HZ as usize;
    channels[0][clipped].iter_mut().for_each(|sample| *sample = sample.clamp(-0.01, 0.01));
    let error = |leave_out: bool| {
        let mut held = spectra(Grid::short(RATE_HZ), &channels);
        if leave_out {
            let frames = held.frames_within(&[Span::new(3.0, 5.0)]);
            held.leave_out(&frames);
        }
        let mix = separate(&held, &[0, 1], None).mix;
        let off = |mix: &Square| (mix.at(0, 1).norm() - f64::from(SPILL[1])).abs();
        mix.iter().map(off).sum::<f64>() / mix.len() as f64
    };
    let (with, without) = (error(false), error(true));
    assert!(without < 0.5 * with, "left out: off by {without}, taken: by {with}");
    assert!(without < 0.02, "as near as without any clipping: off by {without}");
}
