//! Tests of `measure::phrases`, by planted phrases.

use deskside::measure::LoudnessMeter;
use deskside::measure::phrases::{Phrase, SPREAD_NEEDS, phrase_spread_lu, phrases};
use deskside::unit::{Span, Unmeasured};

use crate::support::feeding::{all_of, assert_near, measure_whole};
use crate::support::signals::{noise, segments};

/// What was reached with planted spreads of synthetic speech.
const SPREAD_TOLERANCE_LU: f64 = 0.3;

/// A window of 100 ms blurs a border.
const BORDER_TOLERANCE_S: f64 = 0.06;

fn find(plane: &[f32], active: &[Span]) -> Vec<Phrase> {
    let loudness = measure_whole(
        48_000,
        &[plane],
        LoudnessMeter::new,
        LoudnessMeter::push,
        LoudnessMeter::finish,
    );
    phrases(&loudness[0].k_power, active)
}

/// The planted phrases with a soft floor under them.
fn planted(parts: &[(f64, Option<f64>)]) -> Vec<f32> {
    let tone = segments(48_000, parts);
    let floor = noise(8, 1e-4, tone.len());
    tone.iter().zip(floor).map(|(sample, floor)| sample + floor).collect()
}

#[test]
fn phrases_are_found_where_they_were_planted_and_breaths_do_not_part_them() {
    let plane = planted(&[
        (1.0, None),
        (2.0, Some(-20.0)),
        (0.25, None),
        (1.0, Some(-20.0)),
        (1.0, None),
        (0.3, Some(-20.0)),
        (1.0, None),
        (0.8, Some(-26.0)),
        (1.0, None),
    ]);
    let found = find(&plane, &all_of(48_000, &plane));
    assert_eq!(found.len(), 2, "a breath of 0.25 s joins, a call of 0.3 s is left out: {found:?}");
    for (phrase, (span, level)) in
        found.iter().zip([(Span::new(1.0, 4.25), -23.0), (Span::new(6.55, 7.35), -29.0)])
    {
        assert_near(phrase.span.start_s, span.start_s, BORDER_TOLERANCE_S, "begin");
        assert_near(phrase.span.end_s, span.end_s, BORDER_TOLERANCE_S, "end");
        // Windows across borders and breaths lie up to 20 dB below and count.
        assert_near(phrase.level_lufs, level, 0.6, "level");
    }
}

#[test]
fn a_planted_spread_is_found_again() {
    let levels = [-20.0, -26.0, -22.0, -24.0, -21.0, -25.0, -23.0, -20.0, -26.0, -22.0, -24.0];
    let parts = levels.iter().flat_map(|&level| [(1.5, Some(level)), (0.7, None)]);
    let plane = planted(&parts.collect::<Vec<(f64, Option<f64>)>>());
    let found = find(&plane, &all_of(48_000, &plane));
    assert_eq!(found.len(), levels.len(), "all phrases");
    // P10 and P90 of the eleven planted levels are -26 and -20.
    let spread = phrase_spread_lu(&found).expect("a value");
    assert_near(spread, 6.0, SPREAD_TOLERANCE_LU, "spread");
}

#[test]
fn few_phrases_have_no_spread_and_silence_has_no_phrase() {
    let plane = planted(&[(1.0, Some(-20.0)), (1.0, None)].repeat(5));
    let found = find(&plane, &all_of(48_000, &plane));
    let reason = Unmeasured::TooFewEvents { have: 5, need: SPREAD_NEEDS };
    assert_eq!(phrase_spread_lu(&found), Err(reason), "five phrases");
    assert_eq!(find(&[0.0; 96_000], &[Span::new(0.0, 2.0)]), [], "silence");
    assert_eq!(find(&plane, &[]), [], "no stretch");
}
