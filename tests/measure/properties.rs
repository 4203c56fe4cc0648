//! What every meter has in common, one row a meter: a new one without a row fails here.
//!
//! Sources: the definitions. A result belongs to the sound and not to the way it is cut into blocks; a level is a logarithm of power, so
//! twice the amplitude is 20 lg 2 = 6.02 dB more and changes nothing else; squares and sizes know no polarity; silence before a
//! recording moves times and adds no sound.

use std::collections::BTreeSet;
use std::fmt::Debug;
use std::fs;
use std::path::Path;

use deskside::measure::above::AboveMeter;
use deskside::measure::clicks::ClickMeter;
use deskside::measure::clipping::FlatTopMeter;
use deskside::measure::dc::DcMeter;
use deskside::measure::falls::FallsMeter;
use deskside::measure::howl::{HowlMeter, Look};
use deskside::measure::hum::HumMeter;
use deskside::measure::silence::SilenceMeter;
use deskside::measure::sound_level::{Calibration, SoundLevelMeter};
use deskside::measure::voice::VoiceMeter;
use deskside::measure::{LevelMeter, LoudnessMeter, ThirdsMeter, Trace, TruePeakMeter};
use proptest::prelude::*;

use crate::support::feeding::measure_whole;
use crate::support::signals::{programme, samples, scaled, sine};

const RATE_HZ: u32 = 48_000;

/// 20 lg 2.
const TWICE_DB: f64 = 6.020_6;

/// Two codes of a trace (0.005 dB) rounded the two ways.
const TOLERANCE_DB: f64 = 0.006;

/// Times are fractions of a second in double precision.
const TOLERANCE_S: f64 = 1e-6;

/// Below this a step is silence, or the last ringing of a filter.
const SILENCE_DB: f64 = -120.0;

/// Silence at the begin of every recording here: so that windows of one half silence are in it already, and that it is long enough for
/// a loudness range, which needs 20 s.
const LEAD_S: f64 = 12.0;

/// Silence put before a recording, in seconds: a multiple of every step. The least that is both whole seconds and whole frames of 4096
/// samples.
const SHIFT_S: f64 = 32.0;

/// What a meter says, sorted by how it has to behave.
#[derive(Debug, Default, PartialEq)]
struct Said {
    /// Levels: 6.02 dB more at twice the amplitude.
    levels_db: Vec<f64>,
    /// Times of events.
    times_s: Vec<f64>,
    /// What neither gain nor place changes: counts, differences, shares.
    fixed: Vec<f64>,
    /// Everything, to the last bit.
    all: String,
}

impl Said {
    fn new(all: &impl Debug) -> Self {
        Self { all: format!("{all:?}"), ..Self::default() }
    }

    fn levels(mut self, levels_db: impl IntoIterator<Item = f64>) -> Self {
        self.levels_db.extend(levels_db);
        self
    }

    fn traces<'a>(self, traces: impl IntoIterator<Item = &'a Trace>) -> Self {
        let levels =
            traces.into_iter().flat_map(|trace| (0..trace.len()).map(|step| trace.level_db(step)));
        self.levels(levels)
    }

    fn times(mut self, times_s: impl IntoIterator<Item = f64>) -> Self {
        self.times_s.extend(times_s);
        self
    }

    fn fixed(mut self, values: impl IntoIterator<Item = f64>) -> Self {
        self.fixed.extend(values);
        self
    }
}

/// How a meter takes silence before the recording.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Shift {
    /// Times move, all else stays.
    Moves,
    /// It is a mean or a share over the whole recording, or over blocks from its begin: the reason.
    Counts(&'static str),
}

/// How a meter takes twice the amplitude.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Gain {
    /// Levels move by 6.02 dB, all else stays.
    Moves,
    /// It has a border in steps of 16 bits or in dBFS: the reason.
    Bounded(&'static str),
}

/// A meter and how it is read. That blocks may be cut anywhere is asserted by each reading.
struct Row {
    meter: &'static str,
    read: fn(&[f32]) -> Said,
    gain: Gain,
    shift: Shift,
}

const METERS: [Row; 14] = [
    Row { meter: "AboveMeter", read: above, gain: Gain::Moves, shift: Shift::Moves },
    Row { meter: "ClickMeter", read: clicks, gain: Gain::Moves, shift: Shift::Moves },
    Row {
        meter: "DcMeter",
        read: dc,
        gain: Gain::Moves,
        shift: Shift::Counts("a median over blocks of 10 s"),
    },
    Row { meter: "FallsMeter", read: falls, gain: Gain::Moves, shift: Shift::Moves },
    Row {
        meter: "FlatTopMeter",
        read: flat_tops,
        gain: Gain::Bounded("a plateau is level within one step of 16 bits"),
        shift: Shift::Moves,
    },
    Row {
        meter: "HowlMeter",
        read: howl,
        gain: Gain::Moves,
        shift: Shift::Counts("a percentile over the recording"),
    },
    Row {
        meter: "HumMeter",
        read: hum,
        gain: Gain::Moves,
        shift: Shift::Counts("windows stand on a grid of their own"),
    },
    Row { meter: "LevelMeter", read: level, gain: Gain::Moves, shift: Shift::Moves },
    Row { meter: "LoudnessMeter", read: loudness, gain: Gain::Moves, shift: Shift::Moves },
    Row {
        meter: "SilenceMeter",
        read: silence,
        gain: Gain::Moves,
        shift: Shift::Counts("a share of the recording"),
    },
    Row {
        meter: "SoundLevelMeter",
        read: sound_level,
        gain: Gain::Moves,
        shift: Shift::Counts("a mean over the recording"),
    },
    Row { meter: "ThirdsMeter", read: thirds, gain: Gain::Moves, shift: Shift::Moves },
    Row { meter: "TruePeakMeter", read: true_peak, gain: Gain::Moves, shift: Shift::Moves },
    Row {
        meter: "VoiceMeter",
        read: voice,
        gain: Gain::Bounded("blasts are kept from -60 dBFS, levels counted in whole decibels"),
        shift: Shift::Counts("a percentile over the recording"),
    },
];

fn above(plane: &[f32]) -> Said {
    let new = |rate_hz, n_channels| AboveMeter::new(rate_hz, &vec![true; n_channels], 200.0);
    let finish = |meter: AboveMeter| meter.finish().into_iter().flatten().collect();
    let found: Vec<Trace> = measure_whole(RATE_HZ, &[plane], new, AboveMeter::push, finish);
    Said::new(&found).traces(&found)
}

fn clicks(plane: &[f32]) -> Said {
    let found =
        measure_whole(RATE_HZ, &[plane], ClickMeter::new, ClickMeter::push, ClickMeter::finish);
    Said::new(&found).times(found[0].at_s.iter().copied()).fixed([found[0].count as f64])
}

fn dc(plane: &[f32]) -> Said {
    let found = measure_whole(RATE_HZ, &[plane], DcMeter::new, DcMeter::push, DcMeter::finish);
    let said = Said::new(&found);
    match &found[0] {
        Ok(dc) => said.levels([dc.level_dbfs]).fixed([dc.same_sign_percent]),
        Err(_) => said,
    }
}

fn falls(plane: &[f32]) -> Said {
    let found =
        measure_whole(RATE_HZ, &[plane], FallsMeter::new, FallsMeter::push, FallsMeter::finish);
    let falls = || found.iter().flatten();
    Said::new(&found)
        .fixed(falls().filter_map(|fall| fall.t60_s.value()))
        .times(falls().flat_map(|fall| fall.evidence.iter().map(|span| span.start_s)))
}

fn flat_tops(plane: &[f32]) -> Said {
    let found = measure_whole(
        RATE_HZ,
        &[plane],
        FlatTopMeter::new,
        FlatTopMeter::push,
        FlatTopMeter::finish,
    );
    let tops = &found[0];
    Said::new(&found).levels(tops.level_dbfs.value()).times(tops.at_s.iter().copied()).fixed([
        tops.count as f64,
        tops.n_runs as f64,
        tops.longest_ms,
    ])
}

fn howl(plane: &[f32]) -> Said {
    let new = |rate_hz, n_channels| HowlMeter::new(rate_hz, &vec![Look::Rings; n_channels]);
    let found = measure_whole(RATE_HZ, &[plane], new, HowlMeter::push, HowlMeter::finish);
    let track = &found[0];
    Said::new(&found)
        .levels(track.programme_dbfs)
        .times(track.steady.iter().map(|line| line.start_s))
        .fixed(track.steady.iter().map(|line| line.hz))
}

fn hum(plane: &[f32]) -> Said {
    let found = measure_whole(RATE_HZ, &[plane], HumMeter::new, HumMeter::push, HumMeter::finish);
    let windows = found[0].iter().flat_map(|found| &found.windows);
    let said = Said::new(&found).levels(windows.clone().map(|window| window.level_dbfs));
    said.times(windows.map(|window| window.span.start_s))
}

fn level(plane: &[f32]) -> Said {
    let found =
        measure_whole(RATE_HZ, &[plane], LevelMeter::new, LevelMeter::push, LevelMeter::finish);
    let levels = &found[0];
    let top = (levels.top > 0.0).then(|| 20.0 * levels.top.log10());
    let power = (levels.sum_square > 0.0).then(|| 10.0 * levels.sum_square.log10());
    let said = Said::new(&found).levels(top.into_iter().chain(power));
    said.traces([&levels.power, &levels.peak]).times(top.map(|_| levels.top_at_s))
}

fn loudness(plane: &[f32]) -> Said {
    let found = measure_whole(
        RATE_HZ,
        &[plane],
        LoudnessMeter::new,
        LoudnessMeter::push,
        LoudnessMeter::finish,
    );
    let one = &found[0];
    let levels = [&one.momentary_max_lufs, &one.short_term_max_lufs, &one.integrated_lufs];
    Said::new(&found)
        .traces([&one.k_power])
        .levels(levels.into_iter().filter_map(|level| level.as_ref().ok().copied()))
        .fixed(one.range_lu.as_ref().ok().map(|range_lu| (range_lu * 10.0).round()))
}

fn silence(plane: &[f32]) -> Said {
    let found = measure_whole(
        RATE_HZ,
        &[plane],
        SilenceMeter::new,
        SilenceMeter::push,
        SilenceMeter::finish,
    );
    let one = &found[0];
    Said::new(&found)
        .times(one.dropouts_at_s.iter().copied())
        .fixed([one.digital_silence_percent, one.n_dropouts as f64])
}

fn sound_level(plane: &[f32]) -> Said {
    let calibration = Calibration::new(94.0).unwrap();
    let new = |rate_hz, n_channels| SoundLevelMeter::new(rate_hz, &vec![calibration; n_channels]);
    let found =
        measure_whole(RATE_HZ, &[plane], new, SoundLevelMeter::push, SoundLevelMeter::finish);
    let said = Said::new(&found);
    match &found[0] {
        Ok(one) => said
            .levels([one.laeq_db, one.lceq_db, one.lafmax.level_db, one.lcpeak.level_db])
            .times([one.lafmax.span.start_s, one.lcpeak.span.start_s])
            .fixed([one.length_s]),
        Err(_) => said,
    }
}

fn thirds(plane: &[f32]) -> Said {
    let found =
        measure_whole(RATE_HZ, &[plane], ThirdsMeter::new, ThirdsMeter::push, ThirdsMeter::finish);
    Said::new(&found).traces(&found[0].bands)
}

fn true_peak(plane: &[f32]) -> Said {
    let found = measure_whole(
        RATE_HZ,
        &[plane],
        TruePeakMeter::new,
        TruePeakMeter::push,
        TruePeakMeter::finish,
    );
    let said = Said::new(&found);
    match &found[0] {
        Ok(peak) => said.levels([peak.true_peak_dbtp]).times([peak.at_s]),
        Err(_) => said,
    }
}

fn voice(plane: &[f32]) -> Said {
    let found =
        measure_whole(RATE_HZ, &[plane], VoiceMeter::new, VoiceMeter::push, VoiceMeter::finish);
    let track = &found[0];
    Said::new(&found)
        .traces([&track.ess])
        .levels(track.bursts.iter().flat_map(|burst| [burst.level_dbfs, burst.voice_dbfs]))
        .times(track.bursts.iter().map(|burst| burst.at_s))
}

/// Silence, then phrases with something for every meter to find: a howling line, flat tops, a click, a dropout, an offset.
fn evening(seed: u64) -> Vec<f32> {
    let mut plane = vec![0.0; samples(RATE_HZ, LEAD_S)];
    plane
        .extend(programme(seed, RATE_HZ, 9.0).iter().map(|sample| (0.5 * sample).clamp(-0.1, 0.1)));
    let line = sine(RATE_HZ, 2_500.0, 0.2, 0.0, samples(RATE_HZ, 2.5));
    for (sample, tone) in plane[samples(RATE_HZ, LEAD_S + 2.0)..].iter_mut().zip(line) {
        *sample += tone;
    }
    for sample in &mut plane[samples(RATE_HZ, LEAD_S + 6.0)..] {
        *sample += 0.01;
    }
    plane[samples(RATE_HZ, LEAD_S + 1.0)] += 0.3;
    plane[samples(RATE_HZ, LEAD_S + 3.0)..samples(RATE_HZ, LEAD_S + 3.02)].fill(0.0);
    plane
}

/// The levels of steps that hold sound.
fn heard(said: &Said) -> Vec<f64> {
    said.levels_db.iter().copied().filter(|&level_db| level_db > SILENCE_DB).collect()
}

fn assert_same(
    meter: &str,
    what: &str,
    found: &[f64],
    expected: impl Iterator<Item = f64>,
    by: f64,
) {
    let expected: Vec<f64> = expected.collect();
    assert_eq!(found.len(), expected.len(), "{meter}: how many {what}");
    for (found, expected) in found.iter().zip(expected) {
        assert!((found - expected).abs() <= by, "{meter}: {what}: {found}, expected {expected}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 2, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn twice_the_amplitude_is_six_decibels_more_and_nothing_else(seed in any::<u64>()) {
        let plane = evening(seed);
        for row in METERS.iter().filter(|row| row.gain == Gain::Moves) {
            let (once, twice) = ((row.read)(&plane), (row.read)(&scaled(&plane, 2.0)));
            let levels = once.levels_db.iter().zip(&twice.levels_db);
            let heard = levels.filter(|(level_db, _)| **level_db > SILENCE_DB);
            let (low, high): (Vec<f64>, Vec<f64>) = heard.unzip();
            let louder = low.iter().map(|level_db| level_db + TWICE_DB);
            assert_eq!(once.levels_db.len(), twice.levels_db.len(), "{}: how many levels", row.meter);
            assert_same(row.meter, "levels", &high, louder, TOLERANCE_DB);
            assert_same(row.meter, "times", &twice.times_s, once.times_s.iter().copied(), TOLERANCE_S);
            assert_same(row.meter, "the rest", &twice.fixed, once.fixed.iter().copied(), TOLERANCE_S);
        }
    }

    #[test]
    fn polarity_changes_nothing(seed in any::<u64>()) {
        let plane = evening(seed);
        for row in &METERS {
            let (right, inverted) = ((row.read)(&plane), (row.read)(&scaled(&plane, -1.0)));
            assert_eq!(right, inverted, "{}", row.meter);
        }
    }

    #[test]
    fn silence_before_a_recording_moves_times_and_nothing_else(seed in any::<u64>()) {
        let plane = evening(seed);
        let later = [vec![0.0; samples(RATE_HZ, SHIFT_S)], plane.clone()].concat();
        for row in METERS.iter().filter(|row| row.shift == Shift::Moves) {
            let (first, later) = ((row.read)(&plane), (row.read)(&later));
            let times = first.times_s.iter().map(|time_s| time_s + SHIFT_S);
            assert_same(row.meter, "times", &later.times_s, times, TOLERANCE_S);
            assert_same(row.meter, "levels", &heard(&later), heard(&first).into_iter(), TOLERANCE_DB);
            assert_same(row.meter, "the rest", &later.fixed, first.fixed.iter().copied(), TOLERANCE_S);
        }
    }
}

#[test]
fn silence_is_no_number() {
    for length_s in [0.0, 1.0 / 48_000.0, 0.3, 25.0] {
        for row in &METERS {
            let said = (row.read)(&vec![0.0; samples(RATE_HZ, length_s)]);
            let meter = row.meter;
            for word in ["NaN", "inf"] {
                assert!(!said.all.contains(word), "{meter}, {length_s} s: {}", said.all);
            }
            let heard = said.levels_db.iter().filter(|level_db| **level_db > SILENCE_DB).count();
            assert_eq!(heard, 0, "{meter}, {length_s} s: levels of silence {:?}", said.levels_db);
            assert!(said.times_s.is_empty(), "{meter}, {length_s} s: events in silence");
        }
    }
}

/// Each meter finds what was put in: a property of nothing would always hold.
#[test]
fn every_meter_has_something_to_say() {
    let plane = evening(1);
    let silent: Vec<&str> = METERS
        .iter()
        .filter(|row| {
            let said = (row.read)(&plane);
            said.levels_db.is_empty() && said.times_s.is_empty() && said.fixed.is_empty()
        })
        .map(|row| row.meter)
        .collect();
    // A decay needs bangs, which music is not; what it says of bangs stands in its own tests.
    assert_eq!(silent, ["FallsMeter"]);
}

/// All sources below a folder.
fn sources(folder: &Path) -> Vec<String> {
    let paths = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    paths
        .flat_map(|path| match path.is_dir() {
            true => sources(&path),
            false => vec![fs::read_to_string(&path).unwrap()],
        })
        .collect()
}

/// Names of meters in a source.
fn meters(source: &str) -> BTreeSet<&str> {
    let names = source.lines().filter_map(|line| line.strip_prefix("pub struct "));
    let names = names.filter_map(|rest| rest.split([' ', '<', '(', ';']).next());
    names.filter(|name| name.ends_with("Meter")).collect()
}

#[test]
fn every_meter_of_the_program_has_a_row() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/measure");
    let sources = sources(&folder);
    let found: BTreeSet<&str> = sources.iter().flat_map(|source| meters(source)).collect();
    let rows: BTreeSet<&str> = METERS.iter().map(|row| row.meter).collect();
    assert_eq!(found, rows, "meters in src/measure and rows here");
    assert_eq!(meters("pub struct NewMeter {\n").len(), 1, "a new meter is seen");
}
