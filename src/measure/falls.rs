//! # Decay from sudden stops
//!
//! How long a hall rings, from the moments in which the music breaks off.
//!
//! - **Formula:** per octave, level of 10 ms, smoothed by 1-2-1; from each highest point within 22 dB of the 95th percentile
//!   follow the fall until it rises by 2 dB, stalls for 120 ms, or comes within 6 dB of the 2nd percentile; leave out the first
//!   4 dB; a straight line; kept if it falls by 15 dB or more, r² is over 0.96, its halves differ by a factor under 2,
//!   and it gives 0.1 s to 6 s. Decay time: 20th percentile of the lines weighted by their fall, for a source adds to a decay
//!   and never takes from it
//! - **Unit:** s, to fall by 60 dB
//! - **Range:** 0.3 s to 3 s
//! - **Source:** terms of ISO 3382-1; the rule from trials in 16 simulated halls (93 of 100 octaves that were answered within
//!   20 %); confidence is the share within 20 %
//! - **Window:** whole recording of a microphone in the room, 500 Hz to 4 kHz
//! - **No value:** fewer than two such falls; never below 500 Hz, where notes ring as long as halls do
//! - **Misleads when:** every stop is a fade or a note that rings; a reverb effect sounds from the loudspeakers; the recorder
//!   follows the level by itself

use super::Trace;
use super::decay::{HALF_OCTAVE, Line};
use super::level::{STEP_S, STEPS_PER_S};
use super::trace::FLOOR_DB;
use crate::dsp::Group;
use crate::dsp::biquad::{Biquad, band_pass};
use crate::dsp::lanes::{Frame, Framer, Isa, LANES, State64, for_each_pack, weighted_energy};
use crate::dsp::percentile::percentile;
use crate::dsp::steps::Steps;
use crate::unit::{Fact, Span, Unmeasured};

/// Middle of the octaves, in Hz, exact for base ten (IEC 61260-1): 500 Hz to 4 kHz.
pub const OCTAVES_HZ: [f64; 4] = [501.187_234, 1_000.0, 1_995.262_315, 3_981.071_706];

/// A fall begins this near to the loud level, in dB.
const NEAR_TOP_DB: f64 = 22.0;

/// What ends a fall: a rise, a stall in steps, nearness to the floor.
const RISE_DB: f64 = 2.0;
const STALL_STEPS: usize = 12;
const OVER_FLOOR_DB: f64 = 6.0;

/// What is left out at its begin: direct sound, and the end of the note, in dB.
const SKIPPED_DB: f64 = 4.0;

/// What makes a fall a decay.
const NEEDS_FALL_DB: f64 = 15.0;
const NEEDS_STEPS: usize = 8;
const NEEDS_R2: f64 = 0.96;
const LAWFUL_BEND: std::ops::Range<f64> = 0.5..2.0;
const LAWFUL_S: std::ops::Range<f64> = 0.1..6.0;

/// Fewest decays, and as many as are trusted if they agree within a spread.
const FEWEST: usize = 2;
const MANY: usize = 5;
const CLOSE_SPREAD: f64 = 0.3;

/// Share of such octaves that came within 20 % in simulated halls.
const CONFIDENT: f64 = 0.9;
const LESS_CONFIDENT: f64 = 0.75;

/// Decay time of an octave.
#[derive(Clone, Debug, PartialEq)]
pub struct Falls {
    /// Decay time, in seconds.
    pub t60_s: Fact,
    /// The falls it rests on.
    pub evidence: Vec<Span>,
}

/// Measures the decay times of [`OCTAVES_HZ`]. It keeps 0.8 kB a second and channel.
pub struct FallsMeter {
    isa: Isa,
    framer: Framer,
    steps: Steps,
    bands: Vec<Band>,
}

struct Band {
    sections: [Biquad; 3],
    state: State64<3>,
    traces: Vec<Trace>,
}

impl FallsMeter {
    /// A meter for some channels of one rate. Octaves above half the rate are left out.
    ///
    /// # Panics
    ///
    /// If a step of 10 ms would be shorter than a sample.
    pub fn new(rate_hz: u32, n_channels: usize) -> Self {
        let rate = f64::from(rate_hz);
        let mut steps = Steps::new(rate_hz, STEPS_PER_S);
        let band = |&mid_hz: &f64| {
            let sections = band_pass(rate, mid_hz / HALF_OCTAVE, mid_hz * HALF_OCTAVE, 3);
            Band {
                sections: sections.try_into().expect("three sections were asked for"),
                state: [[[0.0; LANES]; 2]; 3],
                traces: vec![Trace::new(STEP_S); n_channels],
            }
        };
        let is_there = |mid_hz: &&f64| **mid_hz * HALF_OCTAVE < 0.5 * rate;
        Self {
            isa: Isa::best(),
            framer: Framer::new(steps.take()),
            steps,
            bands: OCTAVES_HZ.iter().filter(is_there).map(band).collect(),
        }
    }

    /// Takes the next samples.
    pub fn push(&mut self, group: Group<'_>) {
        for_each_pack(self.isa, group, |frames| self.take(frames));
    }

    /// The same, of samples that are packed already.
    pub fn take(&mut self, frames: &[Frame]) {
        let Self { isa, framer, steps, bands } = self;
        framer.push(frames, |frames| {
            for band in bands.iter_mut() {
                let mut energy = [0.0; LANES];
                weighted_energy(*isa, frames, &band.sections, &mut band.state, &mut energy);
                for (trace, energy) in band.traces.iter_mut().zip(energy) {
                    #[expect(clippy::cast_precision_loss, reason = "a step has few samples")]
                    trace.push_power(energy / frames.len() as f64);
                }
            }
            steps.take()
        });
    }

    /// The decay times: for each octave, one a channel.
    pub fn finish(self) -> Vec<Vec<Falls>> {
        self.bands.iter().map(|band| band.traces.iter().map(judge).collect()).collect()
    }
}

/// A fall that is a decay.
#[derive(Clone, Copy, Debug)]
struct Decay {
    t60_s: f64,
    fall_db: f64,
    span: Span,
}

/// Decay time from the level of an octave over time.
fn judge(trace: &Trace) -> Falls {
    let raw: Vec<f64> = trace.levels_in_db(0..trace.len());
    let sounding: Vec<f64> = raw.iter().copied().filter(|&level| level > FLOOR_DB).collect();
    let (Some(floor_db), Some(top_db)) = (percentile(&sounding, 0.02), percentile(&sounding, 0.95))
    else {
        return Falls { t60_s: Fact::missing(Unmeasured::Silent), evidence: Vec::new() };
    };
    let decays = decays(&smoothed(&raw), top_db - NEAR_TOP_DB, floor_db + OVER_FLOOR_DB);
    if decays.len() < FEWEST {
        let reason = Unmeasured::TooFewEvents { have: decays.len(), need: FEWEST };
        return Falls { t60_s: Fact::missing(reason), evidence: Vec::new() };
    }
    let [low_s, t60_s, high_s] = [0.15, 0.20, 0.60].map(|share| weighted(&decays, share));
    let is_sure = decays.len() >= MANY && high_s - low_s < CLOSE_SPREAD * t60_s;
    let confidence = if is_sure { CONFIDENT } else { LESS_CONFIDENT };
    let mut evidence: Vec<Span> = decays.iter().map(|decay| decay.span).collect();
    evidence.sort_by(|a, b| a.start_s.total_cmp(&b.start_s));
    Falls { t60_s: Fact::sure(t60_s, confidence), evidence }
}

/// Levels weighted 1-2-1 with their neighbours.
fn smoothed(levels_db: &[f64]) -> Vec<f64> {
    let last = levels_db.len().saturating_sub(1);
    let around = |at: usize| {
        let (before, after) = (levels_db[at.saturating_sub(1)], levels_db[(at + 1).min(last)]);
        0.25 * before + 0.5 * levels_db[at] + 0.25 * after
    };
    (0..levels_db.len()).map(around).collect()
}

/// The falls that are decays, those that give short times first.
fn decays(levels_db: &[f64], from_db: f64, floor_db: f64) -> Vec<Decay> {
    let (mut found, mut at) = (Vec::new(), 0);
    while at + NEEDS_STEPS < levels_db.len() {
        let is_top = levels_db[at.saturating_sub(2)..at].iter().all(|&db| db <= levels_db[at]);
        if !is_top || levels_db[at] <= from_db {
            at += 1;
            continue;
        }
        let (mut lowest, mut lowest_db) = (at, levels_db[at]);
        for (step, &level_db) in levels_db.iter().enumerate().skip(at + 1) {
            let is_over = level_db > lowest_db + RISE_DB || step - lowest > STALL_STEPS;
            if is_over || level_db < floor_db {
                break;
            }
            if level_db < lowest_db {
                (lowest, lowest_db) = (step, level_db);
            }
        }
        let top_db = levels_db[at];
        let first = (at..lowest).find(|&step| levels_db[step] <= top_db - SKIPPED_DB);
        found.extend(first.and_then(|first| decay(levels_db, first, lowest)));
        at = lowest + 1;
    }
    found.sort_by(|a: &Decay, b: &Decay| a.t60_s.total_cmp(&b.t60_s));
    found
}

/// The decay between two steps, if it is one.
#[expect(clippy::cast_precision_loss, reason = "counts of steps are small")]
fn decay(levels_db: &[f64], first: usize, last: usize) -> Option<Decay> {
    let fall = &levels_db[first..=last];
    let fall_db = levels_db[first] - levels_db[last];
    if fall.len() < NEEDS_STEPS || fall_db < NEEDS_FALL_DB {
        return None;
    }
    let (early, late) = fall.split_at(fall.len() / 2);
    let (line, early, late) = (Line::through(fall)?, Line::through(early)?, Line::through(late)?);
    let t60_s = -60.0 * STEP_S / line.slope;
    let is_straight = line.r2 > NEEDS_R2 && LAWFUL_BEND.contains(&(early.slope / late.slope));
    let span = Span::new(first as f64 * STEP_S, (last + 1) as f64 * STEP_S);
    (is_straight && LAWFUL_S.contains(&t60_s)).then_some(Decay { t60_s, fall_db, span })
}

/// The decay time under which a share of all falls lies, of decays in ascending order.
fn weighted(decays: &[Decay], share: f64) -> f64 {
    let total: f64 = decays.iter().map(|decay| decay.fall_db).sum();
    let mut sum = 0.0;
    let reached = decays.iter().find(|decay| {
        sum += decay.fall_db;
        sum >= share * total
    });
    reached.or(decays.last()).map_or(0.0, |decay| decay.t60_s)
}
