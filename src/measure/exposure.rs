//! # Exposure to sound
//!
//! What a stay at some sound levels adds up to over a day.
//!
//! - **Formula:** daily exposure level `10 lg (1/8 h) Σ t 10^(L/10)`; dose `100 % Σ t / T(L)` over levels from the threshold
//!   on, with `T(L) = 8 h / 2^((L - C)/q)`, criterion `C` and exchange rate `q`; time-weighted average `C + k lg (dose/100 %)`
//! - **Unit:** dB re 20 µPa, A-weighted; % of what the criterion allows a day
//! - **Range:** dose from 0 %; 100 % is 8 h at the criterion
//! - **Source:** Directive 2003/10/EC and ISO 9612 (daily exposure level); NIOSH Publication 98-126, 1998 (85 dB, 3 dB); 29
//!   CFR 1910.95 Appendix A (90 dB, 5 dB); thresholds of 80 dB and 90 dB and the factors 10 and 16.61: from memory
//! - **Window:** the levels and times given; a recording gives those of its seconds
//! - **No value:** no time at all
//! - **Misleads when:** the day had other noise; the ear was not where the microphone stood; levels of one second stand for
//!   the S weighting that 29 CFR 1910.95 asks for. Law and licence of the place decide, not this number

use super::sound_level::SoundLevel;
use crate::unit::Unmeasured;

/// A working day, in seconds.
const DAY_S: f64 = 8.0 * 3600.0;

/// For how long somebody was at a level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stay {
    /// A-weighted sound level, in dB.
    pub level_db: f64,
    /// For how long, in seconds.
    pub time_s: f64,
}

/// How levels and times are weighed against each other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Criterion {
    /// Level that is allowed for 8 h, in dB(A).
    pub level_db: f64,
    /// How much more halves the time, in dB.
    pub exchange_db: f64,
    /// Levels below this add nothing, in dB(A).
    pub threshold_db: f64,
    /// What a tenfold dose adds to the time-weighted average, in dB, as printed.
    pub decade_db: f64,
}

/// 85 dB(A) for 8 h, half the time for each 3 dB more (NIOSH 98-126).
pub const THREE_DB: Criterion =
    Criterion { level_db: 85.0, exchange_db: 3.0, threshold_db: 80.0, decade_db: 10.0 };

/// 90 dB(A) for 8 h, half the time for each 5 dB more: the limit of 29 CFR 1910.95.
pub const FIVE_DB_LIMIT: Criterion =
    Criterion { level_db: 90.0, exchange_db: 5.0, threshold_db: 90.0, decade_db: 16.61 };

/// The same with the lower threshold that counts towards the action level, which is a dose of 50 %.
pub const FIVE_DB_ACTION: Criterion = Criterion { threshold_db: 80.0, ..FIVE_DB_LIMIT };

impl Criterion {
    /// How long a level is allowed a day, in seconds.
    pub fn allowed_s(&self, level_db: f64) -> f64 {
        DAY_S / ((level_db - self.level_db) / self.exchange_db).exp2()
    }

    /// Dose of some stays, in %.
    pub fn dose_percent(&self, stays: &[Stay]) -> f64 {
        let counts = |stay: &&Stay| stay.level_db >= self.threshold_db;
        let share = |stay: &Stay| stay.time_s / self.allowed_s(stay.level_db);
        100.0 * stays.iter().filter(counts).map(share).sum::<f64>()
    }

    /// Level that, held for 8 h, has a dose; `None` for a dose of 0.
    pub fn average_db(&self, dose_percent: f64) -> Option<f64> {
        let average_db = self.level_db + self.decade_db * (dose_percent / 100.0).log10();
        average_db.is_finite().then_some(average_db)
    }
}

/// Daily exposure level of some stays: the level that has their energy over 8 h.
///
/// # Errors
///
/// [`Unmeasured::TooShort`] if no time was spent.
pub fn daily_level_db(stays: &[Stay]) -> Result<f64, Unmeasured> {
    let energy = |stay: &Stay| stay.time_s * 10_f64.powf(stay.level_db / 10.0);
    let sum: f64 = stays.iter().map(energy).sum();
    if sum > 0.0 {
        Ok(10.0 * (sum / DAY_S).log10())
    } else {
        Err(Unmeasured::TooShort { have_s: 0.0, need_s: 1.0 })
    }
}

/// The seconds of a recording as stays.
pub fn stays(level: &SoundLevel) -> Vec<Stay> {
    level.seconds_db().map(|level_db| Stay { level_db, time_s: 1.0 }).collect()
}
