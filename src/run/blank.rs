//! A channel before anything is measured.

use crate::reading::{Channel, Events, Hum, Microphone, Spectrum, Starts};
use crate::session::SessionChannel;
use crate::unit::{Fact, Unmeasured};

/// A channel with what its file and its name tell; nothing is measured yet.
pub(super) fn blank(channel: &SessionChannel, all: &[SessionChannel]) -> Channel {
    Channel {
        id: channel.id.clone(),
        number: channel.number,
        name: channel.name.clone(),
        role: channel.role,
        role_confidence: channel.role_confidence,
        role_source: channel.role_source,
        role_by_sound: None,
        tap: channel.tap,
        is_line: channel.is_line,
        is_in_ear: channel.note.in_ear == Some(true),
        partner: channel.partner.and_then(|idx| Some(all.get(idx)?.id.clone())),
        side: channel.side,
        rate_hz: channel.rate_hz,
        bits: channel.bits,
        is_float: channel.is_float,
        start_s: channel.start_s,
        duration_s: 0.0,
        active: Vec::new(),
        sounding: Vec::new(),
        active_s: 0.0,
        active_confidence: 0.0,
        loud_level_dbfs: nothing(),
        typical_level_dbfs: nothing(),
        pause_level_dbfs: nothing(),
        own_to_spill_db: nothing(),
        quiet_level_dbfs: nothing(),
        quiet_level_above_200_hz_dbfs: nothing(),
        top_peak_dbfs: nothing(),
        top_peaks_at_s: Vec::new(),
        n_top_peaks: 0,
        true_peak_dbtp: nothing(),
        hit_peak_dbfs: nothing(),
        momentary_max_lufs: nothing(),
        short_term_max_lufs: nothing(),
        integrated_lufs: nothing(),
        loudness_range_lu: nothing(),
        crest_db: nothing(),
        active_crest_db: nothing(),
        typical_crest_db: nothing(),
        level_spread_lu: nothing(),
        phrase_spread_lu: nothing(),
        low_end_correlation: nothing(),
        note_spread_db: nothing(),
        spectrum: no_spectrum(),
        dc_dbfs: nothing(),
        hum: no_hum(),
        flat_tops: Events::default(),
        longest_flat_top_ms: 0.0,
        flat_top_level_dbfs: nothing(),
        dropouts: Events::default(),
        clicks: Events::default(),
        pops: Events::default(),
        plug_pops: Events::default(),
        ear_spikes: None,
        microphone: Microphone::default(),
        digital_silence_percent: 0.0,
        starts: Starts::none(Unmeasured::NeverActive),
        processing: None,
    }
}

fn nothing() -> Fact {
    Fact::missing(Unmeasured::NeverActive)
}

fn no_spectrum() -> Spectrum {
    Spectrum {
        third_octave_hz: Vec::new(),
        third_octave_db: Vec::new(),
        band_db: Vec::new(),
        below_corner_db: nothing(),
        edge_loud_db: nothing(),
        edge_growth_db: nothing(),
        ess_db: nothing(),
        band_out_percent: Vec::new(),
    }
}

fn no_hum() -> Hum {
    Hum { level_db: nothing(), mains_hz: nothing(), buzz_db: nothing(), evidence: Vec::new() }
}
