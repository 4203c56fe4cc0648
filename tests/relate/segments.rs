//! Segments: planted songs, talk, playback and line check lie where they were planted.

use deskside::measure::Trace;
use deskside::relate::activity::{Activity, Presence, Source, own_activity};
use deskside::relate::line_check::turns;
use deskside::relate::segments::{Kind, Stretch, segments};
use deskside::session::Role;
use deskside::unit::Span;

use crate::support::stage::{Band, Motion, Stage};

fn cut(stage: &Stage, seed: u64) -> Vec<Stretch> {
    let traces = stage.traces(seed);
    let levels: Vec<&Trace> = traces.iter().collect();
    let sources = stage.sources();
    let activities = own_activity(&levels, &sources, &stage.kin);
    let turns = turns(&levels, &activities, &sources, &stage.kin);
    let found = segments(&activities, &sources, &stage.kin, &turns, stage.length_s);
    let mut at_s = 0.0;
    for stretch in &found {
        assert!((stretch.span.start_s - at_s).abs() < 1e-9, "a gap before {stretch:?}");
        at_s = stretch.span.end_s;
    }
    assert!((at_s - stage.length_s).abs() < 1e-9, "covers the session, found {at_s} s");
    found
}

/// The longest stretch of a kind that shares time with a planted one.
fn found_at(found: &[Stretch], kind: Kind, start_s: f64, end_s: f64) -> Stretch {
    let planted = Span::new(start_s, end_s);
    let of_kind = found.iter().filter(|stretch| stretch.kind == kind);
    of_kind
        .filter_map(|stretch| Some((stretch.span.shared(planted)?.length_s(), *stretch)))
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .unwrap_or_else(|| panic!("no {kind:?} at {start_s} s: {found:#?}"))
        .1
}

/// Trials of the method on sessions with intros and break-downs found every song within these, in seconds.
const START_S: f64 = 1.6;
const END_S: f64 = 1.0;

fn check_song(found: &[Stretch], start_s: f64, end_s: f64) {
    let song = found_at(found, Kind::Song, start_s, end_s).span;
    assert!((song.start_s - start_s).abs() <= START_S, "begins at {start_s} s, found {song:?}");
    assert!((song.end_s - end_s).abs() <= END_S, "ends at {end_s} s, found {song:?}");
}

fn n_songs(found: &[Stretch]) -> usize {
    found.iter().filter(|stretch| stretch.kind == Kind::Song).count()
}

#[test]
fn songs_talk_and_playback_of_an_evening_are_found() {
    for seed in [3, 4, 5] {
        let mut band = Band::new();
        let songs = band.evening();
        let found = cut(&band.stage, seed);
        assert_eq!(n_songs(&found), songs.len(), "seed {seed}: {found:#?}");
        for (start_s, end_s) in songs {
            check_song(&found, start_s, end_s);
        }
        for (kind, start_s, end_s) in [
            (Kind::LineCheck, 1.0, 48.6),
            (Kind::Talk, 57.0, 80.0),
            (Kind::Talk, 193.0, 215.0),
            (Kind::Playback, 323.0, 350.0),
            (Kind::Talk, 464.0, 500.0),
        ] {
            let span = found_at(&found, kind, start_s, end_s).span;
            // Talk begins and ends with a breath now and then: a second.
            let is_near = (span.start_s - start_s).abs() < 1.5 && (span.end_s - end_s).abs() < 1.5;
            assert!(is_near, "seed {seed}: {kind:?} {start_s}..{end_s} s found as {span:?}");
        }
        let quiet = found_at(&found, Kind::Silence, 49.5, 56.5).span;
        assert!(quiet.length_s() > 5.0, "quiet after the line check: {quiet:?}");
    }
}

#[test]
fn ninety_seconds_with_one_song_are_cut_right() {
    for seed in [3, 4, 5] {
        let mut band = Band::new();
        let (start_s, end_s) = band.cut();
        let found = cut(&band.stage, seed);
        assert_eq!(n_songs(&found), 1, "seed {seed}: {found:#?}");
        check_song(&found, start_s, end_s);
        let line_check = found_at(&found, Kind::LineCheck, 0.0, 10.0).span;
        assert!(line_check.length_s() > 9.0, "four inputs in turn: {line_check:?}");
        let playback = found_at(&found, Kind::Playback, 67.5, 73.5).span;
        assert!((playback.length_s() - 6.0).abs() < 1.0, "seed {seed}: {playback:?}");
        found_at(&found, Kind::Talk, 16.0, 26.0);
        found_at(&found, Kind::Talk, 75.0, 89.0);
    }
}

/// Inputs that are tapped for 0.6 s each are a line check too, if they are many.
#[test]
fn quick_row_of_many_inputs_is_a_line_check() {
    let mut band = Band::new();
    band.evening();
    for channel in &mut band.stage.channels {
        channel.plays.retain(|play| play.0 > 50.0);
    }
    let end_s = band.line_check(20.0, 0.6);
    let found = cut(&band.stage, 3);
    let span = found_at(&found, Kind::LineCheck, 20.0, end_s).span;
    // Its inputs are too short for every one to be told from its neighbours.
    assert!((span.start_s - 20.0).abs() < 1.5 && (span.end_s - end_s).abs() < 1.5, "{span:?}");
}

#[test]
fn voice_and_one_guitar_make_a_song_too() {
    let mut stage = Stage::default();
    let voice = stage.mic(Role::LeadVocal, Motion::Words);
    let guitar = stage.line(Role::AcousticGuitar, Motion::Notes);
    stage.play(&[voice], 5.0, 20.0);
    stage.play(&[guitar], 30.0, 118.0);
    stage.play(&[voice], 36.0, 70.0);
    stage.play(&[voice], 75.0, 115.0);
    stage.play(&[guitar], 130.0, 138.0);
    stage.length_s = 150.0;
    let found = cut(&stage, 2);
    assert_eq!(n_songs(&found), 1, "{found:#?}");
    check_song(&found, 30.0, 118.0);
    let song = found_at(&found, Kind::Song, 30.0, 118.0);
    assert!(song.confidence < 0.7, "less sure than with a band: {song:?}");
    found_at(&found, Kind::OtherPlaying, 130.0, 138.0);
}

/// A session of 110 s in which each source sounds in its stretches.
fn cut_as_played(played: &[(Source, &[(f64, f64)])]) -> Vec<Stretch> {
    let activities: Vec<Activity> = played
        .iter()
        .map(|(_, plays)| Activity {
            presence: Presence::Own,
            active_s: plays.iter().map(|play| play.1 - play.0).sum(),
            spans: plays.iter().map(|play| Span::new(play.0, play.1)).collect(),
            confidence: 0.95,
        })
        .collect();
    let sources: Vec<Source> = played.iter().map(|(source, _)| *source).collect();
    segments(&activities, &sources, &[], &[], 110.0)
}

#[test]
fn a_soft_part_behind_a_short_rest_belongs_to_the_song_and_behind_a_long_one_does_not() {
    let source = |role: Role, is_line: bool| Source { role, is_line };
    // After a rest keys alone, then all for less than a song lasts.
    let song_end_s = |rest_s: f64| {
        let soft_s = 60.0 + rest_s;
        let found = cut_as_played(&[
            (source(Role::Kick, false), &[(10.0, 60.0), (soft_s + 7.0, soft_s + 19.0)]),
            (source(Role::AcousticGuitar, true), &[(10.0, 60.0), (soft_s + 7.0, soft_s + 19.0)]),
            (source(Role::Keys, true), &[(10.0, 60.0), (soft_s, soft_s + 19.0)]),
            (source(Role::LeadVocal, false), &[(15.0, 58.0), (soft_s + 8.0, soft_s + 18.0)]),
        ]);
        assert_eq!(n_songs(&found), 1, "a rest of {rest_s} s: {found:#?}");
        found_at(&found, Kind::Song, 10.0, 60.0).span.end_s
    };
    let (short_s, long_s) = (song_end_s(2.0), song_end_s(4.5));
    assert!((short_s - 81.0).abs() <= END_S, "the soft part belongs to it: {short_s} s");
    assert!((long_s - 60.0).abs() <= END_S, "it ended before the rest: {long_s} s");
}

#[test]
fn a_break_of_one_instrument_and_an_end_without_any_belong_to_the_song() {
    let source = |role: Role, is_line: bool| Source { role, is_line };
    // Nine seconds of keys alone, then all again, and an end of voices only.
    let played: [(Source, &[(f64, f64)]); 6] = [
        (source(Role::Kick, false), &[(10.0, 50.0), (59.0, 76.0)]),
        (source(Role::AcousticGuitar, true), &[(10.0, 50.0), (59.0, 76.0)]),
        (source(Role::Keys, true), &[(10.0, 76.0)]),
        (source(Role::LeadVocal, false), &[(15.0, 48.0), (60.0, 88.0)]),
        (source(Role::BackingVocal, false), &[(15.0, 48.0), (60.0, 88.0)]),
        (source(Role::BackingVocal, false), &[(15.0, 48.0), (60.0, 88.0)]),
    ];
    let found = cut_as_played(&played);
    assert_eq!(n_songs(&found), 1, "{found:#?}");
    check_song(&found, 10.0, 88.0);
}

#[test]
fn singers_between_songs_are_band_talk_where_a_speech_channel_exists() {
    let mut band = Band::new();
    band.evening();
    let lead = band.voices[0];
    let host = band.host;
    band.stage.channels[host].plays.retain(|play| play.0 < 190.0 || play.0 > 220.0);
    band.stage.play(&[lead], 195.0, 212.0);
    let found = cut(&band.stage, 3);
    let talk = found_at(&found, Kind::BandTalk, 195.0, 212.0).span;
    assert!(talk.length_s() > 14.0, "{talk:?}");
}

#[test]
fn noodling_is_no_song() {
    let mut band = Band::new();
    band.evening();
    let (bass, fiddle) = (band.players[0], band.players[5]);
    band.stage.play(&[bass], 500.0, 512.0);
    band.stage.play(&[fiddle], 508.0, 530.0);
    band.stage.length_s = 540.0;
    let found = cut(&band.stage, 3);
    assert_eq!(n_songs(&found), 3, "{found:#?}");
    found_at(&found, Kind::OtherPlaying, 512.0, 528.0);
}

#[test]
fn silent_session_is_one_silence() {
    let found = segments(&[], &[], &[], &[], 30.0);
    let kinds: Vec<Kind> = found.iter().map(|stretch| stretch.kind).collect();
    assert_eq!(kinds, [Kind::Silence], "nothing sounds");
    assert_eq!(segments(&[], &[], &[], &[], 0.0), [], "no session");
}
