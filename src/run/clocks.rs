//! Clocks of further recorders: some seconds of all are read again from time to time over the take, and lags of shared sound tell.
//!
//! Takes what the levels told, gives a fact a recorder. Knows the order of the steps, computes nothing itself. Reads nothing where one
//! device recorded everything.

use super::aligned::{Aligned, Clock};
use super::recorders::{Devices, Further, devices};
use super::stream::{Measured, Recorder};
use crate::measure::Trace;
use crate::reading;
use crate::relate::activity::Activity;
use crate::relate::drift::{Drift, MANY_SOURCES, NEEDS_SOURCES, Way, drift};
use crate::relate::far_lag::{FarLagMeter, LENGTH_S};
use crate::relate::shared_lag::{SharedLagMeter, Sighting};
use crate::relate::startup::{Startup, startup};
use crate::session::SessionChannel;
use crate::unit::spans::shared_s;
use crate::unit::{Fact, Span, Unmeasured};

/// Moments over the take: one in so many seconds, within bounds.
const EVERY_S: f64 = 40.0;
const FEWEST_MOMENTS: usize = 8;
const MOST_MOMENTS: usize = 12;

/// What is read at each: little while the clock is not known, for it moves the lags meanwhile; then more, by the clock that was found.
const FIRST_LOOK_S: f64 = 3.0;
const SECOND_LOOK_S: f64 = 6.0;

/// How finely moments are looked for, in seconds.
const STEP_S: f64 = 2.0;

/// Least time in common, in seconds.
const NEEDS_S: f64 = 60.0;

/// Share of a moment in which a source has to sound to be listened for.
const SOUNDS_SHARE: f64 = 0.3;

/// A lag with a peak as high as this shows where to look at the next moment.
const SURE_HEIGHT: f64 = 12.0;

/// How sure a drift is by the sources that bear it out: all values lay within what was told in simulated stages.
const SURE_BY_MANY: f64 = 0.9;
const SURE_BY_SOME: f64 = 0.8;
const SURE_BY_ONE: f64 = 0.6;

/// What is known before.
struct Known<'a> {
    channels: &'a [SessionChannel],
    activities: &'a [Activity],
    measured: &'a Measured,
    rate_hz: u32,
}

/// The further recorders and their clocks. `reopen` gives the recordings at their start.
pub(super) fn clocks(
    channels: &[SessionChannel],
    activities: &[Activity],
    measured: &Measured,
    rate_hz: u32,
    reopen: &dyn Fn() -> Option<Vec<Recorder>>,
) -> Vec<reading::Recorder> {
    let known = Known { channels, activities, measured, rate_hz };
    let devices = devices(channels, activities);
    let of = |further: &Further| {
        let found = known.look(&devices, further, reopen);
        known.told(further, found)
    };
    devices.further.iter().map(of).collect()
}

impl Known<'_> {
    fn look(
        &self,
        devices: &Devices,
        further: &Further,
        reopen: &dyn Fn() -> Option<Vec<Recorder>>,
    ) -> Result<Drift, Unmeasured> {
        let little = Unmeasured::Because("it shares too little sound with the other channels");
        if devices.references.is_empty() || further.heard.is_empty() {
            return Err(little);
        }
        let traces = |of: &[usize]| -> Vec<&Trace> {
            of.iter().map(|&idx| &self.measured.common[idx].levels.power).collect()
        };
        let wanted: Vec<usize> = devices.references.iter().chain(&further.heard).copied().collect();
        let recorders = narrowed(reopen().ok_or(little)?, &wanted);
        let mut stage = Stage {
            known: self,
            devices,
            n_heard: further.heard.len(),
            aligned: Aligned::new(recorders, wanted.len(), self.rate_hz),
        };
        let by_levels = startup(&traces(&devices.references), &traces(&further.heard));
        let start = by_levels.unwrap_or_else(|| stage.start(self.in_common(devices, further, 0.0)));
        let common = self.in_common(devices, further, start.late_s);
        let have_s = common.length_s();
        if have_s < NEEDS_S {
            return Err(Unmeasured::TooShort { have_s, need_s: NEEDS_S });
        }
        let way = if further.is_in_hall { Way::Hall } else { Way::Stage };
        let is_source = |reference: usize| reference < devices.n_sources;
        let moments = self.moments(devices, common);
        let first = drift(&stage.first_look(&moments, start), way, is_source)?;
        let second = drift(&stage.second_look(&moments, &first), way, is_source)?;
        Ok(Drift { ppm: first.ppm + second.ppm, ..second })
    }

    /// When both record, in the session's time.
    fn in_common(&self, devices: &Devices, further: &Further, late_s: f64) -> Span {
        let of = |idx: usize| {
            let start_s = self.channels[idx].start_s;
            [start_s, start_s + self.measured.lengths_s[idx]]
        };
        let [own_start_s, own_end_s] = of(devices.references[0]);
        let [start_s, end_s] = of(further.heard[0]).map(|at_s| at_s - late_s);
        let start_s = own_start_s.max(start_s);
        Span::new(start_s, own_end_s.min(end_s).max(start_s))
    }

    /// Begins of the moments, one in each part of the time in common: where most sources sound.
    #[expect(
        clippy::cast_precision_loss,
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "moments are few"
    )]
    fn moments(&self, devices: &Devices, common: Span) -> Vec<f64> {
        let n = ((common.length_s() / EVERY_S) as usize).clamp(FEWEST_MOMENTS, MOST_MOMENTS);
        let part_s = common.length_s() / n as f64;
        let sounding_s = |start_s: f64| -> f64 {
            let within = Span::new(start_s, start_s + SECOND_LOOK_S);
            let sources = devices.references[..devices.n_sources].iter();
            sources.map(|&idx| shared_s(&self.activities[idx].spans, within)).sum()
        };
        let best = |part: usize| {
            let from_s = common.start_s + part as f64 * part_s;
            let n_steps = ((part_s - SECOND_LOOK_S) / STEP_S).max(0.0) as usize;
            (0..=n_steps)
                .map(|step| from_s + step as f64 * STEP_S)
                .map(|start_s| (start_s, sounding_s(start_s)))
                .max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.total_cmp(&a.0)))
                .map_or(from_s, |best| best.0)
        };
        (0..n).map(best).collect()
    }

    /// What is told of a recorder.
    fn told(&self, further: &Further, found: Result<Drift, Unmeasured>) -> reading::Recorder {
        let ids = further.channels.iter().map(|&idx| self.channels[idx].id.clone()).collect();
        let lengths_s = further.channels.iter().map(|&idx| self.measured.lengths_s[idx]);
        let to_ms = 1e-3 * lengths_s.fold(0.0, f64::max);
        let told = reading::Recorder {
            channels: ids,
            is_in_hall: further.is_in_hall,
            drift_ppm: fact(&found, 1.0),
            drift_ms: fact(&found, to_ms),
            smallest_ppm: None,
            smallest_ms: None,
            n_sources: 0,
        };
        match found {
            Ok(found) => reading::Recorder {
                smallest_ppm: Some(found.uncertain_ppm),
                smallest_ms: Some(found.uncertain_ppm * to_ms),
                n_sources: found.n_sources,
                ..told
            },
            Err(_) => told,
        }
    }
}

/// A drift times a factor, a range where less was found than can be told; a single source that moves little tells nothing.
fn fact(found: &Result<Drift, Unmeasured>, factor: f64) -> Fact {
    let found = match found {
        Ok(found) => found,
        Err(reason) => return Fact::missing(reason.clone()),
    };
    let (ppm, uncertain_ppm) = (found.ppm, found.uncertain_ppm);
    let is_told = ppm.abs() > uncertain_ppm;
    match found.n_sources {
        n if n < NEEDS_SOURCES && !is_told => Fact::missing(Unmeasured::Because(
            "air that warms and one source that moves would explain what is found",
        )),
        n => {
            let confidence = match n {
                n if n >= MANY_SOURCES => SURE_BY_MANY,
                n if n >= NEEDS_SOURCES => SURE_BY_SOME,
                _ => SURE_BY_ONE,
            };
            if is_told {
                return Fact::sure(ppm * factor, confidence);
            }
            let [low, high] = [ppm - uncertain_ppm, ppm + uncertain_ppm].map(|end| end * factor);
            Fact::Range { low, high, confidence }
        }
    }
}

/// The recordings that hold some channels, which are numbered anew in the given order.
fn narrowed(recorders: Vec<Recorder>, wanted: &[usize]) -> Vec<Recorder> {
    let place = |channel: Option<usize>| wanted.iter().position(|one| Some(*one) == channel);
    recorders
        .into_iter()
        .map(|recorder| Recorder {
            channels: recorder.channels.iter().map(|&channel| place(channel)).collect(),
            ..recorder
        })
        .filter(|recorder| recorder.channels.iter().any(Option::is_some))
        .collect()
}

/// Another read of the references and, behind them, of the channels that are listened to.
struct Stage<'a> {
    known: &'a Known<'a>,
    devices: &'a Devices,
    n_heard: usize,
    aligned: Aligned,
}

impl Stage<'_> {
    fn heard(&self) -> std::ops::Range<usize> {
        let n_references = self.devices.references.len();
        n_references..n_references + self.n_heard
    }

    /// The start by the sound in the middle of a stretch; as the files stand if that does not tell.
    fn start(&mut self, common: Span) -> Startup {
        let at_s = 0.5 * (common.start_s + common.end_s);
        let start_s = (at_s - LENGTH_S / 2.0).max(0.0);
        let n_references = self.devices.references.len();
        let mut meter = FarLagMeter::new(self.known.rate_hz, n_references, self.n_heard);
        let stretch = Span::new(start_s, start_s + LENGTH_S);
        self.aligned.read(stretch, |planes| meter.push(planes));
        let late_s = meter.finish().unwrap_or(0.0);
        Startup { late_s, at_s }
    }

    /// Lags while the clock is not known: from the middle of what told the start outwards, each moment near the lag of the nearest before.
    fn first_look(&mut self, moments: &[f64], start: Startup) -> Vec<Sighting> {
        let rate = f64::from(self.known.rate_hz);
        let mut order = moments.to_vec();
        let away = |at_s: f64| (at_s - start.at_s).abs();
        order.sort_by(|&a, &b| away(a).total_cmp(&away(b)).then(a.total_cmp(&b)));
        let mut known = vec![(start.at_s, start.late_s)];
        let mut all = Vec::new();
        for start_s in order {
            let away = |one: &(f64, f64)| (one.0 - start_s).abs();
            let nearest = known.iter().min_by(|a, b| away(a).total_cmp(&away(b)));
            let late_s = nearest.map_or(start.late_s, |nearest| nearest.1);
            let late = whole(late_s * rate);
            for channel in self.heard() {
                self.aligned.shift(channel, late);
            }
            let mut found = self.lags(start_s, FIRST_LOOK_S);
            #[expect(clippy::cast_precision_loss, reason = "far below 2^52 samples")]
            found.iter_mut().for_each(|one| one.lag_s += late as f64 / rate);
            let top = found.iter().max_by(|a, b| a.height.total_cmp(&b.height));
            if let Some(top) = top.filter(|top| top.height >= SURE_HEIGHT) {
                // What told the start is known to hundredths of a second only.
                known.retain(|one| (one.0 - start.at_s).abs() > 0.0);
                known.push((start_s, top.lag_s));
            }
            all.extend(found);
        }
        all
    }

    /// Lags that are left when channels are read by the clock that was found.
    fn second_look(&mut self, moments: &[f64], found: &Drift) -> Vec<Sighting> {
        let late_samples = found.late_s * f64::from(self.known.rate_hz);
        for channel in self.heard() {
            self.aligned.keep_time(channel, Some(Clock { late_samples, ppm: found.ppm }));
        }
        moments.iter().flat_map(|&start_s| self.lags(start_s, SECOND_LOOK_S)).collect()
    }

    /// Lags in a stretch, of the sources that sound in it.
    fn lags(&mut self, start_s: f64, length_s: f64) -> Vec<Sighting> {
        let Self { known, devices, n_heard, aligned } = self;
        let mut meter = SharedLagMeter::new(known.rate_hz, devices.references.len(), *n_heard);
        let stretch = Span::new(start_s, start_s + length_s);
        aligned.read(stretch, |planes| meter.push(planes));
        let sounds = |reference: usize| {
            let spans = &known.activities[devices.references[reference]].spans;
            reference >= devices.n_sources || shared_s(spans, stretch) >= SOUNDS_SHARE * length_s
        };
        let mut found = meter.end(start_s);
        found.retain(|one| sounds(one.reference));
        found
    }
}

#[expect(clippy::cast_possible_truncation, reason = "shifts are far below 2^52 samples")]
fn whole(samples: f64) -> i64 {
    samples.round() as i64
}
