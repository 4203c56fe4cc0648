//! # Line check
//!
//! Whether the inputs were heard one after the other before the first song.
//!
//! - **Formula:** an input is alone in a frame of 100 ms if every other active player is 10 dB further below its own top
//!   (see `activity`), or 18 dB below it; within a kit or a stereo pair it is the one nearest to its top within 0.5 s. A
//!   turn is a run of such frames with gaps up to 2 s. Share of used inputs whose turns before the first song, with up to 1 s of silence after each,
//!   last 2 s or more altogether
//! - **Unit:** % of used inputs
//! - **Range:** 0 to 100 %
//! - **Source:** common practice
//! - **Window:** 30 min before the first song
//! - **No value:** there is no song; no input was used
//! - **Misleads when:** the recording was started after the line check

use crate::measure::Trace;
use crate::unit::{Span, Unmeasured};

use super::activity::{Activity, Ends, Presence, Source};
use super::frames::{self, Levels};
use super::players::{Part, Player, players};

/// How long an input must be alone, in seconds.
const ALONE_S: f64 = 2.0;

/// The ear listens on after the sound, in seconds: the silence before the next input belongs to the turn.
const LINGER_S: f64 = 1.0;

/// Others that seem to sound are spill if they are this much further below their own top, in dB.
const APART_DB: f64 = 10.0;

/// How far under its top a player plays, in dB, and the frames that its level is averaged over.
const PLAYS_DB: f64 = 18.0;
const SMOOTH: usize = 4;

/// What two borders may take from it: activity is known to 100 ms and smoothed over 400 ms.
const SLACK_S: f64 = 0.4;

/// How far back from the first song turns count, in seconds.
const WINDOW_S: f64 = 1800.0;

/// Frames around a frame in which the nearest to its top is looked for: a hit and its tail.
const REACH: usize = 5;

/// Frames of nothing that end a turn: cymbals are struck every two seconds.
const LONGEST_GAP: usize = 20;

/// Frames of another player beside it that don't.
const LONGEST_CROWD: usize = 3;

/// One input alone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Turn {
    /// The channel.
    pub channel: usize,
    /// When.
    pub span: Span,
}

/// How complete a line check was.
#[derive(Clone, Debug, PartialEq)]
pub struct LineCheck {
    /// Share of used inputs that were heard alone, 0 to 100.
    pub heard_percent: f64,
    /// How many inputs were.
    pub n_heard: usize,
    /// The used inputs that were not.
    pub missing: Vec<usize>,
}

/// The stretches in which one input is alone, in order.
///
/// # Panics
///
/// If traces, sources and activities differ in number.
pub fn turns(
    levels: &[&Trace],
    activities: &[Activity],
    sources: &[Source],
    kin: &[(usize, usize)],
) -> Vec<Turn> {
    assert_eq!(levels.len(), sources.len(), "one source for each trace");
    assert_eq!(levels.len(), activities.len(), "one activity for each trace");
    let levels = Levels::new(levels);
    let n_frames = levels.n_frames();
    let smooth = levels.smoothed(SMOOTH);
    let top_db: Vec<f64> =
        (0..sources.len()).map(|idx| Ends::new(smooth.channel(idx)).top_db).collect();
    let active: Vec<Vec<bool>> = activities
        .iter()
        .map(|activity| match activity.presence {
            // Without pauses it would hide every turn of the others.
            Presence::Own => frames::covered(&activity.spans, n_frames),
            _ => vec![false; n_frames],
        })
        .collect();
    let players = players(sources, kin);
    let height = |idx: usize, frame: usize| {
        let around = frame.saturating_sub(REACH)..(frame + REACH + 1).min(n_frames);
        let levels = levels.channel(idx)[around].iter();
        levels.fold(f64::MIN, |top, &level| top.max(f64::from(level) - top_db[idx]))
    };
    let nearest = |player: &Player, frame: usize| {
        let heights = player.channels.iter().map(|&idx| (height(idx, frame), idx));
        heights.max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)))
    };
    // What only seems to sound, as spill that was not explained, lies far under its own top.
    let sounds = |player: &Player, frame: usize| {
        player.channels.iter().any(|&idx| {
            let height_db = f64::from(smooth.channel(idx)[frame]) - top_db[idx];
            active[idx][frame] && height_db > -PLAYS_DB
        })
    };
    let mut builder = Builder { turns: Vec::new(), open: None, crowded: 0 };
    for frame in 0..n_frames {
        let mut sounding: Vec<(f64, usize, &Player)> = players
            .iter()
            .filter(|player| sounds(player, frame))
            .filter_map(|player| nearest(player, frame).map(|(top, idx)| (top, idx, player)))
            .collect();
        sounding.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        match sounding.as_slice() {
            [] => builder.nothing(frame),
            [first, rest @ ..] if rest.first().is_none_or(|next| first.0 - next.0 >= APART_DB) => {
                // Two sides of one source take turns in being nearest: the first stands for both.
                let of_kin = |&idx: &usize| is_kin(kin, idx, first.1);
                if let Some(idx) = first.2.channels.iter().copied().find(of_kin) {
                    builder.alone(idx, frame);
                }
            }
            _ => builder.crowd(frame),
        }
    }
    builder.close();
    builder.turns
}

/// How complete the line check before the first song was.
///
/// # Errors
///
/// [`Unmeasured::Because`] if there is no song; [`Unmeasured::NeverActive`] if no input was used.
pub fn line_check(
    turns: &[Turn],
    activities: &[Activity],
    sources: &[Source],
    kin: &[(usize, usize)],
    first_song_s: Option<f64>,
) -> Result<LineCheck, Unmeasured> {
    let first_song_s = first_song_s.ok_or(Unmeasured::Because("no song was found"))?;
    let window = Span::new(first_song_s - WINDOW_S, first_song_s);
    let is_used = |idx: &usize| {
        sources[*idx].role.is_input()
            && matches!(activities[*idx].presence, Presence::Own | Presence::AlwaysOn)
    };
    let used: Vec<usize> = (0..sources.len()).filter(is_used).collect();
    if used.is_empty() {
        return Err(Unmeasured::NeverActive);
    }
    let listened = |(place, turn): (usize, &Turn)| {
        let next_s = turns.get(place + 1).map_or(f64::INFINITY, |next| next.span.start_s);
        let end_s = (turn.span.end_s + LINGER_S).min(next_s.max(turn.span.end_s));
        Span::new(turn.span.start_s, end_s).shared(window)
    };
    let alone_s = |idx: usize| -> f64 {
        let own = turns.iter().enumerate().filter(|(_, turn)| is_kin(kin, turn.channel, idx));
        own.filter_map(listened).map(Span::length_s).sum()
    };
    let missing: Vec<usize> =
        used.iter().copied().filter(|&idx| alone_s(idx) < ALONE_S - SLACK_S).collect();
    #[expect(clippy::cast_precision_loss, reason = "counts of channels are small")]
    let heard_percent = 100.0 * (used.len() - missing.len()) as f64 / used.len() as f64;
    Ok(LineCheck { heard_percent, n_heard: used.len() - missing.len(), missing })
}

/// When inputs are heard one after the other, from turns before the first song; `None` if they are not.
///
/// Eight or more inputs, each up to 10 s long, at most 4 s apart; or four or more, if each lasts 1.4 s.
pub(super) fn stretch(turns: &[Turn], before_s: f64) -> Option<Span> {
    row(turns, before_s, 8, 0.0).or_else(|| row(turns, before_s, 4, 1.4))
}

/// The row of turns with most inputs, `fewest` at least.
fn row(turns: &[Turn], before_s: f64, fewest: usize, shortest_s: f64) -> Option<Span> {
    const LONGEST_S: f64 = 10.0;
    const APART_S: f64 = 4.0;
    let mut best: Option<(usize, Span)> = None;
    let mut row: Vec<&Turn> = Vec::new();
    for turn in turns.iter().filter(|turn| turn.span.end_s <= before_s + 0.5) {
        let length_s = turn.span.length_s();
        let is_apart = row.last().is_some_and(|last| turn.span.start_s - last.span.end_s > APART_S);
        // A single knock is passed over; a long talk or a pause ends the row.
        if length_s > LONGEST_S || is_apart {
            row.clear();
        }
        if !(shortest_s..=LONGEST_S).contains(&length_s) {
            continue;
        }
        row.push(turn);
        let mut channels: Vec<usize> = row.iter().map(|turn| turn.channel).collect();
        channels.sort_unstable();
        channels.dedup();
        if channels.len() >= fewest && best.is_none_or(|(most, _)| channels.len() > most) {
            best = Some((channels.len(), Span::new(row[0].span.start_s, turn.span.end_s)));
        }
    }
    best.map(|(_, span)| span)
}

/// Whether two channels are one or stand on one source.
fn is_kin(kin: &[(usize, usize)], a: usize, b: usize) -> bool {
    a == b || kin.contains(&(a, b)) || kin.contains(&(b, a))
}

/// Whether a player takes part in songs.
pub(super) const fn plays(part: Part) -> bool {
    matches!(part, Part::Beat | Part::Instrument)
}

#[derive(Clone, Copy, Debug)]
struct Open {
    channel: usize,
    from: usize,
    to: usize,
}

struct Builder {
    turns: Vec<Turn>,
    open: Option<Open>,
    /// Frames since another player was heard too.
    crowded: usize,
}

impl Builder {
    fn alone(&mut self, channel: usize, frame: usize) {
        self.crowded = 0;
        match &mut self.open {
            Some(open) if open.channel == channel => open.to = frame + 1,
            _ => {
                self.close();
                self.open = Some(Open { channel, from: frame, to: frame + 1 });
            }
        }
    }

    /// A hit may seem to sound in another microphone for a moment: only more than that ends a turn.
    fn crowd(&mut self, frame: usize) {
        self.crowded += 1;
        if self.crowded > LONGEST_CROWD {
            self.close();
        }
        self.nothing(frame);
    }

    fn nothing(&mut self, frame: usize) {
        if self.open.is_some_and(|open| frame >= open.to + LONGEST_GAP) {
            self.close();
        }
    }

    #[expect(clippy::cast_precision_loss, reason = "counts of frames are far below 2^52")]
    fn close(&mut self) {
        if let Some(open) = self.open.take() {
            let span = Span::new(open.from as f64 / 10.0, open.to as f64 / 10.0);
            self.turns.push(Turn { channel: open.channel, span });
        }
    }
}
