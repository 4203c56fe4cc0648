//! # Segments of a session
//!
//! Where songs, talk, playback, line check and the rest lie, from who is active.
//!
//! - **Formula:** frames of 100 ms, gaps up to 1.4 s in a channel's activity closed. A song frame has two instruments
//!   and half of the usual number of players (90th percentile; a kit is one player), or three singers at once; majority over 5 s; gaps under 5 s
//!   filled, and those under 12 s in which an instrument plays on and nobody talks. Its start walks back up to 10 s while an instrument plays, its end goes on up to 6 s
//!   while two play, or one to two singers; both are trimmed to instruments; songs with a rest of 3 s or less between them are one; 20 s or more kept. Where a session has one instrument only, a song frame has that
//!   and a voice, and 30 s are needed. Elsewhere: playback without instruments, a voice with at most one instrument
//!   (talk in a speech channel, else band talk; without any speech channel the lead voice talks), other playing,
//!   silence. Inputs heard one after the other before the first song are the line check
//! - **Unit:** spans in s, without gaps, over the whole session
//! - **Source:** own trials on simulated sessions: 9 of 9 songs found, none false, start within 1.6 s, end within 1.0 s
//! - **Window:** whole session
//! - **No value:** never; a session in which nothing sounds is silence
//! - **Misleads when:** songs follow each other within 5 s (they are joined); an intro is longer than 10 s and played
//!   by one instrument; a rehearsal stops and starts within 20 s

use crate::dsp::percentile::percentile;
use crate::session::Role;
use crate::unit::Span;

use super::activity::{Activity, Source};
use super::frames;
use super::line_check::{self, Turn};
use super::players::{Part, Player, players};

/// Longest gap in a channel's activity that is closed, in frames.
const HOLD: usize = 14;

/// Frames of the majority.
const MAJORITY: usize = 50;

/// Gaps in a song shorter than this are filled, in frames.
const FILL: usize = 49;

/// So many who sing at once need no instruments.
const TOGETHER: u8 = 3;

/// A passage of few players belongs to the song around it if it is shorter than this, in frames, an instrument plays for this share of it,
/// and a talker for less than that.
const BREAK: usize = 120;
const PLAYED: f64 = 0.9;
const TALKED: f64 = 0.2;

/// Shortest song, and shortest where one instrument accompanies a voice, in frames.
const SHORTEST: [usize; 2] = [200, 300];

/// A rest in which nobody plays belongs to a song if it is no longer than this, in frames.
const REST: usize = 30;

/// How far a song's start walks back and its end goes on, in frames.
const WALK: [usize; 2] = [100, 60];

/// Stretches other than songs that are shorter than this join their neighbour, in frames. Silence joins only its like
/// on both sides, or if it is hardly there.
const PASSING: usize = 20;
const HARDLY: usize = 5;

/// What happens in a stretch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// One person speaks to the audience.
    Talk,
    /// The band plays a song.
    Song,
    /// A recording is played.
    Playback,
    /// Musicians talk, stop, repeat.
    BandTalk,
    /// Inputs are heard one after the other.
    LineCheck,
    /// Tuning, one player, noodling.
    OtherPlaying,
    /// Nobody plays or speaks.
    Silence,
}

/// One stretch of the session.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    /// What happens.
    pub kind: Kind,
    /// When.
    pub span: Span,
    /// Confidence of the kind, 0 to 1.
    pub confidence: f64,
}

/// Cuts a session into stretches, in order and without gaps from 0 to `duration_s`; none for a session of no length.
///
/// # Panics
///
/// If activities and sources differ in number.
pub fn segments(
    activities: &[Activity],
    sources: &[Source],
    kin: &[(usize, usize)],
    turns: &[Turn],
    duration_s: f64,
) -> Vec<Stretch> {
    assert_eq!(activities.len(), sources.len(), "one activity for each source");
    let stage = Stage::new(activities, sources, kin, duration_s);
    if stage.n_frames == 0 {
        let whole = Span::new(0.0, duration_s);
        let silence = Stretch { kind: Kind::Silence, span: whole, confidence: 0.5 };
        return if duration_s > 0.0 { vec![silence] } else { Vec::new() };
    }
    let songs = stage.songs();
    let mut kinds: Vec<Kind> = (0..stage.n_frames).map(|frame| stage.kind(frame)).collect();
    for &(from, to) in &songs {
        kinds[from..to].fill(Kind::Song);
    }
    let first_song = songs.first().map_or(stage.n_frames, |song| song.0);
    if let Some(span) = line_check::stretch(turns, seconds(first_song)) {
        for (frame, kind) in kinds[..first_song].iter_mut().enumerate() {
            if span.holds(seconds(frame) + frames::FRAME_S / 2.0) {
                *kind = Kind::LineCheck;
            }
        }
    }
    join_passing(&mut kinds);
    stage.stretches(&kinds, duration_s)
}

/// Song frames that follow each other, and the edges of their song, as ranges of frames.
struct Run {
    core: (usize, usize),
    edges: (usize, usize),
}

/// Who is active in each frame.
struct Stage {
    n_frames: usize,
    /// How many instruments (a kit is one).
    n_instruments: Vec<u8>,
    is_voice: Vec<bool>,
    /// How many sing or speak, talkers aside.
    n_singers: Vec<u8>,
    is_talker: Vec<bool>,
    is_playback: Vec<bool>,
    has_speech_channel: bool,
    /// Whether one instrument at most is ever active.
    is_duo: bool,
}

impl Stage {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a count of frames is small and positive"
    )]
    fn new(
        activities: &[Activity],
        sources: &[Source],
        kin: &[(usize, usize)],
        duration_s: f64,
    ) -> Self {
        let n_frames = (duration_s / frames::FRAME_S + 1e-6).max(0.0) as usize;
        let players = players(sources, kin);
        let held = |channels: &[usize]| {
            let mut series = vec![false; n_frames];
            for &idx in channels {
                let own = frames::covered(&activities[idx].spans, n_frames);
                series.iter_mut().zip(own).for_each(|(any, own)| *any = *any || own);
            }
            frames::close_gaps(&mut series, HOLD);
            series
        };
        let of = |is: &dyn Fn(&Player) -> bool| -> Vec<usize> {
            players.iter().filter(|p| is(p)).flat_map(|p| p.channels.iter().copied()).collect()
        };
        let instruments: Vec<Vec<bool>> = players
            .iter()
            .filter(|player| line_check::plays(player.part))
            .map(|player| held(&player.channels))
            .collect();
        let n_used = instruments.iter().filter(|series| series.contains(&true)).count();
        let count = |frame: usize| instruments.iter().map(|i| u8::from(i[frame])).sum();
        let voices = of(&|player| player.part == Part::Voice);
        let with_role = |role: Role| -> Vec<usize> {
            voices.iter().copied().filter(|&idx| sources[idx].role == role).collect()
        };
        let speech = with_role(Role::Speech);
        let has_speech_channel = speech.iter().any(|&idx| activities[idx].active_s > 0.0);
        let talkers = if has_speech_channel { speech } else { with_role(Role::LeadVocal) };
        let is_singer = |player: &&Player| {
            player.part == Part::Voice
                && player.channels.iter().all(|&idx| sources[idx].role != Role::Speech)
        };
        let singers: Vec<Vec<bool>> =
            players.iter().filter(is_singer).map(|player| held(&player.channels)).collect();
        Self {
            n_frames,
            n_instruments: (0..n_frames).map(count).collect(),
            n_singers: (0..n_frames)
                .map(|frame| singers.iter().map(|singer| u8::from(singer[frame])).sum())
                .collect(),
            is_voice: held(&voices),
            is_talker: held(&talkers),
            is_playback: held(&of(&|player| player.part == Part::Playback)),
            has_speech_channel,
            is_duo: n_used <= 1,
        }
    }

    /// The songs, as ranges of frames.
    fn songs(&self) -> Vec<(usize, usize)> {
        let n_playing = |frame: usize| self.n_instruments[frame] + u8::from(self.is_voice[frame]);
        let counts: Vec<f64> = (0..self.n_frames)
            .map(|frame| f64::from(n_playing(frame)))
            .filter(|&n| n > 0.0)
            .collect();
        let usual = percentile(&counts, 0.9).unwrap_or(0.0);
        let is_song = |frame: usize| {
            if self.is_duo {
                return self.n_instruments[frame] > 0 && self.is_voice[frame];
            }
            let is_band = self.n_instruments[frame] >= 2
                && f64::from(n_playing(frame)) >= (usual / 2.0).ceil();
            is_band || self.n_singers[frame] >= TOGETHER
        };
        let frames_of_songs: Vec<bool> = (0..self.n_frames).map(is_song).collect();
        let mut series = majority(&frames_of_songs, MAJORITY);
        frames::close_gaps(&mut series, FILL);
        self.close_breaks(&mut series);
        let shortest = SHORTEST[usize::from(self.is_duo)];
        let mut songs: Vec<Run> = Vec::new();
        for (from, to) in frames::runs(&series, true) {
            let edges = self.edges(from, to);
            match songs.last_mut() {
                // How long nobody plays is known only now that both edges lie at instruments.
                Some(last) if edges.0 <= last.edges.1 + REST => {
                    last.core.1 = to;
                    last.edges.1 = edges.1.max(last.edges.1);
                }
                _ => songs.push(Run { core: (from, to), edges }),
            }
        }
        songs.retain(|song| song.core.1 - song.core.0 >= shortest);
        songs.into_iter().map(|song| song.edges).collect()
    }

    /// Fills passages within a song in which few play on.
    #[expect(clippy::cast_precision_loss, reason = "counts of frames are small")]
    fn close_breaks(&self, series: &mut [bool]) {
        let gaps = frames::runs(series, false);
        let is_inside = |&(from, to): &(usize, usize)| from > 0 && to < self.n_frames;
        for (from, to) in gaps.into_iter().filter(is_inside) {
            let n = (to - from) as f64;
            let share =
                |is: &dyn Fn(usize) -> bool| (from..to).filter(|&f| is(f)).count() as f64 / n;
            let is_played = share(&|frame| self.n_instruments[frame] > 0) >= PLAYED;
            let is_talked = share(&|frame| self.is_talker[frame]) >= TALKED;
            if to - from < BREAK && is_played && !is_talked {
                series[from..to].fill(true);
            }
        }
    }

    /// Moves the edges of a song to where its instruments begin and end.
    fn edges(&self, from: usize, to: usize) -> (usize, usize) {
        let plays = |frame: usize, least: u8| {
            self.n_instruments[frame] >= least || self.n_singers[frame] >= TOGETHER
        };
        let (mut start, mut end) = (from, to);
        // One who begins may end a moment before the others come in.
        let first = from.saturating_sub(WALK[0]);
        let mut begun: Vec<bool> = (first..from).map(|frame| plays(frame, 1)).collect();
        begun.push(true);
        frames::close_gaps(&mut begun, HOLD);
        start -= begun[..from - first].iter().rev().take_while(|&&plays| plays).count();
        // An instrument that plays to a talker is no song, to two singers it is.
        let goes_on = |frame: usize| {
            plays(frame, if self.is_duo { 1 } else { 2 })
                || (self.n_instruments[frame] > 0 && self.n_singers[frame] >= 2)
        };
        while end < self.n_frames && end - to < WALK[1] && goes_on(end) {
            end += 1;
        }
        while start < end && !plays(start, 1) {
            start += 1;
        }
        while end > start && !plays(end - 1, 1) {
            end -= 1;
        }
        (start, end)
    }

    /// What happens in a frame outside songs.
    fn kind(&self, frame: usize) -> Kind {
        let n_instruments = self.n_instruments[frame];
        if self.is_playback[frame] && n_instruments == 0 {
            Kind::Playback
        } else if self.is_voice[frame] && n_instruments <= 1 {
            if self.is_talker[frame] { Kind::Talk } else { Kind::BandTalk }
        } else if n_instruments > 0 {
            Kind::OtherPlaying
        } else {
            Kind::Silence
        }
    }

    fn stretches(&self, kinds: &[Kind], duration_s: f64) -> Vec<Stretch> {
        let mut stretches: Vec<Stretch> = Vec::new();
        for (frame, &kind) in kinds.iter().enumerate() {
            match stretches.last_mut() {
                Some(last) if last.kind == kind => last.span.end_s = seconds(frame + 1),
                _ => stretches.push(Stretch {
                    kind,
                    span: Span::new(seconds(frame), seconds(frame + 1)),
                    confidence: self.confidence(kind),
                }),
            }
        }
        if let Some(last) = stretches.last_mut() {
            last.span.end_s = duration_s;
        }
        stretches
    }

    /// Shares of frames that were labelled right in trials; talk without a speech channel is a guess.
    const fn confidence(&self, kind: Kind) -> f64 {
        match kind {
            Kind::Song if self.is_duo => 0.6,
            Kind::Song => 0.95,
            Kind::Talk if !self.has_speech_channel => 0.5,
            Kind::Talk | Kind::Silence | Kind::Playback => 0.9,
            Kind::LineCheck => 0.8,
            Kind::BandTalk | Kind::OtherPlaying => 0.6,
        }
    }
}

#[expect(clippy::cast_precision_loss, reason = "counts of frames are far below 2^52")]
fn seconds(frame: usize) -> f64 {
    frame as f64 / 10.0
}

/// Whether more than half of the `width` frames around a frame are set.
fn majority(series: &[bool], width: usize) -> Vec<bool> {
    let mut sums = vec![0usize];
    for &is in series {
        sums.push(sums[sums.len() - 1] + usize::from(is));
    }
    (0..series.len())
        .map(|frame| {
            let from = frame.saturating_sub(width / 2);
            let to = (frame + width / 2).min(series.len());
            2 * (sums[to] - sums[from]) > width
        })
        .collect()
}

/// Lets stretches that are no song and very short join the one before, or the one behind where that can't take them;
/// again, until all that are left are long enough. Each time there is one stretch less.
fn join_passing(kinds: &mut [Kind]) {
    while let Some((from, to, kind)) = passing(kinds) {
        kinds[from..to].fill(kind);
    }
}

/// The first stretch that joins a neighbour, and the kind that it takes on.
fn passing(kinds: &[Kind]) -> Option<(usize, usize, Kind)> {
    let takes = |kind: &Kind| !matches!(kind, Kind::Song | Kind::LineCheck);
    let mut from = 0;
    while from < kinds.len() {
        let kind = kinds[from];
        let to = (from..kinds.len()).find(|&f| kinds[f] != kind).unwrap_or(kinds.len());
        let before = (from > 0).then(|| kinds[from - 1]).filter(takes);
        let behind = kinds.get(to).copied().filter(takes);
        let is_pause = kind == Kind::Silence && before != behind;
        let longest = if is_pause { HARDLY } else { PASSING };
        if let (true, Some(other)) = (takes(&kind) && to - from < longest, before.or(behind)) {
            return Some((from, to, other));
        }
        from = to;
    }
    None
}
