//! Compressed channels drawn by seed, and how well they are read back.
//!
//! Takes a seed, gives errors. Never sets a bar.

use deskside::demo::source::Instrument;
use deskside::dsp::biquad::gain_db;
use deskside::relate::reduction::{Reduction, between as read};

use super::press::{Listens, Plain, Press, RATE, Smooths};
use super::strip::{between, channel, equaliser, fader_db, level_dbfs};
use crate::support::paths::delayed;
use crate::support::signals::{Rng, amplitude};
use crate::support::taps::{seen_db, through};

/// Who is compressed, and who leaks.
const PLAYERS: [Instrument; 12] = [
    Instrument::LeadVoice,
    Instrument::Bass,
    Instrument::SnareTop,
    Instrument::AcousticGuitar,
    Instrument::Host,
    Instrument::Kick,
    Instrument::KeysLeft,
    Instrument::Fiddle,
    Instrument::BackingVoice(1),
    Instrument::Cajon,
    Instrument::Saxophone,
    Instrument::ElectricGuitar,
];

/// A channel before and behind a desk's compressor, and what is true of it.
pub(crate) struct Case {
    raw: Vec<f32>,
    processed: Vec<f32>,
    press: Press,
    player: Instrument,
    moves: bool,
    /// Whether an equaliser stands before the compressor, and behind it.
    equalised: [bool; 2],
    truth_db: Vec<f64>,
    /// Gain of the equaliser before the compressor at 1 kHz.
    tone_db: f64,
}

impl Case {
    /// A case by seed.
    pub(crate) fn drawn(seed: u64) -> Self {
        let mut rng = Rng::new(0x7a_9500 + seed);
        let player = PLAYERS[(seed % 12) as usize];
        let other = |step: u64| PLAYERS[((seed + 1 + step) % 12) as usize];
        let others = [other(rng.bits() % 5), other(5 + rng.bits() % 6)];
        let spill_db = -40.0 + 20.0 * rng.even();
        let raw = channel(&mut rng, player, &others, spill_db).raw;
        let equalised =
            [[false, false], [true, false], [false, true], [true, true]][(rng.bits() % 4) as usize];
        let [before, behind] =
            equalised.map(|is| if is { equaliser(&mut rng) } else { Vec::new() });
        let heard = through(&raw, &before);
        let press = press(&mut rng, &heard);
        let reductions_db = press.reductions_db(heard.iter().map(|&x| f64::from(x)));
        let make_up_db = 8.0 * rng.even();
        let moves = rng.even() < 0.3;
        let fader_db = if moves { fader_db(&mut rng) } else { vec![0.0; heard.len()] };
        let gains_db = reductions_db
            .iter()
            .zip(&fader_db)
            .map(|(reduction_db, fader_db)| [make_up_db - reduction_db, *fader_db]);
        let (pressed, faders): (Vec<f32>, Vec<f64>) = heard
            .iter()
            .zip(gains_db)
            .map(|(x, [press_db, fader_db])| {
                ((f64::from(*x) * amplitude(press_db)) as f32, amplitude(fader_db))
            })
            .unzip();
        let mut processed = through(&pressed, &behind);
        processed.iter_mut().zip(&faders).for_each(|(x, gain)| *x *= *gain as f32);
        let processed = delayed(&processed, 0.005 * RATE * rng.even(), 1.0);
        // What comes out of an equaliser that follows is weighed as it comes out.
        let truth_db = seen_db(&reductions_db, &through(&heard, &behind));
        let tone_db = gain_db(&before, RATE, 997.0);
        Self { raw, processed, press, player, moves, equalised, truth_db, tone_db }
    }

    /// What the two taps say of it.
    pub(crate) fn score(&self) -> Score {
        let found = read(&self.raw, &self.processed, 48_000).ok();
        let truth = self.press.plain();
        let Self { player, equalised, press, .. } = self;
        Score {
            what: format!("{player:?}, equalised {equalised:?}, {press:?}"),
            trace_db: found.as_ref().map(|found| self.error_db(found)),
            true_loud_db: self.true_loud_db(found.as_ref()),
            truth: Plain { threshold_dbfs: truth.threshold_dbfs - self.tone_db, ..truth },
            moves: self.moves,
            found,
        }
    }

    /// Mean absolute error of the trace in programme.
    fn error_db(&self, found: &Reduction) -> f64 {
        let blocks = found.trace_db.iter().zip(&self.truth_db).zip(&found.is_programme);
        let errors: Vec<f64> = blocks
            .filter(|(_, is_programme)| **is_programme)
            .map(|((found, truth), _)| (found - truth).abs())
            .collect();
        errors.iter().sum::<f64>() / errors.len().max(1) as f64
    }

    fn true_loud_db(&self, found: Option<&Reduction>) -> f64 {
        let is_programme =
            |at: usize| found.is_none_or(|one| one.is_programme.get(at) == Some(&true));
        let blocks = self.truth_db.iter().enumerate().filter(|(at, _)| is_programme(*at));
        let mut in_programme: Vec<f64> = blocks.map(|(_, db)| *db).collect();
        in_programme.sort_by(f64::total_cmp);
        in_programme[in_programme.len() * 95 / 100]
    }
}

/// What was read of a case.
pub(crate) struct Score {
    /// What was drawn, for the log.
    pub(crate) what: String,
    pub(crate) found: Option<Reduction>,
    /// Mean absolute error of the trace.
    pub(crate) trace_db: Option<f64>,
    /// True 95th percentile of the reduction.
    pub(crate) true_loud_db: f64,
    /// What the compressor does with plain tones at the raw tap.
    pub(crate) truth: Plain,
    /// Whether the fader was moved.
    pub(crate) moves: bool,
}

fn press(rng: &mut Rng, heard: &[f32]) -> Press {
    // A threshold in reach of the loud half of what is played, not of the spill between strokes.
    let loud_dbfs = level_dbfs(heard, 0.95);
    Press {
        listens: if rng.even() < 0.5 { Listens::Before } else { Listens::Behind },
        mean_s: (rng.even() < 0.5).then(|| between(rng, 0.003, 0.03)),
        smooths: [Smooths::Gain, Smooths::InTurn, Smooths::Level][(rng.bits() % 3) as usize],
        threshold_dbfs: loud_dbfs - 2.0 - 14.0 * rng.even(),
        ratio: between(rng, 1.5, 10.0),
        knee_db: [0.0, 6.0, 10.0][(rng.bits() % 3) as usize],
        attack_s: between(rng, 0.0005, 0.05),
        release_s: between(rng, 0.03, 0.8),
    }
}
