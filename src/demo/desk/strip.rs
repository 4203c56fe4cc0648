//! A channel strip of the desk.
//!
//! Takes the raw channel, gives it processed and, after switch and fader, as it goes to the main bus. Never pans.

use super::{Automation, Biquad, Squeeze, dynamics::Gating};
use crate::demo::scene::{Channel, Scene, Strip};

/// Step at which gain reduction is kept, in seconds.
pub(super) const REDUCTION_STEP_S: f64 = 0.010;

/// A channel strip at work.
#[derive(Clone, Debug)]
pub struct StripState {
    rate_hz: f64,
    settings: Strip,
    filters: Vec<Biquad>,
    gate: Option<Gating>,
    equaliser: Vec<Biquad>,
    compressor: Option<Squeeze>,
    /// Fader and switch.
    pub automation: Automation,
    /// Gain reduction, in dB, one value for 10 ms; empty without a compressor.
    pub reductions_db: Vec<f32>,
}

/// A piece of a channel at two places of its strip.
#[derive(Clone, Debug)]
pub(super) struct Stretch {
    /// After the compressor.
    pub(super) processed: Vec<f32>,
    /// After switch and fader.
    pub(super) faded: Vec<f32>,
}

impl StripState {
    /// The strip of a channel at the start of a take; none where the channel doesn't feed the main bus.
    pub fn new(scene: &Scene, channel: &Channel) -> Option<Self> {
        let settings = channel.strip.clone()?;
        let rate_hz = f64::from(scene.rate_hz);
        Some(Self {
            rate_hz,
            filters: settings
                .high_pass_hz
                .iter()
                .map(|hz| Biquad::high_pass(*hz, rate_hz))
                .collect(),
            gate: settings.gate.as_ref().map(|gate| Gating::new(gate, rate_hz)),
            equaliser: settings.eq.iter().map(|eq| Biquad::eq(eq, rate_hz)).collect(),
            compressor: settings.compressor.map(|compressor| Squeeze::new(compressor, rate_hz)),
            automation: Automation::new(scene, &channel.name, settings.fader_db, settings.open),
            reductions_db: Vec::new(),
            settings,
        })
    }

    /// Factors of pressure to the left and the right.
    pub fn sides(&self) -> [f32; 2] {
        pan_gains(self.settings.pan)
    }

    /// Factor of pressure to the effect; 0 if the send is off.
    #[expect(clippy::cast_possible_truncation, reason = "a gain in single precision")]
    pub fn send(&self) -> f32 {
        self.settings.send_db.map_or(0.0, |send_db| 10_f64.powf(send_db / 20.0) as f32)
    }

    pub(super) fn run(&mut self, raw: &[f32], first: usize) -> Stretch {
        let mut processed = raw.to_vec();
        if self.settings.invert {
            processed.iter_mut().for_each(|x| *x = -*x);
        }
        self.filters.iter_mut().for_each(|filter| filter.run(&mut processed));
        if let Some(gate) = &mut self.gate {
            gate.run(&mut processed);
        }
        self.equaliser.iter_mut().for_each(|filter| filter.run(&mut processed));
        if let Some(compressor) = &mut self.compressor {
            let every = crate::demo::stem::sample(REDUCTION_STEP_S * self.rate_hz);
            compressor.run(&mut processed, every, &mut self.reductions_db);
        }
        let mut faded = processed.clone();
        self.automation.apply(&mut faded, first, self.rate_hz);
        Stretch { processed, faded }
    }
}

/// Factors of pressure to the left and the right of a pan from -1 to 1: cosine and sine, -3.01 dB each in the centre.
#[expect(clippy::cast_possible_truncation, reason = "a gain in single precision")]
pub fn pan_gains(pan: f64) -> [f32; 2] {
    let angle = (pan.clamp(-1.0, 1.0) + 1.0) * std::f64::consts::FRAC_PI_4;
    [angle.cos() as f32, angle.sin() as f32]
}
