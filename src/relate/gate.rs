//! # Gate between two taps
//!
//! When a channel's gate is open, how deep it closes, and whether it flutters or cuts what still rings.
//!
//! - **Formula:** gain between the taps in blocks of 2 ms (see gain reduction between two taps), over 6 ms; 0 dB: its median in the
//!   loudest 3 % of the blocks; open: within 3 dB of that; depth: 97th percentile of the reduction in blocks within 45 dB of the
//!   95th percentile of levels; a closing falls to -10 dB or below, in single blocks;
//!   flutter: it opens again after 6 to 80 ms; cut: at the closing the
//!   envelope of the peaks (release 10 ms) is less than 18 dB under the highest since the opening, and more than 10 dB above its
//!   own 25th percentile
//! - **Unit:** dB; s; how many
//! - **Range:** 6 to 60 dB; closings of less than 10 dB or 6 ms do not count as such
//! - **Source:** attack, hold and release of gates, and ranges of 10 dB and more: common practice; what is left of the second tap as
//!   a measure of trust: least squares
//! - **Window:** the loudest stretches, 52 s at most
//! - **No value:** nothing closes between the taps; flutter and cuts where filter and gain leave over more than -25 dB, or where it
//!   closes by 10 to 13 dB: what moves the gain a little then looks like a closing
//! - **Misleads when:** a mute or a tremolo stands between the taps; an expander has no range of its own: its depth is the depth
//!   that it reached

use super::frames::runs;
use super::reduction::Course;
use crate::dsp::percentile::{median, percentile};
use crate::unit::{Span, Unmeasured};

/// Share of the loudest blocks, in which a gate is open.
const LOUDEST: f64 = 0.97;

/// Reduction up to which it is open, and from which on it has closed, in dB.
const OPEN_DB: f64 = 3.0;
const CLOSED_DB: f64 = 10.0;

/// A depth up to which a gain that wavers looks as if it closed by 10 dB, in dB: of six expanders that close by 10 to 13 dB three
/// seemed to flutter and did not.
const WAVERS_DB: f64 = 13.0;

/// Blocks this far under the 95th percentile of levels tell how deep it closes, in dB, and the share of them that is not deeper.
const HEARD_DB: f64 = 45.0;
const DEEP: f64 = 0.97;

/// What closes less deep is no gate, in dB, nor what closes on sound that is not softer by this, in dB.
const LEAST_DEPTH_DB: f64 = 6.0;
const SOFTER_DB: f64 = 6.0;
const LOUD: f64 = 0.9;

/// Times after a closing between which a gate that opens again flutters, in seconds.
const FLUTTER_S: [f64; 2] = [0.006, 0.080];

/// Residual above which single switches are not to be trusted, in dB.
const CLEAN_DB: f64 = -25.0;

/// Release of the envelope, in seconds; how far it has fallen and how far it stands above its quiet at a closing that cuts, in dB.
const ENVELOPE_S: f64 = 0.010;
const FALLEN_DB: f64 = 18.0;
const QUIET: f64 = 0.25;
const RINGS_DB: f64 = 10.0;

/// What a gate does.
#[derive(Clone, Debug, PartialEq)]
pub struct Gating {
    /// Whether it is open, in blocks of 2 ms.
    pub is_open: Vec<bool>,
    /// How deep it closes, in dB.
    pub depth_db: f64,
    /// Power of the processed tap that filter and gain leave over, in dB.
    pub residual_db: f64,
    /// How long was looked at, in seconds.
    pub length_s: f64,
    /// How it switches, where single switches can be trusted.
    pub switches: Result<Switches, Unmeasured>,
}

/// How a gate switches.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Switches {
    /// When it opens again within 80 ms of a closing, in seconds.
    pub flutter_at_s: Vec<f64>,
    /// When it cuts what still rings, in seconds.
    pub cut_at_s: Vec<f64>,
    /// How often it closes.
    pub n_closings: usize,
}

impl Gating {
    /// Share of the time in which it is open, 0 to 1.
    #[expect(clippy::cast_precision_loss, reason = "blocks are few")]
    pub fn open_share(&self) -> f64 {
        let n_open = self.is_open.iter().filter(|is_open| **is_open).count();
        n_open as f64 / self.is_open.len().max(1) as f64
    }
}

/// What the gate of a channel does, from what lies between its taps.
///
/// # Errors
///
/// [`Unmeasured::Silent`], or a reason where nothing closes.
pub fn measure(course: &Course) -> Result<Gating, Unmeasured> {
    let level_db = &course.level_db;
    let loudest_db = percentile(level_db, LOUDEST).ok_or(Unmeasured::Silent)?;
    let both = || course.gain_db.iter().zip(level_db);
    let loudest: Vec<f64> =
        both().filter(|(_, level)| **level >= loudest_db).map(|(gain_db, _)| *gain_db).collect();
    let zero_db = median(&loudest).ok_or(Unmeasured::Silent)?;
    let loud_db = percentile(level_db, 0.95).ok_or(Unmeasured::Silent)?;
    let heard: Vec<f64> = both()
        .filter(|(_, level)| **level > loud_db - HEARD_DB)
        .map(|(gain_db, _)| zero_db - gain_db)
        .collect();
    let depth_db = percentile(&heard, DEEP).ok_or(Unmeasured::Silent)?;
    let is_open: Vec<bool> =
        course.gain_db.iter().map(|gain_db| zero_db - gain_db < OPEN_DB).collect();
    if depth_db < LEAST_DEPTH_DB || !closes_on_softer(&is_open, level_db) {
        return Err(Unmeasured::Because("nothing closes between the taps"));
    }
    let switches = if depth_db < CLOSED_DB {
        Ok(Switches::default())
    } else if depth_db < WAVERS_DB {
        Err(Unmeasured::Because("it closes too little for single closings to be told"))
    } else if course.residual_db <= CLEAN_DB {
        Ok(switches(course, zero_db))
    } else {
        Err(Unmeasured::Because("the taps differ by more than an equaliser and a gain"))
    };
    let length_s = course.length_s(is_open.len());
    Ok(Gating { depth_db, residual_db: course.residual_db, length_s, switches, is_open })
}

/// When a gate is open, in seconds.
pub fn opened(gating: &Gating, course: &Course) -> Vec<Span> {
    let spans = runs(&gating.is_open, true).into_iter();
    spans.map(|(from, to)| Span::new(course.at_s(from), course.at_s(to))).collect()
}

/// Whether the loudest of what it closes on is softer than that of what it lets through: a compressor turns down what is loud. Most of
/// what a gate lets through may be soft, as the end of a stroke is.
fn closes_on_softer(is_open: &[bool], level_db: &[f64]) -> bool {
    let level = |open: bool| {
        let blocks = is_open.iter().zip(level_db).filter(|(is_open, _)| **is_open == open);
        percentile(&blocks.map(|(_, level)| *level).collect::<Vec<f64>>(), LOUD)
    };
    matches!((level(true), level(false)), (Some(open), Some(shut)) if shut <= open - SOFTER_DB)
}

/// Switches of a gate whose gain is known closely.
fn switches(course: &Course, zero_db: f64) -> Switches {
    // From open to closed it has to fall by 10 dB, or a gain that lingers at a border would flutter.
    let mut is_shut = true;
    let opened = course.quick_gain_db.iter().map(|gain_db| {
        let down_db = zero_db - gain_db;
        is_shut = if is_shut { down_db >= OPEN_DB } else { down_db >= CLOSED_DB };
        !is_shut
    });
    let passages = runs(&opened.collect::<Vec<bool>>(), true);
    let [least, most] = FLUTTER_S.map(|time_s| course.blocks(time_s));
    let flutter_at_s = passages
        .windows(2)
        .filter(|pair| (least..most).contains(&(pair[1].0 - pair[0].1)))
        .map(|pair| course.at_s(pair[1].0))
        .collect();
    let envelope_dbfs = envelope(course);
    let quiet_dbfs = percentile(&envelope_dbfs, QUIET).unwrap_or(0.0);
    let n = envelope_dbfs.len();
    let cuts = |&&(from, to): &&(usize, usize)| {
        let peak_dbfs = envelope_dbfs[from..to].iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let last_dbfs = envelope_dbfs[to - 1];
        to < n && last_dbfs > peak_dbfs - FALLEN_DB && last_dbfs > quiet_dbfs + RINGS_DB
    };
    Switches {
        cut_at_s: passages.iter().filter(cuts).map(|passage| course.at_s(passage.1)).collect(),
        n_closings: passages.iter().filter(|passage| passage.1 < n).count(),
        flutter_at_s,
    }
}

/// Peaks that fall by their release, in dBFS.
fn envelope(course: &Course) -> Vec<f64> {
    let fall_db = 20.0 * std::f64::consts::LOG10_E * course.length_s(1) / ENVELOPE_S;
    let mut held_dbfs = f64::NEG_INFINITY;
    let step = |peak_dbfs: &f64| {
        held_dbfs = peak_dbfs.max(held_dbfs - fall_db);
        held_dbfs
    };
    course.peak_dbfs.iter().map(step).collect()
}
