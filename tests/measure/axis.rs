//! Treble of talk: planted falls are found, and what is no turned mouth is none.
//!
//! Source: planted truth; the standard error is held against the leave-one-out one (Tukey, 1958, from memory).

use deskside::dsp::thirds::N_BANDS;
use deskside::measure::axis::{TrebleFall, treble_fall};
use deskside::measure::phrases::Phrase;
use deskside::measure::{Thirds, Trace};
use deskside::unit::{Span, Unmeasured};

use crate::support::feeding::assert_near;
use crate::support::planted::Dice;

/// Rounding of levels that are held as `f32`.
const EXACT_DB: f64 = 1e-4;

/// A step of the bands, in seconds.
const STEP_S: f64 = 0.2;

/// Lengths of a phrase and of the pause behind it, in steps; ten phrases are a passage of 30 s.
const PHRASE: usize = 15;
const PAUSE: usize = 5;
const IN_PASSAGE: usize = 10;

/// Level of the middle bands, of the treble and of the pauses.
const MIDDLE_DB: f64 = -20.0;
const TREBLE_DB: f64 = -40.0;
const PAUSE_DB: f64 = -70.0;

/// Third-octaves 125 to 200 Hz, 250 Hz to 1 kHz, and 6.3 to 10 kHz (IEC 61260-1, counted from 25 Hz).
const LOW: std::ops::Range<usize> = 7..10;
const MIDDLE: std::ops::Range<usize> = 10..17;
const TREBLE: std::ops::Range<usize> = 24..27;

const TOO_LITTLE_TALK: Unmeasured =
    Unmeasured::Because("fewer than three half-minutes of its talk can be compared");

/// What differs in a passage from the others, in dB.
#[derive(Clone, Copy, Default)]
struct Changed {
    all: f64,
    low: f64,
    treble: f64,
    pause: f64,
}

/// A talk of passages, with so much scatter of the treble from phrase to phrase.
struct Talk {
    thirds: Thirds,
    phrases: Vec<Phrase>,
    /// Energy of the treble and of the middle, phrase by phrase.
    energies: Vec<[f64; 2]>,
}

fn talk(passages: &[Changed], scatter_db: f64, seed: u64) -> Talk {
    let mut dice = Dice::new(seed);
    let mut bands: Vec<Trace> = (0..N_BANDS).map(|_| Trace::new(STEP_S)).collect();
    let (mut phrases, mut energies) = (Vec::new(), Vec::new());
    let power = |level_db: f64| 10f64.powf(level_db / 10.0);
    for changed in passages.iter().flat_map(|changed| [*changed; IN_PASSAGE]) {
        let treble_db = TREBLE_DB + changed.all + changed.treble + scatter_db * dice.normal();
        let middle_db = MIDDLE_DB + changed.all;
        let n = phrases.len() * (PHRASE + PAUSE);
        let [start_s, end_s] = [n, n + PHRASE].map(|steps| steps as f64 * STEP_S);
        phrases.push(Phrase { span: Span::new(start_s, end_s), level_lufs: -20.0 });
        energies.push([3.0 * power(treble_db), 7.0 * power(middle_db)]);
        for (number, band) in bands.iter_mut().enumerate() {
            let level_db = match number {
                at if TREBLE.contains(&at) => treble_db,
                at if LOW.contains(&at) => middle_db + changed.low,
                at if MIDDLE.contains(&at) => middle_db,
                _ => -50.0,
            };
            (0..PHRASE).for_each(|_| band.push_power(power(level_db)));
            (0..PAUSE).for_each(|_| band.push_power(power(PAUSE_DB + changed.pause)));
        }
    }
    Talk { thirds: Thirds { bands }, phrases, energies }
}

impl Talk {
    fn whole(&self) -> Span {
        Span::new(0.0, self.thirds.n_steps() as f64 * STEP_S)
    }

    fn fall(&self) -> Result<TrebleFall, Unmeasured> {
        treble_fall(&self.thirds, &self.phrases, &[self.whole()])
    }

    fn passage(&self, number: usize) -> Span {
        let phrases = &self.phrases[number * IN_PASSAGE..(number + 1) * IN_PASSAGE];
        Span::new(phrases[0].span.start_s, phrases[IN_PASSAGE - 1].span.end_s)
    }
}

/// Six passages of which the fourth differs.
fn with(changed: Changed) -> TrebleFall {
    let same = Changed::default();
    talk(&[same, same, same, changed, same, same], 0.0, 1).fall().expect("six passages")
}

#[test]
fn a_planted_fall_is_found_where_it_was_planted() {
    let turned = Changed { all: -2.0, treble: -9.0, ..Changed::default() };
    let same = Changed::default();
    let talk = talk(&[same, same, same, turned, same, same], 0.0, 1);
    let found = talk.fall().expect("six passages");
    assert_near(found.fall_db, 9.0, EXACT_DB, "fall");
    assert_near(found.explained_db, 2.0, EXACT_DB, "2 dB softer explain as much");
    assert_eq!(
        found.at,
        Some([talk.passage(3), talk.passage(0)]),
        "the dull one, then a bright one"
    );
}

#[test]
fn it_is_held_against_the_mean_of_the_brightest_fifth() {
    // Ten passages, one of them dull: the brightest fifth of all are those of +3 and +1 dB.
    let bright = |treble: f64| Changed { treble, ..Changed::default() };
    let dull = Changed { all: -1.0, treble: -6.0, ..Changed::default() };
    let mut passages = vec![Changed::default(); 7];
    passages.extend([bright(3.0), bright(1.0), dull]);
    let found = talk(&passages, 0.0, 1).fall().expect("ten passages");
    assert_near(found.fall_db, 2.0 + 6.0, EXACT_DB, "fall");
}

#[test]
fn chance_is_four_standard_errors() {
    let dull = Changed { all: -1.0, treble: -12.0, ..Changed::default() };
    let talk = talk(&[Changed::default(), Changed::default(), dull], 4.0, 3);
    let found = talk.fall().expect("three passages");
    let [dull, bright] = found.at.expect("a fall").map(|span| {
        (0..3).find(|&number| talk.passage(number) == span).expect("one of the passages")
    });
    let squares = [dull, bright].map(|number| {
        let energies = &talk.energies[number * IN_PASSAGE..(number + 1) * IN_PASSAGE];
        let without = |left_out: usize| {
            let kept = energies.iter().enumerate().filter(|(at, _)| *at != left_out);
            let [treble, middle] =
                kept.fold([0.0; 2], |sum, (_, one)| [sum[0] + one[0], sum[1] + one[1]]);
            10.0 * f64::log10(treble / middle)
        };
        let values: Vec<f64> = (0..IN_PASSAGE).map(without).collect();
        let mean = values.iter().sum::<f64>() / 10.0;
        0.9 * values.iter().map(|value| (value - mean).powi(2)).sum::<f64>()
    });
    let expected_db = 4.0 * squares.iter().sum::<f64>().sqrt() + 1.0;
    // The two differ in the second order of an error of about 1 dB.
    assert_near(found.explained_db, expected_db, 0.1 * expected_db, "explained");
}

#[test]
fn a_softer_voice_explains_its_loss_of_treble() {
    // 2 dB of treble for a decibel of level is as much as effort alone was seen to bring (Nordenberg and Sundberg, 2004, from
    // memory).
    let softer = with(Changed { all: -3.0, treble: -3.0, ..Changed::default() });
    assert_near(softer.fall_db, 3.0, EXACT_DB, "fall");
    assert!(softer.fall_db <= softer.explained_db + EXACT_DB, "{softer:?}");
}

#[test]
fn what_is_not_alike_or_does_not_fall_against_the_pauses_is_no_fall() {
    let dull = Changed { all: -2.0, treble: -9.0, ..Changed::default() };
    for (what, changed) in [
        ("another voice", Changed { low: 5.0, ..dull }),
        ("a voice that is much softer", Changed { all: -5.0, ..dull }),
        ("a gain that was turned down", Changed { pause: -2.0, ..dull }),
        ("a voice that is as loud as before", Changed { all: 0.0, ..dull }),
        ("a voice that is brighter", Changed { treble: 3.0, ..dull }),
    ] {
        let found = with(changed);
        assert_near(found.fall_db, 0.0, EXACT_DB, what);
        assert_eq!(found.at, None, "{what}");
    }
}

#[test]
fn treble_that_is_not_clear_of_the_pauses_tells_nothing() {
    // Noise as in the treble: -45 dB in each band is 5 dB under the voice.
    let noisy = Changed { pause: -45.0 - PAUSE_DB, ..Changed::default() };
    assert_eq!(talk(&[noisy; 4], 0.0, 1).fall(), Err(TOO_LITTLE_TALK), "5 dB over the pauses");
    let clear = Changed { pause: -47.0 - PAUSE_DB, ..Changed::default() };
    assert!(talk(&[clear; 4], 0.0, 1).fall().is_ok(), "7 dB over the pauses");
}

#[test]
fn passages_keep_to_their_talk() {
    let talk = talk(&[Changed::default(); 4], 0.0, 1);
    let parts = |n_parts: usize| -> Vec<Span> {
        let length_s = talk.whole().end_s / n_parts as f64;
        let part =
            |number: usize| Span::new(number as f64 * length_s, (number + 1) as f64 * length_s);
        (0..n_parts).map(part).collect()
    };
    assert!(treble_fall(&talk.thirds, &talk.phrases, &parts(4)).is_ok(), "four passages");
    let found = treble_fall(&talk.thirds, &talk.phrases, &parts(8));
    assert_eq!(found, Err(TOO_LITTLE_TALK), "eight talks of 15 s of voice");
}

#[test]
fn few_passages_voices_unlike_each_other_and_low_rates_have_no_value() {
    let same = Changed::default();
    assert_eq!(talk(&[same; 2], 0.0, 1).fall(), Err(TOO_LITTLE_TALK), "two passages");
    let louder = [0.0, 6.0, 12.0].map(|all| Changed { all, ..same });
    assert!(matches!(talk(&louder, 0.0, 1).fall(), Err(Unmeasured::Because(_))), "6 dB apart");
    let mut low = talk(&[same; 4], 0.0, 1);
    low.thirds.bands.truncate(26);
    let reason = Unmeasured::Because("the sample rate is too low");
    assert_eq!(low.fall(), Err(reason), "no band at 10 kHz");
}
