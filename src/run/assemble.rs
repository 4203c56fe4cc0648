//! A reading from what the pass measured.
//!
//! Settles roles by name and sound, finds when each source sounds, cuts the session into segments, and fills in the facts
//! of channels, pairs and the main mix. Knows the order, computes nothing itself.

use rayon::prelude::*;

use super::axis_facts;
use super::clocks::clocks;
use super::facts::{self, When};
use super::fault_facts;
use super::feedback_facts::feedback;
use super::gain_facts;
use super::kin;
use super::kindred;
use super::meters::Common;
use super::mix_facts::{self, ALIGNED, LEAST_EXPLAINED, Through, explained};
use super::mixed::Mixed;
use super::refine;
use super::room::{self, Clap};
use super::room_facts;
use super::segments::named;
use super::shared::Shared;
use super::stream::{Measured, Recorder};
use super::tap_facts;
use super::{
    blank::blank, main_facts, pair_facts, sound, spill_facts, stage_facts, views, wedge_facts,
};
use crate::dsp::air::USUAL_TEMPERATURE_C;
use crate::measure::standing;
use crate::measure::trace::Trace;
use crate::reading::{
    self, Channel, Feedback, LineCheck, Pair, Reading, Segment, SegmentKind, SessionFacts,
};
use crate::relate::activity::{Activity, Presence, Source, own_activity};
use crate::relate::alike::Heard;
use crate::relate::cast::Candidate;
use crate::relate::line_check::{Turn, line_check, turns};
use crate::relate::quiet::all_quiet;
use crate::relate::segments::segments;
use crate::session::note::Kind;
use crate::session::{Role, Session, SessionChannel, Tap};
use crate::unit::{Fact, Span, Unmeasured};

/// Grid on which other channels' activity is counted, in seconds.
const GRID_S: f64 = 0.1;

/// How many others have to play for a pause to hold the band.
const BAND: usize = 2;

/// What the levels of all channels say.
pub(super) struct Listened {
    /// Channels that hold one source.
    pub(super) kin: Vec<(usize, usize)>,
    /// When each source sounds.
    pub(super) activities: Vec<Activity>,
    /// What each channel sounds like.
    pub(super) heard: Vec<Heard>,
    /// Length of the session, in seconds.
    pub(super) duration_s: f64,
}

/// When each source sounds, by levels.
pub(super) fn listen(channels: &[SessionChannel], measured: &Measured) -> Listened {
    let kin = kin_of(channels, measured);
    let activities = own_activity(&levels(channels, measured), &sources(channels), &kin);
    let ends_s =
        channels.iter().zip(&measured.lengths_s).map(|(one, length_s)| one.start_s + length_s);
    let candidates = candidates(channels, &activities);
    let heard = candidates
        .par_iter()
        .zip(&measured.common)
        .zip(&activities)
        .map(|((candidate, common), activity)| kindred::heard(candidate, common, activity))
        .collect();
    Listened { kin, activities, heard, duration_s: ends_s.fold(0.0, f64::max) }
}

/// Which channels may share anything.
pub(super) fn candidates(channels: &[SessionChannel], activities: &[Activity]) -> Vec<Candidate> {
    let candidate = |(channel, activity): (&SessionChannel, &Activity)| Candidate {
        source: Source { role: channel.role, is_line: channel.is_line },
        is_heard: channel.role.is_input()
            && channel.tap == Tap::Raw
            && channel.raw.is_none()
            && activity.presence != Presence::Silent,
        active_s: activity.active_s,
        has_low_notes: super::has_low_notes(channel),
    };
    channels.iter().zip(activities).map(candidate).collect()
}

/// The levels by which sources are followed.
fn levels<'a>(channels: &[SessionChannel], measured: &'a Measured) -> Vec<&'a Trace> {
    channels.iter().zip(&measured.common).map(|(channel, common)| heard(channel, common)).collect()
}

/// What is settled before the mix is read: roles, when sources sound, segments.
pub(super) struct Settled {
    /// The channels, without their measurements.
    facts: Vec<Channel>,
    /// When each source sounds.
    pub(super) activities: Vec<Activity>,
    heard: Vec<Heard>,
    /// The same frame by frame, where it could be followed.
    sounding: Vec<Vec<Span>>,
    /// When each source rests while others play.
    resting: Vec<Vec<Span>>,
    /// What wedges bring into the microphones of voices.
    wedges: Vec<wedge_facts::Wedges>,
    quiet: Vec<Span>,
    /// The session cut into songs, talk and the rest.
    pub(super) segments: Vec<Segment>,
    line_check: LineCheck,
    /// What rings behind a clap at the hall microphone.
    clap: Option<Clap>,
    /// Recorders beside that of the session.
    recorders: Vec<reading::Recorder>,
    pub(super) duration_s: f64,
}

/// Settles roles by name and sound, when sources sound, and the segments.
pub(super) fn settle(
    session: &Session,
    channels: &[SessionChannel],
    measured: &Measured,
    listened: Listened,
    shared: Option<&Shared>,
    reopen: &dyn Fn() -> Option<Vec<Recorder>>,
) -> Settled {
    let Listened { mut kin, mut activities, heard, duration_s } = listened;
    let kindred = shared.map_or(&[][..], |shared| shared.kindred.as_slice());
    kin.extend(kindred.iter().map(|one| (one.alike.first, one.alike.second)));
    let levels = levels(channels, measured);
    let sounding = shared.map(|shared| refine::refine(&mut activities, shared));
    let by_levels = || activities.iter().map(|activity| activity.spans.clone()).collect();
    let sounding = sounding.unwrap_or_else(by_levels);
    let quiet = quiet(channels, &levels, &activities);
    let mut facts: Vec<Channel> = channels.iter().map(|channel| blank(channel, channels)).collect();
    let known = channels.par_iter().zip(&measured.common).zip(&activities);
    facts.par_iter_mut().zip(known).for_each(|(facts, ((channel, common), activity))| {
        if let Some(settled) = sound::settle(channel, common, &activity.spans, duration_s) {
            facts.role = settled.role;
            facts.role_confidence = settled.confidence;
            facts.role_source = settled.source;
            facts.role_by_sound = settled.contradiction;
        }
    });
    let settled: Vec<Source> = facts
        .iter()
        .map(|channel| Source { role: channel.role, is_line: channel.is_line })
        .collect();
    let turns = turns(&levels, &activities, &settled, &kin);
    let stretches = segments(&activities, &settled, &kin, &turns, duration_s);
    let segments = named(&stretches, &session.note.songs);
    let line_check = line_check_facts(&facts, &turns, &activities, &settled, &kin, &segments);
    let clap = clap(session, channels, measured, &activities, reopen);
    let resting = resting(&facts, &activities, duration_s);
    let wedges = wedge_facts::heard(&facts, &activities, &resting, session.rate_hz, reopen);
    let recorders = clocks(channels, &activities, measured, session.rate_hz, reopen);
    Settled {
        facts,
        activities,
        heard,
        sounding,
        resting,
        wedges,
        quiet,
        segments,
        line_check,
        clap,
        recorders,
        duration_s,
    }
}

/// The sweep or the clap that the chosen hall microphone heard, with no input sounding on.
fn clap(
    session: &Session,
    channels: &[SessionChannel],
    measured: &Measured,
    activities: &[Activity],
    reopen: &dyn Fn() -> Option<Vec<Recorder>>,
) -> Option<Clap> {
    let rooms: Vec<usize> = measured.rooms.iter().map(|one| one.channel).collect();
    let room = room_facts::chosen(channels, &rooms)?;
    let inputs = channels.iter().zip(activities).filter(|(channel, _)| channel.role.is_input());
    let sounding: Vec<&[Span]> = inputs.map(|(_, activity)| activity.spans.as_slice()).collect();
    let levels = &measured.common[room].levels.power;
    let stated = session.note.hall.as_ref().and_then(|hall| hall.sweep.as_ref());
    // A sweep holds the low octaves too.
    if let Some(swept) = stated.and_then(|one| room::swept(room, one, session.rate_hz, reopen)) {
        return Some(swept);
    }
    room::clap(room, levels, &sounding, session.rate_hz, reopen)
}

/// Feedback, and the spikes that it explains.
fn fed_back(
    session: &Session,
    facts: &mut [Channel],
    channels: &[SessionChannel],
    measured: &Measured,
    segments: &[Segment],
) -> Feedback {
    let feedback = feedback(session, facts, channels, &measured.common, segments);
    fault_facts::spikes(facts, measured, &feedback);
    feedback
}

/// The whole reading.
pub(super) fn assemble(
    session: &Session,
    channels: &[SessionChannel],
    measured: Measured,
    settled: Settled,
    shared: Option<Shared>,
    mixed: Option<Result<Mixed, Unmeasured>>,
    mut warnings: Vec<String>,
) -> Reading {
    let Settled { mut facts, activities, heard, sounding, quiet, segments, clap, .. } = settled;
    let levels = levels(channels, &measured);
    let thuds_s = thuds_s(&facts, &measured, &activities);
    let mixed = read_back(mixed, &mut warnings);
    let through: Vec<Option<Through>> = facts
        .par_iter_mut()
        .enumerate()
        .map(|(idx, channel)| {
            let when = When {
                heard: levels[idx],
                active: &activities[idx].spans,
                confidence: activities[idx].confidence,
                resting: &settled.resting[idx],
                quiet: &quiet,
                thuds_s: &thuds_s,
            };
            channel.duration_s = measured.lengths_s[idx];
            channel.sounding.clone_from(&sounding[idx]);
            facts::fill(channel, &measured.common[idx], &measured.native[idx], &when);
            let eq = mix_facts::eq(&mixed.as_ref()?.board, idx)?;
            let tone = facts::tone_through(channel, &measured.common[idx], &when, &eq);
            Some(Through { eq_db: eq.db, tone })
        })
        .collect();
    tap_facts::fill(&mut facts, &measured.kin.taps);
    fault_facts::fill(&mut facts, channels, &measured, &thuds_s);
    gain_facts::fill(&mut facts, &settled.resting, &measured, &segments);
    wedge_facts::fill(&mut facts, &measured, &settled.wedges);
    axis_facts::fill(&mut facts, &measured, &segments);
    let pairs = pairs(session, &facts, &measured, shared.as_ref());
    warnings.extend(unlike_their_names(channels, &facts, &heard, shared.as_ref()));
    let sides = main_facts::sides(channels);
    let main = sides.map(|sides| main_facts::main_mix(&facts, sides, &measured, &segments));
    let look = mix_facts::Look {
        channels: &facts,
        segments: &segments,
        note: &session.note,
        session: channels,
        common: &measured.common,
        pairs: &pairs,
    };
    let mix = mixed.map(|mixed| look.mix(&mixed, &through));
    let feedback = fed_back(session, &mut facts, channels, &measured, &segments);
    let room = room_facts::room(session, channels, &measured, &segments, &quiet, clap.as_ref());
    let room = stage_facts::filled(room, &facts, channels, sides, &measured, &segments, &quiet);
    Reading {
        session: session_facts(session, &facts, settled.duration_s),
        channels: facts,
        pairs,
        main,
        mix,
        recorders: settled.recorders,
        feedback,
        room,
        segments,
        line_check: settled.line_check,
        quiet,
        warnings,
    }
}

/// What channels hold together, where their names tell otherwise, a sentence each.
fn unlike_their_names(
    channels: &[SessionChannel],
    facts: &[Channel],
    heard: &[Heard],
    shared: Option<&Shared>,
) -> Vec<String> {
    let kindred = shared.map_or(&[][..], |shared| shared.kindred.as_slice());
    let opposite = shared.map_or(&[][..], |shared| shared.opposite.as_slice());
    let mut sentences = kindred::sentences(facts, kindred);
    sentences.extend(views::sentences(facts, opposite));
    sentences.extend(kindred::one_sided_sentences(channels, facts, heard));
    sentences
}

/// The mix, if it could be read back; else a warning says why.
fn read_back(
    mixed: Option<Result<Mixed, Unmeasured>>,
    warnings: &mut Vec<String>,
) -> Option<Mixed> {
    let told = mixed?.inspect_err(|reason| {
        warnings.push(format!("the mix could not be read back: {reason}"));
    });
    let told = told.ok()?;
    if let Some(ppm) = told.drift_ppm.filter(|_| told.has_own_clock) {
        warnings.push(format!(
            "the main mix was recorded by a clock of its own, {ppm:.1} ppm off: it was read by that clock"
        ));
    }
    if let Some(share) = explained(&told.board, Span::new(0.0, f64::INFINITY)) {
        let percent = 100.0 * share;
        if share < LEAST_EXPLAINED {
            warnings.push(format!(
                "the channels explain {percent:.0} % of the main mix: nothing is said of what was done to them"
            ));
        } else if share < ALIGNED {
            warnings.push(format!(
                "the channels explain {percent:.0} % of the main mix: what was done to them is told with more care"
            ));
        }
    }
    Some(told)
}

/// What channels say about each other.
fn pairs(
    session: &Session,
    channels: &[Channel],
    measured: &Measured,
    shared: Option<&Shared>,
) -> Vec<Pair> {
    let mut pairs = pair_facts::pairs(channels, &measured.kin);
    if let Some(shared) = shared {
        pairs.extend(kindred::pairs(channels, &shared.kindred));
        pairs.extend(spill_facts::pairs(channels, shared));
        let temperature_c = session.note.air_temperature_c.unwrap_or(USUAL_TEMPERATURE_C);
        spill_facts::add_times(&mut pairs, channels, shared, temperature_c);
    }
    pairs
}

/// Channels that hold one source, so that none explains the other away.
fn kin_of(channels: &[SessionChannel], measured: &Measured) -> Vec<(usize, usize)> {
    let mut kin: Vec<(usize, usize)> =
        kin::pairs(channels).iter().map(|&(first, second, _)| (first, second)).collect();
    // A processed tap holds what its raw channel holds.
    kin.extend(channels.iter().enumerate().filter_map(|(idx, channel)| Some((channel.raw?, idx))));
    kin.extend(measured.kin.twins.iter().map(|twin| (twin.first, twin.second)));
    kin
}

fn sources(channels: &[SessionChannel]) -> Vec<Source> {
    channels.iter().map(|channel| Source { role: channel.role, is_line: channel.is_line }).collect()
}

/// The level by which a source is followed: without rumble where it has no low notes, so that footsteps and wind are
/// no singing.
fn heard<'a>(channel: &SessionChannel, common: &'a Common) -> &'a Trace {
    let above = common.above.as_ref().filter(|_| !super::has_low_notes(channel));
    above.unwrap_or(&common.levels.power)
}

/// Stretches in which every input is quiet.
fn quiet(channels: &[SessionChannel], levels: &[&Trace], activities: &[Activity]) -> Vec<Span> {
    let inputs: Vec<usize> =
        (0..channels.len()).filter(|&idx| channels[idx].role.is_input()).collect();
    let typical: Vec<Option<f64>> = inputs
        .par_iter()
        .map(|&idx| standing::typical_level_dbfs(levels[idx], &activities[idx].spans).ok())
        .collect();
    let levels: Vec<&Trace> = inputs.iter().map(|&idx| levels[idx]).collect();
    all_quiet(&levels, &typical)
}

/// Hits of kick, bass and toms, in seconds.
fn thuds_s(channels: &[Channel], measured: &Measured, activities: &[Activity]) -> Vec<f64> {
    let mut at_s: Vec<f64> = channels
        .iter()
        .enumerate()
        .filter(|(_, channel)| matches!(channel.role, Role::Kick | Role::Bass | Role::Tom))
        .flat_map(|(idx, _)| facts::hits_of(&measured.common[idx], &activities[idx].spans))
        .map(|hit| hit.at_s)
        .collect();
    at_s.sort_by(f64::total_cmp);
    at_s
}

fn line_check_facts(
    channels: &[Channel],
    turns: &[Turn],
    activities: &[Activity],
    sources: &[Source],
    kin: &[(usize, usize)],
    segments: &[Segment],
) -> LineCheck {
    let first_song_s =
        segments.iter().find(|one| one.kind == SegmentKind::Song).map(|song| song.span.start_s);
    let found = line_check(turns, activities, sources, kin, first_song_s);
    let before =
        turns.iter().filter(|turn| first_song_s.is_some_and(|at_s| turn.span.end_s <= at_s));
    let span = before.map(|turn| turn.span).reduce(|all, span| Span::new(all.start_s, span.end_s));
    LineCheck {
        missing: found.as_ref().map_or_else(
            |_| Vec::new(),
            |check| check.missing.iter().map(|&idx| channels[idx].id.clone()).collect(),
        ),
        n_heard: found.as_ref().map_or(0, |check| check.n_heard),
        heard_percent: Fact::from_result(found.map(|check| check.heard_percent), 0.9),
        evidence: span.into_iter().collect(),
    }
}

/// Which inputs play in each step of the grid.
fn playing(channels: &[Channel], activities: &[Activity], duration_s: f64) -> Vec<Vec<usize>> {
    let n_steps = step_of(duration_s) + 1;
    let mut playing = vec![Vec::new(); n_steps];
    for (idx, activity) in activities.iter().enumerate() {
        if !channels[idx].role.is_input() {
            continue;
        }
        for span in &activity.spans {
            for step in &mut playing[step_of(span.start_s)..step_of(span.end_s).min(n_steps)] {
                step.push(idx);
            }
        }
    }
    playing
}

/// Stretches in which each channel rests while at least two others play.
fn resting(channels: &[Channel], activities: &[Activity], duration_s: f64) -> Vec<Vec<Span>> {
    let playing = playing(channels, activities, duration_s);
    let of = |(idx, activity): (usize, &Activity)| rests(&playing, idx, &activity.spans);
    activities.par_iter().enumerate().map(of).collect()
}

/// The same of one channel.
fn rests(playing: &[Vec<usize>], channel: usize, active: &[Span]) -> Vec<Span> {
    /// Sound lingers after the source stops, and activity is known to a tenth of a second.
    const MARGIN_S: f64 = 0.3;
    // The spans are in order and apart: the first that ends later is the only one that may be near.
    let near_own = |at_s: f64| {
        let at = active.partition_point(|span| span.end_s + MARGIN_S < at_s);
        active.get(at).is_some_and(|span| span.start_s - MARGIN_S <= at_s)
    };
    let mut spans: Vec<Span> = Vec::new();
    for (step, who) in playing.iter().enumerate() {
        #[expect(clippy::cast_precision_loss, reason = "a count of steps is far below 2^52")]
        let at_s = step as f64 * GRID_S;
        if who.contains(&channel) || who.len() < BAND || near_own(at_s) {
            continue;
        }
        match spans.last_mut() {
            Some(last) if at_s - last.end_s < GRID_S / 2.0 => last.end_s = at_s + GRID_S,
            _ => spans.push(Span::new(at_s, at_s + GRID_S)),
        }
    }
    spans
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a time in the session is not negative"
)]
fn step_of(at_s: f64) -> usize {
    (at_s / GRID_S).round() as usize
}

fn session_facts(session: &Session, channels: &[Channel], duration_s: f64) -> SessionFacts {
    let note = &session.note;
    let ends = |pick: fn(f64, f64) -> f64| {
        channels.iter().map(|channel| channel.duration_s).reduce(pick).unwrap_or(0.0)
    };
    SessionFacts {
        name: session.name.clone(),
        date: session.date.clone(),
        operator: note.operator.clone(),
        place: note.place.clone(),
        is_rehearsal: note.kind != Some(Kind::Performance),
        main_bus: note.main_bus.map_or("hall", |bus| bus.word()).to_owned(),
        style: note.style.map_or("song-led", |style| style.word()).to_owned(),
        line_check_before_recording: note.line_check_before_recording,
        is_good: note.good,
        taps_stated: session.taps_stated(),
        rate_hz: session.rate_hz,
        duration_s,
        length_spread_s: ends(f64::max) - ends(f64::min),
        mixed_rates: session.mixed_rates,
        clock_ratio: session.clock_ratio,
    }
}
