//! Levels of clips, plainly: what is planted is planted where something sounds, and activity is what the clean clip tells.

use deskside::unit::Span;

use super::clip::{RATE_HZ, samples};

/// RMS of the samples around a place.
pub(crate) fn rms_around(x: &[f64], at: usize, half: usize) -> f64 {
    let near = &x[at.saturating_sub(half)..(at + half).min(x.len())];
    (near.iter().map(|x| x * x).sum::<f64>() / near.len().max(1) as f64).sqrt()
}

/// Level of 20 ms frames, in dBFS.
fn frames_db(x: &[f64]) -> Vec<f64> {
    let power = |frame: &[f64]| frame.iter().map(|x| x * x).sum::<f64>() / frame.len() as f64;
    x.chunks(samples(0.02)).map(|frame| 10.0 * power(frame).max(1e-14).log10()).collect()
}

/// Level that 5 % of the frames exceed, in dBFS.
pub(crate) fn loud_db(x: &[f64]) -> f64 {
    let mut levels = frames_db(x);
    levels.sort_by(f64::total_cmp);
    levels[levels.len() * 95 / 100]
}

/// When a clean clip sounds: frames within 30 dB of the loud ones, gaps under 0.3 s closed.
pub(crate) fn active(x: &[f64]) -> Vec<Span> {
    let border_db = loud_db(x) - 30.0;
    let frame_s = samples(0.02) as f64 / f64::from(RATE_HZ);
    let mut spans: Vec<Span> = Vec::new();
    for (idx, level_db) in frames_db(x).iter().enumerate() {
        let start_s = idx as f64 * frame_s;
        if *level_db < border_db {
            continue;
        }
        match spans.last_mut() {
            Some(last) if start_s - last.end_s < 0.3 => last.end_s = start_s + frame_s,
            _ => spans.push(Span::new(start_s, start_s + frame_s)),
        }
    }
    spans
}
