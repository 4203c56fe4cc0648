//! Latency of a mix that was made late on purpose.

use deskside::relate::latency::{AGREE_SAMPLES, Latency, LatencyMeter, common, drift_ppm, steady};
use deskside::unit::Unmeasured;

use crate::support::desk::{N_PLAYERS, RATE_HZ, Strip, microphones, mix};

/// Parts of a second at which blocks are cut.
const BLOCK: usize = 40_001;

fn strips() -> Vec<Strip> {
    (0..N_PLAYERS).map(|k| Strip::plain(-6.0 - k as f64, 0.3 * (k as f64 - 2.5))).collect()
}

#[test]
fn a_late_mix_is_late_by_so_many_samples_and_drifts_by_so_many_parts() {
    let raw = microphones();
    let main = mix(&raw, &strips());
    let half = main[0].len() / 2;
    let mut meter = LatencyMeter::new(RATE_HZ, raw.len(), 0.0, AGREE_SAMPLES);
    // Half a minute later the mix is four samples later.
    for (part, late) in [(0..half, 137), (half + 200..2 * half, 141)] {
        let first = part.start;
        if first > 0 {
            meter.jump(30.0);
        }
        for start in part.clone().step_by(BLOCK) {
            let end = (start + BLOCK).min(part.end - late);
            let planes: Vec<&[f32]> = raw.iter().map(|x| &x[start + late..end + late]).collect();
            meter.push(&planes, [&main[0][start..end], &main[1][start..end]]);
        }
    }
    let found: Vec<Latency> = meter.finish().into_iter().map(Result::unwrap).collect();
    for (latency, expected) in found.iter().zip([137.0, 141.0]) {
        assert!((latency.samples - expected).abs() < 0.1, "{latency:?}, not {expected}");
    }
    let expected_ppm = 1e6 * 4.0 / f64::from(RATE_HZ) / (found[1].at_s - found[0].at_s);
    let ppm = drift_ppm(&found, RATE_HZ).unwrap();
    assert!((ppm - expected_ppm).abs() < 0.2, "{ppm}, not {expected_ppm}");
    assert!(drift_ppm(&found[..1], RATE_HZ).is_none(), "one stretch has no slope");
}

#[test]
fn a_silent_mix_and_a_short_one_have_no_latency() {
    let raw = microphones();
    let silence = vec![0.0; raw[0].len()];
    let planes: Vec<&[f32]> = raw.iter().map(Vec::as_slice).collect();
    let mut meter = LatencyMeter::new(RATE_HZ, raw.len(), 0.0, AGREE_SAMPLES);
    meter.push(&planes, [&silence, &silence]);
    assert_eq!(meter.finish(), vec![Err(Unmeasured::Silent)]);
    let meter = LatencyMeter::new(RATE_HZ, raw.len(), 0.0, AGREE_SAMPLES);
    assert!(matches!(meter.finish()[..], [Err(Unmeasured::TooShort { .. })]));
}

#[test]
fn a_stretch_that_votes_for_the_way_through_another_microphone_is_outvoted() {
    let stretch = |at_s: f64, votes: &[(f64, f64)]| Latency {
        at_s,
        samples: votes[0].0,
        share: 0.4,
        agree_samples: AGREE_SAMPLES,
        votes: votes.to_vec(),
    };
    // In the second stretch two loud channels arrive by a microphone 96 samples away.
    let first = stretch(15.0, &[(613.0, 0.3), (613.2, 0.2), (520.0, 0.1)]);
    let second = stretch(45.0, &[(709.0, 0.3), (709.1, 0.2), (613.1, 0.2)]);
    let both = common(&[first.clone(), second.clone()]).unwrap();
    assert!((both.samples - 613.1).abs() < 0.1, "{both:?}");
    // A clock of its own leaves nothing in common.
    let later = stretch(75.0, &[(642.0, 0.3), (642.3, 0.2)]);
    assert!(common(&[first, later]).is_none(), "29 samples in a minute");
    assert!(common(&[]).is_none(), "nothing was heard");
}

#[test]
fn a_clock_is_told_although_one_stretch_shows_another_way() {
    let stretch = |at_s: f64, samples: f64| Latency {
        at_s,
        samples,
        share: 0.4,
        agree_samples: AGREE_SAMPLES,
        votes: vec![(samples, 0.4)],
    };
    // 40 millionths of 48,000 samples a second are 1.92 samples a second.
    let mut all: Vec<Latency> =
        [3.0, 27.0, 33.0, 57.0, 63.0, 87.0].map(|at_s| stretch(at_s, 612.0 - 1.92 * at_s)).to_vec();
    all[2].samples = 0.0;
    let (late_samples, ppm) = steady(&all, 48_000).unwrap();
    assert!((ppm + 40.0).abs() < 1e-9 && (late_samples - 612.0).abs() < 1e-9, "{ppm}");
    assert!(steady(&all[..1], 48_000).is_none(), "one stretch has no slope");
}
