//! # Low end against level
//!
//! Whether louder phrases of a voice have more low end, as they have when the mouth comes closer to a directional microphone.
//!
//! - **Formula:** Spearman's rank correlation over phrases, between their loudness and their low end: `10 lg` of the power in
//!   112-224 Hz (third-octaves 125, 160 and 200 Hz) over that in 891-1778 Hz (1, 1.25 and 1.6 kHz). Ranks of equal values are
//!   their mean rank, and the correlation is Pearson's of the ranks
//! - **Unit:** none
//! - **Range:** -1 to 1; above 0.5 where the distance moves, below 0 where the voice itself gets louder, since effort adds
//!   treble
//! - **Source:** Spearman, The proof and measurement of association between two things (1904), and Kendall, Rank Correlation
//!   Methods (1948), both from memory; near-field bass rise after Eargle, The Microphone Book, from memory
//! - **Window:** steps of 0.2 s wholly inside each phrase
//! - **No value:** fewer than 8 phrases, all phrases alike, or a rate that holds no such bands
//! - **Misleads when:** low spill (kick, bass) fills the phrases, or loud phrases are sung in a lower register; with eight
//!   phrases one value in ten of unrelated series lies above 0.5

use super::Thirds;
use super::phrases::Phrase;
use super::sliding::steps_inside;
use super::thirds::STEP_S;
use crate::unit::Unmeasured;

/// Third-octaves from 112 to 224 Hz and from 891 to 1778 Hz.
const LOW_BANDS: std::ops::Range<usize> = 7..10;
const MID_BANDS: std::ops::Range<usize> = 16..19;

/// Phrases that the correlation needs.
pub const WANDER_NEEDS_PHRASES: usize = 8;

/// Rank correlation of the loudness of phrases with their low end, -1 to 1.
///
/// # Errors
///
/// [`Unmeasured::TooFewEvents`] below [`WANDER_NEEDS_PHRASES`] phrases with sound in both ranges; a reason if the rate is
/// too low or the phrases are all alike.
pub fn low_end_correlation(thirds: &Thirds, phrases: &[Phrase]) -> Result<f64, Unmeasured> {
    if thirds.bands.len() < MID_BANDS.end {
        return Err(Unmeasured::Because("the sample rate is too low"));
    }
    let points =
        phrases.iter().filter_map(|phrase| Some((phrase.level_lufs, low_end_db(thirds, phrase)?)));
    let (levels, low_ends): (Vec<f64>, Vec<f64>) = points.unzip();
    if levels.len() < WANDER_NEEDS_PHRASES {
        return Err(Unmeasured::TooFewEvents { have: levels.len(), need: WANDER_NEEDS_PHRASES });
    }
    rank_correlation(&levels, &low_ends)
        .ok_or(Unmeasured::Because("all phrases are alike in level or low end"))
}

/// Low end of a phrase, in dB; `None` where one of the ranges is silent or no step lies inside.
fn low_end_db(thirds: &Thirds, phrase: &Phrase) -> Option<f64> {
    let power = |bands: std::ops::Range<usize>| -> f64 {
        let steps = steps_inside(phrase.span, STEP_S, thirds.n_steps());
        let bands = &thirds.bands[bands];
        steps.map(|step| bands.iter().map(|band| band.power(step)).sum::<f64>()).sum()
    };
    let (low, mid) = (power(LOW_BANDS), power(MID_BANDS));
    (low > 0.0 && mid > 0.0).then(|| 10.0 * (low / mid).log10())
}

/// Spearman's rank correlation of two series of one length, -1 to 1; `None` where one of them does not vary.
///
/// # Panics
///
/// If the series differ in length.
pub fn rank_correlation(one: &[f64], other: &[f64]) -> Option<f64> {
    assert_eq!(one.len(), other.len(), "each value has its counterpart");
    // Ranks lie around (n + 1) / 2, with ties as without.
    let middle = f64::midpoint(1.0, count(one.len()));
    let (one, other) = (ranks(one), ranks(other));
    let product = |left: &[f64], right: &[f64]| -> f64 {
        left.iter().zip(right).map(|(left, right)| (left - middle) * (right - middle)).sum()
    };
    let spread = product(&one, &one) * product(&other, &other);
    (spread > 0.0).then(|| product(&one, &other) / spread.sqrt())
}

/// Rank of each value from 1, the smallest; equal values share their mean rank.
fn ranks(values: &[f64]) -> Vec<f64> {
    let rank = |value: &f64| {
        let n_below = values.iter().filter(|other| *other < value).count();
        let n_equal = values.iter().filter(|other| other.total_cmp(value).is_eq()).count();
        count(n_below) + f64::midpoint(1.0, count(n_equal))
    };
    values.iter().map(rank).collect()
}

#[expect(clippy::cast_precision_loss, reason = "a count of phrases is far below 2^52")]
fn count(n: usize) -> f64 {
    n as f64
}
