//! # Top peaks
//!
//! The moments at which a channel comes nearest to full scale.
//!
//! - **Formula:** 10 ms steps whose sample peak lies within 1 dB of the highest of the recording, at least 1 s apart,
//!   highest first; of equals the earlier
//! - **Unit:** s
//! - **Range:** one moment or more
//! - **Source:** common practice: one dropped microphone is no loud passage
//! - **Window:** whole recording
//! - **No value:** the channel is silent: there are no moments
//! - **Misleads when:** a hum or a tone holds the peak: then there is one a second

use super::Trace;
use super::trace::FLOOR_DB;

/// How near to the highest a peak has to come, in dB.
const WITHIN_DB: f64 = 1.0;

/// Least distance between two peaks, in seconds: nearer ones are one passage.
const APART_S: f64 = 1.0;

/// Moments of the highest peaks, in seconds, highest first.
pub fn top_peaks_at_s(peak: &Trace) -> Vec<f64> {
    let levels = peak.levels_in_db(0..peak.len());
    let top_db = levels.iter().copied().fold(FLOOR_DB, f64::max);
    if top_db <= FLOOR_DB {
        return Vec::new();
    }
    let mut steps: Vec<usize> =
        (0..levels.len()).filter(|&step| levels[step] >= top_db - WITHIN_DB).collect();
    steps.sort_by(|&a, &b| levels[b].total_cmp(&levels[a]).then(a.cmp(&b)));
    let mut found: Vec<f64> = Vec::new();
    for step in steps {
        #[expect(clippy::cast_precision_loss, reason = "a count of steps is far below 2^52")]
        let at_s = step as f64 * peak.step_s();
        if found.iter().all(|other_s| (other_s - at_s).abs() >= APART_S) {
            found.push(at_s);
        }
    }
    found
}
