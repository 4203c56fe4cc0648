//! # Whether a source sounds
//!
//! Whether a channel's own source sounds, frame by frame, from what its microphone hears beyond the others' spill and from what separation
//! gives of it.
//!
//! - **Formula:** clearly: excess (see what a microphone hears beyond the others' spill) above 2 dB, and own separated level within 25 dB of
//!   its 98th percentile; and in the frame on either side of three or more such frames: within 29 dB and above 2 dB, or within 10 dB and
//!   above 0.5 dB. What is sung, bowed, blown or strummed holds on: both as running medians over 11 frames, above 0.15 of the median excess
//!   while it sounds, 2 to 5 dB, and within 22 dB. A choir, whose microphone hears little more of it than of the band: over 47 frames,
//!   above 0.5 dB and within 7 dB; or over 11 frames, above 6 dB and within 15 dB
//! - **Unit:** yes or no per frame of 43 ms
//! - **Source:** own trials on simulated stages
//! - **Window:** the recording
//! - **No value:** as the excess
//! - **Misleads when:** separation leaves much of another source in a microphone that is hardly ever played before

use super::frames::runs;
use crate::dsp::percentile::{median, percentile};
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

    /// Excess above which it sounds, and how far under its top it may be, in dB; the excess of a struck source at first.
    const fn limits_db(self) -> [f64; 2] {
        match self {
            Self::Struck => [SOUNDS_DB, 25.0],
            Self::Held => [SOUNDS_DB, 22.0],
            Self::Massed => [0.5, 7.0],
        }
    }
}

/// Excess above which a source sounds, in dB.
const SOUNDS_DB: f64 = 2.0;

/// A held source that stands out far sounds above this share of its median excess, and above this at the most: what is left of
/// others lies near 2 dB in every microphone.
const SHARE_OF_EXCESS: f64 = 0.15;
const MOST_EXCESS_DB: f64 = 5.0;

/// In a frame beside so many in which it sounds clearly it may be further under its top. A hall holds a source longer than separation
/// follows it: 25 dB of the source in its hall are 29 of these; and what separation gives a source near its top is hardly ever spill.
const BESIDE_FRAMES: usize = 3;
const BESIDE_DB: f64 = 4.0;
const NEAR_TOP_DB: f64 = 10.0;
const NEAR_TOP_SOUNDS_DB: f64 = 0.5;

/// A choir that nothing sounds beside stands out like any source: its excess, and how far under its top it may be, in dB.
const MASSED_ALONE_DB: [f64; 2] = [6.0, 15.0];

/// Excess and own power as they are judged, and the limits that they are judged by.
struct Judged {
    excess_db: Vec<f64>,
    own: Vec<f64>,
    sounds_db: f64,
    under_top_db: f64,
}

impl Judged {
    fn new(manner: Manner, excess_db: &[f64], own: &[f64], top_power: f64) -> Self {
        let mut judged = Self::by(manner.limits_db(), manner.n_frames(), excess_db, own);
        if manner == Manner::Held {
            let stands_out = judged.clear(top_power).into_iter().zip(&judged.excess_db);
            let stands_out: Vec<f64> =
                stands_out.filter(|(sounds, _)| *sounds).map(|(_, excess_db)| *excess_db).collect();
            let share_db = SHARE_OF_EXCESS * median(&stands_out).unwrap_or(0.0);
            judged.sounds_db = share_db.clamp(SOUNDS_DB, MOST_EXCESS_DB);
        }
        judged
    }

    /// By fixed limits, over so many frames.
    fn by(limits_db: [f64; 2], n_frames: usize, excess_db: &[f64], own: &[f64]) -> Self {
        let [sounds_db, under_top_db] = limits_db;
        Self {
            excess_db: running_median(excess_db, n_frames),
            own: running_median(own, n_frames),
            sounds_db,
            under_top_db,
        }
    }

    fn clear(&self, top_power: f64) -> Vec<bool> {
        let least = under(top_power, self.under_top_db);
        let sounds = |(excess_db, own): (&f64, &f64)| *excess_db > self.sounds_db && *own > least;
        self.excess_db.iter().zip(&self.own).map(sounds).collect()
    }
}

/// Whether the own source sounds in each frame; `top_power` is the 98th percentile of its power.
pub fn sounding(manner: Manner, excess_db: &[f64], own: &[f64], top_power: f64) -> Vec<bool> {
    if manner == Manner::Massed {
        return clear(manner, excess_db, own, top_power);
    }
    let judged = Judged::new(manner, excess_db, own, top_power);
    let mut sounds = judged.clear(top_power);
    let least = under(top_power, judged.under_top_db + BESIDE_DB);
    let near_top = under(top_power, NEAR_TOP_DB);
    let may_sound = |frame: usize| {
        judged.excess_db[frame] > judged.sounds_db && judged.own[frame] > least
            || excess_db[frame] > NEAR_TOP_SOUNDS_DB && own[frame] > near_top
    };
    for (from, to) in runs(&sounds, true) {
        if to - from < BESIDE_FRAMES {
            continue;
        }
        if from > 0 && may_sound(from - 1) {
            sounds[from - 1] = true;
        }
        if to < sounds.len() && may_sound(to) {
            sounds[to] = true;
        }
    }
    sounds
}

/// Whether it sounds clearly: what separation is steered by, for which a soft frame too many is worse than one too few.
pub fn clear(manner: Manner, excess_db: &[f64], own: &[f64], top_power: f64) -> Vec<bool> {
    let mut sounds = Judged::new(manner, excess_db, own, top_power).clear(top_power);
    if manner == Manner::Massed {
        let n_frames = Manner::Held.n_frames();
        let alone = Judged::by(MASSED_ALONE_DB, n_frames, excess_db, own).clear(top_power);
        sounds.iter_mut().zip(alone).for_each(|(sounds, alone)| *sounds |= alone);
    }
    sounds
}

/// 98th percentile of powers.
pub fn top_power(powers: &[f64]) -> f64 {
    percentile(powers, 0.98).unwrap_or(0.0)
}

/// The power so far under another.
fn under(power: f64, under_db: f64) -> f64 {
    power * 10f64.powf(-under_db / 10.0)
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
