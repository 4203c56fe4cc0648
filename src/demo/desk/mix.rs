//! The desk: strips into the main bus, with one effect.
//!
//! Takes pieces of all raw channels, gives the same piece of the main bus, of the effect's return and of every processed
//! channel, and keeps how loud each was in the main. Sums in the order of the channels, so that the bytes never change.

use rayon::prelude::*;

use super::{Automation, Biquad, Reverberator, StripState, strip::Stretch};
use crate::demo::scene::Scene;

/// Step of the loudness that is kept, in seconds.
const LOUDNESS_STEP_S: f64 = 0.1;

/// A piece of what the desk gives.
#[derive(Clone, Debug)]
pub struct Mix {
    /// Left and right of the main bus.
    pub main: [Vec<f32>; 2],
    /// Left and right of the effect's return, as it enters the main bus.
    pub effect: [Vec<f32>; 2],
    /// Each channel after its own processing; empty for those without a strip.
    pub processed: Vec<Vec<f32>>,
}

/// The desk at work.
pub struct Mixer {
    rate_hz: f64,
    main_gain: f32,
    strips: Vec<Option<StripState>>,
    effect: Option<(Reverberator, Automation)>,
    meters: Vec<LoudnessTrace>,
    effect_meters: [LoudnessTrace; 2],
    main_meters: [LoudnessTrace; 2],
    first: usize,
}

impl Mixer {
    /// The desk of a scene at the start of the take.
    #[expect(clippy::cast_possible_truncation, reason = "a gain in single precision")]
    pub fn new(scene: &Scene) -> Self {
        let rate_hz = f64::from(scene.rate_hz);
        let effect = scene.desk.effect.as_ref().map(|effect| {
            let reverberator = Reverberator::new(effect.t60_s, effect.predelay_s, rate_hz);
            (reverberator, Automation::new(scene, &effect.name, effect.fader_db, effect.open))
        });
        let strips: Vec<_> =
            scene.channels.iter().map(|channel| StripState::new(scene, channel)).collect();
        let meter = LoudnessTrace::new(rate_hz);
        Self {
            rate_hz,
            main_gain: 10_f64.powf(scene.desk.main_db / 20.0) as f32,
            meters: vec![meter.clone(); strips.len()],
            strips,
            effect,
            effect_meters: [meter.clone(), meter.clone()],
            main_meters: [meter.clone(), meter],
            first: 0,
        }
    }

    /// The next piece of the mix from the next piece of every raw channel.
    pub fn push(&mut self, raw: &[Vec<f32>]) -> Mix {
        let first = self.first;
        let n = raw.first().map_or(0, Vec::len);
        let main_gain = self.main_gain;
        let strips = self.strips.par_iter_mut().zip(raw).zip(&mut self.meters);
        let stretches: Vec<Option<Stretch>> = strips
            .map(|((strip, raw), meter)| {
                let mut stretch = strip.as_mut()?.run(raw, first);
                stretch.faded.iter_mut().for_each(|x| *x *= main_gain);
                meter.push(&stretch.faded);
                Some(stretch)
            })
            .collect();
        let mut main = [vec![0.0; n], vec![0.0; n]];
        let mut send = vec![0.0; n];
        for (strip, stretch) in self.strips.iter().zip(&stretches) {
            let (Some(strip), Some(stretch)) = (strip, stretch) else { continue };
            for (side, gain) in main.iter_mut().zip(strip.sides()) {
                add(side, &stretch.faded, gain);
            }
            add(&mut send, &stretch.faded, strip.send());
        }
        let effect = self.return_of(&send);
        for (side, wet) in main.iter_mut().zip(&effect) {
            add(side, wet, 1.0);
        }
        for (meter, side) in self.main_meters.iter_mut().zip(&main) {
            meter.push(side);
        }
        self.first += n;
        let processed =
            stretches.into_iter().map(|s| s.map_or_else(Vec::new, |s| s.processed)).collect();
        Mix { main, effect, processed }
    }

    /// The strips, in the order of the channels.
    pub fn strips(&self) -> &[Option<StripState>] {
        &self.strips
    }

    /// Loudness of a channel in the main bus over a stretch, in LUFS; none below -70 LUFS.
    pub fn channel_lufs(&self, channel_idx: usize, start_s: f64, end_s: f64) -> Option<f64> {
        lufs(self.meters[channel_idx].mean(start_s, end_s))
    }

    /// Loudness of the effect's return in the main bus over a stretch, in LUFS; none below -70 LUFS.
    pub fn effect_lufs(&self, start_s: f64, end_s: f64) -> Option<f64> {
        lufs(self.effect_meters.iter().map(|meter| meter.mean(start_s, end_s)).sum())
    }

    /// Loudness of the main bus over a stretch, in LUFS; none below -70 LUFS.
    pub fn main_lufs(&self, start_s: f64, end_s: f64) -> Option<f64> {
        lufs(self.main_meters.iter().map(|meter| meter.mean(start_s, end_s)).sum())
    }

    fn return_of(&mut self, send: &[f32]) -> [Vec<f32>; 2] {
        let Some((reverberator, automation)) = &mut self.effect else {
            return [Vec::new(), Vec::new()];
        };
        let mut sides = reverberator.run(send);
        for (side, meter) in sides.iter_mut().zip(&mut self.effect_meters) {
            automation.apply(side, self.first, self.rate_hz);
            meter.push(side);
        }
        sides
    }
}

/// Loudness of a mean square after weighting: `-0.691 + 10 lg` (ITU-R BS.1770-5, annex 1), without gates.
fn lufs(power: f64) -> Option<f64> {
    /// Absolute gate of the same standard.
    const SILENT_LUFS: f64 = -70.0;
    let lufs = -0.691 + 10.0 * power.max(1e-30).log10();
    (lufs > SILENT_LUFS).then_some(lufs)
}

fn add(sum: &mut [f32], samples: &[f32], gain: f32) {
    for (sum, x) in sum.iter_mut().zip(samples) {
        *sum += gain * x;
    }
}

/// Weighted power in steps of 0.1 s.
#[derive(Clone, Debug)]
struct LoudnessTrace {
    filters: [Biquad; 2],
    step: usize,
    filled: usize,
    sum: f64,
    powers: Vec<f64>,
}

impl LoudnessTrace {
    fn new(rate_hz: f64) -> Self {
        let step = crate::demo::stem::sample(LOUDNESS_STEP_S * rate_hz);
        Self {
            filters: Biquad::loudness_weighting(),
            step,
            filled: 0,
            sum: 0.0,
            powers: Vec::new(),
        }
    }

    fn push(&mut self, samples: &[f32]) {
        for x in samples {
            let [shelf, high_pass] = &mut self.filters;
            let y = high_pass.step(shelf.step(f64::from(*x)));
            self.sum += y * y;
            self.filled += 1;
            if self.filled == self.step {
                self.powers.push(self.sum / self.step as f64);
                (self.filled, self.sum) = (0, 0.0);
            }
        }
    }

    fn mean(&self, start_s: f64, end_s: f64) -> f64 {
        let n = self.powers.len();
        let from = crate::demo::stem::sample(start_s / LOUDNESS_STEP_S).min(n);
        let to = crate::demo::stem::sample(end_s / LOUDNESS_STEP_S).clamp(from, n);
        self.powers[from..to].iter().sum::<f64>() / (to - from).max(1) as f64
    }
}
