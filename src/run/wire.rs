//! Whether a channel that is thought to come by wire hears the room.
//!
//! Takes channels and their levels. An acoustic guitar comes by wire on most stages and by a microphone on others, and its name seldom
//! tells which: a wire is silent when its player rests, a microphone hears the band. Never touches what the note states or a name says.

use super::meters::Common;
use super::stream::Measured;
use crate::dsp::percentile::percentile;
use crate::dsp::thirds::{N_BANDS, band_at};
use crate::measure::trace::Trace;
use crate::session::{Role, SessionChannel, says_by_wire};

/// Length of a step in which levels are compared, in steps of third-octaves: 0.4 s.
const STEP: usize = 2;

/// Third-octaves above the rumble begin with this one, in Hz.
const FROM_HZ: f64 = 125.0;

/// Above the rumble a wire falls so far under its loud level when its player rests, in dB (judgement: hum and noise lie 40 dB and more under
/// it, spill into a close microphone 10 to 25 dB).
const SILENT_DB: f64 = 30.0;

/// Levels count while the others together are within so much of their loud level, in dB.
const PLAYING_DB: f64 = 12.0;

/// Shares of the steps that tell the quiet and the loud level.
const QUIET: f64 = 0.02;
const LOUD: f64 = 0.95;

/// Fewest steps: a minute.
const NEEDS_STEPS: usize = 150;

/// Takes channels for microphones that are never silent while the band plays.
pub(super) fn check(channels: &mut [SessionChannel], measured: &Measured) {
    let may_be_wrong = |&idx: &usize| {
        let channel = &channels[idx];
        channel.role == Role::AcousticGuitar
            && channel.is_line
            && channel.note.line.is_none()
            && !says_by_wire(&channel.name)
    };
    let doubted: Vec<usize> = (0..channels.len()).filter(may_be_wrong).collect();
    if doubted.is_empty() {
        return;
    }
    let bands = band_at(FROM_HZ).unwrap_or(0)..N_BANDS;
    let level = |one: &Common| one.thirds.joined(bands.clone()).coarser(STEP);
    let levels: Vec<Trace> = measured.common.iter().map(level).collect();
    for idx in doubted {
        channels[idx].is_line = !hears_the_room(channels, &levels, &measured.lengths_s, idx);
    }
}

fn hears_the_room(
    channels: &[SessionChannel],
    levels: &[Trace],
    lengths_s: &[f64],
    idx: usize,
) -> bool {
    let own = &levels[idx];
    let is_other = |&other: &usize| other != idx && channels[other].role.is_input();
    let others: Vec<usize> = (0..channels.len()).filter(is_other).collect();
    let power = |of: usize, step: usize| {
        if step < levels[of].len() { levels[of].power(step) } else { 0.0 }
    };
    let start_s = channels[idx].start_s;
    let steps = own.step_at(start_s)..own.step_at(start_s + lengths_s[idx]).min(own.len());
    let band: Vec<f64> =
        steps.clone().map(|step| others.iter().map(|&other| power(other, step)).sum()).collect();
    let playing = at_share(&band, LOUD) * 10f64.powf(-PLAYING_DB / 10.0);
    let heard: Vec<f64> =
        steps.zip(&band).filter(|one| *one.1 > playing).map(|(step, _)| own.power(step)).collect();
    heard.len() >= NEEDS_STEPS
        && at_share(&heard, QUIET) > at_share(&heard, LOUD) * 10f64.powf(-SILENT_DB / 10.0)
}

/// The value that a share of all values lies below; 0 of nothing.
fn at_share(values: &[f64], share: f64) -> f64 {
    percentile(values, share).unwrap_or(0.0)
}
