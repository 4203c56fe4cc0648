//! Lines followed from window to window, and what their course says.
//!
//! Takes the lines of successive windows, gives each line that lasted long enough as plain figures. Never judges.

use super::spectra::Line;

/// How far a line may move from one window to the next: in Hz, and as a share.
const MOVES_HZ: f32 = 5.0;
const MOVES_SHARE: f32 = 0.008;

/// Windows that a line may be absent.
const MOST_ABSENT: usize = 2;

/// Frequencies whose median says where the line is.
const RECENT: usize = 5;

/// Longest course that is kept in one piece, in windows: 20 s.
const LONGEST: usize = 640;

/// Parts of a course that a straight rise is looked for in, in seconds; and a straight fall.
const RISES_S: [f64; 6] = [0.2, 0.3, 0.5, 0.8, 1.4, 2.2];
const FALLS_S: [f64; 4] = [0.3, 0.5, 0.8, 1.4];

/// Smallest rise or fall that counts, in dB.
const LEAST_CHANGE_DB: f64 = 3.0;

/// What a decibel of scatter about a straight line takes off a change.
const SCATTER_COUNTS: f64 = 6.0;

/// The part of a course near its highest level, and nearer, in dB.
const TOP_DB: f32 = 15.0;
const PEAK_DB: f32 = 6.0;

/// A rise or a fall along a straight line.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Change {
    /// How much it changes, minus six times the scatter.
    pub score_db: f64,
    /// How much it changes.
    pub change_db: f64,
    /// How fast.
    pub rate_db_s: f64,
    /// Root mean square of what lies beside the line.
    pub scatter_db: f64,
}

/// The course of one line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Course {
    /// Begin, in seconds.
    pub start_s: f64,
    /// End, in seconds.
    pub end_s: f64,
    /// Frequency near its highest level.
    pub hz: f64,
    /// Highest level.
    pub peak_dbfs: f64,
    /// When that is, in seconds.
    pub peak_s: f64,
    /// Standard deviation of the frequency while within 15 dB of the highest level.
    pub wander_hz: f64,
    /// How far the frequency moves from the first third to the last.
    pub drift_hz: f64,
    /// Its straightest rise.
    pub rise: Change,
    /// Its straightest fall.
    pub fall: Change,
    /// Highest overtone or undertone, re the line.
    pub partner_db: f64,
    /// Highest undertone, re the line.
    pub under_db: f64,
    /// How far it stands over the mean of all bins.
    pub mean_db: f64,
    /// How far it stands over its surroundings.
    pub beside_db: f64,
    /// Level 60 ms after its begin, re the highest.
    pub onset_db: f64,
    /// Share of the windows in which it was seen.
    pub seen: f64,
}

/// A line that goes on.
#[derive(Clone, Debug)]
struct Open {
    windows: Vec<usize>,
    lines: Vec<Line>,
}

impl Open {
    fn last(&self) -> Line {
        self.lines.last().copied().unwrap_or_default()
    }

    fn hz(&self) -> f32 {
        if self.lines.len() < RECENT {
            return self.last().hz;
        }
        let mut recent = [0.0; RECENT];
        for (slot, line) in recent.iter_mut().zip(&self.lines[self.lines.len() - RECENT..]) {
            *slot = line.hz;
        }
        recent.sort_by(f32::total_cmp);
        recent[RECENT / 2]
    }
}

/// Links lines to courses.
#[derive(Clone, Debug)]
pub(super) struct Tracks {
    hop_s: f64,
    /// Fewest windows of a course.
    fewest: usize,
    open: Vec<Open>,
    used: Vec<bool>,
}

impl Tracks {
    /// For windows `hop_s` apart; courses shorter than `shortest_s` are dropped.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "some tens of windows"
    )]
    pub(super) fn new(hop_s: f64, shortest_s: f64) -> Self {
        let fewest = (shortest_s / hop_s).round() as usize;
        Self { hop_s, fewest: fewest.max(3), open: Vec::new(), used: Vec::new() }
    }

    /// Takes the lines of a window; calls `done` for each course that has ended.
    pub(super) fn push(&mut self, window: usize, lines: &[Line], mut done: impl FnMut(Course)) {
        self.used.clear();
        self.used.resize(lines.len(), false);
        self.open.sort_by(|a, b| b.last().dbfs.total_cmp(&a.last().dbfs));
        for open in &mut self.open {
            let hz = open.hz();
            let reach = MOVES_HZ.max(MOVES_SHARE * hz);
            // The strongest comes first.
            let next = (0..lines.len())
                .find(|&line| !self.used[line] && (lines[line].hz - hz).abs() < reach);
            if let Some(line) = next {
                self.used[line] = true;
                open.windows.push(window);
                open.lines.push(lines[line]);
            }
        }
        let (fewest, hop_s) = (self.fewest, self.hop_s);
        self.open.retain(|open| {
            let last = open.windows.last().copied().unwrap_or(window);
            let goes_on = window <= last + MOST_ABSENT && open.lines.len() < LONGEST;
            if !goes_on && open.lines.len() >= fewest {
                done(course(open, hop_s));
            }
            goes_on
        });
        for (line, &used) in lines.iter().zip(&self.used) {
            if !used {
                self.open.push(Open { windows: vec![window], lines: vec![*line] });
            }
        }
    }

    /// Ends all courses.
    pub(super) fn finish(&mut self, mut done: impl FnMut(Course)) {
        for open in self.open.drain(..) {
            if open.lines.len() >= self.fewest {
                done(course(&open, self.hop_s));
            }
        }
    }
}

#[expect(clippy::cast_precision_loss, reason = "counts of windows are small")]
fn course(open: &Open, hop_s: f64) -> Course {
    let lines = &open.lines;
    let top = (0..lines.len())
        .max_by(|&a, &b| lines[a].dbfs.total_cmp(&lines[b].dbfs).then(b.cmp(&a)))
        .unwrap_or(0);
    let peak = lines[top].dbfs;
    let near: Vec<&Line> = lines.iter().filter(|line| line.dbfs > peak - TOP_DB).collect();
    let of_near = |value: fn(&Line) -> f32| {
        let mut values: Vec<f32> = near.iter().map(|line| value(line)).collect();
        middle(&mut values)
    };
    let mut at_peak: Vec<f32> =
        lines.iter().filter(|line| line.dbfs > peak - PEAK_DB).map(|line| line.hz).collect();
    let mean = near.iter().map(|line| f64::from(line.hz)).sum::<f64>() / near.len() as f64;
    let spread = near.iter().map(|line| (f64::from(line.hz) - mean).powi(2)).sum::<f64>();
    let third = (lines.len() / 3).max(3).min(lines.len());
    let part = |lines: &[Line]| middle(&mut lines.iter().map(|line| line.hz).collect::<Vec<f32>>());
    let levels = filled(open);
    let under_db = of_near(|line| line.under_db);
    let over_db = of_near(|line| line.over_db);
    // Two windows after the first: 60 ms.
    let early = lines[2.min(lines.len() - 1)].dbfs;
    let (first, last) = (open.windows[0], open.windows[open.windows.len() - 1]);
    Course {
        start_s: first as f64 * hop_s,
        end_s: last as f64 * hop_s,
        hz: middle(&mut at_peak),
        peak_dbfs: f64::from(peak),
        peak_s: open.windows[top] as f64 * hop_s,
        wander_hz: (spread / near.len() as f64).sqrt(),
        drift_hz: (part(&lines[..third]) - part(&lines[lines.len() - third..])).abs(),
        rise: straightest(&levels, &RISES_S, 1.0, hop_s),
        fall: straightest(&levels, &FALLS_S, -1.0, hop_s),
        partner_db: under_db.max(over_db),
        under_db,
        mean_db: of_near(|line| line.mean_db),
        beside_db: of_near(|line| line.beside_db),
        onset_db: f64::from(early - peak),
        seen: lines.len() as f64 / levels.len() as f64,
    }
}

/// Levels of a course with those of absent windows drawn in.
#[expect(clippy::cast_precision_loss, reason = "counts of windows are small")]
fn filled(open: &Open) -> Vec<f64> {
    let mut levels: Vec<f64> = Vec::new();
    let mut last: Option<(usize, f64)> = None;
    for (&window, line) in open.windows.iter().zip(&open.lines) {
        let level = f64::from(line.dbfs);
        if let Some((before, from)) = last {
            for step in 1..window - before {
                let share = step as f64 / (window - before) as f64;
                levels.push(from + share * (level - from));
            }
        }
        levels.push(level);
        last = Some((window, level));
    }
    levels
}

/// The part of a course that rises (or falls, with `sign` -1) most along a straight line.
#[expect(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "counts of windows are small"
)]
fn straightest(levels: &[f64], lengths_s: &[f64], sign: f64, hop_s: f64) -> Change {
    let mut best = Change::default();
    for length_s in lengths_s {
        let n = (length_s / hop_s).round() as usize;
        if n > levels.len() {
            break;
        }
        for start in (0..=levels.len() - n).step_by((n / 6).max(1)) {
            let part = &levels[start..start + n];
            let (middle, mean) = (0.5 * (n - 1) as f64, part.iter().sum::<f64>() / n as f64);
            let places = n as f64 * (n * n - 1) as f64 / 12.0;
            let slope = part
                .iter()
                .enumerate()
                .map(|(at, level)| (at as f64 - middle) * (level - mean))
                .sum::<f64>()
                / places;
            let change_db = sign * slope * (n - 1) as f64;
            if change_db <= LEAST_CHANGE_DB {
                continue;
            }
            let beside = part
                .iter()
                .enumerate()
                .map(|(at, level)| (level - mean - slope * (at as f64 - middle)).powi(2))
                .sum::<f64>();
            let scatter_db = (beside / n as f64).sqrt();
            let score_db = change_db - SCATTER_COUNTS * scatter_db;
            if score_db > best.score_db {
                let rate_db_s = sign * slope / hop_s;
                best = Change { score_db, change_db, rate_db_s, scatter_db };
            }
        }
    }
    best
}

fn middle(values: &mut [f32]) -> f64 {
    values.sort_by(f32::total_cmp);
    values.get(values.len() / 2).map_or(0.0, |&value| f64::from(value))
}
