//! Syllables: consonants and vowels as postures of the mouth.
//!
//! Takes a consonant, a vowel and times, writes postures. The vowels are Peterson and Barney's ("Control methods used in a study of the
//! vowels", J. Acoust. Soc. Am. 24, 1952, men, from memory); s and sh have their middles at 6.8 and 3.8 kHz (Jongman, Wayland and Wong,
//! J. Acoust. Soc. Am. 108, 2000). Chosen at random: they mean nothing.

use crate::demo::random::Random;
use crate::demo::source::canvas::{factor, whole};
use crate::demo::source::tract::{Posture, STEP_S};

/// Resonances in Hz of the vowels in heed, hid, head, had, hod, hawed, hood and hud, each with a level in dB that brings a mouth
/// with two resonances side by side down to the others, as a speaker does.
const VOWELS: [([f64; 3], f64); 8] = [
    ([300.0, 2290.0, 3010.0], 2.0),
    ([390.0, 1990.0, 2550.0], 1.0),
    ([530.0, 1840.0, 2480.0], 0.0),
    ([660.0, 1720.0, 2410.0], 0.0),
    ([730.0, 1090.0, 2440.0], -2.5),
    ([570.0, 840.0, 2410.0], -4.0),
    ([440.0, 1020.0, 2240.0], 0.0),
    ([640.0, 1190.0, 2390.0], -1.0),
];

/// How a syllable begins.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Onset {
    /// Lips or tongue closed for this long, in seconds.
    closed_s: f64,
    /// The voice during it, re the vowel.
    murmur: f64,
    /// Resonances during it, in Hz.
    murmur_hz: [f64; 3],
    /// Then a hiss, in dB re the vowel's voice, for this long.
    hiss_db: f64,
    /// Middle of the hiss, in Hz.
    hiss_hz: f64,
    /// How long it lasts, in seconds.
    hiss_s: f64,
    /// Then breath for this long, in seconds.
    breath_s: f64,
}

const NONE: Onset = Onset {
    closed_s: 0.0,
    murmur: 0.0,
    murmur_hz: [350.0, 1300.0, 2300.0],
    hiss_db: -200.0,
    hiss_hz: 6800.0,
    hiss_s: 0.0,
    breath_s: 0.0,
};

const P: Onset =
    Onset { closed_s: 0.06, hiss_db: -6.0, hiss_hz: 1000.0, hiss_s: 0.01, breath_s: 0.03, ..NONE };
const T: Onset = Onset { hiss_db: -4.0, hiss_hz: 4500.0, hiss_s: 0.015, ..P };
const K: Onset = Onset { hiss_db: -4.0, hiss_hz: 1900.0, hiss_s: 0.02, ..P };
const B: Onset =
    Onset { closed_s: 0.05, murmur: 0.2, murmur_hz: [220.0, 900.0, 2200.0], breath_s: 0.0, ..P };
const D: Onset = Onset { hiss_db: -10.0, hiss_hz: 4000.0, ..B };
const S: Onset = Onset { hiss_db: -5.0, hiss_hz: 6800.0, hiss_s: 0.1, ..NONE };
const SH: Onset = Onset { hiss_db: -2.0, hiss_hz: 3800.0, hiss_s: 0.1, ..NONE };
const F: Onset = Onset { hiss_db: -16.0, hiss_hz: 8500.0, hiss_s: 0.09, ..NONE };
const M: Onset =
    Onset { closed_s: 0.065, murmur: 0.45, murmur_hz: [260.0, 1000.0, 2200.0], ..NONE };
const N: Onset = Onset { murmur_hz: [260.0, 1450.0, 2300.0], ..M };
const L: Onset = Onset { closed_s: 0.05, murmur: 0.7, murmur_hz: [360.0, 1100.0, 2600.0], ..NONE };
const H: Onset = Onset { breath_s: 0.06, ..NONE };

const ALL: [Onset; 14] = [NONE, P, T, T, K, B, D, S, SH, F, M, N, L, H];
const OPEN: [Onset; 4] = [M, N, L, NONE];

/// A syllable.
#[derive(Clone, Copy, Debug)]
pub(super) struct Syllable {
    /// How it begins.
    pub(super) onset: Onset,
    /// Resonances of its vowel, in Hz.
    pub(super) vowel_hz: [f64; 3],
    /// Level of its vowel, in dB.
    pub(super) level_db: f64,
}

impl Syllable {
    /// Any syllable.
    pub(super) fn any(random: &mut Random) -> Self {
        Self::new(&ALL, random)
    }

    /// A syllable that is voiced from its first moment.
    pub(super) fn open(random: &mut Random) -> Self {
        Self::new(&OPEN, random)
    }

    fn new(onsets: &[Onset], random: &mut Random) -> Self {
        let onset = *random.pick(onsets);
        let (vowel_hz, level_db) = *random.pick(&VOWELS);
        Self { onset, vowel_hz, level_db }
    }

    /// Writes the syllable: consonant from `from_s`, then the vowel up to `to_s`, with `vowel` giving pitch, voice, effort,
    /// breath and vibrato of the vowel at a time.
    pub(super) fn write(
        &self,
        postures: &mut [Posture],
        from_s: f64,
        to_s: f64,
        vowel: impl Fn(f64) -> Posture,
    ) {
        let onset = &self.onset;
        let vowel_factor = factor(self.level_db);
        // A hurried syllable has a hurried consonant.
        let hurry = (0.5 * (to_s - from_s) / onset.length_s().max(1e-3)).min(1.0);
        let closed_s = from_s + hurry * onset.closed_s;
        let hissed_s = closed_s + hurry * onset.hiss_s;
        let breathed_s = hissed_s + hurry * onset.breath_s;
        let (first, end) = (whole(from_s / STEP_S), whole(to_s / STEP_S).min(postures.len()));
        for (idx, posture) in postures.iter_mut().enumerate().take(end).skip(first) {
            let time_s = idx as f64 * STEP_S;
            let open = vowel(time_s);
            let shut = Posture { voice: 0.0, breath: 0.0, hiss: 0.0, ..open };
            *posture = if time_s < closed_s {
                let voice = onset.murmur * open.voice;
                Posture { voice, formants_hz: onset.murmur_hz, ..shut }
            } else if time_s < hissed_s {
                let hiss = factor(onset.hiss_db) * open.voice;
                Posture { hiss, hiss_hz: onset.hiss_hz, formants_hz: self.vowel_hz, ..shut }
            } else if time_s < breathed_s {
                Posture { breath: 0.2 * open.voice, formants_hz: self.vowel_hz, ..shut }
            } else {
                Posture { voice: open.voice * vowel_factor, formants_hz: self.vowel_hz, ..open }
            };
        }
    }
}

impl Onset {
    fn length_s(&self) -> f64 {
        self.closed_s + self.hiss_s + self.breath_s
    }
}

/// Softens what a mouth cannot do at once: resonances and voice glide into each other over some hundredths of a second.
pub(super) fn smooth(postures: &mut [Posture]) {
    let (slow, quick) = (1.0 - (-STEP_S / 0.025).exp(), 1.0 - (-STEP_S / 0.008).exp());
    let mut last = Posture::REST;
    for posture in postures {
        for (value, before) in posture.formants_hz.iter_mut().zip(last.formants_hz) {
            *value = before + slow * (*value - before);
        }
        let voice = last.voice + quick * (posture.voice - last.voice);
        // 80 dB under the voice counts as silence.
        posture.voice = if voice < 1e-4 { 0.0 } else { voice };
        if posture.voice > 0.0 && last.voice > 0.0 {
            posture.pitch_hz = last.pitch_hz + 2.0 * slow * (posture.pitch_hz - last.pitch_hz);
        }
        last = *posture;
    }
}
