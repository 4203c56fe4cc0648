//! Stage against loudspeakers: powers that are put together with known shares.
//!
//! Source: closed forms; powers of what is not coherent add up.

use deskside::dsp::thirds::N_BANDS;
use deskside::measure::stage::Loudspeakers;
use deskside::measure::{Thirds, Trace};
use deskside::unit::{Span, Unmeasured};

use crate::support::feeding::assert_near;

/// What is told on either side of a figure, in dB of the loudspeakers.
const WITHIN: f64 = 1.41;

/// Codes of a trace, many times.
const ROUNDING_DB: f64 = 0.05;

/// Power of hall noise in each band, and what a hall makes of the loudspeakers, by band.
const NOISE: f64 = 1e-9;
const GAINS: [f64; 4] = [0.1, 0.2, 0.05, 0.12];

const QUIET: [Span; 1] = [Span { start_s: 0.0, end_s: 10.0 }];
const ALONE: [Span; 1] = [Span { start_s: 10.0, end_s: 20.0 }];
const SONG: Span = Span { start_s: 20.0, end_s: 60.0 };

/// A hall microphone and a main mix: quiet, loudspeakers alone, then a song with so much stage re the loudspeakers.
fn evening(stage_db: f64) -> (Thirds, Thirds) {
    let [mut room, mut main] = [(); 2].map(|()| vec![Trace::new(0.2); N_BANDS]);
    let stage = 10f64.powf(stage_db / 10.0);
    for step in 0..300_usize {
        for band in 0..N_BANDS {
            let gain = GAINS[band % GAINS.len()];
            // The mix changes its tone from step to step.
            let played = if step < 50 { 0.0 } else { 1e-4 * ((step * 7 + band * 3) % 11) as f64 };
            let of_stage = if step < 100 { 0.0 } else { stage * gain * played };
            main[band].push_power(played);
            room[band].push_power(NOISE + gain * played + of_stage);
        }
    }
    (Thirds { bands: room }, Thirds { bands: main })
}

#[test]
fn a_stage_of_known_power_lies_in_the_middle_of_its_range() {
    for stage_db in [0.0, 3.0, 9.0] {
        let (room, main) = evening(stage_db);
        let found = Loudspeakers::of(&room, &[&main], &ALONE, &QUIET).unwrap();
        let [low, high] = found.stage_db(&room, &[&main], SONG).unwrap();
        let stage = 10f64.powf(stage_db / 10.0);
        let end_db = |share: f64| 10.0 * ((1.0 + stage) / share - 1.0).log10();
        assert_near(low, end_db(WITHIN), ROUNDING_DB, "loudspeakers by 1.5 dB more");
        assert_near(high, end_db(1.0 / WITHIN), ROUNDING_DB, "by 1.5 dB less");
        assert!(low < stage_db && stage_db < high, "{low} to {high} for {stage_db}");
    }
}

#[test]
fn loudspeakers_alone_leave_no_lower_end() {
    let (room, main) = evening(-60.0);
    let found = Loudspeakers::of(&room, &[&main], &ALONE, &QUIET).unwrap();
    let [low, high] = found.stage_db(&room, &[&main], SONG).unwrap();
    assert!(low == f64::NEG_INFINITY && high < -3.0, "{low} to {high}");
}

#[test]
fn too_little_of_loudspeakers_and_a_noisy_hall_say_nothing() {
    let (room, main) = evening(0.0);
    let short = [Span::new(10.0, 15.0)];
    assert!(matches!(
        Loudspeakers::of(&room, &[&main], &short, &QUIET),
        Err(Unmeasured::TooShort { .. })
    ));
    // What is taken for quiet is as loud as the loudspeakers.
    assert!(matches!(
        Loudspeakers::of(&room, &[&main], &ALONE, &ALONE),
        Err(Unmeasured::Because(_))
    ));
}
