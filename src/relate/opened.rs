//! # Opened and closed
//!
//! When a channel was open in the main mix.
//!
//! - **Formula:** each frame says a gain with an error: first by `r_k = b_k - sum_{l!=k} A_kl g_l` of the equations `A g = b`, then whatever the
//!   others do within 0.25 of their usual gains. Evidence is `ln N(g; ref, e^2 + (0.5 ref)^2) - ln N(g; 0, e^2 + (0.2 ref)^2)`, within -3 to 3,
//!   with `ref` the usual gain (median of 24 s of open frames) and `e^2` the error's variance, times how much larger the errors of the channel
//!   are than they should be; the likeliest course of open and closed at a price of 24 for each switch (Viterbi). What lies beside a
//!   closing joins it where gains under 0.35 `ref` say so by 12. A switch lies within the stretch around it in which the evidence against
//!   any other place of it stays within 3; what is 7 dB or more under what is left unexplained says nothing there: something that was
//!   not recorded may pass for the channel
//! - **Unit:** s
//! - **Range:** closed means 12 dB or more under the usual gain, for 350 ms at least
//! - **Source:** G. D. Forney, "The Viterbi algorithm", Proc. IEEE 61(3), 1973; price and bounds are own trials on simulated desks
//! - **Window:** a section of up to two minutes, steps of 43 ms
//! - **No value:** frames in which too little of the channel is heard to tell; the course goes on as before there, and a switch is told as
//!   the stretch in which it lies
//! - **Misleads when:** a gate works on the channel: its closings are counted apart; something that was not recorded is loud in it

use super::alone::{Habit, Said, alone};
use super::frames::runs;
use super::ride::Equations;
use crate::unit::Span;

/// How far the gain of an open channel lies from the usual, and that of a closed one from 0, re the usual (standard deviations): faders
/// and compressors move the one, what other channels hear of its source passes for the other.
const MOVES: f64 = 0.5;
const LEAKS: f64 = 0.2;

/// How far a gain swings around the usual from frame to frame, re the usual.
const SWINGS: f64 = 0.25;

/// Evidence of a frame counts up to this.
const MOST_EVIDENCE: f64 = 3.0;

/// Price of a switch.
const PRICE: f64 = 24.0;

/// So much evidence against an open channel moves the border to a closing: half of a switch.
const FAINT: f64 = PRICE / 2.0;

/// There a channel is closed below half of this, re the usual gain: -9 dB. A compressor may lower a gain by more than 6 dB.
const BESIDE: f64 = 0.7;

/// A frame tells if the usual gain would stand out of its errors by this (a power ratio).
const TELLS: f64 = 6.0;

/// A channel at its usual gain that is softer than this, re what is left unexplained, may seem open by what was not recorded (a power
/// ratio).
const FIRM: f64 = 0.2;

/// Gains between these, re the usual, may be of either: errors of a passage are alike, many of them prove no more than one.
const CLEAR: [f64; 2] = [0.25, 0.7];

/// Half of the time over which the usual gain is taken, and how often, in seconds.
const USUAL_S: f64 = 12.0;
const EVERY_S: f64 = 0.85;

/// Frames that a usual gain needs.
const NEEDS_FRAMES: usize = 30;

/// Bounds of the usual gain, re that of the section.
const USUAL_RANGE: [f64; 2] = [0.4, 2.5];

/// A place of a switch is left open until the evidence against it reaches this: 1 in 20, as a logarithm.
const DOUBT: f64 = 3.0;

/// Gain of a section, re what is expected, below which the channel is closed in most of it: -20 dB.
const CLOSED: f64 = 0.1;

/// Shortest closing, and how much of it has to be told, in seconds.
const SHORTEST_S: f64 = 0.35;
const TOLD_S: f64 = 0.15;

/// Median of the square of a normal variable.
const MEDIAN_SQUARE: f64 = 0.455;

/// An outlier counts up to this in the mean of squared errors.
const MOST_SQUARE: f64 = 50.0;

/// Whether a channel was open, frame by frame.
#[derive(Clone, Debug, PartialEq)]
pub struct Opened {
    /// Whether it was open.
    pub open: Vec<bool>,
    /// Whether the frame tells.
    pub told: Vec<bool>,
    /// The usual gain.
    pub usual: Vec<f32>,
    /// Where it was opened or closed.
    pub switches: Vec<Switch>,
    /// How much larger the errors of its equations are than they should be, as a power ratio; not below 1.
    pub inflation: f64,
}

/// A change between open and closed, in frames.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Switch {
    /// Whether it opens.
    pub opens: bool,
    /// First frame behind it, where it is most likely.
    pub frame: usize,
    /// The same where it is as early as it may be.
    pub earliest: usize,
    /// And as late.
    pub latest: usize,
}

/// A change between open and closed, in seconds of the session.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Switched {
    /// Whether it opens.
    pub opens: bool,
    /// Where it lies.
    pub within: Span,
}

/// Whether a channel was open, given the gains of all channels frame by frame. `hop_s` lies between frames.
///
/// `expected` is the gain that the channel has elsewhere when it is open, on the scale of its gains here: where the section shows
/// nothing near it, the channel is closed for most of the section.
pub fn opened(
    equations: &Equations,
    gains: &[Vec<f32>],
    channel: usize,
    hop_s: f64,
    expected: Option<f64>,
) -> Opened {
    let n = equations.n_channels();
    let n_frames = equations.n_frames();
    let own: Vec<f64> =
        (0..n_frames).map(|t| f64::from(equations.products(t)[channel * n + channel])).collect();
    let errors: Vec<f64> = (0..n_frames)
        .map(|t| {
            let row = &equations.products(t)[channel * n..(channel + 1) * n];
            let made: f64 =
                row.iter().zip(gains).map(|(&a, gains)| f64::from(a) * f64::from(gains[t])).sum();
            f64::from(equations.with_main(t)[channel]) - made
        })
        .collect();
    let inflation = inflation(&own, &errors);
    let gains = &gains[channel];
    let usual = usual(&own, gains, inflation, hop_s, expected);
    let said = |t: usize| Said {
        firmness: own[t] / inflation,
        firm_gain: (errors[t] + own[t] * f64::from(gains[t])) / inflation,
    };
    let said: Vec<Said> = (0..n_frames).map(said).collect();
    let is_firm = firm(equations, channel, &usual);
    course(&said, usual, &is_firm, inflation, hop_s)
}

/// The same once more for all channels, by what each frame says of a channel whatever the others do within their habits: channels that
/// hear the same may have traded their parts before. `one_signal` holds whether a channel carries the signal of another: habits
/// settle nothing there, it stays as it is.
pub fn settled(
    equations: &Equations,
    states: Vec<Opened>,
    one_signal: &[bool],
    hop_s: f64,
) -> Vec<Opened> {
    let mut noises: Vec<f64> = states.iter().map(|state| state.inflation).collect();
    noises.sort_by(f64::total_cmp);
    let noise = noises.get(noises.len() / 2).copied().unwrap_or(1.0);
    let habits: Vec<Vec<Habit>> = states.iter().map(habits).collect();
    let said = alone(equations, &habits, noise);
    let again = |(channel, ((state, said), &is_twin)): (usize, ((Opened, Vec<Said>), &bool))| {
        if is_twin {
            return state;
        }
        let more = (noise / state.inflation).min(1.0);
        let said: Vec<Said> = said
            .iter()
            .map(|said| Said { firmness: said.firmness * more, firm_gain: said.firm_gain * more })
            .collect();
        let usual: Vec<f64> = state.usual.iter().map(|&usual| f64::from(usual)).collect();
        let is_firm = firm(equations, channel, &usual);
        course(&said, usual, &is_firm, state.inflation, hop_s)
    };
    states.into_iter().zip(said).zip(one_signal).enumerate().map(again).collect()
}

/// Frames in which a channel with its usual gain is not far under what is left unexplained.
fn firm(equations: &Equations, channel: usize, usual: &[f64]) -> Vec<bool> {
    let n = equations.n_channels();
    let own = |t: usize| f64::from(equations.products(t)[channel * n + channel]);
    (0..usual.len())
        .map(|t| own(t) * usual[t].powi(2) > FIRM * f64::from(equations.n_values()))
        .collect()
}

/// What a channel does as long as nobody moves its fader.
fn habits(state: &Opened) -> Vec<Habit> {
    let habit = |(&usual, &open): (&f32, &bool)| {
        let usual = f64::from(usual).max(1e-6);
        if open {
            Habit { gain: usual, swing: SWINGS * usual }
        } else {
            Habit { gain: 0.0, swing: LEAKS * usual }
        }
    };
    state.usual.iter().zip(&state.open).map(habit).collect()
}

/// The likeliest course of a channel by what each frame says of its gain.
fn course(said: &[Said], usual: Vec<f64>, is_firm: &[bool], inflation: f64, hop_s: f64) -> Opened {
    let told: Vec<bool> = said
        .iter()
        .zip(&usual)
        .map(|(said, usual)| said.firmness * usual * usual > TELLS)
        .collect();
    let each = |evidence: fn(&Said, f64) -> f64| -> Vec<f64> {
        let of_frame = |((said, &usual), &told): ((&Said, &f64), &bool)| {
            if told { evidence(said, usual).clamp(-MOST_EVIDENCE, MOST_EVIDENCE) } else { 0.0 }
        };
        said.iter().zip(&usual).zip(&told).map(of_frame).collect()
    };
    let likelier = each(likelier);
    let mut open = likeliest(&likelier);
    bridge(&mut open, &told, hop_s);
    trim(&mut open, &each(beside));
    let is_clear = |said: &Said, usual: f64| {
        !(CLEAR[0] * usual..CLEAR[1] * usual).contains(&(said.firm_gain / said.firmness))
    };
    let firmly: Vec<f64> = (0..likelier.len())
        .map(|t| if is_firm[t] && is_clear(&said[t], usual[t]) { likelier[t] } else { 0.0 })
        .collect();
    let switches = switches(&open, &firmly);
    #[expect(clippy::cast_possible_truncation, reason = "a gain near 1")]
    let usual = usual.iter().map(|&usual| usual as f32).collect();
    Opened { open, told, usual, switches, inflation }
}

/// How much likelier what a frame says is of an open channel than of a closed one, as a logarithm.
fn likelier(said: &Said, usual: f64) -> f64 {
    let gain = said.firm_gain / said.firmness;
    let as_of = |middle: f64, swing: f64| {
        let variance = 1.0 / said.firmness + (swing * usual).powi(2);
        -0.5 * ((gain - middle).powi(2) / variance + variance.ln())
    };
    as_of(usual, MOVES) - as_of(0.0, LEAKS)
}

/// What a frame says for a gain beside a closing that is no effect or room alone, as a logarithm.
fn beside(said: &Said, usual: f64) -> f64 {
    let gain = BESIDE * usual;
    gain * said.firm_gain - 0.5 * said.firmness * gain * gain
}

/// How much larger squared errors are than the equations say; not below 1.
#[expect(clippy::cast_precision_loss, reason = "a count of frames is far below 2^52")]
fn inflation(own: &[f64], errors: &[f64]) -> f64 {
    let mut squares: Vec<f64> =
        own.iter().zip(errors).map(|(own, error)| error * error / (own + 1e-9)).collect();
    let mean = squares.iter().map(|square| square.min(MOST_SQUARE)).sum::<f64>()
        / squares.len().max(1) as f64;
    let place = squares.len() / 2;
    let median = match squares.get_mut(place) {
        Some(_) => *squares.select_nth_unstable_by(place, f64::total_cmp).1,
        None => 0.0,
    };
    (median / MEDIAN_SQUARE).max(mean).max(1.0)
}

/// The usual gain around each frame.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "counts of frames are small"
)]
fn usual(
    own: &[f64],
    gains: &[f32],
    inflation: f64,
    hop_s: f64,
    expected: Option<f64>,
) -> Vec<f64> {
    let n = gains.len();
    let mut sorted = own.to_vec();
    let at = (n * 6 / 10).min(n.saturating_sub(1));
    let loud = if n == 0 { 0.0 } else { *sorted.select_nth_unstable_by(at, f64::total_cmp).1 };
    let mut heard: Vec<f32> =
        own.iter().zip(gains).filter(|(own, _)| **own >= loud).map(|(_, gain)| *gain).collect();
    heard.sort_by(f32::total_cmp);
    let of_section = heard.get(heard.len() * 3 / 4).map_or(1.0, |&gain| f64::from(gain)).max(1e-6);
    let of_section = expected.filter(|&one| of_section < CLOSED * one).unwrap_or(of_section);
    let is_good = |t: &usize| {
        own[*t] * of_section * of_section / inflation > TELLS
            && f64::from(gains[*t]) > USUAL_RANGE[0] * of_section
    };
    let good: Vec<usize> = (0..n).filter(is_good).collect();
    let (reach, step) = ((USUAL_S / hop_s) as usize, ((EVERY_S / hop_s) as usize).max(1));
    let mut usual = vec![of_section; n];
    for from in (0..n).step_by(step) {
        let first = good.partition_point(|&t| t + reach < from);
        let end = good.partition_point(|&t| t < from + reach);
        if end - first > NEEDS_FRAMES {
            let mut near: Vec<f32> = good[first..end].iter().map(|&t| gains[t]).collect();
            let middle = near.len() / 2;
            let median = f64::from(*near.select_nth_unstable_by(middle, f32::total_cmp).1);
            let held = median.clamp(USUAL_RANGE[0] * of_section, USUAL_RANGE[1] * of_section);
            usual[from..(from + step).min(n)].fill(held);
        }
    }
    usual
}

/// The likeliest course of open and closed. Where nothing tells, it goes on as before.
fn likeliest(evidence: &[f64]) -> Vec<bool> {
    let (mut closed, mut open) = (0.0f64, 0.0f64);
    let mut came_from: Vec<[bool; 2]> = Vec::with_capacity(evidence.len());
    for evidence in evidence {
        // Where both are equally likely, the switch comes as late as it can.
        let opens = open - PRICE >= closed;
        let stays = open > closed - PRICE;
        came_from.push([opens, stays]);
        (closed, open) = (closed.max(open - PRICE), open.max(closed - PRICE) + evidence);
    }
    let mut state = open >= closed;
    let mut course = vec![false; evidence.len()];
    for (place, from) in course.iter_mut().zip(&came_from).rev() {
        *place = state;
        state = from[usize::from(state)];
    }
    course
}

/// Closes what lies beside a closing and far under the usual gain: an effect or a room that rings on what is closed.
fn trim(open: &mut [bool], evidence: &[f64]) {
    for (start, end) in runs(open, true) {
        let n_first = if start > 0 { n_faint(evidence[start..end].iter()) } else { 0 };
        let behind = &evidence[start + n_first..end];
        let n_last = if end < open.len() { n_faint(behind.iter().rev()) } else { 0 };
        open[start..start + n_first].fill(false);
        open[end - n_last..end].fill(false);
    }
}

/// Frames from a border on that together speak most against an open channel; none if they say little.
fn n_faint<'a>(evidence: impl Iterator<Item = &'a f64>) -> usize {
    let (mut sum, mut lowest, mut n_lowest) = (0.0, -FAINT, 0);
    for (place, evidence) in evidence.enumerate() {
        sum += evidence;
        if sum < lowest {
            (lowest, n_lowest) = (sum, place + 1);
        }
    }
    n_lowest
}

/// The switches of a course, and how far each may lie from where it was put.
fn switches(open: &[bool], evidence: &[f64]) -> Vec<Switch> {
    let borders = (1..open.len()).filter(|&frame| open[frame] != open[frame - 1]);
    let of_border = |frame: usize| {
        let opens = open[frame];
        // What is closed instead of open has its evidence against it, and the other way round.
        let against = |evidence: &f64, is_open: bool| if is_open { -evidence } else { *evidence };
        let before = evidence[..frame].iter().rev().zip(open[..frame].iter().rev());
        let n_before =
            n_in_doubt(before.take_while(|one| *one.1 != opens).map(|one| against(one.0, opens)));
        let behind = evidence[frame..].iter().zip(&open[frame..]);
        let n_behind =
            n_in_doubt(behind.take_while(|one| *one.1 == opens).map(|one| against(one.0, !opens)));
        Switch { opens, frame, earliest: frame - n_before, latest: frame + n_behind }
    };
    borders.map(of_border).collect()
}

/// Frames by which a border can move before what speaks against it is too much.
fn n_in_doubt(against: impl Iterator<Item = f64>) -> usize {
    let mut sum = 0.0;
    against
        .take_while(|against| {
            sum += against;
            sum <= DOUBT
        })
        .count()
}

/// Opens closings that are too short, or of which too little is told.
#[expect(clippy::cast_precision_loss, reason = "counts of frames are small")]
fn bridge(open: &mut [bool], told: &[bool], hop_s: f64) {
    for (start, end) in runs(open, false) {
        let n_told = told[start..end].iter().filter(|&&told| told).count();
        let is_short = ((end - start) as f64) * hop_s < SHORTEST_S;
        if is_short || (n_told as f64) * hop_s < TOLD_S {
            open[start..end].fill(true);
        }
    }
}
