//! Facts of what the operator did with the mix, channel by channel.
//!
//! Takes the board of a session and when sources sound, gives a [`Mix`]. Decides nothing that a rule decides.

use rayon::prelude::*;

use super::facts::Eq;
use super::idle_facts::{idle, idle_percent};
use super::meters::Common;
use super::mixed::Mixed;
use super::song_facts;
use super::{open_facts, tap_facts::GATED};
use crate::dsp::percentile::median;
use crate::measure::dynamics;
use crate::reading::{
    Channel, Entry, Mix, MixChannel, MixSection, Pair, Segment, SegmentKind, Spectrum, Switched,
};
use crate::relate::balance::{Levels, Window, usual_db};
use crate::relate::board::{Board, Ear, InSection, Line, Second, Section, power_between};
use crate::relate::handling;
use crate::session::SessionChannel;
use crate::session::note::SessionNote;
use crate::unit::spans::{both, longest, shared_s, total_s, without};
use crate::unit::{Fact, Span, Unmeasured};

/// Below this explained share nothing about a stretch is told.
pub(super) const LEAST_EXPLAINED: f64 = 0.6;

/// Confidence by explained share: from each share on.
const BY_SHARE: [(f64, f64); 4] = [(0.94, 0.9), (0.9, 0.85), (0.8, 0.8), (LEAST_EXPLAINED, 0.7)];

/// From this explained share on, the alignment is beyond doubt; less is said.
pub(super) const ALIGNED: f64 = 0.9;

/// Third-octaves of a spectrum below the first in which a mix is read.
const BELOW: usize = 2;

/// Low end of a mix, in Hz.
const LOW_HZ: [f64; 2] = [56.0, 224.0];

/// How sure what moves all channels at once is.
const BUS_SURE: f64 = 0.7;

/// Pans that differ by more between sections were changed.
const PAN_MOVES: f64 = 0.3;

/// A compressor takes off at least what its gain swings, less what readings of uncompressed channels on simulated desks swing, in
/// dB. One that never lets go takes off more.
const SWING_OFF_DB: f64 = 1.5;

/// Where what follows the level swings less, in dB, a compressor is not told from what else moves the gain: 1 of 368 uncompressed
/// channels on simulated desks follows by more, and 192 of 217 that are compressed by 3 dB and more.
const FOLLOWS_DB: f64 = 1.0;

/// Above this slope of gain over level a gate moves the gain; above this many closings a minute as well.
const GATE_SLOPE: f64 = 0.03;
const GATE_CLOSINGS: f64 = 5.0;

/// Stretches that a list of evidence holds at most.
pub(super) const MOST_SPANS: usize = 4;

/// Why facts are missing.
pub(super) const TOO_LITTLE: Unmeasured =
    Unmeasured::Because("the channels explain too little of the mix");
const NEVER_IN: Unmeasured = Unmeasured::Because("it never reaches the mix");

/// The same where it may.
const UNCLEAR: Unmeasured = Unmeasured::Because(
    "too little of it is heard beside what was not recorded to tell whether it reaches the mix",
);

/// What is looked at.
pub(super) struct Look<'a> {
    pub(super) channels: &'a [Channel],
    pub(super) segments: &'a [Segment],
    pub(super) note: &'a SessionNote,
    pub(super) session: &'a [SessionChannel],
    /// What the meters of each channel gave.
    pub(super) common: &'a [Common],
    /// What channels say about each other.
    pub(super) pairs: &'a [Pair],
}

/// What holds for all channels.
struct Whole<'a> {
    mixed: &'a Mixed,
    stretches: Stretches,
    ear: Ear,
    /// How sure facts about the whole session are; none if too little of it is explained.
    sure: Option<f64>,
}

/// A channel through its equaliser.
#[derive(Clone)]
pub(super) struct Through {
    /// The equaliser in the third-octaves of a spectrum.
    pub(super) eq_db: Vec<Option<f64>>,
    /// Tone as it reaches the mix.
    pub(super) tone: Spectrum,
}

/// The equaliser of a channel over all sections, in the third-octaves of a spectrum. None where it is not in the mix.
pub(super) fn eq(board: &Board, channel: usize) -> Option<Eq> {
    let line = board.lines.iter().find(|line| line.channel == channel)?;
    let sections: Vec<&InSection> =
        line.sections.iter().filter(|one| one.is_heard && !one.is_grouped).collect();
    let n_bands = sections.first()?.eq_db.len();
    let mean = |of: &dyn Fn(&InSection) -> Option<f64>| {
        let (mut sum, mut weight) = (0.0, 0.0);
        for section in &sections {
            if let Some(db) = of(section) {
                sum += section.weight * db;
                weight += section.weight;
            }
        }
        (weight > 0.0).then(|| sum / weight)
    };
    let told: Vec<Option<f64>> = (0..n_bands).map(|band| mean(&|one| one.eq_db[band])).collect();
    let most: Vec<Option<f64>> =
        (0..n_bands).map(|band| mean(&|one| one.eq_most_db[band])).collect();
    // What lies below the lowest third-octave goes as that does.
    let lower = |bands: Vec<Option<f64>>| {
        std::iter::repeat_n(bands[0], BELOW).chain(bands).collect::<Vec<Option<f64>>>()
    };
    told.iter().any(Option::is_some).then(|| Eq { db: lower(told), most_db: lower(most) })
}

impl Look<'_> {
    /// All facts of the mix. `through` holds for each channel how it reaches the mix.
    pub(super) fn mix(&self, mixed: &Mixed, through: &[Option<Through>]) -> Mix {
        let board = &mixed.board;
        let share = explained(board, Span::new(0.0, f64::INFINITY));
        let whole = Whole {
            mixed,
            stretches: Stretches::new(self.segments),
            ear: Ear::new(),
            sure: share.and_then(sure_of),
        };
        let stretches = &whole.stretches;
        // A mix that is explained stands where it was put.
        let sure = match share {
            Some(share) if share >= ALIGNED => 0.95,
            _ => mixed.agreement.clamp(0.5, 0.95),
        };
        let mut channels: Vec<MixChannel> = board
            .lines
            .par_iter()
            .enumerate()
            .map(|(place, line)| self.channel(&whole, place, through[line.channel].as_ref()))
            .collect();
        let usual: Vec<f64> =
            channels.iter().filter_map(|channel| channel.usual_gain_db.value()).collect();
        let others_db = median(&usual);
        for channel in &mut channels {
            channel.gain_re_others_db = match (&channel.usual_gain_db, others_db) {
                (Fact::Value { value, confidence }, Some(others_db)) => {
                    Fact::sure(value - others_db, *confidence)
                }
                (fact, _) => fact.clone(),
            };
        }
        let levels = Levels::loudness(board);
        let players = song_facts::players(self, board);
        let songs = song_facts::songs(self, board, &levels, &players);
        let idle_in = |spans: &[Span]| idle(self.channels, board, &players, spans, whole.sure);
        let (effects_re_speech_lu, effects_in_talk) =
            song_facts::effects_in_talk(&players, &levels, &stretches.settled_talks(), whole.sure);
        let id = |place: &usize| self.channels[board.lines[*place].channel].id.clone();
        Mix {
            latency_s: Fact::sure(mixed.latency_s, sure),
            drift_ppm: mixed.drift_ppm.map_or(
                Fact::missing(Unmeasured::Because("the session is too short to tell")),
                |ppm| Fact::sure(ppm, sure),
            ),
            has_own_clock: mixed.has_own_clock,
            explained_share: share
                .map_or_else(|| Fact::missing(Unmeasured::Silent), |share| Fact::sure(share, 1.0)),
            explained_each_second_share: explained_each_second(board),
            bus_pump_db: bus_pump(board),
            open_pairs: open_facts::pairs(self.pairs, self.channels, &channels),
            bus_swing_db: bus_swing(board),
            sections: board.sections.iter().map(of_section).collect(),
            channels,
            groups: board.groups.iter().map(|group| group.iter().map(id).collect()).collect(),
            songs,
            effects_re_speech_lu,
            effects_in_talk,
            idle_in_songs: idle_in(&stretches.songs),
            idle_in_talk: idle_in(&stretches.talks),
        }
    }

    fn channel(&self, whole: &Whole<'_>, place: usize, through: Option<&Through>) -> MixChannel {
        let Whole { mixed, stretches, .. } = whole;
        let board = &mixed.board;
        let line = &board.lines[place];
        let channel = &self.channels[line.channel];
        let is_in_mix = line.sections.iter().any(|section| section.is_heard);
        let unclear = unclear(board, line);
        let absent = if unclear.is_empty() { NEVER_IN } else { UNCLEAR };
        let sure = whole.sure.map(|sure| sure.min(channel.active_confidence));
        let told = |value: Result<f64, Unmeasured>| match (&value, sure) {
            (_, None) => Fact::missing(TOO_LITTLE),
            (_, Some(_)) if !is_in_mix => Fact::missing(absent.clone()),
            (_, Some(sure)) => Fact::from_result(value, sure),
        };
        let sounds = &channel.active;
        let active: Vec<usize> = seconds_of(sounds, board.seconds.len());
        let gains: Vec<f64> =
            active.iter().filter_map(|&at| line.gain_db[at].map(f64::from)).collect();
        let idle =
            [both(&line.on, &line.told), line.on.clone()].map(|on| handling::idle(sounds, &on));
        let idle_share = |within: &[Span]| match (is_in_mix, sure) {
            (true, Some(sure)) => idle_percent(&idle, within, sure),
            _ => told(Err(absent.clone())),
        };
        let songs = without(&stretches.songs, &unclear);
        let left_out = handling::left_out(sounds, &line.on, &songs);
        MixChannel {
            channel: channel.id.clone(),
            is_in_mix,
            gain_db: line.gain_db.iter().map(|gain| gain.map(hundredth)).collect(),
            usual_gain_db: told(median(&gains).ok_or(Unmeasured::NeverActive)),
            gain_re_others_db: Fact::missing(NEVER_IN),
            pan: told(pan(line, mixed.is_stereo)),
            polarity: told(polarity(line)),
            insert_s: mixed.inserts_s[place],
            on: line.on.clone(),
            switches: line
                .switches
                .iter()
                .map(|one| Switched { opens: one.opens, within: one.within })
                .collect(),
            eq_db: through.map_or_else(Vec::new, |one| one.eq_db.clone()),
            tone: through.filter(|_| sure.is_some()).map(|one| one.tone.clone()),
            gain_reduction_db: gain_reduction(line, sure),
            closings_per_minute: told(weighted(line, |one| Some(one.closings_per_min))),
            level_spread_lu: told(self.level_spread_lu(line, sounds, &stretches.songs)),
            re_mix_lu: told(re_mix_lu(board, &whole.ear, place, &active)),
            low_share_percent: told(low_share_percent(board, place, &stretches.songs)),
            idle_open_percent: idle_share(&stretches.programme),
            idle_open_in_songs_percent: idle_share(&stretches.songs),
            idle_open: longest(&both(&idle[0], &stretches.songs), MOST_SPANS),
            left_out_s: sure
                .map_or(Fact::missing(TOO_LITTLE), |sure| Fact::sure(total_s(&left_out), sure)),
            left_out: longest(&left_out, MOST_SPANS),
            entries: handling::entrances(sounds, &line.on)
                .into_iter()
                .map(|entrance| Entry { at_s: entrance.at_s, late_s: told(Ok(entrance.late_s)) })
                .collect(),
            turns_per_minute: told(turns_per_min(line, &stretches.songs)),
        }
    }

    /// Spread of what reaches the mix: the channel's loudness with its gain. Songs differ on purpose: the middle of all songs counts, else
    /// the whole session.
    fn level_spread_lu(
        &self,
        line: &Line,
        sounds: &[Span],
        songs: &[Span],
    ) -> Result<f64, Unmeasured> {
        let moved = dynamics::moved(&self.common[line.channel].loudness.k_power, &line.gain_db);
        let heard = both(sounds, &line.on);
        let spread = |within: &[Span]| dynamics::level_spread_lu(&moved, &both(&heard, within));
        let by_song: Vec<f64> = songs.iter().filter_map(|song| spread(&[*song]).ok()).collect();
        median(&by_song).map_or_else(|| dynamics::level_spread_lu(&moved, &heard), Ok)
    }
}

/// Sections in which a line may reach the mix though it does not seem so.
fn unclear(board: &Board, line: &Line) -> Vec<Span> {
    let sections = board.sections.iter().zip(&line.sections);
    sections.filter(|(_, here)| here.is_unclear).map(|(section, _)| section.span).collect()
}

fn of_section(section: &Section) -> MixSection {
    let share = section.explained_share.map(|share| Fact::sure(share.clamp(0.0, 1.0), 1.0));
    MixSection {
        span: section.span,
        explained_share: share.unwrap_or(Fact::missing(Unmeasured::Silent)),
    }
}

/// Stretches of the session by what happens in them.
struct Stretches {
    songs: Vec<Span>,
    talks: Vec<Span>,
    programme: Vec<Span>,
}

impl Stretches {
    fn new(segments: &[Segment]) -> Self {
        let of = |is_meant: fn(SegmentKind) -> bool| {
            segments.iter().filter(|one| is_meant(one.kind)).map(|one| one.span).collect()
        };
        Self {
            songs: of(|kind| kind == SegmentKind::Song),
            talks: of(|kind| kind == SegmentKind::Talk),
            programme: of(|kind| !matches!(kind, SegmentKind::Silence | SegmentKind::LineCheck)),
        }
    }

    /// Talk without the seconds in which the last tail of a song hangs.
    fn settled_talks(&self) -> Vec<Span> {
        const TAIL_S: f64 = 3.0;
        let tails: Vec<Span> =
            self.songs.iter().map(|song| Span::new(song.end_s, song.end_s + TAIL_S)).collect();
        without(&self.talks, &tails)
    }
}

/// Share of the mix that is explained in a stretch.
pub(super) fn explained(board: &Board, within: Span) -> Option<f64> {
    let seconds = board.seconds.iter().enumerate().filter(|(at, _)| within.holds(count(*at)));
    explained_of(seconds.filter_map(|(_, second)| second.as_ref()))
}

/// The same of every second.
fn explained_each_second(board: &Board) -> Vec<Option<f64>> {
    board.seconds.iter().map(|second| explained_of(second.iter()).map(thousandth)).collect()
}

fn explained_of<'a>(seconds: impl Iterator<Item = &'a Second>) -> Option<f64> {
    let sum = |powers: &[f32]| powers.iter().map(|&x| f64::from(x)).sum::<f64>();
    let (mut main, mut rest) = (0.0, 0.0);
    for second in seconds {
        main += sum(&second.main);
        rest += sum(&second.rest);
    }
    (main > 0.0).then(|| (1.0 - rest / main).clamp(0.0, 1.0))
}

/// How sure facts about a stretch are of which that share is explained; none if it is too little.
pub(super) fn sure_of(share: f64) -> Option<f64> {
    BY_SHARE.iter().find(|step| share >= step.0).map(|step| step.1)
}

/// Seconds in which something sounds for two thirds or more.
fn seconds_of(sounds: &[Span], n_seconds: usize) -> Vec<usize> {
    const SOUNDS: f64 = 2.0 / 3.0;
    (0..n_seconds)
        .filter(|&at| {
            let second = Span::new(count(at), count(at) + 1.0);
            shared_s(sounds, second) >= SOUNDS
        })
        .collect()
}

/// Mean over sections in which the line is heard, by what it gives.
fn weighted(line: &Line, of: impl Fn(&InSection) -> Option<f64>) -> Result<f64, Unmeasured> {
    let (mut sum, mut weight) = (0.0, 0.0);
    for section in line.sections.iter().filter(|section| section.is_heard) {
        if let Some(value) = of(section) {
            sum += section.weight * value;
            weight += section.weight;
        }
    }
    if weight > 0.0 { Ok(sum / weight) } else { Err(NEVER_IN) }
}

fn pan(line: &Line, is_stereo: bool) -> Result<f64, Unmeasured> {
    if !is_stereo {
        return Err(Unmeasured::NotRecorded("the other side of the main mix"));
    }
    if line.sections.iter().any(|section| section.is_grouped && section.is_heard) {
        return Err(ONE_OF_A_GROUP);
    }
    let usual = weighted(line, |section| section.pan)?;
    let most = line.sections.iter().map(|section| section.weight).fold(0.0, f64::max);
    let moves = |section: &&InSection| {
        section.weight > 0.1 * most
            && section.pan.is_some_and(|pan| (pan - usual).abs() > PAN_MOVES)
    };
    if line.sections.iter().filter(|section| section.is_heard).any(|section| moves(&section)) {
        return Err(Unmeasured::Because("its pan was changed on the way"));
    }
    Ok(usual)
}

fn hundredth(db: f32) -> f64 {
    (f64::from(db) * 100.0).round() / 100.0
}

fn thousandth(share: f64) -> f64 {
    (1e3 * share).round() / 1e3
}

/// Why what belongs to one channel of a group is not told.
const ONE_OF_A_GROUP: Unmeasured =
    Unmeasured::Because("other channels carry the same signal: only their sum can be told");

fn polarity(line: &Line) -> Result<f64, Unmeasured> {
    if line.sections.iter().any(|section| section.is_grouped && section.is_heard) {
        return Err(ONE_OF_A_GROUP);
    }
    weighted(line, |section| section.polarity).map(f64::signum)
}

fn gain_reduction(line: &Line, sure: Option<f64>) -> Fact {
    let Some(sure) = sure else { return Fact::missing(TOO_LITTLE) };
    let heard: Vec<&InSection> = line.sections.iter().filter(|section| section.is_heard).collect();
    if heard.is_empty() {
        return Fact::missing(NEVER_IN);
    }
    if heard.iter().any(|section| section.is_grouped) {
        return Fact::missing(ONE_OF_A_GROUP);
    }
    let closings = weighted(line, |one| Some(one.closings_per_min)).unwrap_or(0.0);
    let slope = weighted(line, |one| Some(one.swing?.1));
    if closings > GATE_CLOSINGS || slope.is_ok_and(|slope| slope > GATE_SLOPE) {
        return Fact::missing(GATED);
    }
    match weighted(line, |one| Some(one.swing?.0)) {
        Ok(swing_db) => {
            let follows = weighted(line, |one| one.follows_db).is_ok_and(|db| db >= FOLLOWS_DB);
            let at_least = if follows { (swing_db - SWING_OFF_DB).max(0.0) } else { 0.0 };
            Fact::AtLeast { at_least, confidence: sure }
        }
        Err(_) => Fact::missing(Unmeasured::NeverActive),
    }
}

/// Swing of what moves all channels at once, middle of the sections.
fn bus_swing(board: &Board) -> Fact {
    let swings: Vec<f64> = board.sections.iter().map(|one| one.bus_swing_db).collect();
    median(&swings).map_or(Fact::missing(Unmeasured::Silent), |swing| Fact::sure(swing, BUS_SURE))
}

/// What breathes on all channels in time with the music, over the sections in which it does.
fn bus_pump(board: &Board) -> Fact {
    let pumps: Vec<f64> = board.sections.iter().filter_map(|one| one.bus_pump_db).collect();
    median(&pumps).map_or(
        Fact::missing(Unmeasured::Because("what moves all channels keeps no time")),
        |swing_db| Fact::sure(swing_db, BUS_SURE),
    )
}

fn re_mix_lu(board: &Board, ear: &Ear, place: usize, active: &[usize]) -> Result<f64, Unmeasured> {
    let (mut own, mut all) = (0.0, 0.0);
    for second in active.iter().filter_map(|&at| board.seconds[at].as_ref()) {
        own += ear.power(&second.of_line(place));
        all += ear.power(&second.main);
    }
    if own > 0.0 && all > 0.0 {
        Ok(10.0 * (own / all).log10())
    } else {
        Err(Unmeasured::NeverActive)
    }
}

fn low_share_percent(board: &Board, place: usize, songs: &[Span]) -> Result<f64, Unmeasured> {
    let (mut own, mut all) = (0.0, 0.0);
    for (at, second) in board.seconds.iter().enumerate() {
        let is_song = songs.iter().any(|song| song.holds(count(at) + 0.5));
        let Some(second) = second.as_ref().filter(|_| is_song) else { continue };
        own += power_between(&second.of_line(place), LOW_HZ[0], LOW_HZ[1]);
        all += power_between(&second.main, LOW_HZ[0], LOW_HZ[1]);
    }
    if all > 0.0 { Ok(100.0 * own / all) } else { Err(Unmeasured::Because("no song was found")) }
}

fn turns_per_min(line: &Line, songs: &[Span]) -> Result<f64, Unmeasured> {
    let (mut n_turns, mut length_s) = (0, 0.0);
    for song in songs {
        let (from, to) = (second_of(song.start_s), second_of(song.end_s).min(line.fader_db.len()));
        let fader = line.fader_db.get(from..to).unwrap_or(&[]);
        length_s += count(fader.iter().flatten().count());
        n_turns += handling::n_turns(fader.iter().flatten().copied());
    }
    if length_s < 60.0 {
        return Err(Unmeasured::TooLittleActive { have_s: length_s, need_s: 60.0 });
    }
    Ok(60.0 * count(n_turns) / length_s)
}

#[expect(clippy::cast_precision_loss, reason = "counts are far below 2^52")]
pub(super) fn count(n: usize) -> f64 {
    n as f64
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a time in the session is not negative"
)]
pub(super) fn second_of(at_s: f64) -> usize {
    at_s as usize
}

/// A fact from windows of a balance, as sure as the stretch.
pub(super) fn usual(windows: &[Window], sure: f64) -> Fact {
    Fact::from_result(usual_db(windows), sure)
}
