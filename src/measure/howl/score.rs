//! What courses of lines mean: howls.
//!
//! Takes courses, gives events as plain data. Weights are trained, borders stated beside them.

use super::{Course, HowlTrack};

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
