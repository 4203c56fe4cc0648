//! Scales and chords.
//!
//! Takes steps of a scale, gives MIDI notes. Never leaves the key.

use crate::demo::scene::Mode;

/// Half tones of the seven steps of a scale above its tonic.
const fn half_tones(mode: Mode) -> [i32; 7] {
    match mode {
        Mode::Major => [0, 2, 4, 5, 7, 9, 11],
        Mode::Minor => [0, 2, 3, 5, 7, 8, 10],
    }
}

/// A key.
#[derive(Clone, Copy, Debug)]
pub(super) struct Key {
    /// The tonic, as a MIDI note.
    pub tonic_midi: i32,
    /// Major or minor.
    pub mode: Mode,
}

impl Key {
    /// The MIDI note of a step of the scale; step 0 is the tonic, 7 the octave above, -1 the step below.
    pub(super) fn step_midi(self, step: i32) -> i32 {
        let octave = step.div_euclid(7);
        let within = usize::try_from(step.rem_euclid(7)).unwrap_or(0);
        self.tonic_midi + 12 * octave + half_tones(self.mode)[within]
    }

    /// The MIDI note of a step, moved by octaves until it lies in the octave that starts at `low_midi`.
    pub(super) fn step_from(self, step: i32, low_midi: i32) -> f64 {
        f64::from(low_midi + (self.step_midi(step) - low_midi).rem_euclid(12))
    }

    /// The three notes of the triad on a step, each in the octave that starts at `low_midi`, lowest first.
    pub(super) fn triad_from(self, root_step: i32, low_midi: i32) -> [f64; 3] {
        let mut notes = [0, 2, 4].map(|third| self.step_from(root_step + third, low_midi));
        notes.sort_by(f64::total_cmp);
        notes
    }
}
