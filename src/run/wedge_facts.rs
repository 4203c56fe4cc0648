//! Facts about wedges: what a monitor mix brings into the microphones of voices.
//!
//! Reads the recordings once more where monitor mixes were recorded, fills in the channels. Takes keys by wire for a bound alone: they
//! may have an amplifier on the stage.

use super::stream::{Measured, Recorder, read_all};
use crate::dsp::percentile::percentile;
use crate::measure::sliding::steps_inside;
use crate::measure::thirds::{STEP_S, Thirds};
use crate::reading::{Channel, WedgeSound};
use crate::relate::activity::Activity;
use crate::relate::wedge_spill::{Brought, Sought, WedgeMeter};
use crate::session::{Role, Tap};
use crate::unit::spans::{both, longest, total_s};
use crate::unit::{Fact, Span, Unmeasured};

/// Voices whose microphones are looked at.
const VOICES: [Role; 3] = [Role::Speech, Role::LeadVocal, Role::BackingVocal];

/// How long a wired source sounds while the voice rests, in seconds.
const NEEDS_S: f64 = 20.0;

/// Third-octaves from 250 Hz to 4 kHz.
const BANDS: std::ops::Range<usize> = 10..23;

/// What of a voice is loud: share of its steps below.
const LOUD_SHARE: f64 = 0.95;

/// How sure both ends are: they held the truth on all stages that were tried, and all of them were simulated.
const SURE: f64 = 0.7;

/// Stretches that are shown.
const SHOWN: usize = 3;

/// A power that stands for silence.
const SILENCE: f64 = 1e-15;

/// What the wedges bring into a microphone.
pub(super) struct Wedges {
    sought: Sought,
    /// Whether the wired sources may be heard without loudspeakers too.
    is_bound: bool,
    /// By mix.
    brought: Vec<Result<Brought, Unmeasured>>,
}

/// What the wedges bring into the microphones of all voices; none where no monitor mix was recorded.
pub(super) fn heard(
    channels: &[Channel],
    activities: &[Activity],
    resting: &[Vec<Span>],
    rate_hz: u32,
    reopen: &dyn Fn() -> Option<Vec<Recorder>>,
) -> Vec<Wedges> {
    let (sought, are_bounds): (Vec<Sought>, Vec<bool>) =
        sought(channels, activities, resting).into_iter().unzip();
    if sought.is_empty() {
        return Vec::new();
    }
    let mut meter = WedgeMeter::new(rate_hz, sought.clone());
    if sought.iter().any(|one| !one.wired.is_empty()) {
        let Some(recorders) = reopen() else { return Vec::new() };
        read_all(recorders, channels.len(), |planes| meter.push(planes), &|_| {});
    }
    let all = sought.into_iter().zip(are_bounds).zip(meter.finish());
    all.map(|((sought, is_bound), brought)| Wedges { sought, is_bound, brought }).collect()
}

/// What is to be looked at, and whether its wired sources give a bound alone.
fn sought(
    channels: &[Channel],
    activities: &[Activity],
    resting: &[Vec<Span>],
) -> Vec<(Sought, bool)> {
    let places = |is: &dyn Fn(&Channel) -> bool| -> Vec<usize> {
        (0..channels.len()).filter(|&idx| is(&channels[idx])).collect()
    };
    let mixes = places(&|one| one.role == Role::MonitorMix && !one.is_in_ear);
    let is_voice =
        |one: &Channel| VOICES.contains(&one.role) && !one.is_line && one.tap == Tap::Raw;
    let mics = if mixes.is_empty() { Vec::new() } else { places(&is_voice) };
    let of_mic = |mic: usize| {
        let wired = |role: Role| -> Vec<usize> {
            let plays =
                |idx: &usize| total_s(&both(&activities[*idx].spans, &resting[mic])) >= NEEDS_S;
            places(&|one| one.role == role && one.is_line && one.tap == Tap::Raw)
                .into_iter()
                .filter(plays)
                .collect()
        };
        let played = wired(Role::Playback);
        let is_bound = played.is_empty();
        let wired = if is_bound { wired(Role::Keys) } else { played };
        (Sought { mic, mixes: mixes.clone(), wired, resting: resting[mic].clone() }, is_bound)
    };
    mics.into_iter().map(of_mic).collect()
}

/// Fills in what the wedges bring, against the loud voice.
pub(super) fn fill(channels: &mut [Channel], measured: &Measured, wedges: &[Wedges]) {
    for one in wedges {
        let mic = one.sought.mic;
        let loud = loud(&measured.common[mic].thirds, &channels[mic].active);
        let told = loud.and_then(|loud| one.told(loud));
        let (re_loud_db, mix, arrival_s) = match told {
            Ok((fact, place, arrival_s)) => {
                (fact, Some(channels[one.sought.mixes[place]].id.clone()), arrival_s)
            }
            Err(reason) => (Fact::missing(reason), None, None),
        };
        let at = longest(&one.sought.resting, SHOWN);
        channels[mic].microphone.wedge = Some(WedgeSound { mix, re_loud_db, arrival_s, at });
    }
}

impl Wedges {
    /// What all mixes together allow, the mix that it fits most, and the arrival of its wedge.
    fn told(&self, loud: f64) -> Result<(Fact, usize, Option<f64>), Unmeasured> {
        let few = Unmeasured::Because(
            "no playback and no keys by wire play for 20 s while the voice rests",
        );
        if self.sought.wired.is_empty() {
            return Err(few);
        }
        let carrying: Vec<(usize, &Brought)> = self
            .brought
            .iter()
            .enumerate()
            .filter_map(|(place, brought)| Some((place, brought.as_ref().ok()?)))
            .collect();
        let loudest = carrying.iter().max_by(|one, other| one.1.most.total_cmp(&other.1.most));
        let Some((place, top)) = loudest else {
            return Err(self.brought.iter().find_map(|one| one.clone().err()).unwrap_or(few));
        };
        let re_loud_db = |power: f64| 10.0 * (power.max(SILENCE) / loud).log10();
        let least: Option<Vec<f64>> = carrying.iter().map(|(_, brought)| brought.least).collect();
        let least = least.filter(|_| !self.is_bound);
        let least = least.map(|powers| powers.into_iter().fold(f64::INFINITY, f64::min));
        let (confidence, high) = (SURE, re_loud_db(top.most));
        let fact = match least {
            Some(least) => Fact::Range { low: re_loud_db(least), high, confidence },
            None => Fact::AtMost { at_most: high, confidence },
        };
        Ok((fact, *place, least.map(|_| top.arrival_s)))
    }
}

/// Power of a loud voice in the band.
fn loud(thirds: &Thirds, active: &[Span]) -> Result<f64, Unmeasured> {
    let band = thirds.joined(BANDS);
    let steps = active.iter().flat_map(|span| steps_inside(*span, STEP_S, band.len()));
    let powers: Vec<f64> = steps.map(|step| band.power(step)).collect();
    percentile(&powers, LOUD_SHARE).filter(|loud| *loud > SILENCE).ok_or(Unmeasured::NeverActive)
}
