//! A small healthy session for the tests of rules: every number lies on target until a test changes it.
//!
//! Ten minutes: quiet, talk, two songs, talk. The tests inside rule files read this file too. Never computes a measurement.

use deskside::coach::window;
use deskside::reading::{
    AgreedLimit, BackingMix, Channel, DecayFrom, Events, Feedback, Hum, Idle, Kinship, LeadMix,
    LineCheck, MainMix, Microphone, Mix, MixChannel, MixSection, Pair, Processing, Reading, Room,
    Segment, SegmentKind, SessionFacts, SoloMix, SongLoudness, SongMix, SongWeight, SoundLevels,
    Spectrum, Starts,
};
use deskside::session::{Role, RoleSource, Tap};
use deskside::unit::{Fact, Span, Unmeasured};

/// Length of the session, in seconds.
const DURATION_S: f64 = 600.0;

/// A healthy channel recorded right after its preamplifier.
pub(crate) fn channel(number: usize, role: Role) -> Channel {
    Channel {
        id: format!("ch{number:02}"),
        number,
        name: format!("{} {number}", role.word()),
        role,
        role_confidence: 1.0,
        role_source: RoleSource::Stated,
        role_by_sound: None,
        tap: if role == Role::Main { Tap::Mix } else { Tap::Raw },
        is_line: is_line(role),
        is_in_ear: false,
        partner: None,
        side: None,
        rate_hz: 48_000,
        bits: 24,
        is_float: false,
        start_s: 0.0,
        duration_s: DURATION_S,
        active: vec![Span::new(20.0, 580.0)],
        sounding: Vec::new(),
        active_s: 560.0,
        active_confidence: 1.0,
        loud_level_dbfs: Fact::exact(-18.0),
        typical_level_dbfs: Fact::exact(-22.0),
        pause_level_dbfs: Fact::exact(-42.0),
        own_to_spill_db: Fact::exact(20.0),
        quiet_level_dbfs: Fact::exact(-80.0),
        quiet_level_above_200_hz_dbfs: Fact::exact(-85.0),
        top_peak_dbfs: Fact::exact(-15.0),
        top_peaks_at_s: vec![120.0, 200.0, 300.0],
        n_top_peaks: 3,
        true_peak_dbtp: Fact::exact(-7.5),
        hit_peak_dbfs: Fact::exact(-10.0),
        momentary_max_lufs: Fact::exact(-16.0),
        short_term_max_lufs: Fact::exact(-18.0),
        integrated_lufs: Fact::exact(-22.0),
        loudness_range_lu: Fact::exact(8.0),
        crest_db: Fact::exact(16.0),
        active_crest_db: Fact::exact(14.0),
        typical_crest_db: Fact::exact(12.0),
        level_spread_lu: Fact::exact(9.0),
        phrase_spread_lu: Fact::exact(8.0),
        low_end_correlation: Fact::exact(0.0),
        note_spread_db: Fact::exact(4.0),
        spectrum: spectrum(role),
        dc_dbfs: Fact::exact(-90.0),
        hum: hum(),
        flat_tops: Events::default(),
        longest_flat_top_ms: 0.0,
        flat_top_level_dbfs: Fact::exact(0.0),
        dropouts: Events::default(),
        clicks: Events::default(),
        pops: Events::default(),
        plug_pops: Events::default(),
        ear_spikes: None,
        microphone: Microphone::default(),
        digital_silence_percent: 0.0,
        starts: starts(),
        processing: None,
    }
}

/// A threshold of 3:1 alone.
fn starts() -> Starts {
    Starts {
        start_threshold_dbfs: Fact::sure(-28.0, 0.8),
        compressor_starts: Vec::new(),
        gate_start: None,
    }
}

fn is_line(role: Role) -> bool {
    matches!(role, Role::Bass | Role::AcousticGuitar | Role::Keys | Role::Playback)
}

/// Hum that nobody hears.
fn hum() -> Hum {
    Hum {
        level_db: Fact::exact(-75.0),
        mains_hz: Fact::exact(50.0),
        buzz_db: Fact::exact(-85.0),
        evidence: vec![Span::new(0.0, 10.0)],
    }
}

/// A tone in the middle of the role's windows.
fn spectrum(role: Role) -> Spectrum {
    let band = |band: usize| match window(role, band) {
        (Some(low), Some(high)) => Fact::exact(f64::midpoint(low, high)),
        (None, Some(high)) => Fact::exact(high - 6.0),
        _ => Fact::exact(-10.0),
    };
    Spectrum {
        third_octave_hz: Vec::new(),
        third_octave_db: Vec::new(),
        band_db: (0..10).map(band).collect(),
        below_corner_db: Fact::exact(-35.0),
        edge_loud_db: Fact::exact(-10.0),
        edge_growth_db: Fact::exact(3.0),
        ess_db: Fact::exact(-13.0),
        band_out_percent: vec![0.0; 10],
    }
}

/// A healthy session with these channels.
pub(crate) fn session(channels: Vec<Channel>) -> Reading {
    Reading {
        session: SessionFacts {
            name: "rehearsal".to_owned(),
            date: None,
            operator: None,
            place: None,
            is_rehearsal: true,
            main_bus: "hall".to_owned(),
            style: "song-led".to_owned(),
            line_check_before_recording: None,
            is_good: None,
            taps_stated: true,
            rate_hz: 48_000,
            duration_s: DURATION_S,
            length_spread_s: 0.0,
            mixed_rates: false,
            clock_ratio: None,
        },
        channels,
        pairs: Vec::new(),
        main: None,
        mix: None,
        recorders: Vec::new(),
        feedback: Feedback::default(),
        room: None,
        segments: vec![
            segment(SegmentKind::Silence, "", 0.0, 10.0),
            segment(SegmentKind::Talk, "", 10.0, 100.0),
            segment(SegmentKind::Song, "Seven Lamps for the Ferryman", 100.0, 250.0),
            segment(SegmentKind::Song, "Copper Kettle Weather", 250.0, 400.0),
            segment(SegmentKind::Talk, "", 400.0, DURATION_S),
        ],
        line_check: LineCheck {
            heard_percent: Fact::sure(90.0, 0.9),
            n_heard: 9,
            missing: vec!["ch03".to_owned()],
            evidence: vec![Span::new(2.0, 48.0)],
        },
        quiet: vec![Span::new(0.0, 10.0)],
        warnings: Vec::new(),
    }
}

/// A healthy session with a healthy hall, changed a little. The hall has 1188 m3.
pub(crate) fn with_room(change: impl FnOnce(&mut Room)) -> Reading {
    let songs = [("Seven Lamps for the Ferryman", 100.0), ("Copper Kettle Weather", 250.0)];
    let song = |(title, start_s): (&str, f64)| SongWeight {
        title: title.to_owned(),
        span: Span::new(start_s, start_s + 150.0),
        c_minus_a_db: Fact::sure(9.0, 0.9),
        stage_db: Fact::Range { low: -12.0, high: -6.5, confidence: 0.7 },
    };
    let mut room = Room {
        channel: "ch28".to_owned(),
        octaves: Vec::new(),
        decay_s: Fact::sure(1.0, 0.93),
        decay_from: DecayFrom::Burst,
        decay_evidence: vec![Span::new(6.0, 6.5)],
        fall_db: (0..60).map(|step| -1.2 * f64::from(step)).collect(),
        low_decay_ratio: Fact::sure(1.1, 0.8),
        recommended_decay_s: Fact::exact(1.0),
        liked_music_decay_s: None,
        speech_over_noise_db: Fact::sure(26.0, 0.8),
        words_index: Fact::Range { low: 0.62, high: 1.0, confidence: 0.8 },
        songs: songs.map(song).to_vec(),
        sound: None,
    };
    change(&mut room);
    Reading { room: Some(room), ..session(vec![channel(28, Role::Room)]) }
}

/// Sound levels of a loud evening, with a limit over 15 minutes.
pub(crate) fn sound_levels(loudest_db_spl: Fact, limit_db_spl: f64) -> SoundLevels {
    SoundLevels {
        laeq_db_spl: Fact::sure(90.0, 0.8),
        lceq_db_spl: Fact::sure(100.0, 0.8),
        lafmax_db_spl: Fact::sure(102.0, 0.8),
        lcpeak_db_spl: Fact::sure(122.0, 0.8),
        lcpeak_at: vec![Span::new(200.0, 200.0)],
        laeq_15_min_db_spl: loudest_db_spl.clone(),
        laeq_30_min_db_spl: Fact::sure(91.0, 0.8),
        daily_exposure_db_spl: Fact::sure(80.0, 0.8),
        dose_percent: Fact::sure(30.0, 0.8),
        dose_5_db_percent: Some(Fact::sure(21.0, 0.8)),
        limit: Some(AgreedLimit {
            limit_db_spl,
            window_min: 15.0,
            loudest_db_spl,
            at: vec![Span::new(0.0, 900.0)],
        }),
    }
}

fn segment(kind: SegmentKind, title: &str, start_s: f64, end_s: f64) -> Segment {
    Segment { kind, title: title.to_owned(), span: Span::new(start_s, end_s), confidence: 1.0 }
}

/// A healthy main mix on channels 26 and 27.
pub(crate) fn main_mix() -> MainMix {
    MainMix {
        left: "ch26".to_owned(),
        right: Some("ch27".to_owned()),
        integrated_lufs: Fact::exact(-20.0),
        loudness_range_lu: Fact::exact(8.0),
        true_peak_dbtp: Fact::exact(-6.0),
        mono_fold_lu: Fact::exact(-1.0),
        mono_fold_mid_lu: Fact::exact(-1.0),
        lean_lu: Fact::exact(0.0),
        lean_s: 0.0,
        tilt_db_per_octave: Fact::exact(-2.0),
        squashed_percent: Fact::exact(5.0),
        speech_vs_song_lu: Fact::exact(-6.0),
        speech_s: 290.0,
        songs: vec![
            song("Seven Lamps for the Ferryman", 100.0),
            song("Copper Kettle Weather", 250.0),
        ],
        jumps: Vec::new(),
        creep_db_per_hour: Fact::exact(0.0),
    }
}

/// A healthy song of 150 s.
pub(crate) fn song(title: &str, start_s: f64) -> SongLoudness {
    SongLoudness {
        title: title.to_owned(),
        span: Span::new(start_s, start_s + 150.0),
        loudness_lufs: Fact::exact(-18.0),
        mono_fold_lu: Fact::exact(-1.0),
        mono_fold_mid_lu: Fact::exact(-1.0),
    }
}

/// A healthy session with this main mix and its two channels.
pub(crate) fn with_main(main: MainMix) -> Reading {
    Reading { main: Some(main), ..session(vec![channel(26, Role::Main), channel(27, Role::Main)]) }
}

/// A healthy session with these channels, a main mix behind them, and what the operator did with it.
pub(crate) fn mixed(channels: Vec<Channel>) -> Reading {
    let mix = Mix {
        latency_s: Fact::exact(0.003),
        drift_ppm: Fact::exact(0.0),
        has_own_clock: false,
        explained_share: Fact::exact(0.97),
        explained_each_second_share: Vec::new(),
        bus_swing_db: Fact::exact(1.0),
        bus_pump_db: Fact::exact(0.5),
        open_pairs: Vec::new(),
        sections: vec![MixSection {
            span: Span::new(0.0, DURATION_S),
            explained_share: Fact::exact(0.97),
        }],
        channels: channels.iter().map(in_mix).collect(),
        groups: Vec::new(),
        songs: vec![
            song_mix("Seven Lamps for the Ferryman", 100.0, &channels),
            song_mix("Copper Kettle Weather", 250.0, &channels),
        ],
        effects_re_speech_lu: Fact::exact(-30.0),
        effects_in_talk: Vec::new(),
        idle_in_songs: idle(),
        idle_in_talk: idle(),
    };
    let sides = [channel(26, Role::Main), channel(27, Role::Main)];
    Reading {
        main: Some(main_mix()),
        mix: Some(mix),
        ..session(channels.into_iter().chain(sides).collect())
    }
}

/// A channel that stands well in the mix.
pub(crate) fn in_mix(channel: &Channel) -> MixChannel {
    MixChannel {
        channel: channel.id.clone(),
        is_in_mix: true,
        gain_db: vec![Some(-3.0); 600],
        usual_gain_db: Fact::exact(-3.0),
        gain_re_others_db: Fact::exact(0.0),
        pan: Fact::exact(0.0),
        polarity: Fact::exact(1.0),
        insert_s: 0.0,
        on: vec![Span::new(0.0, DURATION_S)],
        eq_db: Vec::new(),
        tone: Some(spectrum(channel.role)),
        gain_reduction_db: Fact::exact(4.0),
        closings_per_minute: Fact::exact(0.0),
        level_spread_lu: Fact::exact(8.0),
        re_mix_lu: Fact::exact(-10.0),
        low_share_percent: Fact::exact(1.0),
        idle_open_percent: Fact::exact(2.0),
        idle_open_in_songs_percent: Fact::exact(2.0),
        idle_open: vec![Span::new(120.0, 123.0)],
        switches: Vec::new(),
        left_out_s: Fact::exact(0.0),
        left_out: Vec::new(),
        entries: Vec::new(),
        turns_per_minute: Fact::exact(0.0),
    }
}

/// A balanced song of 150 s with a lead for each lead voice.
pub(crate) fn song_mix(title: &str, start_s: f64, channels: &[Channel]) -> SongMix {
    let leads = channels.iter().filter(|channel| channel.role == Role::LeadVocal);
    SongMix {
        title: title.to_owned(),
        span: Span::new(start_s, start_s + 150.0),
        explained_share: Fact::exact(0.97),
        leads: leads.map(|voice| lead(&voice.id)).collect(),
        backing: Vec::new(),
        backing_over_lead_lu: Fact::missing(Unmeasured::Because("no backing voice sings")),
        solos: Vec::new(),
        overheads_re_kit_lu: Fact::exact(-12.0),
        overheads: Vec::new(),
        effects_re_voice_lu: Fact::exact(-15.0),
        treble_db: Fact::exact(-14.0),
        treble_movement_db: Fact::exact(10.0),
        treble_from: Vec::new(),
        idle: Some(idle()),
    }
}

/// A lead voice on target.
pub(crate) fn lead(id: &str) -> LeadMix {
    LeadMix {
        channel: id.to_owned(),
        sung_s: 90.0,
        gain_db: Fact::exact(-3.0),
        over_rest_lu: Fact::exact(1.0),
        over_rest_each_second_lu: vec![Some(1.0); 148],
        over_rest_1_to_4_khz_each_second_db: vec![Some(1.0); 148],
        buried_percent: Fact::exact(5.0),
        buried: vec![Span::new(130.0, 136.0)],
        over_rest_1_to_4_khz_db: Fact::exact(2.0),
        audibility_index: Fact::exact(0.6),
        covered_hz: Fact::exact(1000.0),
        covered_by: None,
        taken_over: Vec::new(),
    }
}

/// A lead voice on channel 17 and two backing voices on 18 and 19, each so far over the lead, and all together.
pub(crate) fn backing(over_lead_lu: &[f64], together_lu: f64) -> Reading {
    let voices = (0..over_lead_lu.len()).map(|idx| channel(18 + idx, Role::BackingVocal));
    let mut reading = mixed(std::iter::once(channel(17, Role::LeadVocal)).chain(voices).collect());
    let songs = reading.mix.iter_mut().flat_map(|mix| &mut mix.songs).take(1);
    for song in songs {
        song.backing_over_lead_lu = Fact::sure(together_lu, 0.9);
        song.backing = over_lead_lu
            .iter()
            .enumerate()
            .map(|(idx, over_lu)| BackingMix {
                channel: format!("ch{}", 18 + idx),
                lead: "ch17".to_owned(),
                together_s: 30.0,
                over_lead_lu: Fact::sure(*over_lu, 0.9),
                evidence: vec![Span::new(160.0, 170.0)],
            })
            .collect();
    }
    reading
}

/// A solo of a fiddle on channel 15 in the first song.
pub(crate) fn solo(over_rest_lu: f64, lift_db: f64, is_cued: bool) -> Reading {
    let mut reading = mixed(vec![channel(15, Role::Strings)]);
    let songs = reading.mix.iter_mut().flat_map(|mix| &mut mix.songs).take(1);
    for song in songs {
        song.solos = vec![SoloMix {
            channel: "ch15".to_owned(),
            span: Span::new(138.0, 162.0),
            is_cued,
            over_rest_lu: Fact::sure(over_rest_lu, 0.85),
            lift_db: Fact::sure(lift_db, 0.85),
        }];
    }
    reading
}

/// Nothing stands open for nothing.
fn idle() -> Idle {
    Idle {
        mean_count: Fact::exact(1.0),
        channels: Vec::new(),
        cost_db: Fact::exact(0.5),
        looked_at_s: 300.0,
        evidence: vec![Span::new(200.0, 220.0)],
    }
}

/// Two channels that agree.
pub(crate) fn pair(source: &Channel, mic: &Channel, kinship: Kinship) -> Pair {
    Pair {
        source: source.id.clone(),
        mic: mic.id.clone(),
        kinship,
        residual_db: Fact::exact(-3.0),
        correlation: Fact::exact(0.8),
        inverted_percent: Fact::exact(0.0),
        body_correlation: Fact::exact(0.8),
        delay_s: Fact::exact(0.0),
        polarity: Fact::exact(1.0),
        farther_m: Fact::exact(0.0),
        bleed_db: Fact::missing(Unmeasured::Because("not measured for this kind of pair")),
        treble_bleed_db: Fact::missing(Unmeasured::Because("not measured for this kind of pair")),
        transfer_db: Fact::missing(Unmeasured::Because("not measured for this kind of pair")),
        coherence: Fact::missing(Unmeasured::Because("not measured for this kind of pair")),
        ripple_db: Fact::missing(Unmeasured::Because("not measured for this kind of pair")),
        notches_hz: Vec::new(),
        evidence: vec![Span::new(120.0, 130.0)],
    }
}

/// A healthy session with two channels and what they say about each other.
pub(crate) fn with_pair(source: Channel, mic: Channel, pair: Pair) -> Reading {
    Reading { pairs: vec![pair], ..session(vec![source, mic]) }
}

/// What the microphone of one source hears of another: at this level re its own, 3 ms later.
pub(crate) fn spilled(source: &Channel, mic: &Channel, bleed_db: f64) -> Pair {
    Pair {
        residual_db: Fact::missing(Unmeasured::Because("not measured for this kind of pair")),
        correlation: Fact::missing(Unmeasured::Because("not measured for this kind of pair")),
        inverted_percent: Fact::missing(Unmeasured::Because("not measured for this kind of pair")),
        body_correlation: Fact::missing(Unmeasured::Because("not measured for this kind of pair")),
        delay_s: Fact::sure(0.003, 0.9),
        polarity: Fact::sure(1.0, 0.9),
        farther_m: Fact::sure(1.03, 0.9),
        bleed_db: Fact::sure(bleed_db, 0.9),
        treble_bleed_db: Fact::sure(bleed_db, 0.9),
        transfer_db: Fact::sure(bleed_db, 0.9),
        coherence: Fact::sure(0.2, 0.9),
        ..pair(source, mic, Kinship::Spill)
    }
}

/// A healthy session with two channels of which the second hears the first.
pub(crate) fn spill(source: Channel, mic: Channel, bleed_db: f64) -> Reading {
    let pair = spilled(&source, &mic, bleed_db);
    with_pair(source, mic, pair)
}

/// What a compressor of a voice does that is well set.
pub(crate) fn processing(raw: &Channel) -> Processing {
    Processing {
        raw: raw.id.clone(),
        static_gain_db: Fact::exact(6.0),
        usual_reduction_db: Fact::exact(4.0),
        loud_reduction_db: Fact::exact(7.0),
        deep_percent: Fact::exact(1.0),
        threshold_dbfs: Fact::exact(-24.0),
        ratio: Fact::exact(3.0),
        knee_db: Some(Fact::exact(6.0)),
        least_attack_s: Fact::exact(0.005),
        most_attack_s: Fact::exact(0.015),
        release_s: Fact::exact(0.15),
        pump_db: Fact::exact(1.0),
        reduction_db: vec![4.0; 40],
        gate: None,
    }
}
