//! Rings: what stands out for seconds of talk and falls along a straight line, as a loop just under the edge does.
//!
//! Takes steady lines and stretches of one channel, gives frequencies with the moments in which each rang. Never knows other channels.

use super::{HowlTrack, Peak, Steady, Stretch};
use crate::unit::Span;

/// A frequency at which a channel rings while somebody talks.
#[derive(Clone, Debug, PartialEq)]
pub struct NearRing {
    /// Frequency.
    pub hz: f64,
    /// How far it stood out at most, on the mean of 6 s.
    pub over_db: f64,
    /// How long it rang in all, in seconds.
    pub rings_s: f64,
    /// When: one span each time.
    pub at: Vec<Span>,
}

/// How a channel hears whoever talks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ear {
    /// Through their own microphone.
    Close,
    /// Through a mix, with what else is in it: effects, playback, keys by wire.
    Mixed,
    /// From across the hall, whose resonances ring too.
    Afar,
}

/// Frequencies within this are one, in Hz; and those that stand out in two stretches.
const SAME_HZ: f64 = 3.0;
const APART_HZ: f64 = 6.0;

/// What stands out by this on the mean of two stretches rings. Of 128 loops each, some hundred were told 0.8 dB under the edge, four at 3 dB
/// and none at 6 dB; talk without a loop came to 8.8 dB in rooms, to 10.1 dB with a band at -8 to -30 dB behind it.
const STANDS_OUT_DB: f64 = 10.0;

/// In mixes and from afar it stands out by the first of these once and by the second another time. A loop is there whenever somebody
/// talks; a chord, or a vowel on a resonance of the hall, is not: of 756 clips of talk without a loop one was told, of 504 that nothing was
/// set with three.
const COMES_BACK_DB: [f64; 2] = [12.0, 8.0];

/// Lowest frequency from afar, in Hz: below, single resonances of a hall stand out as far as loops do.
const AFAR_HZ: f64 = 250.0;

/// Least standard deviation of its level, in dB: of tones that stay where they are nearly all have less, for the voice's overtones lift them
/// now and then only; rings have it in nine of ten.
const MOVES_DB: f64 = 3.0;

/// What stands out by this much less than another in the same talk is that loop further from the edge, in dB.
const LESSER_DB: f64 = 3.0;

/// Least number of windows that are loud enough, of the 46 of two stretches.
const LEAST_WINDOWS: usize = 15;

/// A ring of another channel is heard where it stands out by this on the mean of all stretches in which that one rings, in dB.
const HEARD_DB: f64 = 6.0;

/// What rings in two stretches together.
struct Edge {
    talk_idx: usize,
    at: Span,
    peak: Peak,
}

/// Frequencies at which a channel rings in talk, the one that rings longest first.
pub fn near_rings(track: &HowlTrack, talk: &[Span], ear: Ear) -> Vec<NearRing> {
    let is_in = |span: &Span, at: Span| span.start_s <= at.start_s && at.end_s <= span.end_s;
    let in_talk = |line: &&Steady| talk.iter().any(|span| is_in(span, line.span()));
    let lines: Vec<&Steady> = track.steady.iter().filter(in_talk).collect();
    let mut found: Vec<Edge> = Vec::new();
    for (talk_idx, span) in talk.iter().enumerate() {
        let both = |pair: &[Stretch]| Span::new(pair[0].start_s, pair[1].end_s);
        let pairs = track.stretches.windows(2).filter(|pair| is_in(span, both(pair)));
        found.extend(pairs.flat_map(|pair| {
            let at = both(pair);
            edges(pair, at, &lines, ear).into_iter().map(move |peak| Edge { talk_idx, at, peak })
        }));
    }
    if ear != Ear::Close {
        let comes_back: Vec<bool> = found.iter().map(|edge| comes_back(edge, &found)).collect();
        let mut is_kept = comes_back.into_iter();
        found.retain(|_| is_kept.next().unwrap_or(false));
    }
    let most_db = |talk_idx: usize| {
        let here = found.iter().filter(|edge| edge.talk_idx == talk_idx);
        here.map(|edge| edge.peak.over_db).fold(0.0, f64::max)
    };
    let is_most = |edge: &&Edge| edge.peak.over_db >= most_db(edge.talk_idx) - LESSER_DB;
    let peaks = apart(found.iter().filter(is_most).map(|edge| edge.peak).collect());
    let mut rings: Vec<NearRing> = peaks.iter().filter_map(|peak| ring(*peak, &lines)).collect();
    rings.sort_by(|a, b| b.rings_s.total_cmp(&a.rings_s));
    rings
}

/// Whether a ring of another channel, at a frequency and some times, is heard in a channel: how far it stands out on the mean.
pub fn heard_db(track: &HowlTrack, hz: f64, at: &[Span]) -> Option<f64> {
    let meanwhile = |stretch: &&Stretch| {
        let span = Span::new(stretch.start_s, stretch.end_s);
        at.iter().any(|one| one.shared(span).is_some())
    };
    let over_db = |stretch: &Stretch| {
        let peaks = stretch.peaks.iter().filter(|peak| (peak.hz - hz).abs() < SAME_HZ);
        peaks.map(|peak| peak.over_db).fold(0.0, f64::max)
    };
    let all: Vec<f64> = track.stretches.iter().filter(meanwhile).map(over_db).collect();
    #[expect(clippy::cast_precision_loss, reason = "some thousands of stretches")]
    let mean_db = all.iter().sum::<f64>() / all.len().max(1) as f64;
    (mean_db >= HEARD_DB).then_some(mean_db)
}

/// Whether another time of talk rings at that frequency, and one of the two far enough.
fn comes_back(edge: &Edge, all: &[Edge]) -> bool {
    let [far_db, near_db] = COMES_BACK_DB;
    let enough = |other: &Edge| {
        let (a, b) = (edge.peak.over_db, other.peak.over_db);
        a.max(b) >= far_db && a.min(b) >= near_db
    };
    all.iter().any(|other| {
        (other.peak.hz - edge.peak.hz).abs() < SAME_HZ
            && other.at.shared(edge.at).is_none()
            && enough(other)
    })
}

/// What stands out of two stretches together, where a line lies whose level rises or falls straight.
fn edges(pair: &[Stretch], at: Span, lines: &[&Steady], ear: Ear) -> Vec<Peak> {
    let n: usize = pair.iter().map(|stretch| stretch.n_windows).sum();
    if n < LEAST_WINDOWS {
        return Vec::new();
    }
    #[expect(clippy::cast_precision_loss, reason = "some tens of windows")]
    let share = |stretch: &Stretch| stretch.n_windows as f64 / n as f64;
    let both = |peak: &Peak| {
        let (mut over_db, mut moves_db) = (0.0, 0.0);
        for stretch in pair {
            let is_same = |other: &&Peak| (other.hz - peak.hz).abs() < SAME_HZ;
            if let Some(other) = stretch.peaks.iter().find(is_same) {
                over_db += share(stretch) * other.over_db;
                moves_db += share(stretch) * other.moves_db;
            }
        }
        Peak { hz: peak.hz, over_db, moves_db }
    };
    let is_straight = |hz: f64| {
        lines.iter().any(|line| {
            line.is_straight && (line.hz - hz).abs() < SAME_HZ && line.span().shared(at).is_some()
        })
    };
    let [least_db, least_hz] = match ear {
        Ear::Close => [STANDS_OUT_DB, 0.0],
        Ear::Mixed => [COMES_BACK_DB[1], 0.0],
        Ear::Afar => [COMES_BACK_DB[1], AFAR_HZ],
    };
    let stands_out =
        |peak: &Peak| peak.over_db >= least_db && peak.moves_db >= MOVES_DB && peak.hz >= least_hz;
    let peaks = pair.iter().flat_map(|stretch| &stretch.peaks).map(both);
    peaks.filter(|peak| stands_out(peak) && is_straight(peak.hz)).collect()
}

/// Those that stand out most, each frequency once.
fn apart(mut peaks: Vec<Peak>) -> Vec<Peak> {
    peaks.sort_by(|a, b| b.over_db.total_cmp(&a.over_db).then(a.hz.total_cmp(&b.hz)));
    let mut kept: Vec<Peak> = Vec::new();
    for peak in peaks {
        if kept.iter().all(|one| (one.hz - peak.hz).abs() >= APART_HZ) {
            kept.push(peak);
        }
    }
    kept
}

/// The ring that the lines of one frequency make.
fn ring(peak: Peak, lines: &[&Steady]) -> Option<NearRing> {
    let same: Vec<&Steady> =
        lines.iter().copied().filter(|line| (line.hz - peak.hz).abs() < SAME_HZ).collect();
    let mut at: Vec<Span> = same.iter().map(|line| line.span()).collect();
    at.sort_by(|a, b| a.start_s.total_cmp(&b.start_s));
    let rings_s: f64 = at.iter().map(|span| span.length_s()).sum();
    let weighted: f64 = same.iter().map(|line| line.hz * line.span().length_s()).sum();
    let over_db = peak.over_db;
    (rings_s > 0.0).then(|| NearRing { hz: weighted / rings_s, over_db, rings_s, at })
}
