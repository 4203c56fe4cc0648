//! Howls: loops over the edge against held notes.

use std::fmt::Write as _;

use deskside::dsp::Group;
use deskside::measure::howl::{Howl, HowlMeter, Look, howls};
use rayon::prelude::*;

use super::median_and_most;
use super::witness::{self, Marks};
use crate::support::held;
use crate::support::howling::{self, Programme, RATE_HZ, Truth, is_one_of};

/// Loops with talk, and with music; as many clips without feedback: two kinds of talk in turn, held notes of 23 kinds.
const N_TALK: u64 = 48;
const N_MUSIC: u64 = 72;

/// Howls that feedback lifts this far over the programme are to be found, in dB.
const PLAIN_DB: f64 = 3.0;

/// Bars: F1, and how far the frequency may be off.
const F1: f64 = 0.95;
const OFF_HZ: f64 = 1.0;

fn found(clip: &[f32]) -> Vec<Howl> {
    let mut meter = HowlMeter::new(RATE_HZ, &[Look::Howls]);
    for block in clip.chunks(16_384) {
        meter.push(Group::new(&[block], RATE_HZ));
    }
    howls(&meter.finish().remove(0))
}

/// What counts.
#[derive(Clone, Copy, Default)]
struct Score {
    hits: usize,
    misses: usize,
    wrong: usize,
}

impl Score {
    fn f1(self) -> f64 {
        let Self { hits, misses, wrong } = self;
        2.0 * hits as f64 / (2 * hits + misses + wrong).max(1) as f64
    }
}

/// Clips of a programme, each with what was found and how the criteria mark it.
struct Clips {
    loops: Vec<(Vec<Howl>, Marks, Truth)>,
    others: Vec<(Vec<Howl>, Marks, &'static str)>,
}

impl Clips {
    fn drawn(programme: Programme, first: u64) -> Self {
        let n_clips = if programme == Programme::Talk { N_TALK } else { N_MUSIC };
        let seeds = first..first + n_clips;
        let a_loop = |seed: u64| {
            let (clip, truth) = howling::howling_in(seed, programme);
            (found(&clip), witness::marks(&clip), truth)
        };
        let other = |seed: u64| {
            let (clip, kind) = without_loop(seed, programme)?;
            Some((found(&clip), witness::marks(&clip), kind))
        };
        Self {
            loops: seeds.clone().into_par_iter().map(a_loop).collect(),
            others: seeds.into_par_iter().filter_map(other).collect(),
        }
    }

    /// Loops whose howl is to be found.
    fn plain(&self) -> impl Iterator<Item = &(Vec<Howl>, Marks, Truth)> {
        self.loops.iter().filter(|(.., truth)| truth.over_db > PLAIN_DB)
    }

    /// The best that a published criterion can do.
    fn witness(&self, way: usize) -> Score {
        let loops: Vec<f64> = self.plain().map(|(_, marks, _)| marks[way]).collect();
        let others: Vec<f64> = self.others.iter().map(|(_, marks, _)| marks[way]).collect();
        best(&loops, &others)
    }
}

/// A clip without feedback, and its kind; none where the kind belongs to the other programme.
fn without_loop(seed: u64, programme: Programme) -> Option<(Vec<f32>, &'static str)> {
    if programme == Programme::Talk {
        let beside = (seed % 2) as usize;
        return Some((howling::talking(seed, beside), howling::BESIDE_TALK[beside]));
    }
    let is_talk = held::KINDS[(seed % held::KINDS.len() as u64) as usize] == "speech";
    (!is_talk).then(|| held::innocent(seed))
}

/// What the review says of some clips.
#[derive(Default)]
struct Review {
    score: Score,
    off_hz: Vec<f64>,
    missed_db: Vec<f64>,
    wrong: Vec<&'static str>,
}

impl Review {
    fn of(clips: &Clips) -> Self {
        let mut review = Self::default();
        for (howls, _, truth) in &clips.loops {
            let all: Vec<f64> = truth.lines_hz.iter().chain(&truth.near_hz).copied().collect();
            let is_wrong = |howl: &&Howl| !is_one_of(howl.hz, &all);
            review.wrong.extend(howls.iter().filter(is_wrong).map(|_| "loop"));
        }
        for (howls, _, truth) in clips.plain() {
            match howls.iter().find(|howl| is_one_of(howl.hz, &truth.lines_hz)) {
                Some(hit) => {
                    review.score.hits += 1;
                    let off = |line_hz: &f64| (line_hz - hit.hz).abs();
                    review.off_hz.push(truth.lines_hz.iter().map(off).fold(f64::MAX, f64::min));
                }
                None => {
                    review.score.misses += 1;
                    review.missed_db.push(truth.over_db);
                }
            }
        }
        let others = clips.others.iter();
        review.wrong.extend(others.flat_map(|(howls, _, kind)| howls.iter().map(|_| *kind)));
        review.score.wrong = review.wrong.len();
        review
    }
}

pub(super) fn table(first: u64) -> String {
    let parts = [("talk", Programme::Talk), ("music", Programme::Music)]
        .map(|(name, programme)| (name, Clips::drawn(programme, first)));
    let reviews = parts.each_ref().map(|(_, clips)| Review::of(clips));
    let all = |of: fn(&Review) -> &Vec<f64>| reviews.iter().flat_map(of).copied().collect();
    let (off_hz, missed_db): (Vec<f64>, Vec<f64>) =
        (all(|review| &review.off_hz), all(|review| &review.missed_db));
    let wrong = reviews.iter().flat_map(|review| &review.wrong);
    let (median_hz, most_hz) = median_and_most(&off_hz);
    let [talk, music] =
        parts.each_ref().map(|(_, clips)| (clips.plain().count(), clips.others.len()));
    let mut out = format!(
        "Howls more than {PLAIN_DB:.0} dB over the programme: {} simulated closed loops into which somebody talks and {} with singing or an\n\
         instrument, two of three of these with others; and clips without feedback: {} of talk in a room or over a hum, {} of 23 kinds of held\n\
         notes. A howl told where there is none, or at a frequency that no loop has, is wrong. Bars: F1 {F1}, frequency within\n\
         {OFF_HZ} Hz. The published criteria are judged clip by clip, without their frequency, at the threshold that does best on these very\n\
         clips. Frequency of the review: median error {median_hz} Hz, largest {most_hz} Hz. Missed, dB over the programme: {}. Wrong: {}.\n\n\
         Published F1: the highest of Tables 3 and 4 of M. Mounir, G. Bernardi and T. van Waterschoot, \"Robust and early howling detection based\n\
         on a sparsity measure\", EURASIP J. Audio Speech Music Process. 2025, in speech beside talk and in music beside music, 'full' / 'early'\n\
         as they call it. They were scored by bins and frames of 58 excerpts of 20 s, which is harder than to tell clips apart, and on other sound: what is\n\
         like for like are the rows of this table.\n\n\
         | programme | way | found | missed | wrong | F1 | published F1 |\n| --- | --- | --- | --- | --- | --- | --- |\n",
        talk.0,
        music.0,
        talk.1,
        music.1,
        listed(missed_db.iter().map(|db| format!("{db:.0}"))),
        listed(wrong.map(|kind| (*kind).to_owned())),
    );
    for (at, ((programme, clips), review)) in parts.iter().zip(&reviews).enumerate() {
        row(&mut out, programme, "review", review.score, None);
        for (way, (name, published)) in witness::NAMES.into_iter().enumerate() {
            row(&mut out, programme, name, clips.witness(way), published.map(|both| both[at]));
        }
    }
    out
}

/// The best that one threshold can do.
fn best(loops: &[f64], others: &[f64]) -> Score {
    let at = |threshold: f64| {
        let hits = loops.iter().filter(|mark| **mark >= threshold).count();
        let wrong = others.iter().filter(|mark| **mark >= threshold).count();
        Score { hits, misses: loops.len() - hits, wrong }
    };
    let scores = loops.iter().map(|threshold| at(*threshold));
    scores.max_by(|a, b| a.f1().total_cmp(&b.f1())).unwrap_or_default()
}

fn row(out: &mut String, programme: &str, way: &str, score: Score, published: Option<[f64; 2]>) {
    let Score { hits, misses, wrong } = score;
    let published =
        published.map_or("-".to_owned(), |[all, early]| format!("{all:.2} / {early:.2}"));
    let _ = writeln!(
        out,
        "| {programme} | {way} | {hits} | {misses} | {wrong} | {:.3} | {published} |",
        score.f1()
    );
}

fn listed(values: impl Iterator<Item = String>) -> String {
    let all: Vec<String> = values.collect();
    if all.is_empty() { "none".to_owned() } else { all.join(", ") }
}
