//! Facts about what a desk does to a channel, from its raw and its processed tap.
//!
//! Takes what lies between the taps, fills in facts. Never measures.

use super::facts::MOST_MOMENTS;
use crate::reading::{Channel, Gate, GateStart, Processing};
use crate::relate::gate::{self, Gating, Switches};
use crate::relate::pump;
use crate::relate::reduction::{Reduction, Settings, Zero};
use crate::unit::{Fact, Unmeasured};

/// Gain reduction beyond which a voice is pressed, in dB (common practice).
const DEEP_DB: f64 = 10.5;

/// Blocks of 2 ms that make a step of 10 ms.
const BLOCKS: usize = 5;
const STEP_S: f64 = 0.01;

/// Blocks of 2 ms in half a second: a step that is drawn.
const DRAWN_BLOCKS: usize = 250;

/// How sure a trace is that passed all checks, one whose zero comes from settings that fit well, any other, and such settings: shares of
/// trials within their tolerance.
const SURE: f64 = 0.95;
const MODELLED: f64 = 0.75;
const ROUGH: f64 = 0.5;
const SETTINGS_SURE: f64 = 0.8;

/// How sure it is when a gate is open, how often it switches, and how deep it closes: shares of trials within their tolerance. Of 17 counts
/// 12 came within 1.
const GATE_SURE: f64 = 0.9;
const COUNTS_SURE: f64 = 0.7;
const DEPTH_SURE: f64 = 0.8;

/// Why nothing is told of a compressor where a gate works as well.
pub(super) const GATED: Unmeasured = Unmeasured::Because("a gate moves its gain as well");

/// Fills in what lies between the raw and the processed tap of channels.
pub(super) fn fill(
    channels: &mut [Channel],
    taps: &[(usize, usize, Result<Reduction, Unmeasured>)],
) {
    for (raw, processed, between) in taps {
        let raw_tap = &channels[*raw];
        let gate = between
            .as_ref()
            .ok()
            .and_then(|between| gating(between, raw_tap.starts.gate_start.clone()));
        // A gate closes in the pauses that would show the gain at rest.
        let compressed = if gate.is_some() { &Err(GATED) } else { between };
        channels[*processed].processing =
            Some(Processing { gate, ..processing(raw_tap, compressed) });
    }
}

/// What lies between the taps of the channel `raw` and that behind it.
fn processing(raw: &Channel, between: &Result<Reduction, Unmeasured>) -> Processing {
    let fits = |one: &Reduction| one.settings.as_ref().is_ok_and(|settings| settings.is_sure);
    let sure = match between {
        Ok(one) if one.is_sure => SURE,
        Ok(one) if fits(one) => MODELLED,
        _ => ROUGH,
    };
    let told = |of: &dyn Fn(&Reduction) -> f64| {
        Fact::from_result(between.as_ref().map(of).map_err(Clone::clone), sure)
    };
    // In pauses that are too short for it a compressor turns down further than it reads.
    let reduction = |of: &dyn Fn(&Reduction) -> f64| match between {
        Ok(one) if one.zero == Zero::NotQuiteAtRest => {
            Fact::AtLeast { at_least: of(one), confidence: sure }
        }
        _ => told(of),
    };
    let set = |of: &dyn Fn(&Settings) -> f64| {
        let settings = between.as_ref().map_err(Clone::clone);
        let settings = settings.and_then(|one| one.settings.clone());
        let sure =
            settings.as_ref().map_or(ROUGH, |one| if one.is_sure { SETTINGS_SURE } else { ROUGH });
        Fact::from_result(settings.map(|one| of(&one)), sure)
    };
    let pump = between.as_ref().map_err(Clone::clone).and_then(|one| {
        let steps: Vec<f32> = one.trace_db.chunks_exact(BLOCKS).map(mean).collect();
        pump::swing_db(&steps, STEP_S)
    });
    Processing {
        raw: raw.id.clone(),
        static_gain_db: told(&|one| one.static_gain_db),
        usual_reduction_db: reduction(&|one| one.in_programme_db(0.5)),
        loud_reduction_db: reduction(&|one| one.in_programme_db(0.9)),
        deep_percent: reduction(&|one| 100.0 * one.share_above(DEEP_DB)),
        threshold_dbfs: set(&|settings| settings.threshold_dbfs),
        ratio: set(&|settings| settings.ratio),
        knee_db: Some(set(&|settings| settings.knee_db)),
        least_attack_s: set(&|settings| settings.attack_s[0]),
        most_attack_s: set(&|settings| settings.attack_s[1]),
        release_s: set(&|settings| settings.release_s),
        pump_db: Fact::from_result(pump, sure),
        reduction_db: between.as_ref().map_or_else(
            |_| Vec::new(),
            |one| one.trace_db.chunks_exact(DRAWN_BLOCKS).map(highest).collect(),
        ),
        gate: None,
    }
}

/// What the gate between two taps does, if there is one.
fn gating(between: &Reduction, start: Option<GateStart>) -> Option<Gate> {
    let found = gate::measure(&between.course).ok()?;
    let mut open = gate::opened(&found, &between.course);
    open.truncate(MOST_MOMENTS);
    let Gating { depth_db, length_s, ref switches, .. } = found;
    let switches = switches.as_ref().map_err(Clone::clone);
    let per_minute = |at_s: fn(&Switches) -> &[f64]| {
        let rate = switches.clone().map(|one| 60.0 * count(at_s(one).len()) / length_s.max(1.0));
        Fact::from_result(rate, COUNTS_SURE)
    };
    let moments = |at_s: fn(&Switches) -> &[f64]| {
        let all = switches.clone().map(at_s).unwrap_or_default();
        all.iter().copied().take(MOST_MOMENTS).collect::<Vec<f64>>()
    };
    let cut = switches
        .clone()
        .map(|one| 100.0 * count(one.cut_at_s.len()) / count(one.n_closings.max(1)));
    // Where the taps differ by more than filter and gain, even open and closed are told less surely.
    let open_sure = if switches.is_ok() { GATE_SURE } else { ROUGH };
    let not_gated =
        || Fact::missing(Unmeasured::Because("only asked of drums: a voice is muted by hand"));
    let [parting_dbfs, overlap_percent] = start.map_or_else(
        || [not_gated(), not_gated()],
        |start| [start.threshold_dbfs, start.overlap_percent],
    );
    Some(Gate {
        parting_dbfs,
        overlap_percent,
        depth_db: Fact::sure(depth_db, DEPTH_SURE),
        open_percent: Fact::sure(100.0 * found.open_share(), open_sure),
        flutters_per_minute: per_minute(|one| &one.flutter_at_s),
        cuts_per_minute: Some(per_minute(|one| &one.cut_at_s)),
        cut_percent: Fact::from_result(cut, COUNTS_SURE),
        flutter_at_s: moments(|one| &one.flutter_at_s),
        cut_at_s: moments(|one| &one.cut_at_s),
        open,
    })
}

#[expect(clippy::cast_precision_loss, reason = "switches of a minute")]
fn count(n: usize) -> f64 {
    n as f64
}

#[expect(clippy::cast_possible_truncation, reason = "a gain in dB")]
fn mean(blocks: &[f64]) -> f32 {
    #[expect(clippy::cast_precision_loss, reason = "a few blocks")]
    let n = blocks.len() as f64;
    (blocks.iter().sum::<f64>() / n) as f32
}

fn highest(blocks: &[f64]) -> f64 {
    blocks.iter().copied().fold(0.0, f64::max)
}
