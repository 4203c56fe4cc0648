//! Steps of gain: stages put together from powers, with steps that are known.
//!
//! Source: common practice; what a gain does is arithmetic.

use deskside::dsp::thirds::N_BANDS;
use deskside::measure::{Thirds, Trace};
use deskside::relate::gain_step::{Step, gain_steps};
use deskside::unit::Span;

use crate::support::planted::Dice;

/// Steps of 0.2 s in two minutes, and when the gain is turned.
const N_STEPS: usize = 600;
const TURNED: usize = 300;

/// A voice has a tone of its own.
const VOICE_DB: [f64; 5] = [-30.0, -38.0, -26.0, -44.0, -24.0];

/// The song, and when the singer sings: a phrase of 6 s in each 16 s.
const SONG: [Span; 1] = [Span { start_s: 0.0, end_s: 120.0 }];

fn sung() -> Vec<Span> {
    (0..7).map(|n| Span::new(16.0 * f64::from(n) + 4.0, 16.0 * f64::from(n) + 10.0)).collect()
}

fn rests() -> Vec<Span> {
    (0..7).map(|n| Span::new(16.0 * f64::from(n) + 10.4, 16.0 * f64::from(n) + 19.6)).collect()
}

/// A microphone and what it hears.
struct Stage {
    others: Vec<Thirds>,
    mic: Thirds,
}

/// Three players of moving levels, heard by a singer's microphone at known parts; `gain` and `spill` are factors of power of what the
/// microphone gives, and of what it hears of the players, by step and band.
fn stage(gain: impl Fn(usize) -> f64, spill: impl Fn(usize, usize) -> f64) -> Stage {
    let mut dice = Dice::new(7);
    let mut others = vec![vec![Trace::new(0.2); N_BANDS]; 3];
    let mut mic = vec![Trace::new(0.2); N_BANDS];
    let sung = sung();
    let mut levels = [0.0f64; 3];
    for step in 0..N_STEPS {
        levels = levels.map(|level| 0.9 * level + 2.0 * dice.normal());
        let at_s = 0.2 * step as f64 + 0.1;
        let sings = sung.iter().any(|span| span.holds(at_s));
        for band in 0..N_BANDS {
            let mut heard = 0.0;
            for (player, level_db) in levels.iter().enumerate() {
                let power = 10f64.powf((level_db - 30.0 + 2.0 * dice.normal()) / 10.0);
                others[player][band].push_power(power);
                heard += power * [0.02, 0.05, 0.01][(player + band) % 3];
            }
            let voice_db = VOICE_DB[band % VOICE_DB.len()] + 2.0 * dice.normal();
            let voice = if sings { 10f64.powf(voice_db / 10.0) } else { 0.0 };
            mic[band].push_power(gain(step) * (1e-9 + spill(step, band) * heard + voice));
        }
    }
    Stage {
        others: others.into_iter().map(|bands| Thirds { bands }).collect(),
        mic: Thirds { bands: mic },
    }
}

fn found(stage: &Stage, resting: &[Span]) -> Option<Vec<Step>> {
    let others: Vec<&Thirds> = stage.others.iter().collect();
    gain_steps(&stage.mic, &others, resting, &sung(), &SONG)
}

/// A power gain that changes by some dB where it is turned.
fn turned(change_db: f64) -> impl Fn(usize) -> f64 {
    move |step| if step < TURNED { 1.0 } else { 10f64.powf(change_db / 10.0) }
}

#[test]
fn a_gain_that_is_turned_is_found_with_its_size_and_place() {
    for change_db in [-6.0, -3.0, 3.0, 6.0] {
        let steps = found(&stage(turned(change_db), |_, _| 1.0), &rests()).unwrap();
        assert_eq!(steps.len(), 1, "{change_db}: {steps:?}");
        assert!((steps[0].at_s - 60.0).abs() <= 4.0, "within the phrase that hides it: {steps:?}");
        assert!((steps[0].change_db - change_db).abs() <= 1.2, "{change_db}: {steps:?}");
        assert!(steps[0].is_confirmed, "the singer moves with it: {steps:?}");
    }
}

#[test]
fn players_who_get_louder_are_no_step() {
    let steps = found(&stage(|_| 1.0, |_, _| 1.0), &rests()).unwrap();
    assert!(steps.is_empty(), "{steps:?}");
}

#[test]
fn a_microphone_that_is_turned_away_is_no_step() {
    // What it hears changes from band to band.
    let away = |step: usize, band: usize| {
        if step < TURNED { 1.0 } else { 10f64.powf([-9.0, -1.0, -4.0, 1.0][band % 4] / 10.0) }
    };
    let steps = found(&stage(|_| 1.0, away), &rests()).unwrap();
    assert!(steps.is_empty(), "{steps:?}");
}

#[test]
fn a_loudspeaker_beside_the_microphone_is_no_step() {
    // All that it hears of the players falls, but not the singer.
    let softer = |step: usize, _: usize| if step < TURNED { 1.0 } else { 0.25 };
    let steps = found(&stage(|_| 1.0, softer), &rests()).unwrap();
    assert!(steps.is_empty(), "{steps:?}");
}

#[test]
fn a_singer_without_rest_says_nothing() {
    let stage = stage(turned(6.0), |_, _| 1.0);
    assert_eq!(found(&stage, &[Span::new(10.0, 12.0)]), None, "2 s of rest");
}
