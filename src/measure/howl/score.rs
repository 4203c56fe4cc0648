//! What courses of lines mean: howls, and rings in talk.
//!
//! Takes courses, gives events as plain data. Weights are trained, borders stated beside them.

use super::{Course, HowlTrack, Peak, Steady, Stretch};
use crate::unit::Span;

/// A course is part of a howl from this likelihood on.
const IS_HOWL: f64 = 0.4;

/// Courses further than this under the programme are none, in dB.
const UNDER_PROGRAMME_DB: f64 = 20.0;

/// Courses closer than this in time belong to one howl, in seconds.
const JOIN_S: f64 = 0.3;

/// A howl's frequency is that of the strongest course.
/// Weaker courses at simple ratios are overtones of the loudspeaker, in dB.
const RATIOS: [f64; 7] = [2.0, 3.0, 4.0, 5.0, 0.5, 1.0 / 3.0, 1.5];
const AT_RATIO_DB: f64 = 6.0;
const WEAKER_DB: f64 = 10.0;

/// Feedback from a loudspeaker.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Howl {
    /// Begin, in seconds.
    pub start_s: f64,
    /// End, in seconds.
    pub end_s: f64,
    /// Frequency of the strongest line.
    pub hz: f64,
    /// Its highest level.
    pub peak_dbfs: f64,
    /// That level over the programme.
    pub over_programme_db: f64,
    /// How fast it grew; 0 where no straight rise was seen.
    pub growth_db_s: f64,
    /// How likely it is a howl, 0 to 1.
    pub confidence: f64,
}

/// Length from which on the place of the highest level says something, in seconds.
const SHORT_S: f64 = 0.1;

/// How likely a course is feedback, 0 to 1.
///
/// Weights are those of 480 simulated loops and 720 clips of held notes. Terms that bend, as `min` and `max` say, come twice: once
/// over all and once over a part. How far a line stands out counts up to a limit only: a howl that drowns everything is no less one.
pub fn likelihood(course: &Course, programme_dbfs: f64) -> f64 {
    let cents = 1731.0 * course.wander_hz / course.hz.max(1.0);
    let over_db = course.peak_dbfs - programme_dbfs;
    let length_s = course.end_s - course.start_s;
    let before_top = (course.peak_s - course.start_s) / length_s.max(SHORT_S);
    let rate = |db_s: f64| (db_s + 1.0).log10();
    let z = -8.81
        - 0.261 * course.wander_hz.min(8.0)
        - 0.2 * course.wander_hz.min(1.0)
        - 0.1578 * cents.min(25.0)
        + 0.1526 * course.drift_hz.min(10.0)
        + 0.0229 * course.rise.score_db.min(40.0)
        - 0.023 * course.rise.score_db.min(15.0)
        + 0.063 * course.rise.change_db.min(50.0)
        - 1.1115 * course.rise.scatter_db
        + 0.1217 * rate(course.rise.rate_db_s)
        + 0.0668 * course.fall.score_db.min(40.0)
        + 0.0576 * rate(course.fall.rate_db_s)
        + 0.0169 * course.partner_db.max(-60.0)
        - 0.0723 * course.partner_db.max(-35.0)
        + 0.0097 * course.under_db.max(-60.0)
        + 0.1618 * course.mean_db.min(25.0)
        + 0.0547 * course.onset_db.max(-50.0)
        - 0.0976 * course.onset_db.max(-15.0)
        - 0.0082 * over_db.max(-40.0)
        + 0.2732 * over_db.max(0.0)
        - 0.1183 * course.beside_db.min(40.0)
        + 1.4999 * course.seen
        + 0.5333 * length_s.min(4.0)
        - 1.7586 * length_s.min(1.0)
        + 3.8619 * before_top
        + 0.5205 * (course.hz.max(1.0) / 1000.0).log2();
    1.0 / (1.0 + (-z).exp())
}

/// Whether a course is part of a howl.
pub(super) fn is_likely(course: &Course, programme_dbfs: f64) -> bool {
    course.peak_dbfs >= programme_dbfs - UNDER_PROGRAMME_DB
        && likelihood(course, programme_dbfs) >= IS_HOWL
}

/// The howls of a channel, in order of time.
pub fn howls(track: &HowlTrack) -> Vec<Howl> {
    let Some(programme_dbfs) = track.programme_dbfs else { return Vec::new() };
    let mut found: Vec<Howl> = Vec::new();
    let mut end_s = f64::MIN;
    // In order of time, so that courses that touch follow each other.
    for course in track.courses.iter().filter(|course| is_likely(course, programme_dbfs)) {
        let howl = Howl {
            start_s: course.start_s,
            end_s: course.end_s,
            hz: course.hz,
            peak_dbfs: course.peak_dbfs,
            over_programme_db: course.peak_dbfs - programme_dbfs,
            growth_db_s: course.rise.rate_db_s,
            confidence: likelihood(course, programme_dbfs),
        };
        match found.last_mut() {
            Some(last) if course.start_s <= end_s + JOIN_S && belongs(&howl, last) => {
                join(last, &howl);
            }
            _ => found.push(howl),
        }
        end_s = end_s.max(course.end_s);
    }
    found
}

/// Whether two that touch are one event: one frequency, or one much weaker, or a multiple of the other.
fn belongs(a: &Howl, b: &Howl) -> bool {
    let apart_db = (a.peak_dbfs - b.peak_dbfs).abs();
    let ratio = a.hz / b.hz;
    let is_multiple =
        RATIOS.iter().any(|k| (ratio / k - 1.0).abs() < 0.01 || (k * ratio - 1.0).abs() < 0.01);
    (a.hz - b.hz).abs() < 3.0_f64.max(0.029 * b.hz)
        || apart_db >= WEAKER_DB
        || (is_multiple && apart_db >= AT_RATIO_DB)
}

fn join(one: &mut Howl, other: &Howl) {
    let confidence = one.confidence.max(other.confidence);
    let (start_s, end_s) = (one.start_s.min(other.start_s), one.end_s.max(other.end_s));
    let stronger = if other.peak_dbfs > one.peak_dbfs { *other } else { *one };
    *one = Howl { start_s, end_s, confidence, ..stronger };
}

/// A frequency at which a channel rings while somebody talks.
#[derive(Clone, Debug, PartialEq)]
pub struct NearRing {
    /// Frequency.
    pub hz: f64,
    /// How long it rang in all, in seconds.
    pub rings_s: f64,
    /// When: one span each time.
    pub at: Vec<Span>,
}

/// Frequencies within this are one, in Hz; and those that stand out in two stretches.
const SAME_HZ: f64 = 3.0;
const APART_HZ: f64 = 6.0;

/// What stands out by this on the mean of two stretches rings. Of 128 loops each, some hundred were told 0.8 dB under the edge, four at 3 dB
/// and none at 6 dB; talk without a loop came to 8.8 dB in rooms, to 10.1 dB with a band at -8 to -30 dB behind it.
const STANDS_OUT_DB: f64 = 10.0;

/// Least standard deviation of its level, in dB: of tones that stay where they are nearly all have less, for the voice's overtones lift them
/// now and then only; rings have it in nine of ten.
const MOVES_DB: f64 = 3.0;

/// What stands out by this much less than another in the same talk is that loop further from the edge, in dB.
const LESSER_DB: f64 = 3.0;

/// Least number of windows that are loud enough, of the 46 of two stretches.
const LEAST_WINDOWS: usize = 15;

/// Frequencies at which a channel rings in talk, the one that rings longest first.
pub fn near_rings(track: &HowlTrack, talk: &[Span]) -> Vec<NearRing> {
    let is_in = |span: &Span, at: Span| span.start_s <= at.start_s && at.end_s <= span.end_s;
    let in_talk = |line: &&Steady| talk.iter().any(|span| is_in(span, line.span()));
    let lines: Vec<&Steady> = track.steady.iter().filter(in_talk).collect();
    let mut found: Vec<Peak> = Vec::new();
    for span in talk {
        let both = |pair: &[Stretch]| Span::new(pair[0].start_s, pair[1].end_s);
        let pairs = track.stretches.windows(2).filter(|pair| is_in(span, both(pair)));
        let mut here: Vec<Peak> = pairs.flat_map(|pair| edges(pair, both(pair), &lines)).collect();
        let most_db = here.iter().map(|edge| edge.over_db).fold(0.0, f64::max);
        here.retain(|edge| edge.over_db >= most_db - LESSER_DB);
        found.append(&mut here);
    }
    let mut rings: Vec<NearRing> =
        apart(found).iter().filter_map(|edge| ring(edge.hz, &lines)).collect();
    rings.sort_by(|a, b| b.rings_s.total_cmp(&a.rings_s));
    rings
}

/// What stands out of two stretches together, where a line lies whose level rises or falls straight.
fn edges(pair: &[Stretch], at: Span, lines: &[&Steady]) -> Vec<Peak> {
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
    let peaks = pair.iter().flat_map(|stretch| &stretch.peaks).map(both);
    let stands_out = |peak: &Peak| peak.over_db >= STANDS_OUT_DB && peak.moves_db >= MOVES_DB;
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
fn ring(hz: f64, lines: &[&Steady]) -> Option<NearRing> {
    let same: Vec<&Steady> =
        lines.iter().copied().filter(|line| (line.hz - hz).abs() < SAME_HZ).collect();
    let mut at: Vec<Span> = same.iter().map(|line| line.span()).collect();
    at.sort_by(|a, b| a.start_s.total_cmp(&b.start_s));
    let rings_s: f64 = at.iter().map(|span| span.length_s()).sum();
    let weighted: f64 = same.iter().map(|line| line.hz * line.span().length_s()).sum();
    (rings_s > 0.0).then(|| NearRing { hz: weighted / rings_s, rings_s, at })
}
