//! # Whether a source sounds
//!
//! Whether a channel's own source sounds, frame by frame, from what its microphone hears beyond the others' spill and from what separation
//! gives of it.
//!
//! - **Formula:** clearly: excess `e` (see what a microphone hears beyond the others' spill) above 2 dB, and own separated level `u` within
//!   25 dB of its 98th percentile. Of the frames within 1.5 dB of `u`, `n` sound clearly and `m` do not: it sounds where `e` is above 0 and
//!   above `2 - 1.5 ln((n + 0.5) / (m + 0.5))` dB, within 30 dB. A frame beside such a one sounds within 29 dB and above 2 dB, or within
//!   12 dB and above 0. What is sung, bowed, blown or strummed holds on: both as running medians over 11 frames, clearly within 18 dB; from
//!   there to 22 and 26 dB `e` must reach 2, 7 and 15 dB. A choir, whose microphone hears little more of it than of the band: over
//!   47 frames, above 0.5 dB and within 7 dB; or over 11 frames, above 6 dB and within 15 dB
//! - **Unit:** yes or no per frame of 43 ms
//! - **Source:** own trials on simulated stages
//! - **Window:** the recording
//! - **No value:** as the excess
//! - **Misleads when:** separation leaves much of another source in a microphone that is hardly ever played before

use crate::dsp::percentile::percentile;
use crate::session::{Family, Role};

/// How a source sounds on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Manner {
    /// A hit is over after a few frames.
    Struck,
    /// A word or a note holds for some frames; a single frame is what separation has left of another source.
    Held,
    /// Many voices far from their microphone, in phrases.
    Massed,
}

impl Manner {
    /// How the source of a role does; unknown ones are taken to be struck, which asks least of them.
    pub fn of(role: Role) -> Self {
        match role.family() {
            _ if role == Role::Choir => Self::Massed,
            Family::Voice | Family::Bass | Family::Guitar | Family::Keys | Family::Melody => {
                Self::Held
            }
            _ => Self::Struck,
        }
    }

    /// Frames that excess and level are medians of.
    const fn n_frames(self) -> usize {
        match self {
            Self::Struck => 1,
            Self::Held => 11,
            Self::Massed => 47,
        }
    }

    /// Excess above which it sounds clearly, and how far under its top it may be, in dB.
    const fn limits_db(self) -> [f64; 2] {
        match self {
            Self::Struck => [SOUNDS_DB, 25.0],
            Self::Held => [SOUNDS_DB, 18.0],
            Self::Massed => [0.5, 7.0],
        }
    }

    /// Excess that a frame so far under the top needs at least, in dB. Never does a source sound where the others account for all that is
    /// heard; and one that holds on seldom is as soft as what a hall's end leaves of others.
    fn least_excess_db(self, under_top_db: f64) -> f64 {
        match self {
            Self::Struck if under_top_db < 30.0 => 0.0,
            Self::Held if under_top_db < 18.0 => 0.0,
            Self::Held if under_top_db < 22.0 => 2.0 + 1.25 * (under_top_db - 18.0),
            Self::Held if under_top_db < 26.0 => 7.0 + 2.0 * (under_top_db - 22.0),
            _ => f64::INFINITY,
        }
    }
}

/// Excess above which a source sounds, in dB.
const SOUNDS_DB: f64 = 2.0;

/// Frames whose own powers lie so close are of one level, in dB. Where `n` of a level sound clearly and `m` do not, a frame needs
/// `ln(n / m)` times this less to sound, in dB: how well separation tells a source differs by instrument and hall, and its own frames show
/// at which level it is the source and at which what others leave.
const ONE_LEVEL_DB: f64 = 1.5;
const PER_ODDS_DB: f64 = 1.5;

/// A frame beside one that sounds may be softer by this, in dB, for a stroke begins or ends within it; or stand out by this alone if it is
/// so near its top.
const BESIDE_DB: f64 = 4.0;
const NEAR_TOP_DB: f64 = 12.0;
const NEAR_TOP_SOUNDS_DB: f64 = 0.0;

/// A choir that nothing sounds beside stands out like any source: its excess, and how far under its top it may be, in dB.
const MASSED_ALONE_DB: [f64; 2] = [6.0, 15.0];

/// Excess and own power as they are judged, and the limits that they are judged by.
struct Judged {
    excess_db: Vec<f64>,
    under_top_db: Vec<f64>,
    limits_db: [f64; 2],
}

impl Judged {
    fn new(manner: Manner, excess_db: &[f64], own: &[f64], top_power: f64) -> Self {
        Self::by(manner.limits_db(), manner.n_frames(), excess_db, own, top_power)
    }

    /// By fixed limits, over so many frames.
    fn by(
        limits_db: [f64; 2],
        n_frames: usize,
        excess_db: &[f64],
        own: &[f64],
        top_power: f64,
    ) -> Self {
        let own = running_median(own, n_frames);
        Self {
            excess_db: running_median(excess_db, n_frames),
            under_top_db: own.iter().map(|&power| under_db(power, top_power)).collect(),
            limits_db,
        }
    }

    fn both(&self) -> impl Iterator<Item = (f64, f64)> {
        self.excess_db.iter().copied().zip(self.under_top_db.iter().copied())
    }

    fn clear(&self) -> Vec<bool> {
        let [sounds_db, most_db] = self.limits_db;
        self.both().map(|(excess_db, under)| excess_db > sounds_db && under < most_db).collect()
    }

    /// Whether each frame stands out as far as one of its level must: less where those that are as loud mostly sound clearly.
    fn likely(&self, manner: Manner) -> Vec<bool> {
        let clear = self.clear();
        let of_all = Ordered::of(self.under_top_db.iter().copied());
        let sounds = self.under_top_db.iter().zip(&clear).filter(|(_, clear)| **clear);
        let of_clear = Ordered::of(sounds.map(|(under, _)| *under));
        let stands_out = |(excess_db, under): (f64, f64)| {
            let [n_clear, n_all] = [&of_clear, &of_all].map(|levels| levels.near(under));
            let odds = (n_clear + 0.5) / (n_all - n_clear + 0.5);
            let needs_db = self.limits_db[0] - PER_ODDS_DB * odds.ln();
            excess_db > needs_db.max(manner.least_excess_db(under))
        };
        self.both().map(stands_out).collect()
    }
}

/// Levels, the least first.
struct Ordered(Vec<f64>);

impl Ordered {
    fn of(levels_db: impl Iterator<Item = f64>) -> Self {
        let mut levels_db: Vec<f64> = levels_db.collect();
        levels_db.sort_unstable_by(f64::total_cmp);
        Self(levels_db)
    }

    /// How many are of one level with another.
    #[expect(clippy::cast_precision_loss, reason = "a count of frames is far below 2^52")]
    fn near(&self, level_db: f64) -> f64 {
        let below = |limit_db: f64| self.0.partition_point(|&one| one < limit_db);
        (below(level_db + ONE_LEVEL_DB) - below(level_db - ONE_LEVEL_DB)) as f64
    }
}

/// Whether the own source sounds in each frame; `top_power` is the 98th percentile of its power.
pub fn sounding(manner: Manner, excess_db: &[f64], own: &[f64], top_power: f64) -> Vec<bool> {
    if manner == Manner::Massed {
        return clear(manner, excess_db, own, top_power);
    }
    let judged = Judged::new(manner, excess_db, own, top_power);
    let sounds = judged.likely(manner);
    let [sounds_db, most_db] = judged.limits_db;
    let may_sound = |frame: usize| {
        judged.excess_db[frame] > sounds_db && judged.under_top_db[frame] < most_db + BESIDE_DB
            || excess_db[frame] > NEAR_TOP_SOUNDS_DB
                && under_db(own[frame], top_power) < NEAR_TOP_DB
    };
    let beside = |frame: usize| {
        frame > 0 && sounds[frame - 1] || sounds.get(frame + 1).is_some_and(|sounds| *sounds)
    };
    (0..sounds.len()).map(|frame| sounds[frame] || beside(frame) && may_sound(frame)).collect()
}

/// Whether it sounds clearly: what separation is steered by, for which a soft frame too many is worse than one too few.
pub fn clear(manner: Manner, excess_db: &[f64], own: &[f64], top_power: f64) -> Vec<bool> {
    let mut sounds = Judged::new(manner, excess_db, own, top_power).clear();
    if manner == Manner::Massed {
        let n_frames = Manner::Held.n_frames();
        let alone = Judged::by(MASSED_ALONE_DB, n_frames, excess_db, own, top_power).clear();
        sounds.iter_mut().zip(alone).for_each(|(sounds, alone)| *sounds |= alone);
    }
    sounds
}

/// 98th percentile of powers.
pub fn top_power(powers: &[f64]) -> f64 {
    percentile(powers, 0.98).unwrap_or(0.0)
}

/// How far a power lies under another, in dB.
fn under_db(power: f64, top_power: f64) -> f64 {
    if power > 0.0 { 10.0 * (top_power / power).log10() } else { f64::INFINITY }
}

/// Median of the `width` values around each, an odd number; of fewer at either end.
fn running_median(values: &[f64], width: usize) -> Vec<f64> {
    let reach = width / 2;
    let mut sorted: Vec<f64> = Vec::with_capacity(width);
    let put = |sorted: &mut Vec<f64>, value: f64| {
        let place = sorted.partition_point(|one| one.total_cmp(&value).is_lt());
        sorted.insert(place, value);
    };
    values[..reach.min(values.len())].iter().for_each(|&value| put(&mut sorted, value));
    (0..values.len())
        .map(|at| {
            if let Some(&next) = values.get(at + reach) {
                put(&mut sorted, next);
            }
            if at > reach {
                let gone = values[at - reach - 1];
                sorted.remove(sorted.partition_point(|one| one.total_cmp(&gone).is_lt()));
            }
            let middle = sorted.len() / 2;
            if sorted.len() % 2 == 1 {
                sorted[middle]
            } else {
                0.5 * (sorted[middle - 1] + sorted[middle])
            }
        })
        .collect()
}
