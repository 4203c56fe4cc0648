//! Trials: further recorders with clocks of known drift on invented stages, the whole way from files.
//!
//! Takes a seed, gives scores and errors. A drift that is told and lies within what is said to be unsure is found, one that is told and
//! does not, or where there is none, is false.

use deskside::reading::Recorder;

use super::drifting::{Stage, by_clock};
use super::score::Score;
use super::told::{File, read};
use super::trial::Row;

/// Lengths of the takes, in seconds, and drifts, in parts per million.
const LENGTHS_S: [f64; 2] = [120.0, 300.0];
const DRIFTS_PPM: [f64; 5] = [0.0, 5.0, 18.0, -40.0, 100.0];

/// What was scored, and errors of what was told in ms over the take.
pub(crate) type Scored = (Vec<Row>, Vec<f64>);

/// A microphone in the hall on a recorder of its own.
pub(crate) fn in_the_hall(seed: u64) -> Scored {
    each(seed, |stage, players, ppm| {
        let mut files = close(stage, players, 0..4);
        files.push(("06 Room", by_clock(&stage.hall(players), ppm, 3.7)));
        files
    })
}

/// Two microphones of the stage on a second recorder.
pub(crate) fn on_the_stage(seed: u64) -> Scored {
    each(seed, |stage, players, ppm| {
        let mut files = close(stage, players, 0..3);
        let second = close(stage, players, 3..5);
        files.extend(second.into_iter().map(|(name, x)| (name, by_clock(&x, ppm, 0.8))));
        files
    })
}

/// What is no clock: a talker alone who walks 3 m, a singer who does and air that warms by 5 K, a recorder that shares nothing.
pub(crate) fn no_clocks(seed: u64) -> Vec<Row> {
    let mut rows = Vec::new();
    for length_s in LENGTHS_S {
        let walks = Stage { walks_m: 3.0, warms_by_k: 5.0, ..Stage::band(seed, length_s) };
        let alone = Stage { n_players: 1, ..walks };
        let elsewhere = Stage::band(seed + 500, length_s);
        for (what, stage, heard) in [
            ("a talker walks", alone, alone),
            ("a singer walks", walks, walks),
            ("nothing in common", walks, elsewhere),
        ] {
            let players = stage.players();
            let mut files = close(&stage, &players, 0..stage.n_players);
            // A recorder of one channel is as large as that of the hall.
            files.push(("07 Keys", files[0].1.iter().map(|x| 1e-3 * x).collect()));
            files.push(("06 Room", by_clock(&heard.hall(&heard.players()), 0.0, 1.3)));
            let is_told = further(&files).drift_ppm.value().is_some();
            let clip = format!("{what}, {length_s} s");
            rows.push(Row { clip, score: Score::of_clip(false, is_told) });
        }
    }
    rows
}

const NAMES: [&str; 5] = ["01 Lead Vox", "02 Fiddle", "03 BV", "04 Snare", "05 E Git"];

fn close<'a>(stage: &Stage, players: &[Vec<f32>], whose: std::ops::Range<usize>) -> Vec<File<'a>> {
    whose.map(|player| (NAMES[player], stage.close(players, player))).collect()
}

/// All lengths and drifts.
fn each<'a>(seed: u64, files: impl Fn(&Stage, &[Vec<f32>], f64) -> Vec<File<'a>>) -> Scored {
    let mut scored = (Vec::new(), Vec::new());
    for (number, length_s) in LENGTHS_S.into_iter().enumerate() {
        let stage = Stage { n_players: 5, ..Stage::band(seed * 10 + number as u64, length_s) };
        let players = stage.players();
        for ppm in DRIFTS_PPM {
            let further = further(&files(&stage, &players, ppm));
            let told_ppm = further.drift_ppm.value();
            let smallest_ppm = further.smallest_ppm.unwrap_or(0.0);
            let is_right = told_ppm.is_some_and(|told| (told - ppm).abs() <= smallest_ppm);
            let is_planted = ppm.abs() > 0.0;
            let score = Score {
                n_found: usize::from(is_planted && is_right),
                n_missed: usize::from(is_planted && !is_right),
                n_false: usize::from(told_ppm.is_some() && !(is_planted && is_right)),
            };
            let clip = format!("{ppm} ppm, {length_s} s: {:?}", further.drift_ppm);
            scored.0.push(Row { clip, score });
            scored.1.extend(told_ppm.map(|told| 1e-3 * (told - ppm) * length_s));
        }
    }
    scored
}

/// The recorder beside the first.
fn further(files: &[File<'_>]) -> Recorder {
    let mut recorders = read(files).recorders;
    assert_eq!(recorders.len(), 1, "one recorder beside the first");
    recorders.remove(0)
}
