//! A reading of an invented evening in which every field is filled, for tests of what is printed.

use deskside::reading::{
    Channel, CompressorStart, Events, Feedback, GateStart, Hum, Jump, Kinship, LineCheck, MainMix,
    Microphone, Pair, Reading, Segment, SegmentKind, SessionFacts, SongLoudness, Spectrum, Starts,
};
use deskside::session::{Role, RoleSource, Side, Tap};
use deskside::unit::{Fact, Span, Unmeasured};

/// Nominal mid-band frequencies of the third-octaves from 25 Hz to 16 kHz (IEC 61260-1).
const THIRD_OCTAVES_HZ: [f64; 29] = [
    25.0, 31.5, 40.0, 50.0, 63.0, 80.0, 100.0, 125.0, 160.0, 200.0, 250.0, 315.0, 400.0, 500.0,
    630.0, 800.0, 1000.0, 1250.0, 1600.0, 2000.0, 2500.0, 3150.0, 4000.0, 5000.0, 6300.0, 8000.0,
    10000.0, 12500.0, 16000.0,
];

/// Length of the evening, in seconds.
const DURATION_S: f64 = 500.0;

/// A channel on which nothing is amiss.
pub(crate) fn channel(number: usize, name: &str, role: Role) -> Channel {
    Channel {
        id: format!("ch{number:02}"),
        number,
        name: name.to_owned(),
        role,
        role_confidence: 0.95,
        role_source: RoleSource::Name,
        role_by_sound: None,
        tap: Tap::Raw,
        is_line: false,
        is_in_ear: false,
        partner: None,
        side: None,
        rate_hz: 48_000,
        bits: 24,
        is_float: false,
        start_s: 0.0,
        duration_s: DURATION_S,
        active: vec![Span::new(80.0, 190.0)],
        sounding: Vec::new(),
        active_s: 110.0,
        active_confidence: 0.9,
        loud_level_dbfs: known(-20.0),
        typical_level_dbfs: known(-25.0),
        pause_level_dbfs: known(-45.0),
        own_to_spill_db: known(20.0),
        quiet_level_dbfs: known(-75.0),
        quiet_level_above_200_hz_dbfs: known(-78.0),
        top_peak_dbfs: Fact::exact(-9.0),
        top_peaks_at_s: vec![101.25],
        n_top_peaks: 1,
        true_peak_dbtp: Fact::exact(-8.9),
        hit_peak_dbfs: Fact::missing(Unmeasured::Because("the channel carries no drums")),
        momentary_max_lufs: known(-18.0),
        short_term_max_lufs: known(-20.0),
        integrated_lufs: known(-23.0),
        loudness_range_lu: known(6.0),
        crest_db: known(18.0),
        active_crest_db: known(14.0),
        typical_crest_db: known(12.0),
        level_spread_lu: known(9.0),
        phrase_spread_lu: known(6.0),
        low_end_correlation: known(0.1),
        note_spread_db: Fact::missing(Unmeasured::TooFewEvents { have: 0, need: 20 }),
        spectrum: spectrum(),
        dc_dbfs: Fact::AtMost { at_most: -80.0, confidence: 1.0 },
        hum: hum(),
        flat_tops: Events::default(),
        longest_flat_top_ms: 0.0,
        flat_top_level_dbfs: Fact::missing(Unmeasured::Because("there are no flat tops")),
        dropouts: Events::default(),
        clicks: Events::default(),
        pops: Events { count: 1, at_s: vec![92.5] },
        plug_pops: Events::default(),
        ear_spikes: None,
        microphone: Microphone::default(),
        digital_silence_percent: 0.0,
        starts: starts(role),
        processing: None,
    }
}

/// A compressor of 3:1 on voices, a gate on drums.
fn starts(role: Role) -> Starts {
    let compressor =
        CompressorStart { ratio: 3.0, reduction_db: 7.5, threshold_dbfs: Fact::sure(-28.0, 0.7) };
    let gate = GateStart {
        threshold_dbfs: Fact::sure(-21.0, 0.6),
        overlap_percent: Fact::sure(if role == Role::Kick { 4.0 } else { 45.0 }, 0.6),
    };
    Starts {
        start_threshold_dbfs: Fact::sure(-28.0, 0.8),
        compressor_starts: if role.is_single_voice() { vec![compressor] } else { Vec::new() },
        gate_start: matches!(role, Role::Kick | Role::SnareTop | Role::Tom).then_some(gate),
    }
}

fn known(value: f64) -> Fact {
    Fact::sure(value, 0.9)
}

/// No hum at all.
fn hum() -> Hum {
    Hum {
        level_db: Fact::AtMost { at_most: -70.0, confidence: 0.9 },
        mains_hz: Fact::missing(Unmeasured::Because("no hum was found")),
        buzz_db: Fact::AtMost { at_most: -70.0, confidence: 0.9 },
        evidence: Vec::new(),
    }
}

/// A tone that lies evenly in all ten bands.
fn spectrum() -> Spectrum {
    Spectrum {
        third_octave_hz: THIRD_OCTAVES_HZ.to_vec(),
        third_octave_db: THIRD_OCTAVES_HZ.iter().map(|hz| (*hz > 30.0).then_some(-14.5)).collect(),
        band_db: vec![Fact::sure(-10.0, 0.9); 10],
        below_corner_db: Fact::sure(-25.0, 0.8),
        edge_loud_db: Fact::sure(-6.0, 0.8),
        edge_growth_db: Fact::Range { low: 1.0, high: 2.5, confidence: 0.8 },
        ess_db: Fact::sure(-12.0, 0.8),
        band_out_percent: vec![0.0; 10],
    }
}

/// An evening in an invented hall: a lead voice that comes in low, keys that hum, playback that is the same on both
/// sides, a snare whose two microphones disagree, and nothing else amiss.
pub(crate) fn evening() -> Reading {
    let line = |channel: Channel| Channel { is_line: true, ..channel };
    let tapped = |channel: Channel, tap: Tap| Channel { tap, ..channel };
    let sided = |channel: Channel, side: Side, partner: usize| Channel {
        side: Some(side),
        partner: Some(format!("ch{partner:02}")),
        ..channel
    };
    let mut keys = line(sided(channel(13, "KB L", Role::Keys), Side::Left, 14));
    keys.hum = Hum {
        level_db: Fact::sure(-42.0, 0.95),
        mains_hz: Fact::sure(50.0, 0.99),
        buzz_db: Fact::sure(-60.0, 0.9),
        evidence: vec![Span::new(50.0, 56.0)],
    };
    let voice = Channel {
        loud_level_dbfs: Fact::sure(-35.0, 0.95),
        typical_level_dbfs: Fact::sure(-39.0, 0.95),
        pause_level_dbfs: Fact::sure(-57.0, 0.9),
        own_to_spill_db: Fact::sure(18.0, 0.9),
        top_peak_dbfs: Fact::exact(-21.0),
        ..channel(17, "LV", Role::LeadVocal)
    };
    let main = |number, name, side, partner| {
        tapped(sided(line(channel(number, name, Role::Main)), side, partner), Tap::Mix)
    };
    let channels = vec![
        channel(2, "Sn Top", Role::SnareTop),
        channel(3, "sn bot", Role::SnareBottom),
        keys,
        line(sided(channel(14, "KB R", Role::Keys), Side::Right, 13)),
        voice,
        channel(21, "Host HH", Role::Speech),
        line(sided(channel(22, "Trax L", Role::Playback), Side::Left, 23)),
        line(sided(channel(23, "Trax R", Role::Playback), Side::Right, 22)),
        main(26, "Main L", Side::Left, 27),
        main(27, "Main R", Side::Right, 26),
        tapped(channel(28, "Room", Role::Room), Tap::Room),
    ];
    Reading {
        session: session(),
        channels,
        pairs: pairs(),
        main: Some(main_mix()),
        mix: None,
        recorders: Vec::new(),
        feedback: feedback(),
        room: None,
        segments: segments(),
        line_check: LineCheck {
            heard_percent: Fact::sure(90.0, 0.9),
            n_heard: 9,
            missing: vec!["ch03".to_owned()],
            evidence: vec![Span::new(2.0, 48.0)],
        },
        quiet: vec![Span::new(50.0, 56.0)],
        warnings: vec![
            "28 Room: starts 0.4 s after the other files, aligned by its time stamp".to_owned(),
        ],
    }
}

/// Two microphones were looked at, and none howls.
fn feedback() -> Feedback {
    let looked_at = vec!["ch17".to_owned(), "ch21".to_owned()];
    Feedback { looked_at, ..Feedback::default() }
}

fn session() -> SessionFacts {
    SessionFacts {
        name: "Tallow Street Arts Hall".to_owned(),
        date: Some("2026-03-14".to_owned()),
        operator: Some("wren".to_owned()),
        place: Some("main hall".to_owned()),
        is_rehearsal: true,
        main_bus: "hall".to_owned(),
        style: "song-led".to_owned(),
        line_check_before_recording: None,
        is_good: Some(true),
        taps_stated: true,
        rate_hz: 48_000,
        duration_s: DURATION_S,
        length_spread_s: 0.4,
        mixed_rates: false,
        clock_ratio: None,
    }
}

fn pairs() -> Vec<Pair> {
    let pair = |source: &str, mic: &str, kinship: Kinship, polarity: f64, residual_db: f64| Pair {
        source: source.to_owned(),
        mic: mic.to_owned(),
        kinship,
        residual_db: Fact::sure(residual_db, 0.99),
        correlation: Fact::sure(0.6, 0.9),
        inverted_percent: Fact::sure(0.0, 0.9),
        body_correlation: Fact::sure(0.7 * polarity, 0.95),
        delay_s: Fact::sure(0.0002, 0.9),
        polarity: Fact::sure(polarity, 0.95),
        farther_m: Fact::sure(0.069, 0.9),
        bleed_db: Fact::missing(Unmeasured::Because("not measured for this kind of pair")),
        treble_bleed_db: Fact::missing(Unmeasured::Because("not measured for this kind of pair")),
        transfer_db: Fact::missing(Unmeasured::Because("not measured for this kind of pair")),
        coherence: Fact::missing(Unmeasured::Because("not measured for this kind of pair")),
        ripple_db: Fact::missing(Unmeasured::Because("not measured for this kind of pair")),
        notches_hz: Vec::new(),
        evidence: vec![Span::new(84.0, 94.0)],
    };
    vec![
        pair("ch02", "ch03", Kinship::SameSource, -1.0, -3.0),
        pair("ch13", "ch14", Kinship::StereoPair, 1.0, -4.0),
        pair("ch22", "ch23", Kinship::Twin, 1.0, -90.0),
    ]
}

fn main_mix() -> MainMix {
    MainMix {
        left: "ch26".to_owned(),
        right: Some("ch27".to_owned()),
        integrated_lufs: Fact::sure(-21.0, 0.95),
        loudness_range_lu: Fact::sure(9.0, 0.95),
        true_peak_dbtp: Fact::exact(-3.2),
        mono_fold_lu: Fact::sure(-1.5, 0.9),
        mono_fold_mid_lu: Fact::sure(-1.0, 0.9),
        lean_lu: Fact::sure(0.4, 0.9),
        lean_s: 12.0,
        tilt_db_per_octave: Fact::sure(-4.0, 0.9),
        squashed_percent: Fact::sure(2.0, 0.9),
        speech_vs_song_lu: Fact::sure(-4.0, 0.9),
        speech_s: 89.0,
        songs: vec![SongLoudness {
            title: "Seven Lamps for the Ferryman".to_owned(),
            span: Span::new(80.0, 190.0),
            loudness_lufs: Fact::sure(-20.0, 0.95),
            mono_fold_lu: Fact::sure(-1.5, 0.9),
            mono_fold_mid_lu: Fact::sure(-1.0, 0.9),
        }],
        jumps: vec![Jump {
            at_s: 320.0,
            from_to: "song to playback".to_owned(),
            like_to_like: true,
            step_lu: Fact::sure(9.0, 0.9),
        }],
        creep_db_per_hour: Fact::missing(Unmeasured::TooShort {
            have_s: DURATION_S,
            need_s: 1800.0,
        }),
    }
}

fn segments() -> Vec<Segment> {
    let segment = |kind: SegmentKind, title: &str, start_s: f64, end_s: f64| Segment {
        kind,
        title: title.to_owned(),
        span: Span::new(start_s, end_s),
        confidence: 0.9,
    };
    vec![
        segment(SegmentKind::LineCheck, "", 0.0, 50.0),
        segment(SegmentKind::Silence, "", 50.0, 56.0),
        segment(SegmentKind::Talk, "", 56.0, 80.0),
        segment(SegmentKind::Song, "Seven Lamps for the Ferryman", 80.0, 190.0),
        segment(SegmentKind::Talk, "", 190.0, 215.0),
        segment(SegmentKind::Song, "Copper Kettle Weather", 215.0, 320.0),
        segment(SegmentKind::Playback, "", 320.0, 350.0),
        segment(SegmentKind::Talk, "", 350.0, DURATION_S),
    ]
}

/// The evening with more microphones and what they hear of each other: levels, a ceiling, an unsure level, and ways that
/// could not be measured.
pub(crate) fn stage() -> Reading {
    let mut reading = evening();
    reading.channels.splice(
        2..2,
        [
            channel(6, "OH L", Role::Overhead),
            channel(7, "OH R", Role::Overhead),
            channel(11, "EG amp", Role::ElectricGuitar),
        ],
    );
    let voices = [
        channel(18, "Backing Vocal 1", Role::BackingVocal),
        channel(19, "BV 2", Role::BackingVocal),
    ];
    let at = reading.channels.iter().position(|channel| channel.number > 17);
    reading.channels.splice(at.unwrap_or(0)..at.unwrap_or(0), voices);
    let known = |level_db: f64| Fact::sure(level_db, 0.85);
    let at_most = |level_db: f64| Fact::AtMost { at_most: level_db, confidence: 0.7 };
    let short = |have_s: f64| Fact::missing(Unmeasured::TooLittleActive { have_s, need_s: 5.0 });
    reading.pairs.extend([
        heard(11, 17, known(-7.4), Some(2.62), 1.0),
        heard(2, 17, at_most(-6.0), None, 1.0),
        heard(6, 17, known(-9.8), Some(11.4), -1.0),
        heard(18, 17, Fact::sure(-12.3, 0.5), Some(4.08), 1.0),
        heard(19, 17, short(3.0), None, 1.0),
        heard(17, 18, known(-4.2), Some(3.51), 1.0),
        heard(19, 18, short(3.0), None, 1.0),
        heard(17, 19, short(2.0), None, 1.0),
        heard(2, 6, known(-3.2), Some(2.9), 1.0),
        heard(2, 7, known(-4.0), Some(4.6), 1.0),
        heard(
            11,
            21,
            Fact::missing(Unmeasured::Because("its level differs between halves")),
            None,
            1.0,
        ),
    ]);
    reading
}

/// What the microphone of one channel hears of another, this much later.
fn heard(source: usize, mic: usize, bleed_db: Fact, later_ms: Option<f64>, polarity: f64) -> Pair {
    let nothing = || Fact::missing(Unmeasured::Because("not measured for this kind of pair"));
    let of_lag = |value: Option<f64>| {
        let unknown = Fact::missing(Unmeasured::Because("no lag stands out"));
        value.map_or(unknown, |value| Fact::sure(value, 0.9))
    };
    Pair {
        source: format!("ch{source:02}"),
        mic: format!("ch{mic:02}"),
        kinship: Kinship::Spill,
        residual_db: nothing(),
        correlation: nothing(),
        inverted_percent: nothing(),
        body_correlation: nothing(),
        delay_s: of_lag(later_ms.map(|later_ms| later_ms / 1000.0)),
        polarity: of_lag(later_ms.map(|_| polarity)),
        // Sound travels 0.343 m in a millisecond at 20 degrees.
        farther_m: of_lag(later_ms.map(|later_ms| 0.343 * later_ms)),
        treble_bleed_db: bleed_db.clone(),
        transfer_db: bleed_db.clone(),
        bleed_db,
        coherence: Fact::sure(0.1, 0.9),
        ripple_db: nothing(),
        notches_hz: Vec::new(),
        evidence: vec![Span::new(84.0, 94.0)],
    }
}
