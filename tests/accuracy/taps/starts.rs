//! Thresholds to start from, as raw recordings alone suggest them, set on compressors of several designs and on gates.
//!
//! Takes a seed, gives what these do. Compressors and gates are those of this folder and know nothing of the program's model.

use std::fmt::Write as _;

use deskside::coach::Parted;
use deskside::demo::random::Random;
use deskside::demo::source::Instrument;

use super::band::{Band, at_mic, by_wire, samples};
use super::gated::Gate;
use super::press::{Listens, Press, Smooths};
use super::table::{decibels, share};
use super::told::{channel, read};

/// Designs: a name, where the detector listens, the time of its mean square, and what its times act on.
type Design = (&'static str, Listens, Option<f64>, Smooths);
const DESIGNS: [Design; 6] = [
    ("mean square, before", Listens::Before, Some(0.010), Smooths::Gain),
    ("mean square, before, times in turn", Listens::Before, Some(0.010), Smooths::InTurn),
    ("peaks, before", Listens::Before, None, Smooths::Gain),
    ("peaks, before, times on the level", Listens::Before, None, Smooths::Level),
    ("mean square, behind", Listens::Behind, Some(0.010), Smooths::Gain),
    ("peaks, behind", Listens::Behind, None, Smooths::Gain),
];
const RATIOS: [f64; 3] = [2.0, 3.0, 4.0];

/// How far the promised range reaches to either side of its middle: 6 to 9 dB on voices, 3 to 6 dB on instruments.
const HALF_DB: f64 = 1.5;

/// Programme: level over this time, within this of its 95th percentile; the loud part of it that is turned down as promised.
const LEVEL_S: f64 = 0.4;
const WITHIN_DB: f64 = 20.0;
const LOUD_SHARE: f64 = 0.9;

/// Drums, of which a hit opens the gate within some time; spill counts so long behind the last own hit, in seconds.
const DRUMS: [usize; 3] = [0, 1, 2];
const OPENS_S: f64 = 0.030;
const BEHIND_S: f64 = 0.40;

/// A gain that passes a hit, and one that is closed, in dB.
const OPEN_DB: f64 = -3.0;
const CLOSED_DB: f64 = -10.0;

/// A compressor at its suggested threshold.
pub(crate) struct Pressed {
    design: usize,
    ratio: f64,
    is_voice: bool,
    /// Reduction of loud programme re the middle of the promised range, in dB; none without a suggestion.
    off_db: Option<f64>,
}

/// A gate at its suggested threshold.
pub(crate) struct Opened {
    drum: usize,
    /// Own hits, those that open, frames of spill, and those that are closed; none without a suggestion.
    counts: Option<[usize; 4]>,
}

/// What one stage gives.
pub(crate) struct Started {
    pressed: Vec<Pressed>,
    opened: Vec<Opened>,
}

/// Talk and a song with drums, bass, guitars and singers.
fn stage(seed: u64) -> Band {
    let song = [[31.0, 74.0]];
    let mut players = vec![
        at_mic("01 Kick", Instrument::Kick, &song),
        at_mic("02 Snare", Instrument::SnareTop, &song),
        at_mic("03 Rack Tom", Instrument::RackTom, &[[38.0, 50.0], [60.0, 74.0]]),
        by_wire("04 Bass DI", Instrument::Bass, &song),
        by_wire("05 Ac Gtr DI", Instrument::AcousticGuitar, &song),
        at_mic("06 E Git", Instrument::ElectricGuitar, &song),
        at_mic("07 Lead Vox", Instrument::LeadVoice, &[[34.0, 50.0], [54.0, 72.0]]),
        at_mic("08 BV", Instrument::BackingVoice(1), &[[33.0, 48.0], [52.0, 70.0]]),
        at_mic("09 Host HH", Instrument::Host, &[[2.0, 29.0]]),
    ];
    // A kit stands close together and is loud.
    let mut random = Random::branch(seed, 8700);
    for drum in DRUMS {
        players[drum].stage_db = random.between(0.0, 6.0);
        players[drum].hears_db = random.between(0.0, 10.0);
    }
    Band::drawn(seed, 76.0, players)
}

/// A stage by seed.
pub(crate) fn started(seed: u64) -> Started {
    let band = stage(0x57a7 + seed);
    let heard = band.heard(&band.sounds());
    let reading = read(&band.files(heard.clone()));
    let mut random = Random::branch(seed, 8800);
    let mut out = Started { pressed: Vec::new(), opened: Vec::new() };
    for (idx, (player, file)) in band.players.iter().zip(&heard).enumerate() {
        let starts = &channel(&reading, player.name).starts;
        if !starts.compressor_starts.is_empty() {
            let programme = programme(file);
            for (at, design) in DESIGNS.iter().enumerate() {
                let ratio = *random.pick(&RATIOS);
                let is_it = |ratio_here: f64| (ratio_here - ratio).abs() < 0.01;
                let start = starts.compressor_starts.iter().find(|one| is_it(one.ratio)).unwrap();
                let press = |threshold_dbfs| press(design, ratio, threshold_dbfs, &mut random);
                let reduction_db = start
                    .threshold_dbfs
                    .value()
                    .map(press)
                    .map(|one| loud_db(&one, file, &programme));
                out.pressed.push(Pressed {
                    design: at,
                    ratio,
                    is_voice: !player.is_line,
                    off_db: reduction_db.map(|db| db - start.reduction_db),
                });
            }
        }
        if let Some(start) = &starts.gate_start {
            let is_told = start
                .overlap_percent
                .value()
                .is_some_and(|overlap| Parted::by(overlap) != Parted::ByNothing);
            let threshold_dbfs = start.threshold_dbfs.value().filter(|_| is_told);
            let counts = threshold_dbfs.map(|dbfs| opened(&band, idx, file, dbfs));
            out.opened.push(Opened { drum: idx, counts });
        }
    }
    out
}

/// A compressor of a design with times as an operator sets them.
fn press(design: &Design, ratio: f64, threshold_dbfs: f64, random: &mut Random) -> Press {
    let (_, listens, mean_s, smooths) = *design;
    Press {
        listens,
        mean_s,
        smooths,
        threshold_dbfs,
        ratio,
        knee_db: *random.pick(&[0.0, 6.0, 10.0]),
        attack_s: random.between(0.005, 0.020),
        release_s: random.between(0.08, 0.25),
    }
}

/// Which blocks of 50 ms are programme.
fn programme(file: &[f32]) -> Vec<bool> {
    let powers: Vec<f64> = file
        .chunks(samples(0.05))
        .map(|part| part.iter().map(|x| f64::from(*x).powi(2)).sum::<f64>() / part.len() as f64)
        .collect();
    let reach = (0.5 * LEVEL_S / 0.05) as usize;
    let long: Vec<f64> = (0..powers.len())
        .map(|at| {
            let around = &powers[at.saturating_sub(reach)..(at + reach).min(powers.len())];
            around.iter().sum::<f64>() / around.len() as f64
        })
        .collect();
    let mut sorted = long.clone();
    sorted.sort_by(f64::total_cmp);
    let border = sorted[sorted.len() * 95 / 100] * 10_f64.powf(-WITHIN_DB / 10.0);
    long.iter().map(|power| *power > border).collect()
}

/// Reduction that a tenth of the programme exceeds.
fn loud_db(press: &Press, file: &[f32], programme: &[bool]) -> f64 {
    let all = press.reductions_db(file.iter().map(|x| f64::from(*x)));
    let blocks =
        all.chunks(samples(0.05)).zip(programme).filter(|(_, is_programme)| **is_programme);
    // One value in 1 ms is enough.
    let mut inside: Vec<f64> =
        blocks.flat_map(|(block, _)| block.iter().copied().step_by(48)).collect();
    inside.sort_by(f64::total_cmp);
    inside[(inside.len() as f64 * LOUD_SHARE) as usize]
}

/// Own hits that open a gate, and frames of spill in which it is closed.
fn opened(band: &Band, drum: usize, file: &[f32], threshold_dbfs: f64) -> [usize; 4] {
    let gate = Gate {
        threshold_dbfs,
        hysteresis_db: 3.0,
        hold_s: 0.08,
        release_s: 0.08,
        range_db: 40.0,
        ratio: None,
    };
    let gains_db = gate.gains_db(file);
    let hits_s: Vec<f64> = band.notes(drum).iter().map(|note| note.start_s).collect();
    let opens = |at_s: &&f64| {
        let until = samples(**at_s + OPENS_S).min(gains_db.len());
        gains_db[samples(**at_s).min(until)..until].iter().any(|gain_db| *gain_db > OPEN_DB)
    };
    let (mut n_spill, mut n_closed) = (0, 0);
    let spill_s = (band.players[1].plays[0].start_s, band.players[1].plays[0].end_s);
    for (frame, gains_db) in gains_db.chunks(samples(0.01)).enumerate() {
        let at_s = frame as f64 * 0.01;
        let last = hits_s.partition_point(|hit_s| *hit_s <= at_s + 0.01);
        let is_behind = last == 0 || at_s - hits_s[last - 1] >= BEHIND_S;
        if (spill_s.0..spill_s.1).contains(&at_s) && is_behind {
            n_spill += 1;
            n_closed += usize::from(gains_db.iter().all(|gain_db| *gain_db <= CLOSED_DB));
        }
    }
    [hits_s.len(), hits_s.iter().filter(opens).count(), n_spill, n_closed]
}

/// The tables of some stages.
pub(crate) fn tables(all: &[Started]) -> String {
    [compressors(all), gates(all)].join("\n")
}

fn compressors(all: &[Started]) -> String {
    let mut out = format!(
        "Thresholds to start from at 2:1, 3:1 or 4:1, suggested by the raw recordings of {} stages to lead, backing and talking voices, bass and\n\
         acoustic guitar, set on compressors of six designs with attacks of 5 to 20 ms, releases of 80 to 250 ms and knees of 0, 6 and 10 dB.\n\
         Promised for loud phrases are 6 to 9 dB on voices and 3 to 6 dB on instruments: here the reduction that a tenth of the programme exceeds,\n\
         and how far it lies off the middle of that range.\n\n\
         | compressors | drawn | suggested | within the promised range | median off its middle, dB | largest |\n\
         | --- | --- | --- | --- | --- | --- |\n",
        all.len()
    );
    let mut row = |name: &str, is_it: &dyn Fn(&Pressed) -> bool| {
        let some: Vec<&Pressed> =
            all.iter().flat_map(|one| &one.pressed).filter(|one| is_it(one)).collect();
        let mut off_db: Vec<f64> = some.iter().filter_map(|one| one.off_db).collect();
        let n_within = off_db.iter().filter(|off_db| off_db.abs() <= HALF_DB).count();
        off_db.sort_by(f64::total_cmp);
        let most = off_db.iter().max_by(|a, b| a.abs().total_cmp(&b.abs()));
        let _ = writeln!(
            out,
            "| {name} | {} | {} | {} | {} | {} |",
            some.len(),
            off_db.len(),
            share(n_within, off_db.len()),
            decibels(off_db.get(off_db.len() / 2)),
            decibels(most)
        );
    };
    for (at, (name, ..)) in DESIGNS.iter().enumerate() {
        row(name, &|one| one.design == at);
    }
    for ratio in RATIOS {
        row(&format!("all at {ratio:.0}:1"), &|one| (one.ratio - ratio).abs() < 0.01);
    }
    row("all on voices", &|one| one.is_voice);
    row("all on instruments", &|one| !one.is_voice);
    row("all", &|_| true);
    out
}

fn gates(all: &[Started]) -> String {
    let mut out = format!(
        "Thresholds of gates to start from on the drums of these stages, shown where a gate or an expander parts hits from spill. Own hits are to\n\
         open the gate within {:.0} ms; spill is closed where the gain is {CLOSED_DB} dB or less in all of 10 ms, from {BEHIND_S} s behind the last own hit\n\
         while others play.\n\n\
         | drum | drawn | suggested | own hits that open | spill that is closed |\n| --- | --- | --- | --- | --- |\n",
        1000.0 * OPENS_S
    );
    let rows = [("kick", Some(0)), ("snare", Some(1)), ("tom", Some(2)), ("all", None)];
    for (name, drum) in rows {
        let some: Vec<&Opened> = all
            .iter()
            .flat_map(|one| &one.opened)
            .filter(|one| drum.is_none_or(|drum| one.drum == drum))
            .collect();
        let counts: Vec<[usize; 4]> = some.iter().filter_map(|one| one.counts).collect();
        let sum = |of: usize| counts.iter().map(|count| count[of]).sum::<usize>();
        let _ = writeln!(
            out,
            "| {name} | {} | {} | {} | {} |",
            some.len(),
            counts.len(),
            share(sum(1), sum(0)),
            share(sum(3), sum(2))
        );
    }
    out
}
