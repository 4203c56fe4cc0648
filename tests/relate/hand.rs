//! Fader, compressor and bus, from gains that were made of them.

use deskside::relate::hand::{Ridden, bus_db, hand};
use deskside::relate::handling;
use deskside::unit::Unmeasured;

use crate::support::signals::Rng;

const HOP_S: f64 = 2048.0 / 48_000.0;

/// A minute.
const N_FRAMES: usize = 1_400;

/// Gains and energies of a channel whose level changes every few frames; above the middle of its range `slope` dB per dB are added.
fn ridden(seed: u64, slope: f64, fader_db: impl Fn(usize) -> f64) -> (Vec<f32>, Vec<f32>) {
    let mut rng = Rng::new(seed);
    let mut level_db = 0.0;
    (0..N_FRAMES)
        .map(|frame| {
            if frame % 5 == 0 {
                level_db = -20.0 * rng.even();
            }
            let over_db = f64::max(level_db + 10.0, 0.0);
            let gain_db = fader_db(frame) + slope * over_db;
            (10f64.powf(gain_db / 20.0) as f32, 10f64.powf(level_db / 10.0) as f32)
        })
        .unzip()
}

fn read(
    gains: &[f32],
    energy: &[f32],
    bus: &[f32],
) -> Result<deskside::relate::hand::Hand, Unmeasured> {
    let (deviations, open) = (vec![0.05; gains.len()], vec![true; gains.len()]);
    hand(&Ridden { gains, deviations: &deviations, energy, open: &open }, bus, HOP_S)
}

#[test]
fn a_compressor_swings_with_the_level_and_a_fader_does_not() {
    let still = vec![0.0; N_FRAMES];
    let (gains, energy) = ridden(1, -0.5, |_| 0.0);
    let squeezed = read(&gains, &energy, &still).unwrap();
    // Levels spread evenly over 20 dB: the loudest tenth is 4 dB down or more, half isn't at all.
    assert!((squeezed.swing_db - 4.0).abs() < 0.5, "{}", squeezed.swing_db);
    assert!(squeezed.slope < -0.1, "{}", squeezed.slope);
    // All of it follows the level, but for what a bin of 3 dB rounds off.
    assert!((squeezed.follows_db - 4.0).abs() < 1.5, "{}", squeezed.follows_db);
    let (gains, energy) = ridden(2, 0.0, |frame| if frame < 700 { 0.0 } else { 6.0 });
    let moved = read(&gains, &energy, &still).unwrap();
    assert!(moved.swing_db < 1.0, "{}", moved.swing_db);
    let step_db = moved.fader_db[1_200] - moved.fader_db[200];
    assert!((step_db - 6.0).abs() < 0.2, "{step_db}");
    let (gains, energy) = ridden(3, 0.5, |_| 0.0);
    assert!(read(&gains, &energy, &still).unwrap().slope > 0.03, "an expander or gate");
}

#[test]
fn a_hand_that_turns_every_four_seconds_is_followed_and_a_compressor_is_not_taken_for_one() {
    let still = vec![0.0; N_FRAMES];
    let four_s = (4.0 / HOP_S) as usize;
    let hunting = |frame: usize| if (frame / four_s).is_multiple_of(2) { 0.0 } else { 6.0 };
    let (gains, energy) = ridden(7, 0.0, hunting);
    let n_turns = handling::n_turns(read(&gains, &energy, &still).unwrap().fader_db.into_iter());
    assert!((12..=14).contains(&n_turns), "{n_turns} turns in a minute of legs of 4 s");
    let (gains, energy) = ridden(8, -0.5, |_| 0.0);
    let n_turns = handling::n_turns(read(&gains, &energy, &still).unwrap().fader_db.into_iter());
    assert_eq!(n_turns, 0, "nobody touched it");
}

#[test]
fn what_swings_without_the_level_follows_nothing() {
    let still = vec![0.0; N_FRAMES];
    // Up and down within a fifth of a second whatever the level.
    let shaken = |frame: usize| if frame % 7 < 2 { -4.0 } else { 0.0 };
    let (gains, energy) = ridden(4, 0.0, shaken);
    let found = read(&gains, &energy, &still).unwrap();
    assert!(found.swing_db > 3.5, "{}", found.swing_db);
    assert!(found.follows_db < 0.5, "{}", found.follows_db);
}

#[test]
fn what_all_channels_do_at_once_is_the_bus() {
    let duck = |frame: usize| if frame % 40 < 10 { -4.0 } else { 0.0 };
    let channels: Vec<(Vec<f32>, Vec<f32>)> =
        (10..15).map(|seed| ridden(seed, 0.0, duck)).collect();
    let (deviations, open) = (vec![0.05; N_FRAMES], vec![true; N_FRAMES]);
    let all: Vec<Ridden<'_>> = channels
        .iter()
        .map(|(gains, energy)| Ridden { gains, deviations: &deviations, energy, open: &open })
        .collect();
    let bus = bus_db(&all, HOP_S);
    assert!(
        (bus[705 / 40 * 40 + 5] + 4.0).abs() < 0.1 && bus[700].abs() < 0.1,
        "{:?}",
        &bus[680..720]
    );
    let rest = read(&channels[0].0, &channels[0].1, &bus).unwrap();
    assert!(rest.swing_db < 0.5, "the bus is no compressor of the channel: {}", rest.swing_db);
    assert!(bus_db(&all[..3], HOP_S).iter().all(|&db| db == 0.0), "three channels don't tell");
}

#[test]
fn a_channel_that_tells_for_less_than_ten_seconds_has_no_hand() {
    let few = vec![1.0; 200];
    assert!(matches!(read(&few, &few, &[0.0; 200]), Err(Unmeasured::TooShort { .. })));
    assert!(read(&[], &[], &[]).is_err(), "nothing at all");
}
