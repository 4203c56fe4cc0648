//! Trials: the meters of the program on clips with planted faults.
//!
//! Takes a seed, gives scores clip by clip.

use deskside::demo::random::Random;
use deskside::demo::source::Instrument;
use deskside::dsp::Group;
use deskside::measure::clicks::ClickMeter;
use deskside::measure::clipping::FlatTopMeter;
use deskside::measure::hum::{self, HumMeter};
use deskside::measure::phrases::{phrase_spread_lu, phrases};
use deskside::measure::silence::SilenceMeter;
use deskside::measure::voice::{VoiceMeter, pops};
use deskside::measure::{LevelMeter, LoudnessMeter, crest, fade};
use deskside::unit::Span;
use deskside::unit::spans::without;

use super::clip::{Clip, Material, RATE_HZ, amplitude, low_notes, of_notes, on_stage, samples};
use super::level::{active, loud_db};
use super::plant::{self, Faulty};
use super::score::Score;

/// How far a found moment may lie from the planted one, in seconds.
const NEAR_S: f64 = 0.005;
const NEAR_BLAST_S: f64 = 0.06;
const NEAR_FADE_S: f64 = 0.025;

/// The score of one clip.
#[derive(Clone, Debug)]
pub(crate) struct Row {
    /// Which clip.
    pub(crate) clip: String,
    /// Its score.
    pub(crate) score: Score,
}

fn row(clip: &str, score: Score) -> Row {
    Row { clip: clip.to_owned(), score }
}

/// Clips as wholes: those that were cut off at a level, and those that were not.
pub(crate) fn flat_tops(material: &Material, level_dbfs: f64) -> Vec<Row> {
    let count = |plane: &[f32]| {
        let mut meter = FlatTopMeter::new(RATE_HZ, 1);
        meter.push(Group::new(&[plane], RATE_HZ));
        meter.finish()[0].count
    };
    let mut rows = Vec::new();
    for mut clip in material.clips.iter().cloned() {
        let (cut, n_tops) = plant::flat_tops(&mut clip, level_dbfs);
        // One or two tops are chance.
        if n_tops >= 3 {
            rows.push(row(&clip.name, Score::of_clip(true, count(&cut) > 0)));
        }
        let whole = plant::scaled(&clip, level_dbfs);
        rows.push(row(&clip.name, Score::of_clip(false, count(&whole) > 0)));
    }
    rows
}

/// Moments in clips.
fn moments(
    clips: &[Clip],
    within_s: f64,
    faulty: impl Fn(&mut Clip) -> Faulty,
    found: impl Fn(&Clip, &[f32]) -> Vec<f64>,
) -> Vec<Row> {
    let of = |clip: &Clip| {
        let mut clip = clip.clone();
        let faulty = faulty(&mut clip);
        let found_s = found(&clip, &faulty.plane);
        row(&clip.name, Score::of(&faulty.at_s, &found_s, within_s))
    };
    clips.iter().map(of).collect()
}

/// Clicks.
pub(crate) fn clicks(material: &Material) -> Vec<Row> {
    moments(&material.clips, NEAR_S, plant::clicks, |_, plane| {
        let mut meter = ClickMeter::new(RATE_HZ, 1);
        meter.push(Group::new(&[plane], RATE_HZ));
        meter.finish().remove(0).at_s
    })
}

/// Fades of a wireless link, in voices of half a minute too.
pub(crate) fn fades(material: &Material) -> Vec<Row> {
    let clips: Vec<Clip> = material.clips.iter().chain(&material.voices).cloned().collect();
    moments(&clips, NEAR_FADE_S, plant::fades, |_, plane| {
        let mut meter = LevelMeter::new(RATE_HZ, 1);
        meter.push(Group::new(&[plane], RATE_HZ));
        fade::fades(&meter.finish().remove(0).power).iter().map(|gap| gap.start_s).collect()
    })
}

/// Zeros and repeated blocks.
pub(crate) fn gaps(material: &Material) -> Vec<Row> {
    moments(&material.clips, NEAR_S, plant::gaps, |_, plane| {
        let mut meter = SilenceMeter::new(RATE_HZ, 1);
        meter.push(Group::new(&[plane], RATE_HZ));
        meter.finish().remove(0).dropouts_at_s
    })
}

/// Blasts of air in voices, with knocks in their pauses.
pub(crate) fn blasts(material: &Material) -> Vec<Row> {
    moments(&material.voices, NEAR_BLAST_S, plant::blasts, |clip, plane| {
        let mut meter = VoiceMeter::new(RATE_HZ, 1);
        meter.push(Group::new(&[plane], RATE_HZ));
        let track = meter.finish().remove(0);
        pops(&track, &active(&clip.x), &[]).map(|found| found.at_s).unwrap_or_default()
    })
}

/// Notes near the mains and its multiples: a basses' lowest strings, and what else plays low.
const LOW_PLAYERS: [Instrument; 4] =
    [Instrument::Bass, Instrument::Cello, Instrument::Bass, Instrument::KeysLeft];

/// Clips with low notes as wholes, 30 s each: with hum, and without.
pub(crate) fn hums(seed: u64) -> (Vec<Row>, Vec<Row>) {
    const CLIP_S: f64 = 30.0;
    let mut rows = [Vec::new(), Vec::new()];
    for branch in 0..24 {
        let who = LOW_PLAYERS[branch % LOW_PLAYERS.len()];
        let mut random = Random::branch(seed, 2000 + branch as u64);
        // A pitch on which 50 or 60 Hz is the note itself, its octave, or its third harmonic; a few cents beside it at most.
        let mains_hz = *random.pick(&[50.0, 60.0]);
        let times = *random.pick(&[1.0, 1.0, 2.0, 3.0]);
        let cents = random.between(-8.0, 8.0);
        let pitch = 69.0 + 12.0 * (mains_hz * times / 440.0_f64).log2() + cents / 100.0;
        let branch_seed = Random::branch(seed, 3000 + branch as u64).next_u64();
        let notes = low_notes(branch_seed, pitch, CLIP_S);
        let x = of_notes(who, &notes, CLIP_S, branch_seed);
        let clip = on_stage(&format!("{who:?} {branch}"), x, seed, 4000 + branch as u64);
        let level_dbfs = random.between(-66.0, -45.0);
        let hummed = plant::hum(&clip.x, mains_hz, level_dbfs, &mut random);
        for (idx, x) in [&clip.x, &hummed].into_iter().enumerate() {
            let is_found = finds_hum(&clip.x, x);
            let score = Score::of_clip(idx == 1, is_found);
            rows[idx].push(row(&format!("{} {level_dbfs:.0} dBFS", clip.name), score));
        }
    }
    let [without, with] = rows;
    (without, with)
}

/// Whether hum is told, as of a channel that comes by wire: its own pauses count.
fn finds_hum(clean: &[f64], x: &[f64]) -> bool {
    let plane = plant::stored(x);
    let mut meter = HumMeter::new(RATE_HZ, 1);
    meter.push(Group::new(&[&plane], RATE_HZ));
    let length_s = x.len() as f64 / f64::from(RATE_HZ);
    let pauses = without(&[Span::new(0.0, length_s)], &active(clean));
    let Ok(windows) = meter.finish().remove(0) else { return false };
    hum::judge(&windows, &pauses, loud_db(clean)).mains_hz.value().is_some()
}

/// Phrases of one voice that come again and again, louder and softer by known amounts: error of their spread, in LU.
pub(crate) fn spread_errors(seed: u64) -> Vec<(String, f64)> {
    let mut errors = Vec::new();
    for (number, deviation_db) in [0.0, 1.0, 2.0, 4.0, 6.0].into_iter().cycle().take(15).enumerate()
    {
        let mut random = Random::branch(seed, 5000 + number as u64);
        let phrase = phrase_of(number, &mut random);
        let gains_db: Vec<f64> = (0..12).map(|_| deviation_db * random.bell()).collect();
        let mut x = Vec::new();
        for gain_db in &gains_db {
            x.extend(phrase.iter().map(|x| x * amplitude(*gain_db - 8.0)));
            x.resize(x.len() + samples(random.between(0.5, 1.5)), 0.0);
        }
        x.iter_mut().for_each(|x| *x += amplitude(-75.0) * random.bell());
        let plane = plant::stored(&x);
        let mut meter = LoudnessMeter::new(RATE_HZ, 1);
        meter.push(Group::new(&[&plane], RATE_HZ));
        let loudness = meter.finish().remove(0);
        let whole = [Span::new(0.0, x.len() as f64 / f64::from(RATE_HZ))];
        let found = phrase_spread_lu(&phrases(&loudness.k_power, &whole));
        let error = found.map_or(f64::INFINITY, |spread| spread - spread_of(&gains_db));
        errors.push((format!("clip {number}, deviation {deviation_db} dB"), error));
    }
    errors
}

/// A sung or spoken phrase of some two seconds without a rest inside.
fn phrase_of(number: usize, random: &mut Random) -> Vec<f64> {
    let who = [Instrument::LeadVoice, Instrument::Host, Instrument::BackingVoice(1)][number % 3];
    let seed = random.next_u64();
    let notes = deskside::demo::source::phrase(who, 2.0, seed);
    of_notes(who, &notes, 2.0, seed)
}

/// 90th minus 10th percentile, linear between neighbours.
fn spread_of(gains_db: &[f64]) -> f64 {
    let mut sorted = gains_db.to_vec();
    sorted.sort_by(f64::total_cmp);
    let at = |share: f64| {
        let place = share * (sorted.len() - 1) as f64;
        let below = place as usize;
        let above = (below + 1).min(sorted.len() - 1);
        sorted[below] + (place - below as f64) * (sorted[above] - sorted[below])
    };
    at(0.9) - at(0.1)
}

/// Phrases of a voice with pauses of 0.2 s and with longer ones: how far the active crest moves, and that of the whole, in dB.
pub(crate) fn crest_moves(seed: u64) -> Vec<(String, f64, f64)> {
    let mut moves = Vec::new();
    for number in 0..6 {
        let mut random = Random::branch(seed, 6000 + number as u64);
        let sung: Vec<Vec<f64>> = (0..10).map(|n| phrase_of(number + 3 * n, &mut random)).collect();
        let crests = |pause_s: f64| {
            let mut random = Random::branch(seed, 7000);
            let mut x = Vec::new();
            for phrase in &sung {
                x.extend_from_slice(phrase);
                x.resize(x.len() + samples(pause_s), 0.0);
            }
            x.iter_mut().for_each(|x| *x += amplitude(-75.0) * random.bell());
            let plane = plant::stored(&x);
            let mut meter = LevelMeter::new(RATE_HZ, 1);
            meter.push(Group::new(&[&plane], RATE_HZ));
            let levels = meter.finish().remove(0);
            let whole = [Span::new(0.0, x.len() as f64 / f64::from(RATE_HZ))];
            let active_db = crest::active_db(&levels, &whole).unwrap_or(f64::INFINITY);
            (active_db, crest::whole_db(&levels).unwrap_or(f64::INFINITY))
        };
        let short = crests(0.2);
        for pause_s in [0.7, 2.2, 5.2] {
            let long = crests(pause_s);
            let name = format!("voice {number}, pauses of {pause_s} s");
            moves.push((name, long.0 - short.0, long.1 - short.1));
        }
    }
    moves
}
