//! What is true between the taps of a channel: the gain reduction as a measurement in blocks would see it.

use deskside::dsp::biquad::{Biquad, Filter};

use super::signals::amplitude;

/// Samples in a block of 2 ms at 48 kHz.
pub(crate) const BLOCK: usize = 96;

/// Samples behind an equaliser.
pub(crate) fn through(samples: &[f32], sections: &[Biquad]) -> Vec<f32> {
    let mut filter = Filter::new(sections.to_vec());
    samples.iter().map(|&x| filter.step(f64::from(x)) as f32).collect()
}

/// Reduction over 10 ms around each block, weighted as the power of what is heard.
pub(crate) fn seen_db(reductions_db: &[f64], heard: &[f32]) -> Vec<f64> {
    let blocks = reductions_db.chunks_exact(BLOCK).zip(heard.chunks_exact(BLOCK));
    let sums: Vec<[f64; 2]> = blocks
        .map(|(db, x)| {
            let powers = db.iter().zip(x).map(|(db, x)| [-*db, f64::from(*x).powi(2)]);
            powers.fold([1e-30; 2], |sums, [db, power]| {
                [sums[0] + amplitude(db) * power, sums[1] + power]
            })
        })
        .collect();
    (0..sums.len())
        .map(|at| {
            let around = [0.25, 0.75, 1.0, 0.75, 0.25].into_iter().zip(at..);
            let under = around.filter_map(|(w, place)| Some((w, sums.get(place.checked_sub(2)?)?)));
            let [both, own] = under.fold([0.0; 2], |s, (w, v)| [s[0] + w * v[0], s[1] + w * v[1]]);
            -20.0 * (both / own).log10()
        })
        .collect()
}
