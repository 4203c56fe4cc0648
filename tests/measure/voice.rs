//! Breath blasts and S sounds: planted ones are found, a drum's own are left to the drum.

use std::f64::consts::TAU;

use deskside::measure::voice::{Pops, VoiceMeter, VoiceTrack, ess_db, pops};
use deskside::unit::{Span, Unmeasured};

use crate::support::planted::{Dice, RATE_HZ, UNEVEN, amplitude, float, in_blocks, samples};

/// A voice of 110 Hz with 12 partials and syllables of 300 ms, at about -20 dBFS.
fn voice(time_s: f64) -> Vec<f64> {
    let mut dice = Dice::new(3);
    (0..samples(time_s))
        .map(|n| {
            let at_s = n as f64 / 48_000.0;
            let shape = (TAU * at_s / 0.6).sin().abs().sqrt();
            let partials = (1..=12).map(|k| {
                let k = f64::from(k);
                (TAU * 110.0 * k * at_s + k).sin() / k.sqrt()
            });
            0.05 * shape * partials.sum::<f64>() + 1e-4 * dice.normal()
        })
        .collect()
}

/// A thump: 35 Hz that dies away within some 60 ms, as air on a diaphragm does.
fn thump(x: &mut [f64], at_s: f64, peak: f64) {
    for n in 0..samples(0.3) {
        let since_s = n as f64 / 48_000.0;
        let rise = (since_s / 0.004).min(1.0);
        x[samples(at_s) + n] +=
            peak * rise * (-since_s / 0.03).exp() * (TAU * 35.0 * since_s).sin();
    }
}

fn measure(x: &[f64], lengths: &[usize]) -> VoiceTrack {
    let mut meter = VoiceMeter::new(RATE_HZ, 1);
    in_blocks(&[float(x)], RATE_HZ, lengths, |group| meter.push(group));
    meter.finish().remove(0)
}

const POPS_S: [f64; 4] = [4.137, 11.52, 17.9, 26.03];
const ALL: [Span; 1] = [Span::new(0.0, 30.0)];

fn check(found: &Pops, expected_s: &[f64]) {
    assert_eq!(found.at_s.len(), expected_s.len(), "{found:?}");
    for (found_s, at_s) in found.at_s.iter().zip(expected_s) {
        // The band of 45 Hz needs some 20 ms to answer.
        assert!((-0.01..0.03).contains(&(found_s - at_s)), "found {found_s} s, planted {at_s} s");
    }
}

#[test]
fn planted_blasts_are_found_and_counted_a_minute() {
    let mut x = voice(30.0);
    POPS_S.iter().for_each(|&at_s| thump(&mut x, at_s, 0.35));
    let found = pops(&measure(&x, &UNEVEN), &ALL, &[]).unwrap();
    check(&found, &POPS_S);
    assert!((found.per_minute - 8.0).abs() < 1e-9, "4 in half a minute: {found:?}");
}

#[test]
fn voice_without_blasts_has_none() {
    check(&pops(&measure(&voice(30.0), &UNEVEN), &ALL, &[]).unwrap(), &[]);
}

#[test]
fn blasts_on_a_kick_are_the_kicks() {
    let mut x = voice(30.0);
    POPS_S.iter().for_each(|&at_s| thump(&mut x, at_s, 0.35));
    // The kick's own microphone hears it up to 20 ms earlier.
    let kicks_s = [POPS_S[0] - 0.015, POPS_S[2], 20.0];
    let found = pops(&measure(&x, &UNEVEN), &ALL, &kicks_s).unwrap();
    check(&found, &[POPS_S[1], POPS_S[3]]);
}

#[test]
fn steps_and_knocks_in_pauses_are_no_blasts() {
    let mut x = voice(30.0);
    x[samples(14.0)..samples(18.0)].fill(0.0);
    thump(&mut x, 16.0, 0.35);
    let active = [Span::new(0.0, 14.0), Span::new(18.0, 30.0)];
    check(&pops(&measure(&x, &UNEVEN), &active, &[]).unwrap(), &[]);
}

#[test]
fn steady_rumble_is_no_blast() {
    let mut x = voice(30.0);
    for (n, x) in x.iter_mut().enumerate() {
        *x += 0.1 * (TAU * 41.2 * n as f64 / 48_000.0).sin();
    }
    check(&pops(&measure(&x, &UNEVEN), &ALL, &[]).unwrap(), &[]);
}

/// 2 % of the time in S sounds: the 99th percentile lies in them. A tone of 6.5 kHz inside the band stands for them;
/// its level is known.
#[test]
fn s_sounds_stand_at_the_planted_level() {
    let mut x = voice(40.0);
    for (n, x) in x.iter_mut().enumerate() {
        if n % samples(5.0) < samples(0.15) {
            let tone = 2f64.sqrt() * amplitude(-31.0);
            *x += tone * (TAU * 6500.0 * n as f64 / 48_000.0).sin();
        }
    }
    let all = [Span::new(0.0, 40.0)];
    let found = ess_db(&measure(&x, &UNEVEN), &all, -20.0).unwrap();
    // The voice's partials end at 1.3 kHz; the edges of the S cut a window of 30 ms now and then.
    assert!((found + 11.0).abs() < 0.3, "found {found} dB, planted -11 dB");
}

#[test]
fn too_little_voice_has_no_figures() {
    let track = measure(&voice(30.0), &[4096]);
    let short = [Span::new(0.0, 12.0)];
    let reason = Unmeasured::TooLittleActive { have_s: 12.0, need_s: 20.0 };
    assert_eq!(pops(&track, &short, &[]), Err(reason.clone()), "12 s");
    assert_eq!(ess_db(&track, &short, -20.0), Err(reason), "12 s");
    assert_eq!(pops(&track, &[], &[]), Err(Unmeasured::NeverActive), "none");
}

#[test]
fn result_does_not_depend_on_how_blocks_are_cut() {
    let mut x = voice(12.0);
    thump(&mut x, 6.0, 0.4);
    let whole = measure(&x, &[1 << 22]);
    assert_eq!(whole.bursts.len(), 1, "{:?}", whole.bursts);
    assert_eq!(measure(&x, &UNEVEN), whole, "uneven blocks");
}
