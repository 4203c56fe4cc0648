//! Which minutes of a session are looked at closely.
//!
//! Takes when each source sounds, gives a few stretches in which as many as possible sound, rest and change. Never more
//! than asked for; a short session is taken whole.

use crate::unit::Span;
use crate::unit::spans::shared_s;

/// Length of a stretch, in seconds.
const STRETCH_S: f64 = 10.0;

/// How long a source is wanted to sound in what is chosen, in seconds.
const WANTED_S: f64 = 15.0;

/// What a change from rest to sound or back is worth, in seconds of sound that was still wanted.
const CHANGE_S: f64 = 0.15;

/// Fewest seconds worth looking at.
const LEAST_S: f64 = 10.0;

/// Stretches of at most `most_s` altogether, in order; adjoining ones are one. `active` holds for each source when it sounds.
///
/// They begin on whole seconds. Empty for a session under 10 s.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss,
    reason = "a session has few stretches"
)]
pub fn material(active: &[&[Span]], duration_s: f64, most_s: f64) -> Vec<Span> {
    if duration_s < LEAST_S {
        return Vec::new();
    }
    if duration_s <= most_s {
        return vec![Span::new(0.0, duration_s)];
    }
    let n_stretches = (duration_s / STRETCH_S) as usize;
    let stretch = |idx: usize| Span::new(idx as f64 * STRETCH_S, (idx + 1) as f64 * STRETCH_S);
    let seconds: Vec<Vec<f64>> = (0..n_stretches)
        .map(|idx| active.iter().map(|spans| shared_s(spans, stretch(idx))).collect())
        .collect();
    let changes: Vec<f64> = (0..n_stretches)
        .map(|idx| active.iter().map(|spans| n_changes(spans, stretch(idx)) as f64).sum())
        .collect();
    let mut heard_s = vec![0.0f64; active.len()];
    let mut chosen: Vec<usize> = Vec::new();
    let n_wanted = (most_s / STRETCH_S) as usize;
    while chosen.len() < n_wanted.min(n_stretches) {
        let worth = |idx: usize| {
            let new_s: f64 = seconds[idx]
                .iter()
                .zip(&heard_s)
                .map(|(s, heard_s)| (heard_s + s).min(WANTED_S) - heard_s.min(WANTED_S))
                .sum();
            new_s + CHANGE_S * changes[idx]
        };
        let best = (0..n_stretches)
            .filter(|idx| !chosen.contains(idx))
            .max_by(|&a, &b| worth(a).total_cmp(&worth(b)).then(b.cmp(&a)));
        let Some(best) = best else { break };
        chosen.push(best);
        heard_s.iter_mut().zip(&seconds[best]).for_each(|(heard_s, s)| *heard_s += s);
    }
    chosen.sort_unstable();
    let mut spans: Vec<Span> = Vec::new();
    for span in chosen.into_iter().map(stretch) {
        match spans.last_mut() {
            Some(last) if last.end_s >= span.start_s => last.end_s = span.end_s,
            _ => spans.push(span),
        }
    }
    spans
}

fn n_changes(spans: &[Span], within: Span) -> usize {
    let is_inside = |at_s: f64| within.start_s <= at_s && at_s < within.end_s;
    spans.iter().map(|s| usize::from(is_inside(s.start_s)) + usize::from(is_inside(s.end_s))).sum()
}
