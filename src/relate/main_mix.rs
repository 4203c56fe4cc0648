//! # Levels of the main mix over the evening
//!
//! Talk against songs, jumps at borders, creep over the hours, and how squashed the songs are.
//!
//! - **Formula:** speech against songs: median of the integrated loudness of talk segments of 10 s or more minus the
//!   median of songs. Jump: loudness of the first 3 s after a border minus that of the last 3 s before it, each the
//!   loudest 3 s within 6 s, so that fades and pauses don't count; song against playback: integrated over 10 s on each
//!   side. Creep: median of the slopes between all pairs of songs. Squashed: share of 3 s windows in songs whose
//!   highest peak lies less than 8 dB over their power
//! - **Unit:** LU, dB/h, %
//! - **Range:** -30 to 30 LU; 0 to 100 %
//! - **Source:** ITU-R BS.1770-5 and EBU Tech 3341 for loudness; Theil 1950 and Sen 1968 for the slope; common practice
//!   for the rest
//! - **Window:** segments of the session
//! - **No value:** no talk of 10 s; no song; for creep fewer than 4 songs or under 40 min from the first to the last
//! - **Misleads when:** the set list grows on purpose (creep); applause lies at a border (jump)

use crate::dsp::percentile::median;
use crate::measure::Trace;
use crate::measure::programme::{integrated_over, short_term_lufs};
use crate::unit::{Span, Unmeasured};

use super::segments::{Kind, Stretch};

/// Shortest talk that counts, in seconds.
const TALK_S: f64 = 10.0;

/// Steps of a trace in a second.
const PER_S: f64 = 100.0;

/// How far from a border the loudest 3 s may lie, in seconds.
const NEAR_S: f64 = 6.0;

/// What is compared where a recording follows a song or goes before one, in seconds.
const LONG_S: f64 = 10.0;

/// Longest pause that a jump may leap, in seconds.
const PAUSE_S: f64 = 10.0;

/// Shortest segment that has a border worth comparing, in seconds.
const SHORTEST_S: f64 = 3.0;

/// Fewest songs and shortest time from the first to the last for creep.
const SONGS_NEED: usize = 4;
const CREEP_NEED_S: f64 = 2400.0;

/// Windows with a crest below this are squashed, in dB.
const SQUASHED_DB: f64 = 8.0;

/// Window and hop of the crest, in steps.
const CREST_STEPS: usize = 300;
const CREST_HOP: usize = 100;

/// Windows below this power are pauses: -60 dBFS.
const PAUSE: f64 = 1e-6;

/// A difference of loudness at a border.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// Begin of what follows, in seconds.
    pub at_s: f64,
    /// What ends.
    pub from: Kind,
    /// What begins.
    pub to: Kind,
    /// Whether both are music: like to like.
    pub like_to_like: bool,
    /// Loudness after minus before, in LU.
    pub step_lu: Result<f64, Unmeasured>,
}

/// Talk against songs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SpeechVsSong {
    /// Loudness of talk minus loudness of songs.
    pub difference_lu: f64,
    /// Median loudness of talk.
    pub talk_lufs: f64,
    /// Median loudness of songs.
    pub song_lufs: f64,
    /// Seconds of talk behind the figure.
    pub talk_s: f64,
}

/// Loudness of talk segments minus loudness of songs. `k` are the K-weighted powers of the mix's sides.
///
/// # Errors
///
/// [`Unmeasured::Because`] without a talk of 10 s or without a song that can be heard in the mix.
pub fn speech_vs_song(k: &[&Trace], stretches: &[Stretch]) -> Result<SpeechVsSong, Unmeasured> {
    let talks = loudness_of(k, stretches, Kind::Talk, TALK_S);
    let songs = loudness_of(k, stretches, Kind::Song, 0.0);
    let middle = |of: &[(Span, f64)]| {
        median(&of.iter().map(|(_, loudness_lufs)| *loudness_lufs).collect::<Vec<f64>>())
    };
    let talk_lufs =
        middle(&talks).ok_or(Unmeasured::Because("nobody talks for 10 s in the main mix"))?;
    let song_lufs = middle(&songs).ok_or(Unmeasured::Because("the main mix holds no song"))?;
    let talk_s = talks.iter().map(|(span, _)| span.length_s()).sum();
    Ok(SpeechVsSong { difference_lu: talk_lufs - song_lufs, talk_lufs, song_lufs, talk_s })
}

/// Integrated loudness of each song.
///
/// # Errors
///
/// Inside: see [`integrated_over`].
pub fn song_loudness(k: &[&Trace], stretches: &[Stretch]) -> Vec<(Span, Result<f64, Unmeasured>)> {
    let songs = stretches.iter().filter(|stretch| stretch.kind == Kind::Song);
    songs.map(|song| (song.span, integrated_over(k, &[song.span]))).collect()
}

/// Steps of loudness at the borders between talk, songs and playback that lie at most 10 s apart.
pub fn jumps(k: &[&Trace], stretches: &[Stretch]) -> Vec<Step> {
    let is_heard = |stretch: &&Stretch| {
        matches!(stretch.kind, Kind::Talk | Kind::Song | Kind::Playback)
            && stretch.span.length_s() >= SHORTEST_S
    };
    let heard: Vec<&Stretch> = stretches.iter().filter(is_heard).collect();
    let mut steps = Vec::new();
    for pair in heard.windows(2) {
        let (before, after) = (pair[0], pair[1]);
        let is_near = after.span.start_s - before.span.end_s <= PAUSE_S;
        // Two talks are one: their border is a pause.
        if !is_near || (before.kind == Kind::Talk && after.kind == Kind::Talk) {
            continue;
        }
        let is_music = |stretch: &Stretch| stretch.kind != Kind::Talk;
        let with_recording = before.kind == Kind::Playback || after.kind == Kind::Playback;
        let like_to_like = is_music(before) && is_music(after);
        steps.push(Step {
            at_s: after.span.start_s,
            from: before.kind,
            to: after.kind,
            like_to_like,
            step_lu: step_lu(k, before.span, after.span, like_to_like && with_recording),
        });
    }
    steps
}

/// Slope of song loudness over time, in dB an hour.
///
/// # Errors
///
/// [`Unmeasured::TooFewEvents`] below 4 songs; [`Unmeasured::TooShort`] below 40 min from the first to the last.
pub fn creep_db_per_hour(k: &[&Trace], stretches: &[Stretch]) -> Result<f64, Unmeasured> {
    let songs = loudness_of(k, stretches, Kind::Song, 0.0);
    if songs.len() < SONGS_NEED {
        return Err(Unmeasured::TooFewEvents { have: songs.len(), need: SONGS_NEED });
    }
    let middle_s = |span: Span| f64::midpoint(span.start_s, span.end_s);
    let have_s = songs[songs.len() - 1].0.end_s - songs[0].0.start_s;
    if have_s < CREEP_NEED_S {
        return Err(Unmeasured::TooShort { have_s, need_s: CREEP_NEED_S });
    }
    let mut slopes = Vec::new();
    for (idx, (later, later_lufs)) in songs.iter().enumerate() {
        for (earlier, earlier_lufs) in &songs[..idx] {
            let hours = (middle_s(*later) - middle_s(*earlier)) / 3600.0;
            slopes.push((later_lufs - earlier_lufs) / hours);
        }
    }
    median(&slopes).ok_or(Unmeasured::TooFewEvents { have: 0, need: SONGS_NEED })
}

/// Share of song time in which the short-term crest lies below 8 dB, 0 to 100. Takes mean powers and squared peaks of
/// the mix's sides.
///
/// # Errors
///
/// [`Unmeasured::Because`] if the main mix holds no song.
///
/// # Panics
///
/// If powers and peaks differ in number.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss,
    reason = "step numbers are small and positive"
)]
pub fn squashed_percent(
    powers: &[&Trace],
    peaks: &[&Trace],
    stretches: &[Stretch],
) -> Result<f64, Unmeasured> {
    assert_eq!(powers.len(), peaks.len(), "one peak trace for each power trace");
    let (mut n_windows, mut n_squashed) = (0usize, 0usize);
    for song in stretches.iter().filter(|stretch| stretch.kind == Kind::Song) {
        let [from, to] =
            [song.span.start_s, song.span.end_s].map(|at_s| (at_s * PER_S).round() as usize);
        for start in (from..(to + 1).saturating_sub(CREST_STEPS)).step_by(CREST_HOP) {
            // The louder side in each window: the one a limiter would catch.
            let crest = powers.iter().zip(peaks).filter_map(|(power, peak)| {
                let mean = power.mean_power(start, start + CREST_STEPS);
                let end = (start + CREST_STEPS).min(peak.len());
                let top = (start..end).map(|step| peak.power(step)).fold(0.0, f64::max);
                (mean > PAUSE).then_some((mean, top / mean))
            });
            let Some((_, crest)) = crest.max_by(|a, b| a.0.total_cmp(&b.0)) else { continue };
            n_windows += 1;
            n_squashed += usize::from(10.0 * crest.log10() < SQUASHED_DB);
        }
    }
    if n_windows == 0 {
        return Err(Unmeasured::Because("the main mix holds no song"));
    }
    Ok(100.0 * n_squashed as f64 / n_windows as f64)
}

/// Loudness of the stretches of a kind that are long enough and can be heard.
fn loudness_of(
    k: &[&Trace],
    stretches: &[Stretch],
    kind: Kind,
    shortest_s: f64,
) -> Vec<(Span, f64)> {
    let is_meant =
        |stretch: &&Stretch| stretch.kind == kind && stretch.span.length_s() >= shortest_s - 1e-6;
    let of_kind = stretches.iter().filter(is_meant);
    of_kind.filter_map(|s| Some((s.span, integrated_over(k, &[s.span]).ok()?))).collect()
}

fn step_lu(k: &[&Trace], before: Span, after: Span, is_long: bool) -> Result<f64, Unmeasured> {
    if is_long {
        let last = Span::new((before.end_s - LONG_S).max(before.start_s), before.end_s);
        let first = Span::new(after.start_s, (after.start_s + LONG_S).min(after.end_s));
        return Ok(integrated_over(k, &[first])? - integrated_over(k, &[last])?);
    }
    let last = Span::new((before.end_s - NEAR_S).max(before.start_s), before.end_s);
    let first = Span::new(after.start_s, (after.start_s + NEAR_S).min(after.end_s));
    let silent = Unmeasured::Because("the main mix is silent at the border");
    match (loudest_lufs(k, first), loudest_lufs(k, last)) {
        (Some(after_lufs), Some(before_lufs)) => Ok(after_lufs - before_lufs),
        _ => Err(silent),
    }
}

/// Highest short-term loudness of windows that lie in a span.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "step numbers are small and positive"
)]
fn loudest_lufs(k: &[&Trace], span: Span) -> Option<f64> {
    let [from, to] = [span.start_s, span.end_s].map(|at_s| (at_s * PER_S).round() as usize);
    let ends = (from + CREST_STEPS - 1..to).step_by(10);
    ends.filter_map(|last| short_term_lufs(k, last)).max_by(f64::total_cmp)
}
