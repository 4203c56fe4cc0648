//! Facts about the treble of the mix in a song, and who gives it.
//!
//! Takes what every line gives, fills in facts. Never judges.

use crate::dsp::percentile::percentile;
use crate::relate::board::{Board, power_between};
use crate::relate::shares::Powers;
use crate::unit::{Fact, Span, Unmeasured};

/// The treble of cymbals: sizzle and air, in Hz.
const TREBLE_HZ: [f64; 2] = [5_623.0, 17_783.0];
const ALL_HZ: [f64; 2] = [0.0, 24_000.0];

/// Channels that are named.
const NAMED: usize = 3;

/// A second this far under the loud ones is a rest, in dB.
const REST_DB: f64 = 20.0;

/// Treble of a stretch.
pub(super) struct Treble {
    pub(super) share_db: Fact,
    pub(super) movement_db: Fact,
    /// Lines that give most of it, most first.
    pub(super) from: Vec<usize>,
}

/// The treble of the mix in a song with a kit.
pub(super) fn treble(board: &Board, song: Span, sure: Option<f64>, has_kit: bool) -> Treble {
    let missing = |reason: &'static str| {
        let fact = Fact::missing(Unmeasured::Because(reason));
        Treble { share_db: fact.clone(), movement_db: fact, from: Vec::new() }
    };
    if !has_kit {
        return missing("no kit plays");
    }
    let Some(sure) = sure else { return missing("the channels explain too little of the mix") };
    #[expect(clippy::cast_precision_loss, reason = "seconds of a session")]
    let is_inside = |second: usize| song.holds(second as f64 + 0.5);
    let seconds: Vec<_> =
        board.seconds.iter().enumerate().filter(|(at, _)| is_inside(*at)).collect();
    let told: Vec<_> = seconds.into_iter().filter_map(|(_, second)| second.as_ref()).collect();
    let treble = |powers: &Powers| power_between(powers, TREBLE_HZ[0], TREBLE_HZ[1]);
    let all = |powers: &Powers| power_between(powers, ALL_HZ[0], ALL_HZ[1]);
    let powers: Vec<(f64, f64)> =
        told.iter().map(|second| (treble(&second.main), all(&second.main))).collect();
    let loudest = powers.iter().map(|pair| pair.1).fold(0.0, f64::max);
    let least = loudest * 10f64.powf(-REST_DB / 10.0);
    let levels_db: Vec<f64> = powers
        .iter()
        .filter(|pair| pair.0 > 0.0 && pair.1 > least)
        .map(|pair| 10.0 * pair.0.log10())
        .collect();
    let sums = powers.iter().fold((0.0, 0.0), |sum, pair| (sum.0 + pair.0, sum.1 + pair.1));
    let moves = percentile(&levels_db, 0.9).zip(percentile(&levels_db, 0.1));
    let (true, Some((high_db, low_db))) = (sums.0 > 0.0, moves) else {
        return missing("the mix has no treble");
    };
    let gives = |line: usize| told.iter().map(|second| treble(&second.of_line(line))).sum::<f64>();
    let mut from: Vec<(f64, usize)> =
        (0..board.lines.len()).map(|line| (gives(line), line)).filter(|one| one.0 > 0.0).collect();
    from.sort_by(|a, b| b.0.total_cmp(&a.0));
    Treble {
        share_db: Fact::sure(10.0 * (sums.0 / sums.1).log10(), sure),
        movement_db: Fact::sure(high_db - low_db, sure),
        from: from.into_iter().take(NAMED).map(|one| one.1).collect(),
    }
}
