//! # Howls and rings
//!
//! Feedback: a loop of microphone and loudspeaker that sings on one frequency, or nearly does.
//!
//! - **Formula:** lines of windows of 128 ms every 32 ms (about 24 kHz, Blackman-Harris) that stand 12 dB over what lies 45 to
//!   120 Hz away, followed from window to window. A logistic score of each course: it wanders little, begins far under its
//!   highest level, has no overtones or undertones and stands over the programme; 0.4 or more is a howl. Courses at one
//!   time are one howl: begin of the first, frequency of the strongest. Windows are looked at closely only around places where
//!   one line holds a tenth of the power in two of three looks 128 ms apart. Rings: frequencies whose level stands 10 dB over the
//!   mean power 12 to 40 Hz beside them on the mean of 6 s of talk (windows of 256 ms every 128 ms, Hann, the loudest 30 dB),
//!   moves by 3 dB (standard deviation), and that hold a course of 0.3 s within 1.2 Hz whose level rises or falls along a
//!   straight line; what stands out 3 dB less than another in the same talk is left out, as that loop further from the edge. In
//!   mixes and from afar (hall, choir): 12 dB once and 8 dB in another 6 s of talk, both with such a course; from afar from 250 Hz on
//! - **Unit:** Hz; dB a second; s
//! - **Range:** 80 to 7600 Hz
//! - **Source:** criteria after T. van Waterschoot and M. Moonen, "Fifty years of acoustic feedback control", Proc. IEEE 99(2),
//!   2011; weights from trials on simulated loops and 24 kinds of held notes
//! - **Window:** whole recording; rings: talk alone
//! - **No value:** howls more than 20 dB under the programme; rings where somebody sings or plays, and more than about 1.5 dB under
//!   the edge; from afar below 250 Hz. Of loops 0.8 dB under the edge a hall microphone shows one in three: none there says nothing
//! - **Misleads when:** a whistle or a guitar held in front of its amplifier sings one pure note; other channels and the
//!   kind of source tell those; one that goes on for more than a quarter of the recording becomes the programme itself. Rings:
//!   a chord held softly behind the talk, a tone of a lamp or a supply 20 to 40 dB under the voice that its overtones lift

mod course;
mod edge;
mod rings;
mod score;
mod spectra;

use course::Tracks;
pub use course::{Change, Course};
use edge::Edge;
pub use edge::{Peak, Stretch};
pub use rings::{Ear, NearRing, heard_db, near_rings};
pub use score::{Howl, howls, likelihood};
use spectra::{Line, Spectra, sum_of};

use crate::dsp::lanes::{Frame, Isa, LANES, for_each_pack, part};
use crate::dsp::percentile::percentile;
use crate::dsp::{Decimator, Group};
use crate::unit::Span;

/// Rate that is looked at, about; and the band kept.
const LOW_RATE_HZ: f64 = 24_000.0;
const PASS_HZ: f64 = 8000.0;

/// Terms of a Blackman-Harris window (F. J. Harris, Proc. IEEE 66(1), 1978), whose lobe hides nothing, and of Hann's.
const BLACKMAN_HARRIS: [f64; 4] = [0.358_75, 0.488_29, 0.141_28, 0.011_68];
const HANN: [f64; 2] = [0.5, 0.5];

/// Window of the close look and its steps in a window; window of the first look. In seconds.
const CLOSE_S: f64 = 0.128;
const STEPS_IN_WINDOW: usize = 4;
const FIRST_S: f64 = 0.043;

/// Share of the power that the strongest line of a first look holds, and the power it needs: -65 dBFS.
const HOLDS: f32 = 0.1;
const LEAST_POWER: f32 = 3.2e-7;

/// Frames that are parted into their lanes at a time.
const PART: usize = 512;

/// What is left of a line this many bins away: -15 dB.
const FALLS: f32 = 0.03;
const REACH: usize = 4;

/// How far lines of two looks may lie apart and be one, in bins.
const SAME_BINS: usize = 1;

/// First looks that are compared, and how many make a line.
const LOOKS: usize = 3;

/// How far back the close look begins, and how long it goes on, in windows of the close look.
const BACK_WINDOWS: usize = 16;
const ON_WINDOWS: usize = 5;

/// Shortest course, in seconds.
const SHORTEST_S: f64 = 0.3;

/// Courses kept of a channel: in a long take, the likeliest.
const MOST_COURSES: usize = 4000;

/// A course that can't reach this likelihood is not kept for howls.
const KEEPS: f64 = 0.15;

/// Share of the levels of 128 ms that lie below the programme level.
const PROGRAMME: f64 = 0.75;

/// What is looked for in a channel.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Look {
    /// Nothing: no feedback reaches it.
    Away,
    /// Howls, and the same notes where they are played.
    Howls,
    /// Rings too, which costs more.
    Rings,
    /// Rings too, apart from howls: in mixes, choirs and halls, where music has a line at any time, howls are looked for as without rings.
    Apart,
}

impl Look {
    /// Whether rings are looked for.
    fn wants_rings(self) -> bool {
        matches!(self, Self::Rings | Self::Apart)
    }

    /// What is followed at once in a channel.
    fn followers(self, hop_s: f64) -> Vec<Follower> {
        let all: &[Keeps] = match self {
            Self::Away => &[],
            Self::Howls => &[Keeps::Howls],
            Self::Rings => &[Keeps::Both],
            Self::Apart => &[Keeps::Howls, Keeps::Rings],
        };
        let follower = |&keeps: &Keeps| {
            let tracks = Tracks::new(hop_s, SHORTEST_S);
            Follower { keeps, next: 0, until: 0, tracks }
        };
        all.iter().map(follower).collect()
    }
}

/// What one channel holds of lines.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct HowlTrack {
    /// Programme level: 75th percentile of levels of 128 ms; `None` for digital silence.
    pub programme_dbfs: Option<f64>,
    /// Lines that are likely a howl.
    pub courses: Vec<Course>,
    /// These and all that may be one: what a channel holds while another one howls.
    pub held: Vec<Held>,
    /// Steady lines, where rings were asked for.
    pub steady: Vec<Steady>,
    /// Frequencies that stand out for seconds, where rings were asked for.
    pub stretches: Vec<Stretch>,
}

/// A line in short: an hour has thousands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Held {
    /// Begin, in seconds.
    pub start_s: f64,
    /// End, in seconds.
    pub end_s: f64,
    /// Frequency near its highest level.
    pub hz: f64,
    /// Highest level.
    pub peak_dbfs: f64,
}

impl From<&Course> for Held {
    fn from(course: &Course) -> Self {
        let Course { start_s, end_s, hz, peak_dbfs, .. } = *course;
        Self { start_s, end_s, hz, peak_dbfs }
    }
}

/// A line that stays where it is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Steady {
    /// Begin, in seconds.
    pub start_s: f64,
    /// End, in seconds.
    pub end_s: f64,
    /// Frequency, in Hz.
    pub hz: f64,
    /// Whether its level rises or falls along a straight line, as in a loop.
    pub is_straight: bool,
}

/// Standard deviation and drift of a steady line, in Hz.
const STEADY_WANDER_HZ: f64 = 1.2;
const STEADY_DRIFT_HZ: f64 = 2.0;

impl Steady {
    /// When.
    pub fn span(&self) -> Span {
        Span::new(self.start_s, self.end_s)
    }

    fn of(course: &Course) -> Option<Self> {
        let is_steady = course.wander_hz < STEADY_WANDER_HZ && course.drift_hz < STEADY_DRIFT_HZ;
        let Course { start_s, end_s, hz, rise, fall, .. } = *course;
        let is_straight = rise.score_db.max(fall.score_db) > 0.0;
        is_steady.then_some(Self { start_s, end_s, hz, is_straight })
    }
}

/// Follows lines that may be feedback.
pub struct HowlMeter {
    isa: Isa,
    decimator: Option<Decimator>,
    low: Vec<Frame>,
    delay_s: f64,
    lanes: Vec<Lane>,
}

/// What a lane is looked at with.
#[derive(Clone)]
struct Tools {
    hop: usize,
    close: Spectra,
    first: Spectra,
    long: Spectra,
    lines: Vec<Line>,
}

/// State of one channel.
pub struct Lane {
    /// None where nothing is looked for.
    tools: Option<Tools>,
    /// Samples at the low rate from number `held_from` on.
    held: Vec<f32>,
    held_from: usize,
    /// Number of the next first look.
    look: usize,
    /// Strongest bins of the last looks.
    bins: [Option<usize>; LOOKS],
    followers: Vec<Follower>,
    /// Where rings were asked for.
    edge: Option<Edge>,
    levels_db: Vec<f32>,
    found: HowlTrack,
}

/// What becomes of the courses that are followed.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Keeps {
    Howls,
    Rings,
    Both,
}

/// A close look at the windows that ask for it, or for rings at all that are loud enough.
struct Follower {
    keeps: Keeps,
    /// Next window, and the one it ends before.
    next: usize,
    until: usize,
    tracks: Tracks,
}

impl HowlMeter {
    /// A meter at `rate_hz` for as many channels as `looks` has entries.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        clippy::cast_precision_loss,
        reason = "lengths of windows are some thousands of samples"
    )]
    pub fn new(rate_hz: u32, looks: &[Look]) -> Self {
        let rate = f64::from(rate_hz);
        let factor = ((rate / LOW_RATE_HZ).round() as usize).max(1);
        let low_rate_hz = rate / factor as f64;
        // Without a factor there is nothing to filter.
        let decimator =
            (factor > 1).then(|| Decimator::new(rate, factor, PASS_HZ.min(0.42 * low_rate_hz)));
        // Multiples of 256, which are fast to transform.
        let length = |time_s: f64| 256 * (time_s * low_rate_hz / 256.0).round().max(1.0) as usize;
        let close = Spectra::new(low_rate_hz, length(CLOSE_S), &BLACKMAN_HARRIS);
        let hop = close.length() / STEPS_IN_WINDOW;
        let hop_s = hop as f64 / low_rate_hz;
        let long = Spectra::new(low_rate_hz, 2 * close.length(), &HANN);
        let edge = Edge::new(long.bin_hz(), long.bins(), close.length() as f64 / low_rate_hz);
        let delay_s = decimator.as_ref().map_or(0.0, |d| d.delay() as f64 / rate)
            - 0.5 * close.length() as f64 / low_rate_hz;
        let first = Spectra::new(low_rate_hz, length(FIRST_S), &HANN);
        let tools = Tools { hop, close, first, long, lines: Vec::new() };
        let lane = |&wanted: &Look| Lane {
            tools: (wanted != Look::Away).then(|| tools.clone()),
            held: Vec::new(),
            held_from: 0,
            look: 0,
            bins: [None; LOOKS],
            followers: wanted.followers(hop_s),
            edge: wanted.wants_rings().then(|| edge.clone()),
            levels_db: Vec::new(),
            found: HowlTrack::default(),
        };
        let isa = Isa::best();
        Self { isa, delay_s, decimator, low: Vec::new(), lanes: looks.iter().map(lane).collect() }
    }

    /// Takes a block.
    pub fn push(&mut self, group: Group<'_>) {
        for_each_pack(self.isa, group, |frames| self.take(frames));
        self.lanes().iter_mut().for_each(Lane::look);
    }

    /// Takes samples that are packed already. Once the block is through, each of [`Self::lanes`] is to look at what came.
    pub fn take(&mut self, frames: &[Frame]) {
        let Self { isa, decimator, low, lanes, .. } = self;
        if !lanes.iter().any(Lane::is_looked_at) {
            return;
        }
        low.clear();
        match decimator {
            Some(decimator) => decimator.push(frames, low),
            None => low.extend_from_slice(frames),
        }
        // So many at a time as the nearest cache holds.
        let mut rows = [[0.0; PART]; LANES];
        for frames in low.chunks(PART) {
            part(*isa, frames, &mut rows);
            for (lane, row) in lanes.iter_mut().zip(&rows) {
                if lane.is_looked_at() {
                    lane.held.extend_from_slice(&row[..frames.len()]);
                }
            }
        }
    }

    /// The channels, which look each for itself and in any order: some take far longer than others.
    pub fn lanes(&mut self) -> &mut [Lane] {
        &mut self.lanes
    }

    /// What each channel holds.
    pub fn finish(self) -> Vec<HowlTrack> {
        let delay_s = self.delay_s;
        self.lanes.into_iter().map(|lane| lane.finish(delay_s)).collect()
    }
}

impl Lane {
    fn is_looked_at(&self) -> bool {
        self.tools.is_some()
    }

    /// First looks at what came in, each with the close look that it asks for.
    pub fn look(&mut self) {
        let Some(mut tools) = self.tools.take() else { return };
        let Tools { hop, close, first, long, lines } = &mut tools;
        let every = STEPS_IN_WINDOW * *hop;
        while self.held_from + self.held.len() >= (self.look + 1) * every {
            let from = self.look * every - self.held_from;
            let part = &self.held[from..from + every];
            let power = sum_of(part, |x| x * x) / to_f32(every);
            if power > 0.0 {
                self.levels_db.push(spectra::in_db(power));
            }
            let middle = from + (every - first.length()) / 2;
            let top = (power > LEAST_POWER)
                .then(|| strongest(first, &self.held[middle..middle + first.length()]))
                .flatten();
            let is_same =
                |before: &&usize| top.is_some_and(|top| top.abs_diff(**before) <= SAME_BINS);
            let is_line = self.bins.iter().flatten().filter(is_same).count() > 0;
            self.bins.rotate_left(1);
            self.bins[LOOKS - 1] = top;
            self.sum_up(from, long);
            self.look += 1;
            for follower in &mut self.followers {
                if is_line || (follower.keeps != Keeps::Howls && power > LEAST_POWER) {
                    follower.until = STEPS_IN_WINDOW * (self.look + ON_WINDOWS);
                }
            }
            self.follow(*hop, close, lines);
        }
        self.tools = Some(tools);
    }

    /// Takes the long window that ends with the look at sample `from` of those held, if there has been a look before.
    fn sum_up(&mut self, from: usize, long: &mut Spectra) {
        let (Some(edge), true) = (&mut self.edge, self.look > 0) else { return };
        let half = long.length() / 2;
        let window = &self.held[from - half..from + half];
        let power = f64::from(sum_of(window, |x| x * x) / to_f32(window.len()));
        self.found.stretches.extend(edge.push(power, || long.power(window)));
    }

    /// Looks closely at the windows that are due and held, and drops what no later look needs.
    fn follow(&mut self, hop: usize, close: &mut Spectra, lines: &mut Vec<Line>) {
        let Self { held, held_from, look, followers, found, .. } = self;
        let n_keep = STEPS_IN_WINDOW * BACK_WINDOWS;
        let earliest = (STEPS_IN_WINDOW * *look).saturating_sub(n_keep);
        let n_samples = *held_from + held.len();
        for Follower { keeps, next, tracks, .. } in followers.iter_mut() {
            if *next < earliest {
                tracks.finish(|course| found.keep(course, *keeps));
                *next = earliest;
            }
        }
        let first = followers.iter().map(|follower| follower.next).min().unwrap_or(0);
        let end = followers.iter().map(|follower| follower.until).max().unwrap_or(0);
        for window in first..end {
            if window * hop + close.length() > n_samples {
                break;
            }
            let from = window * hop - *held_from;
            // Looked at once, whoever asks for it.
            let asks = |one: &&mut Follower| one.next == window && window < one.until;
            for (nth, one) in followers.iter_mut().filter(asks).enumerate() {
                if nth == 0 {
                    close.lines(&held[from..from + close.length()], lines);
                }
                one.tracks.push(window, lines, |course| found.keep(course, one.keeps));
                one.next += 1;
            }
        }
        let keep_from = (earliest * hop).max(*held_from);
        // Moved along rarely.
        if keep_from - *held_from > n_keep * hop {
            held.drain(..keep_from - *held_from);
            *held_from = keep_from;
        }
    }

    fn finish(mut self, delay_s: f64) -> HowlTrack {
        let found = &mut self.found;
        for follower in &mut self.followers {
            let keeps = follower.keeps;
            follower.tracks.finish(|course| found.keep(course, keeps));
        }
        let levels: Vec<f64> = self.levels_db.iter().map(|&level| f64::from(level)).collect();
        let mut found = self.found;
        found.programme_dbfs = percentile(&levels, PROGRAMME);
        found.thin();
        for course in &mut found.courses {
            for time_s in [&mut course.start_s, &mut course.end_s, &mut course.peak_s] {
                *time_s = (*time_s - delay_s).max(0.0);
            }
        }
        found.held = found.courses.iter().map(Held::from).collect();
        let programme_dbfs = found.programme_dbfs.unwrap_or(f64::INFINITY);
        found.courses.retain(|course| score::is_likely(course, programme_dbfs));
        found.courses.shrink_to_fit();
        // A long window is twice as long as a close one: half a close one more to its middle.
        let half_s = 0.5 * self.edge.as_ref().map_or(0.0, Edge::window_s);
        for stretch in &mut found.stretches {
            for time_s in [&mut stretch.start_s, &mut stretch.end_s] {
                *time_s = (*time_s - half_s - delay_s).max(0.0);
            }
        }
        for steady in &mut found.steady {
            for time_s in [&mut steady.start_s, &mut steady.end_s] {
                *time_s = (*time_s - delay_s).max(0.0);
            }
        }
        found
    }
}

impl HowlTrack {
    fn keep(&mut self, course: Course, keeps: Keeps) {
        if keeps != Keeps::Howls {
            self.steady.extend(Steady::of(&course));
        }
        // Far over the programme at best.
        if keeps != Keeps::Rings && likelihood(&course, course.peak_dbfs - 30.0) >= KEEPS {
            self.courses.push(course);
        }
        if self.courses.len() > 2 * MOST_COURSES {
            self.thin();
        }
    }

    /// Keeps the likeliest courses, in order of time.
    fn thin(&mut self) {
        if self.courses.len() > MOST_COURSES {
            let of = |course: &Course| likelihood(course, course.peak_dbfs);
            self.courses.sort_by(|a, b| of(b).total_cmp(&of(a)));
            self.courses.truncate(MOST_COURSES);
        }
        self.courses.sort_by(|a, b| a.start_s.total_cmp(&b.start_s).then(a.hz.total_cmp(&b.hz)));
    }
}

/// The strongest bin, if its lobe holds enough of the power.
fn strongest(spectra: &mut Spectra, samples: &[f32]) -> Option<usize> {
    let range = spectra.bins();
    let power = spectra.power(samples);
    let sum = sum_of(power, |x| x);
    // Found in lanes: first how much, then where.
    let most = power[range.clone()].iter().copied().fold(0.0, f32::max);
    let bin = range.clone().find(|&bin| power[bin] >= most)?;
    // A line falls off on both sides; noise and low drums do not.
    let falls = |bin: usize| power[bin] < FALLS * most;
    let is_narrow = falls(bin.checked_sub(REACH)?) && falls(bin + REACH);
    let lobe: f32 = power[bin - 2..=bin + 2].iter().sum();
    (is_narrow && lobe > HOLDS * sum).then_some(bin)
}

#[expect(clippy::cast_precision_loss, reason = "some thousands of samples")]
fn to_f32(n: usize) -> f32 {
    n as f32
}
