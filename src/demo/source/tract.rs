//! A voice: vocal folds, breath and hiss through a vocal tract.
//!
//! Takes postures in equal steps of time, gives the sound of one or several people in the same posture. Follows the cascade of D. Klatt,
//! "Software for a cascade/parallel formant synthesizer", J. Acoust. Soc. Am. 67, 1980. Never says a word: who sets the postures decides.

use crate::demo::random::Random;
use crate::demo::source::canvas::{Canvas, whole};
use crate::demo::source::filter::{Filter, Resonance};
use crate::demo::source::saw::{Saw, Waver};

/// Time between two postures, in seconds.
pub(super) const STEP_S: f64 = 4e-3;

/// What the mouth does at one moment.
#[derive(Clone, Copy, Debug)]
pub(super) struct Posture {
    /// Pitch, in Hz.
    pub(super) pitch_hz: f64,
    /// Amplitude of the vocal folds.
    pub(super) voice: f64,
    /// Corner of the low-pass on the vocal folds, in Hz: a louder voice is a brighter one.
    pub(super) effort_hz: f64,
    /// Amplitude of breath in the throat.
    pub(super) breath: f64,
    /// Amplitude of the hiss at teeth and lips.
    pub(super) hiss: f64,
    /// Middle of the hiss, in Hz.
    pub(super) hiss_hz: f64,
    /// The lower three resonances, in Hz.
    pub(super) formants_hz: [f64; 3],
    /// Depth of the vibrato, in cents.
    pub(super) vibrato_cents: f64,
}

impl Posture {
    /// A closed, silent mouth.
    pub(super) const REST: Self = Self {
        pitch_hz: 120.0,
        voice: 0.0,
        effort_hz: 1500.0,
        breath: 0.0,
        hiss: 0.0,
        hiss_hz: 6800.0,
        formants_hz: [500.0, 1500.0, 2500.0],
        vibrato_cents: 0.0,
    };

    fn is_silent(&self) -> bool {
        self.voice == 0.0 && self.breath == 0.0 && self.hiss == 0.0
    }
}

/// Someone who stands in the posture: their own pitch, a little off, and their own vibrato.
#[derive(Clone, Debug)]
pub(super) struct Person {
    saw: Saw,
    waver: Waver,
    offset: f64,
    wander_cents: f64,
}

impl Person {
    /// A person who is `offset_cents` off and wanders by `wander_cents`.
    pub(super) fn new(mut random: Random, offset_cents: f64, wander_cents: f64) -> Self {
        Self {
            saw: Saw::new(random.unit()),
            waver: Waver::new(random, 5.4),
            offset: (offset_cents / 1200.0).exp2(),
            wander_cents,
        }
    }
}

/// The tract itself, with what must last from one moment to the next.
struct Tract {
    formants: [Resonance; 5],
    teeth: Filter,
    folds: f64,
}

/// Widths of the resonances, in Hz, after Klatt.
const WIDTHS_HZ: [f64; 5] = [70.0, 90.0, 140.0, 220.0, 280.0];

/// The two highest resonances hardly move, in Hz.
const HIGH_HZ: [f64; 2] = [3500.0, 4500.0];

/// Adds people to the sheet. `size` scales the resonances: 1 for a long tract, up to 1.2 for a short one. The first
/// posture stands at the first sample.
pub(super) fn utter(
    canvas: &mut Canvas,
    postures: &[Posture],
    people: &mut [Person],
    size: f64,
    mut random: Random,
) {
    let rate_hz = canvas.rate_hz;
    let mut tract = Tract {
        formants: [Resonance::default(); 5],
        teeth: Filter::band_pass(rate_hz, 6800.0, 1.0),
        folds: 0.0,
    };
    let share = 1.0 / (people.len().max(1) as f64).sqrt();
    for (idx, pair) in postures.windows(2).enumerate() {
        let from = whole(idx as f64 * STEP_S * rate_hz).min(canvas.samples.len());
        let to = whole((idx + 1) as f64 * STEP_S * rate_hz).min(canvas.samples.len());
        if pair.iter().all(Posture::is_silent) && tract.rests() {
            continue;
        }
        tract.shape(&pair[0], rate_hz, size);
        tract.sound(&mut canvas.samples[from..to], pair, people, share, rate_hz, &mut random);
    }
}

impl Tract {
    fn shape(&mut self, posture: &Posture, rate_hz: f64, size: f64) {
        // Above 350 Hz or so singers open the mouth further, so that the lowest resonance stays above the pitch.
        let lowest_hz = (size * posture.formants_hz[0]).max(1.02 * posture.pitch_hz);
        let [_, second_hz, third_hz] = posture.formants_hz.map(|value| size * value);
        let [fourth_hz, fifth_hz] = HIGH_HZ.map(|value| size * value);
        let formants_hz = [lowest_hz, second_hz, third_hz, fourth_hz, fifth_hz];
        for ((formant, at_hz), width_hz) in self.formants.iter_mut().zip(formants_hz).zip(WIDTHS_HZ)
        {
            // A high voice damps its resonances more; otherwise a partial right on one would stand out.
            formant.tune(rate_hz, at_hz, width_hz + 0.15 * posture.pitch_hz);
        }
        if posture.hiss > 0.0 {
            self.teeth.become_like(&Filter::band_pass(rate_hz, posture.hiss_hz, 1.2));
        }
    }

    fn sound(
        &mut self,
        samples: &mut [f64],
        pair: &[Posture],
        people: &mut [Person],
        share: f64,
        rate_hz: f64,
        random: &mut Random,
    ) {
        let (now, next) = (&pair[0], &pair[1]);
        let slope = 1.0 / samples.len().max(1) as f64;
        let mut sum = vec![0.0; samples.len()];
        for person in people {
            let depth = now.vibrato_cents;
            let waver = person.waver.step(STEP_S, depth, person.wander_cents);
            let step = now.pitch_hz * person.offset * waver / rate_hz;
            person.saw.add(step, &mut sum);
        }
        let close = 1.0 - (-std::f64::consts::TAU * now.effort_hz / rate_hz).exp();
        let (mut voice, mut breath) = (now.voice, now.breath);
        let (voiced, breathed) =
            (slope * (next.voice - now.voice), slope * (next.breath - now.breath));
        for value in &mut sum {
            self.folds += close * (share * *value - self.folds);
            *value = voice * self.folds + breath * random.signed();
            voice += voiced;
            breath += breathed;
        }
        for formant in &mut self.formants {
            formant.run(&mut sum);
        }
        for (sample, value) in samples.iter_mut().zip(sum) {
            *sample += value;
        }
        if now.hiss + next.hiss > 0.0 || !self.teeth.is_at_rest() {
            let mut hiss = now.hiss;
            for sample in samples {
                *sample += self.teeth.step(hiss * random.signed());
                hiss += slope * (next.hiss - now.hiss);
            }
            self.teeth.rest();
        }
    }

    /// Whether nothing is heard any more; then the memory is cleared.
    fn rests(&mut self) -> bool {
        self.teeth.rest();
        for formant in &mut self.formants {
            formant.rest();
        }
        self.teeth.is_at_rest() && self.formants.iter().all(Resonance::is_at_rest)
    }
}
