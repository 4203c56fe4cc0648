//! One bar of a song, with all that a player needs to know of it.
//!
//! Takes a song, gives its bars in order. Never knows who plays.

use crate::demo::{
    scene::{Meter, Section, Song},
    score::harmony::Key,
};

/// One bar of a song.
#[derive(Clone, Copy, Debug)]
pub(super) struct Bar<'a> {
    /// The section it belongs to.
    pub section: &'a Section,
    /// Its key.
    pub key: Key,
    /// How it is counted.
    pub meter: Meter,
    /// First beat, in seconds.
    pub start_s: f64,
    /// Length of the smallest unit of the pattern (a sixteenth in four, an eighth in six), in seconds.
    pub unit_s: f64,
    /// Units in a bar.
    pub n_units: u32,
    /// Its number within the section, from 0.
    pub idx: u32,
    /// Root of its chord, in steps above the tonic.
    pub root_step: i32,
}

impl Bar<'_> {
    /// Where a unit of the bar begins, in seconds.
    pub(super) fn at_s(&self, unit: f64) -> f64 {
        self.start_s + unit * self.unit_s
    }

    /// Whether it is the last bar of its section.
    pub(super) fn is_last(&self) -> bool {
        self.idx + 1 == self.section.n_bars
    }

    /// Length of a beat, in units.
    pub(super) fn beat_units(&self) -> u32 {
        match self.meter {
            Meter::Four => 4,
            Meter::Six => 3,
        }
    }
}

/// The bars of a song, in order.
pub(super) fn bars(song: &Song) -> Vec<Bar<'_>> {
    let (n_units, units_a_beat) = match song.meter {
        Meter::Four => (16, 4.0),
        Meter::Six => (6, 3.0),
    };
    let unit_s = 60.0 / song.beats_per_minute / units_a_beat;
    let key = Key { tonic_midi: i32::from(song.tonic_midi), mode: song.mode };
    let in_order =
        song.sections.iter().flat_map(|section| (0..section.n_bars).map(move |idx| (section, idx)));
    in_order
        .zip(0_u32..)
        .map(|((section, idx), n_before)| {
            let chord_idx = idx as usize % section.chords.len().max(1);
            Bar {
                section,
                key,
                meter: song.meter,
                start_s: song.start_s + f64::from(n_before * n_units) * unit_s,
                unit_s,
                n_units,
                idx,
                root_step: section.chords.get(chord_idx).map_or(0, |chord| i32::from(*chord) - 1),
            }
        })
        .collect()
}
