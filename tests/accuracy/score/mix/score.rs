//! What is told of a mix against what is true of it.
//!
//! A channel counts in a second in which it lies 20 dB under the mix or less. Channels that the review tells as one signal are left out:
//! nobody could tell their parts apart.

use deskside::dsp::thirds::mid_hz;
use deskside::reading::{Reading, SegmentKind, Switched};
use deskside::unit::{Fact, Span};
use realfft::num_complex::Complex;

use super::RATE_HZ;
use super::bars;
use super::desk::{Desk, LATENCY, Mixed};
use super::strip::Strip;

/// An edge that is told farther away belongs to another, in seconds.
const SAME_EDGE_S: f64 = 1.0;

/// A switch that is told as a longer stretch is told where it could not be heard, in seconds: such a stretch is asked to hold the true one.
const OPEN_S: f64 = 1.0;

/// What a stretch may be off, in seconds: a frame of the spectra.
const EDGE_S: f64 = 0.085;

/// A range of an idle share holds the truth if that lies no farther outside.
const IDLE_OFF: f64 = 0.01;

/// Gains of a channel that are usually off by more are shown, in dB.
const FAR_OFF_DB: f64 = 1.5;

/// What is told of a channel.
#[derive(Clone, Debug, Default)]
pub(crate) struct Told {
    pub(crate) name: String,
    pub(crate) gain_db: Vec<Option<f64>>,
    pub(crate) on: Vec<Span>,
    pub(crate) switches: Vec<Switched>,
    pub(crate) pan: Option<f64>,
    /// By third-octave, with their middles in Hz.
    pub(crate) eq_db: Vec<(f64, f64)>,
    /// What its compressor takes off at least.
    pub(crate) reduction_db: Option<f64>,
    /// Low and high end of the share of the songs in which it is open for nothing.
    pub(crate) idle_share: Option<[f64; 2]>,
    pub(crate) is_one_of_a_group: bool,
    /// Whether it is said that nothing can be told of it.
    pub(crate) is_unclear: bool,
}

/// Errors of one mix, or of several.
#[derive(Clone, Debug, Default)]
pub(crate) struct Score {
    pub(crate) n_channels: usize,
    pub(crate) n_grouped: usize,
    /// Channels of which it is said that nothing can be told.
    pub(crate) n_unclear: usize,
    /// Seconds in which a channel counts, and those in which its gain is told.
    pub(crate) n_seconds: usize,
    pub(crate) gain_db: Vec<f64>,
    pub(crate) n_edges: usize,
    pub(crate) edge_s: Vec<f64>,
    /// Told as a stretch of more than a second: all, and those that hold a true one which lies a second or more from the likeliest place.
    pub(crate) n_stretches: usize,
    pub(crate) n_within: usize,
    /// Told a second or more from any true one and not as a stretch that holds one, and those of them between which and a true one the channel could not be heard.
    pub(crate) n_extra_edges: usize,
    pub(crate) n_unheard_edges: usize,
    pub(crate) pan: Vec<f64>,
    pub(crate) eq_db: Vec<f64>,
    pub(crate) explained: Vec<f64>,
    pub(crate) n_uncompressed: usize,
    pub(crate) n_false_compressed: usize,
    pub(crate) n_compressed: usize,
    pub(crate) n_too_much: usize,
    /// Voices over the rest, by songs and by windows of 3 s.
    pub(crate) voice_db: Vec<f64>,
    pub(crate) voice_window_db: Vec<f64>,
    /// Errors of idle shares that are a value; those that are a range, and how many of these hold the truth.
    pub(crate) idle: Vec<f64>,
    pub(crate) n_idle_ranges: usize,
    pub(crate) n_idle_held: usize,
    pub(crate) n_songs: usize,
    pub(crate) n_songs_found: usize,
    pub(crate) n_songs_invented: usize,
    pub(crate) song_start_s: Vec<f64>,
    pub(crate) song_end_s: Vec<f64>,
    /// What was told and what is true, in words, for who works on the program.
    pub(crate) off: Vec<String>,
}

impl Score {
    /// Adds another score.
    pub(crate) fn add(&mut self, other: &Self) {
        let counts = [
            (&mut self.n_channels, other.n_channels),
            (&mut self.n_grouped, other.n_grouped),
            (&mut self.n_unclear, other.n_unclear),
            (&mut self.n_seconds, other.n_seconds),
            (&mut self.n_edges, other.n_edges),
            (&mut self.n_stretches, other.n_stretches),
            (&mut self.n_within, other.n_within),
            (&mut self.n_extra_edges, other.n_extra_edges),
            (&mut self.n_unheard_edges, other.n_unheard_edges),
            (&mut self.n_uncompressed, other.n_uncompressed),
            (&mut self.n_false_compressed, other.n_false_compressed),
            (&mut self.n_compressed, other.n_compressed),
            (&mut self.n_idle_ranges, other.n_idle_ranges),
            (&mut self.n_idle_held, other.n_idle_held),
            (&mut self.n_too_much, other.n_too_much),
            (&mut self.n_songs, other.n_songs),
            (&mut self.n_songs_found, other.n_songs_found),
            (&mut self.n_songs_invented, other.n_songs_invented),
        ];
        counts.into_iter().for_each(|(sum, count)| *sum += count);
        let errors = [
            (&mut self.gain_db, &other.gain_db),
            (&mut self.edge_s, &other.edge_s),
            (&mut self.pan, &other.pan),
            (&mut self.eq_db, &other.eq_db),
            (&mut self.explained, &other.explained),
            (&mut self.voice_db, &other.voice_db),
            (&mut self.voice_window_db, &other.voice_window_db),
            (&mut self.idle, &other.idle),
            (&mut self.song_start_s, &other.song_start_s),
            (&mut self.song_end_s, &other.song_end_s),
        ];
        errors.into_iter().for_each(|(all, more)| all.extend(more));
        self.off.extend(other.off.iter().cloned());
    }
}

/// What a reading tells of its mix, channel by channel; nothing if the mix was not read.
pub(crate) fn told(reading: &Reading) -> Vec<Told> {
    let Some(mix) = &reading.mix else { return Vec::new() };
    let channel = |id: &str| reading.channels.iter().find(|channel| channel.id == id);
    let of = |one: &deskside::reading::MixChannel| {
        let channel = channel(&one.channel);
        let eq = one.eq_db.iter().enumerate();
        Told {
            name: channel.map_or_else(|| one.channel.clone(), |channel| channel.name.clone()),
            gain_db: one.gain_db.clone(),
            on: one.on.clone(),
            switches: one.switches.clone(),
            pan: one.pan.value(),
            eq_db: eq.filter_map(|(band, db)| Some((mid_hz(band), (*db)?))).collect(),
            reduction_db: match one.gain_reduction_db {
                Fact::AtLeast { at_least, .. } => Some(at_least),
                ref fact => fact.value(),
            },
            idle_share: one
                .idle_open_in_songs_percent
                .ends()
                .map(|ends| ends.map(|percent| percent / 100.0)),
            is_unclear: one
                .usual_gain_db
                .reason()
                .is_some_and(|reason| reason.to_string().contains("whether it reaches the mix")),
            is_one_of_a_group: mix.groups.iter().any(|group| group.contains(&one.channel)),
        }
    };
    mix.channels.iter().map(of).collect()
}

/// The score of what is told of channels.
pub(crate) fn score(desk: &Desk, mixed: &Mixed, told: &[Told]) -> Score {
    let mut score = Score::default();
    for (idx, strip) in desk.strips.iter().enumerate().filter(|(_, strip)| strip.is_recorded) {
        let Some(told) = told.iter().find(|told| told.name == strip.name) else { continue };
        score.n_channels += 1;
        if told.is_one_of_a_group {
            score.n_grouped += 1;
            continue;
        }
        gains(&mut score, mixed, idx, told);
        if told.is_unclear {
            score.n_unclear += 1;
        } else {
            edges(&mut score, desk, mixed, idx, told);
        }
        let is_heard = (0..mixed.main.len()).any(|second| counts(mixed, idx, second));
        if !is_heard {
            continue;
        }
        score.pan.extend(told.pan.map(|pan| (pan - strip.pan).abs()));
        let off_db: Vec<f64> = told.eq_db.iter().map(|(hz, db)| db - strip.eq_db(*hz)).collect();
        if let Some(middle_db) = super::super::percentile(&off_db, 50.0) {
            score.eq_db.extend(off_db.iter().map(|db| (db - middle_db).abs()));
        }
        let Some(reduction_db) = told.reduction_db else { continue };
        let is_too_much = reduction_db > mixed.swing_db[idx] + bars::REDUCTION_SLACK_DB;
        if is_too_much {
            let swing_db = mixed.swing_db[idx];
            score.off.push(format!(
                "{}: takes off {reduction_db:.1} dB, {swing_db:.1} dB are true",
                strip.name
            ));
        }
        if strip.squeeze.is_none() {
            score.n_uncompressed += 1;
            score.n_false_compressed += usize::from(is_too_much);
        } else {
            score.n_compressed += 1;
            score.n_too_much += usize::from(is_too_much);
        }
    }
    score
}

/// Whether a channel lies 20 dB under the mix or less in a second.
fn counts(mixed: &Mixed, idx: usize, second: usize) -> bool {
    let given = mixed.given[idx].mixed.get(second).copied().unwrap_or(0.0);
    let main = mixed.main.get(second).copied().unwrap_or(0.0);
    given > 0.0 && 10.0 * (given / main).log10() > bars::COUNTS_DB
}

fn gains(score: &mut Score, mixed: &Mixed, idx: usize, told: &Told) {
    let given = &mixed.given[idx];
    let mut errors_db = Vec::new();
    for second in (0..mixed.main.len()).filter(|&second| counts(mixed, idx, second)) {
        score.n_seconds += 1;
        let true_db = 10.0 * (given.mixed[second] / given.raw[second]).log10();
        if let Some(db) = told.gain_db.get(second).copied().flatten() {
            errors_db.push(db - true_db);
        }
    }
    let usual_db = super::super::percentile(&errors_db, 50.0).filter(|db| db.abs() > FAR_OFF_DB);
    if let Some(usual_db) = usual_db {
        let (raw, mixed): (f64, f64) = (given.raw.iter().sum(), given.mixed.iter().sum());
        let true_db = 10.0 * (mixed / raw).log10();
        score.off.push(format!(
            "{}: gains of {} s are off by {usual_db:.1} dB, {true_db:.1} dB are true",
            told.name,
            errors_db.len()
        ));
    }
    score.gain_db.extend(errors_db.into_iter().map(f64::abs));
}

/// Edges count where the channel is heard while it is open beside them, a second and a half long.
fn edges(score: &mut Score, desk: &Desk, mixed: &Mixed, idx: usize, told: &Told) {
    let strip = &desk.strips[idx];
    // The last moments of the mix are cut off by its latency.
    let end_s = desk.length_s - LATENCY as f64 / RATE_HZ as f64 - 0.1;
    let found: Vec<(f64, bool)> = told
        .on
        .iter()
        .flat_map(|span| [(span.start_s, true), (span.end_s, false)])
        .filter(|(at_s, _)| (0.1..end_s).contains(at_s))
        .collect();
    for &edge_s in &strip.edges_s {
        let beside = if strip.is_open(edge_s + 0.001) {
            [edge_s + 0.1, edge_s + 1.1]
        } else {
            [edge_s - 1.1, edge_s - 0.1]
        };
        let is_heard = beside.iter().all(|at_s| counts(mixed, idx, at_s.max(0.0) as usize));
        if !is_heard {
            continue;
        }
        score.n_edges += 1;
        let off_s = found.iter().map(|edge| (edge.0 - edge_s).abs()).fold(f64::INFINITY, f64::min);
        if off_s < SAME_EDGE_S {
            score.edge_s.push(off_s);
        } else {
            score.off.push(format!("{}: switch at {edge_s:.2} s is missed", strip.name));
        }
        if off_s > bars::EDGE_CLOSE_S {
            score
                .off
                .push(format!("{}: switch at {edge_s:.2} s is off by {off_s:.2} s", strip.name));
        }
    }
    score.n_stretches += told.switches.iter().filter(|one| one.within.length_s() > OPEN_S).count();
    let would_count = would_count(mixed, idx);
    for (at_s, opens) in found {
        if strip.edges_s.iter().any(|&edge_s| (edge_s - at_s).abs() < SAME_EDGE_S) {
            continue;
        }
        if is_within(strip, told, at_s, opens) {
            score.n_within += 1;
            continue;
        }
        score.n_extra_edges += 1;
        let way = if opens { "opens" } else { "closes" };
        score.off.push(format!(
            "{} {way} at {at_s:.2} s, of switches at {:.2?} s",
            strip.name, strip.edges_s
        ));
        // Where nobody could hear it, a switch is told at the end of the silence, not invented.
        let is_unheard = |&edge_s: &f64| {
            let between = edge_s.min(at_s).ceil() as usize..edge_s.max(at_s).floor() as usize;
            strip.is_open(edge_s + 0.001) == opens
                && !between.is_empty()
                && !between.into_iter().any(|second| would_count[second])
        };
        score.n_unheard_edges += usize::from(strip.edges_s.iter().any(is_unheard));
    }
}

/// Whether an edge is told as a stretch that holds a true one of its kind.
fn is_within(strip: &Strip, told: &Told, at_s: f64, opens: bool) -> bool {
    let holds =
        |within: &Span, at_s: f64| within.start_s - EDGE_S <= at_s && at_s <= within.end_s + EDGE_S;
    let stretches = told.switches.iter().filter(|one| one.opens == opens).map(|one| one.within);
    let mut mine = stretches.filter(|within| holds(within, at_s));
    mine.any(|within| {
        let is_it = |edge_s: &&f64| strip.is_open(**edge_s + 0.001) == opens;
        strip.edges_s.iter().filter(is_it).any(|edge_s| holds(&within, *edge_s))
    })
}

/// Seconds in which a channel lies 20 dB under the mix or less, or would if it were open: with the gain that it usually has where it
/// does.
fn would_count(mixed: &Mixed, idx: usize) -> Vec<bool> {
    let given = &mixed.given[idx];
    let heard = (0..mixed.main.len()).filter(|&second| counts(mixed, idx, second));
    let gains: Vec<f64> = heard.map(|second| given.mixed[second] / given.raw[second]).collect();
    let usual = super::super::percentile(&gains, 50.0).unwrap_or(0.0);
    let least = 10f64.powf(bars::COUNTS_DB / 10.0);
    let seconds = given.raw.iter().zip(&mixed.main);
    seconds.map(|(raw, main)| usual * raw > least * main).collect()
}

/// Adds what the whole reading tells: explained share, songs, voices, idle channels.
pub(crate) fn whole(
    score: &mut Score,
    desk: &Desk,
    mixed: &Mixed,
    reading: &Reading,
    stage: &Stage,
) {
    let Some(mix) = &reading.mix else { return };
    score.explained.extend(mix.explained_share.value());
    songs(score, &stage.songs, reading);
    let name = |id: &str| {
        reading.channels.iter().find(|channel| channel.id == id).map(|channel| &channel.name)
    };
    let place = |id: &str| desk.strips.iter().position(|strip| name(id) == Some(&strip.name));
    for song in &mix.songs {
        let leads: Vec<usize> = song.leads.iter().filter_map(|lead| place(&lead.channel)).collect();
        for lead in &song.leads {
            let Some(idx) = place(&lead.channel) else { continue };
            let windows = over_rest(desk, mixed, idx, &leads, song.span, &stage.active[idx]);
            let told = &lead.over_rest_1_to_4_khz_each_second_db;
            let pairs = windows.iter().zip(told).filter_map(|(true_db, told)| true_db.zip(*told));
            score.voice_window_db.extend(pairs.map(|(expected, found)| (found - expected).abs()));
            let heard: Vec<f64> = windows.into_iter().flatten().collect();
            let middle_db = (heard.len() >= 5).then(|| interquartile_mean(&heard));
            let both = middle_db.zip(lead.over_rest_1_to_4_khz_db.value());
            if let Some((expected, found)) = both {
                score.voice_db.push((found - expected).abs());
                let name = &desk.strips[idx].name;
                score.off.push(format!(
                    "{name}: over the rest {found:.2} dB, {expected:.2} dB are true"
                ));
            }
        }
    }
    for told in told(reading) {
        let strip = desk.strips.iter().position(|strip| strip.name == told.name);
        let idle = strip.and_then(|idx| idle(desk, idx, stage));
        if let Some((expected, found)) = idle.zip(told.idle_share) {
            let [low, high] = found;
            if low < high {
                score.n_idle_ranges += 1;
                let holds = low - IDLE_OFF <= expected && expected <= high + IDLE_OFF;
                score.n_idle_held += usize::from(holds);
            } else {
                score.idle.push((low - expected).abs());
            }
            score.off.push(format!("{}: idle {found:.3?}, {expected:.3} is true", told.name));
        }
    }
}

/// Mean of the middle half of values.
fn interquartile_mean(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let aside = sorted.len() / 4;
    let half = &sorted[aside..sorted.len() - aside];
    half.iter().sum::<f64>() / half.len() as f64
}

/// What is true of the stage, whatever the desk.
#[derive(Clone, Debug, Default)]
pub(crate) struct Stage {
    /// The songs, from the first note to the last.
    pub(crate) songs: Vec<Span>,
    /// When the own sources of each strip of the desk are played.
    pub(crate) active: Vec<Vec<Span>>,
    /// When they are within 25 dB of their loud level there; nothing where the stage does not tell, and but for microphones that are
    /// meant for one thing: a wire tells nothing while its source rests.
    pub(crate) sounding: Vec<Option<Vec<Span>>>,
}

fn songs(score: &mut Score, songs: &[Span], reading: &Reading) {
    let mut found: Vec<Span> = reading
        .segments
        .iter()
        .filter(|segment| segment.kind == SegmentKind::Song)
        .map(|segment| segment.span)
        .collect();
    score.n_songs += songs.len();
    for song in songs {
        let overlap =
            |span: &Span| (span.end_s.min(song.end_s) - span.start_s.max(song.start_s)).max(0.0);
        let best =
            (0..found.len()).max_by(|a, b| overlap(&found[*a]).total_cmp(&overlap(&found[*b])));
        let Some(best) = best.filter(|best| overlap(&found[*best]) > song.length_s() / 2.0) else {
            continue;
        };
        let span = found.remove(best);
        score.n_songs_found += 1;
        score.song_start_s.push((span.start_s - song.start_s).abs());
        score.song_end_s.push((span.end_s - song.end_s).abs());
        score.off.push(format!(
            "song from {:.2} to {:.2} s, told {:.2} to {:.2} s",
            song.start_s, song.end_s, span.start_s, span.end_s
        ));
    }
    score.n_songs_invented += found.len();
}

/// Windows of 3 s, one a second, in which the voice sounds for two thirds, over everything but the lead voices.
fn over_rest(
    desk: &Desk,
    mixed: &Mixed,
    idx: usize,
    leads: &[usize],
    song: Span,
    active: &[Span],
) -> Vec<Option<f64>> {
    let first = song.start_s.ceil() as usize;
    let end = (song.end_s.floor() as usize).min(mixed.main.len());
    let powers: Vec<(f64, f64)> =
        (0..end).map(|second| own_and_rest(desk, mixed, idx, leads, second)).collect();
    let mut levels = Vec::new();
    for start in first..end.saturating_sub(2) {
        let window = Span::new(start as f64, start as f64 + 3.0);
        let sung_s: f64 = active
            .iter()
            .map(|s| (s.end_s.min(window.end_s) - s.start_s.max(window.start_s)).max(0.0))
            .sum();
        let own: f64 = powers[start..start + 3].iter().map(|pair| pair.0).sum();
        let rest: f64 = powers[start..start + 3].iter().map(|pair| pair.1).sum();
        let is_heard = sung_s >= 2.0 && own > 0.0 && rest > 0.0;
        levels.push(is_heard.then(|| 10.0 * (own / rest).log10()));
    }
    levels
}

/// Power of a voice in a second, and of the mix without any of the lead voices.
fn own_and_rest(
    desk: &Desk,
    mixed: &Mixed,
    idx: usize,
    leads: &[usize],
    second: usize,
) -> (f64, f64) {
    let own = &mixed.given[idx].presence[second];
    let mut rest = 0.0;
    for (side, main) in mixed.presence.iter().enumerate() {
        for (bin, all) in main[second].iter().enumerate() {
            let voices = leads.iter().map(|&lead| {
                mixed.given[lead].presence[second][bin] * desk.strips[lead].sides()[side] as f32
            });
            rest += f64::from((all - voices.sum::<Complex<f32>>()).norm_sqr());
        }
    }
    (own.iter().map(|bin| f64::from(bin.norm_sqr())).sum(), rest)
}

/// Share of the songs in which the channel is open and its sources rest, with a fifth of a second around what sounds.
fn idle(desk: &Desk, idx: usize, stage: &Stage) -> Option<f64> {
    let sounding = stage.sounding[idx].as_ref()?;
    let (mut n_idle, mut n_all) = (0_usize, 0_usize);
    for step in 0..(desk.length_s / 0.05) as usize {
        let at_s = step as f64 * 0.05;
        if !stage.songs.iter().any(|song| song.holds(at_s)) {
            continue;
        }
        n_all += 1;
        let sounds = sounding.iter().any(|s| s.start_s - 0.2 <= at_s && at_s < s.end_s + 0.2);
        n_idle += usize::from(desk.strips[idx].is_open(at_s) && !sounds);
    }
    (n_all > 0).then(|| n_idle as f64 / n_all as f64)
}
