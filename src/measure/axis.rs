//! # Treble of talk
//!
//! How far the treble of a talking voice falls in its dullest half-minute, as it does where the mouth no longer points at the
//! microphone.
//!
//! - **Formula:** phrases of 1.5 s or longer are joined to passages of 30 s of voice. Treble of a passage: `10 lg` of the
//!   energy in 5.6-11.2 kHz (third-octaves 6.3, 8 and 10 kHz) over that in 224-1122 Hz (250 Hz to 1 kHz). The fall is the mean
//!   of the brightest fifth of the passages that are alike, minus the passage. Alike: levels in 224-1122 Hz within 4 dB, and
//!   the third-octaves from 125 Hz to 1 kHz within 4 dB of each other once that difference is taken off. It counts where the
//!   voice over its pauses (lower quartile of their steps, 224-1122 Hz) falls by 1 dB or more as well. Of all falls the one
//!   that stands out most is told: out of four standard errors over its phrases plus 1 dB a decibel that the voice is softer
//! - **Unit:** dB
//! - **Range:** 0 to about 15 dB
//! - **Source:** treble of a mouth and of directional microphones from the side: H. K. Dunn and D. W. Farnsworth, "Exploration
//!   of pressure field around the human head during speech", JASA 10, 1939, and Ballou, Handbook for Sound Engineers, both
//!   from memory. Less treble of a softer voice: P. Nordenberg and J. Sundberg, "Effect on LTAS of vocal loudness variation",
//!   2004, from memory. Standard error of a ratio of sums: W. G. Cochran, Sampling Techniques, from memory. Half a minute:
//!   single phrases of five recorded talkers scatter by 5 to 6 dB with the number of their S sounds, half-minutes by 1 to 2 dB
//! - **Window:** steps of 0.2 s wholly inside the phrases; passages do not reach over from one talk to the next
//! - **No value:** fewer than three passages that are alike; treble less than 6 dB over that of the pauses; less than 2 s of
//!   pauses in a passage; a rate that holds no 10 kHz band
//! - **Misleads when:** another person with a like voice takes over the microphone; the talker is from the side all the time,
//!   since a voice is held against itself alone

use std::ops::Range;

use super::Thirds;
use super::phrases::Phrase;
use super::sliding::steps_inside;
use super::thirds::STEP_S;
use crate::dsp::percentile::percentile;
use crate::unit::spans::{total_s, widened, without};
use crate::unit::{Span, Unmeasured};

/// Third-octaves 6.3, 8 and 10 kHz: 5.6 to 11.2 kHz.
const TREBLE: Range<usize> = 24..27;
/// Third-octaves 250 Hz to 1 kHz: 224 to 1122 Hz.
const MIDDLE: Range<usize> = 10..17;
/// Third-octaves 125 Hz to 1 kHz, by which a voice is told from another.
const VOICE: Range<usize> = 7..17;

/// Shorter phrases hold too few S sounds, in seconds.
const LEAST_PHRASE_S: f64 = 1.5;

/// Voice in a passage, in seconds.
const PASSAGE_S: f64 = 30.0;

/// Passages that have to be alike, and the reason where there are fewer.
const FALL_NEEDS_PASSAGES: usize = 3;
const TOO_LITTLE_TALK: Unmeasured =
    Unmeasured::Because("fewer than three half-minutes of its talk can be compared");

/// Pauses begin so long after a phrase and end so long before one, in seconds: a step.
const AFTER_PHRASE_S: f64 = 0.2;

/// Steps of pause that a passage needs: 2 s.
const FEWEST_PAUSES: usize = 10;

/// Share of the steps of a pause that lie below its level: coughs and calls lie above.
const PAUSE_SHARE: f64 = 0.25;

/// Power of the treble over that in the pauses from which on it is the voice's: 6 dB.
const CLEAR: f64 = 4.0;

/// What alike means, in dB.
const ALIKE_DB: f64 = 4.0;

/// One passage in so many is the brightest.
const BRIGHTEST: usize = 5;

/// How far a voice falls against its pauses where the fall counts, in dB.
const LEAST_OWN_FALL_DB: f64 = 1.0;

/// Standard errors that chance hardly reaches, though the dullest passage is held against the brightest: with three, 4 of 80
/// recorded talks with a softer passage or another talker in them were told.
const ERRORS: f64 = 4.0;

/// What treble falls by a decibel that a voice is softer: up to 2 dB, of which 1 dB is the voice itself (Nordenberg and
/// Sundberg, from memory).
const SOFTER_SHARE: f64 = 1.0;

/// How far the treble falls in the passage that stands out most.
#[derive(Clone, Debug, PartialEq)]
pub struct TrebleFall {
    /// The fall against the brightest passages; 0 where none counts.
    pub fall_db: f64,
    /// What chance and a softer voice explain of it.
    pub explained_db: f64,
    /// The dull passage and the brightest it is held against; none without a fall.
    pub at: Option<[Span; 2]>,
}

/// Phrases of about half a minute together.
struct Passage {
    span: Span,
    treble_db: f64,
    /// Standard error of the treble.
    error_db: f64,
    middle_db: f64,
    /// Level over that of the pauses.
    own_db: f64,
    /// Levels of the third-octaves in [`VOICE`].
    voice_db: Vec<f64>,
}

/// How far the treble of a voice falls; `phrases` are those of the talks given.
///
/// # Errors
///
/// A reason if there are fewer than three passages, if they are not alike, or if the rate is too low.
pub fn treble_fall(
    thirds: &Thirds,
    phrases: &[Phrase],
    talks: &[Span],
) -> Result<TrebleFall, Unmeasured> {
    if thirds.bands.len() < TREBLE.end {
        return Err(Unmeasured::Because("the sample rate is too low"));
    }
    let passages: Vec<Passage> =
        talks.iter().flat_map(|&talk| passages(thirds, phrases, talk)).collect();
    if passages.len() < FALL_NEEDS_PASSAGES {
        return Err(TOO_LITTLE_TALK);
    }
    let compared: Vec<(TrebleFall, f64)> =
        passages.iter().filter_map(|passage| passage.against(&passages)).collect();
    if compared.is_empty() {
        return Err(Unmeasured::Because("its passages of talk are not alike enough to compare"));
    }
    let falls_along = |(fall, own_fall_db): (TrebleFall, f64)| {
        (own_fall_db >= LEAST_OWN_FALL_DB && fall.fall_db > 0.0).then_some(fall)
    };
    let out_db = |fall: &TrebleFall| fall.fall_db - fall.explained_db;
    let falls = compared.into_iter().filter_map(falls_along);
    let most = falls.max_by(|a, b| out_db(a).total_cmp(&out_db(b)));
    Ok(most.unwrap_or(TrebleFall { fall_db: 0.0, explained_db: 0.0, at: None }))
}

/// The passages of a talk that tell anything.
fn passages(thirds: &Thirds, phrases: &[Phrase], talk: Span) -> Vec<Passage> {
    let spans = phrases.iter().map(|phrase| phrase.span);
    let here: Vec<Span> = spans.filter(|span| talk.shared(*span).is_some()).collect();
    let (mut found, mut part) = (Vec::new(), Vec::new());
    for span in here.iter().filter(|span| span.length_s() >= LEAST_PHRASE_S) {
        part.push(*span);
        if total_s(&part) >= PASSAGE_S {
            found.extend(Passage::of(thirds, &part, &here));
            part.clear();
        }
    }
    found
}

impl Passage {
    /// What some phrases tell together; `all` are the phrases around them as well, short ones too.
    fn of(thirds: &Thirds, phrases: &[Span], all: &[Span]) -> Option<Self> {
        let span = Span::new(phrases.first()?.start_s, phrases.last()?.end_s);
        let pauses = steps_in(thirds, &without(&[span], &widened(all, AFTER_PHRASE_S)));
        let pause = |bands: &Range<usize>| {
            let powers: Vec<f64> =
                pauses.iter().map(|&step| power(thirds, bands.clone(), step)).collect();
            percentile(&powers, PAUSE_SHARE).filter(|_| powers.len() >= FEWEST_PAUSES)
        };
        let steps: Vec<Vec<usize>> =
            phrases.iter().map(|&phrase| steps_in(thirds, &[phrase])).collect();
        let energies = |bands: &Range<usize>| -> Vec<f64> {
            let energy = |steps: &Vec<usize>| -> f64 {
                steps.iter().map(|&step| power(thirds, bands.clone(), step)).sum()
            };
            steps.iter().map(energy).collect()
        };
        let n_steps = count(steps.iter().map(Vec::len).sum());
        let mean = |bands: &Range<usize>| energies(bands).iter().sum::<f64>() / n_steps;
        let (treble, middle) = (mean(&TREBLE), mean(&MIDDLE));
        let (treble_pause, middle_pause) = (pause(&TREBLE)?, pause(&MIDDLE)?);
        // Digital silence in the pauses is a gate: what the microphone hears there is not known.
        if middle_pause <= 0.0 || middle <= 0.0 || treble <= 0.0 || treble < CLEAR * treble_pause {
            return None;
        }
        Some(Self {
            span,
            treble_db: in_db(treble / middle),
            error_db: ratio_error_db(&energies(&TREBLE), &energies(&MIDDLE)),
            middle_db: in_db(middle),
            own_db: in_db(middle / middle_pause),
            voice_db: VOICE.map(|band| in_db(mean(&(band..band + 1)))).collect(),
        })
    }

    /// The fall against the brightest of those that are alike, and that of the voice over its pauses, in dB; `None` where too
    /// few are alike.
    fn against(&self, all: &[Self]) -> Option<(TrebleFall, f64)> {
        let mut alike: Vec<&Self> = all.iter().filter(|other| self.is_like(other)).collect();
        if alike.len() < FALL_NEEDS_PASSAGES {
            return None;
        }
        alike.sort_by(|a, b| b.treble_db.total_cmp(&a.treble_db));
        alike.truncate(alike.len().div_ceil(BRIGHTEST));
        let n_bright = count(alike.len());
        let mean = |of: fn(&Self) -> f64| alike.iter().map(|one| of(one)).sum::<f64>() / n_bright;
        let softer_db = (mean(|one| one.middle_db) - self.middle_db).max(0.0);
        let error_db = (mean(|one| one.error_db.powi(2)) / n_bright + self.error_db.powi(2)).sqrt();
        let fall = TrebleFall {
            fall_db: mean(|one| one.treble_db) - self.treble_db,
            explained_db: ERRORS * error_db + SOFTER_SHARE * softer_db,
            at: Some([self.span, alike.first()?.span]),
        };
        Some((fall, mean(|one| one.own_db) - self.own_db))
    }

    fn is_like(&self, other: &Self) -> bool {
        let louder_db = other.middle_db - self.middle_db;
        let is_near = |(one, other): (&f64, &f64)| (other - one - louder_db).abs() <= ALIKE_DB;
        louder_db.abs() <= ALIKE_DB && self.voice_db.iter().zip(&other.voice_db).all(is_near)
    }
}

/// Standard error of a ratio of sums, in dB; to the first order, as the errors are small.
fn ratio_error_db(above: &[f64], below: &[f64]) -> f64 {
    let (sum_above, sum_below) = (above.iter().sum::<f64>(), below.iter().sum::<f64>());
    let (n, off) = (count(above.len()), |(a, b): (&f64, &f64)| a / sum_above - b / sum_below);
    let squares: f64 = above.iter().zip(below).map(off).map(|off| off * off).sum();
    let variance = if n > 1.0 { n / (n - 1.0) * squares } else { f64::INFINITY };
    10.0 / std::f64::consts::LN_10 * variance.sqrt()
}

fn power(thirds: &Thirds, bands: Range<usize>, step: usize) -> f64 {
    thirds.bands[bands].iter().map(|band| band.power(step)).sum()
}

fn steps_in(thirds: &Thirds, spans: &[Span]) -> Vec<usize> {
    spans.iter().flat_map(|&span| steps_inside(span, STEP_S, thirds.n_steps())).collect()
}

fn in_db(power: f64) -> f64 {
    10.0 * power.log10()
}

#[expect(clippy::cast_precision_loss, reason = "a count of steps is far below 2^52")]
fn count(n: usize) -> f64 {
    n as f64
}
