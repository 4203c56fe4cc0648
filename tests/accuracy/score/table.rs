//! The tables of docs/accuracy.md.
//!
//! Takes scores by scene, gives Markdown. Never rounds before the end.

use std::fmt::Write as _;
use std::path::Path;

use super::told::Told;
use super::truth::Truth;
use super::{activity, bars, delay, kin, percentile, share, spill, witness};

/// Scores of a scene.
#[derive(Clone, Debug, Default)]
pub(crate) struct Scene {
    /// Its name.
    pub(crate) name: String,
    /// Of the review, and of the level gate.
    pub(crate) activity: [Vec<activity::Score>; 2],
    /// Of the review, and of the energy ratio.
    pub(crate) spill: [spill::Score; 2],
    /// Of the review, and of the plain cross-correlation.
    pub(crate) delay: [delay::Score; 2],
    /// Of the review.
    pub(crate) kin: kin::Score,
}

impl Scene {
    /// Scores a rendered folder of which a review told this.
    pub(crate) fn of(folder: &Path, told: &Told) -> Self {
        let truth = Truth::read(folder);
        let both = [told, &witness::told(&truth, folder)];
        Self {
            name: truth.scene.clone(),
            activity: both.map(|told| activity::scores(&truth, told)),
            spill: both.map(|told| spill::score(&truth, told)),
            delay: both.map(|told| delay::score(&truth, told)),
            kin: kin::score(&truth, told),
        }
    }

    /// Some scenes as one.
    fn sum<'a>(name: &str, scenes: impl Iterator<Item = &'a Self>) -> Self {
        let mut all = Self { name: name.to_owned(), ..Self::default() };
        for scene in scenes {
            for way in 0..2 {
                all.activity[way].extend(scene.activity[way].iter().cloned());
                all.spill[way].add(&scene.spill[way]);
                all.delay[way].add(&scene.delay[way]);
            }
            all.kin.add(scene.kin);
        }
        all
    }
}

/// Scenes that were written after every threshold was set.
const SET_ASIDE: [&str; 2] = ["cellar-reel", "loft-brass"];

/// The tables of some scenes, with a line for those that were set aside and one for all.
pub(crate) fn tables(scenes: &[Scene]) -> String {
    let mut rows = scenes.to_vec();
    let is_set_aside = |scene: &&Scene| SET_ASIDE.contains(&scene.name.as_str());
    rows.push(Scene::sum("set aside", scenes.iter().filter(is_set_aside)));
    rows.push(Scene::sum("all", scenes.iter()));
    let parts = [activities(&rows), spills(&rows), delays(&rows), kins(&rows)];
    parts.join("\n")
}

fn activities(scenes: &[Scene]) -> String {
    let mut out = format!(
        "Own-source activity, by frames of 43 ms, microphones that are meant for one thing. Bars: F1 {} in the mean, {} at the\n\
         10th percentile, share of time within {} for {}.\n\n\
         | scene | way | microphones | F1, mean | 10th percentile | share of time within {} |\n\
         | --- | --- | --- | --- | --- | --- |\n",
        bars::F1_MEAN,
        bars::F1_TENTH,
        bars::SHARE_OFF,
        percent(Some(bars::SHARE_RIGHT)),
        bars::SHARE_OFF
    );
    for scene in scenes {
        for (way, scores) in ["review", "level gate"].iter().zip(&scene.activity) {
            let summary = activity::summary(scores);
            let _ = writeln!(
                out,
                "| {} | {way} | {} | {} | {} | {} |",
                scene.name,
                scores.len(),
                number(summary.map(|all| all.0), 3),
                number(summary.map(|all| all.1), 3),
                percent(summary.map(|all| all.2))
            );
        }
    }
    out
}

fn spills(scenes: &[Scene]) -> String {
    let (low_db, high_db) = bars::SPILL_DB;
    let mut out = format!(
        "Spill whose true level is {low_db} to {high_db} dB re the microphone's own source. Bars: {} of the pairs have a value, its\n\
         error is {} dB or less in the median and {} dB or less at the 95th percentile; {} have a confident one ({} or more), 95th\n\
         percentile {} dB. Off and wrong count all pairs: at most {} of the confident values are off by more than {} dB; a bound is\n\
         wrong if the truth exceeds it by more than {} dB.\n\n\
         | scene | way | pairs | with a value | median error, dB | 95th percentile | confident | 95th percentile | confident and off | bounds | wrong |\n\
         | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |\n",
        percent(Some(bars::SPILL_GIVEN)),
        bars::SPILL_MEDIAN_DB,
        bars::SPILL_MOST_DB,
        percent(Some(bars::SPILL_CONFIDENT_GIVEN)),
        bars::CONFIDENT,
        bars::SPILL_CONFIDENT_MOST_DB,
        percent(Some(bars::CONFIDENT_OFF)),
        bars::SPILL_OFF_DB,
        bars::BOUND_SLACK_DB
    );
    for scene in scenes {
        for (way, score) in ["review", "energy ratio"].iter().zip(&scene.spill) {
            let errors = sizes(&score.errors_db);
            let _ = writeln!(
                out,
                "| {} | {way} | {} | {} | {} | {} | {} | {} | {} | {} | {} |",
                scene.name,
                score.n_pairs,
                percent(share(errors.len(), score.n_pairs)),
                number(percentile(&errors, 50.0), 2),
                number(percentile(&errors, 95.0), 1),
                percent(share(score.confident_db.len(), score.n_pairs)),
                number(percentile(&sizes(&score.confident_db), 95.0), 1),
                part(score.n_confident_off, score.n_confident),
                score.n_bounds,
                score.n_bounds_wrong
            );
        }
    }
    out
}

fn delays(scenes: &[Scene]) -> String {
    let mut out = format!(
        "Delay and polarity where direct sound is at least 3 dB louder than each reflection and each wedge. Bars: {} within one\n\
         sample, median {} samples or less, no polarity wrong, at most {} of the confident values off by more than one sample.\n\n\
         | scene | way | delays | within one sample | median error, samples | polarity wrong | confident and off | other delays, within one sample |\n\
         | --- | --- | --- | --- | --- | --- | --- | --- |\n",
        percent(Some(bars::DELAY_RIGHT)),
        bars::DELAY_MEDIAN_SAMPLES,
        percent(Some(bars::CONFIDENT_OFF))
    );
    for scene in scenes {
        for (way, score) in ["review", "cross-correlation"].iter().zip(&scene.delay) {
            let errors = &score.errors_samples;
            let _ = writeln!(
                out,
                "| {} | {way} | {} | {} | {} | {} | {} | {} |",
                scene.name,
                errors.len(),
                percent(share(delay::n_right(errors), errors.len())),
                number(percentile(&sizes(errors), 50.0), 2),
                part(score.n_polarities_wrong, score.n_polarities),
                part(score.n_confident_off, score.n_confident),
                part(delay::n_right(&score.others_samples), score.others_samples.len())
            );
        }
    }
    out
}

fn kins(scenes: &[Scene]) -> String {
    let mut out = String::from(
        "Channels that hold one thing: stereo sides, both ends of a drum, cable and microphone, a choir's or a kit's pair. Bar: none\n\
         is given as spill.\n\n\
         | scene | pairs | recognised | given as spill |\n| --- | --- | --- | --- |\n",
    );
    for scene in scenes {
        let kin = scene.kin;
        let _ = writeln!(
            out,
            "| {} | {} | {} | {} |",
            scene.name, kin.n_pairs, kin.n_recognised, kin.n_as_spill
        );
    }
    out
}

fn sizes(errors: &[f64]) -> Vec<f64> {
    errors.iter().map(|error| error.abs()).collect()
}

pub(super) fn number(value: Option<f64>, digits: usize) -> String {
    value.map_or_else(|| "-".to_owned(), |value| format!("{value:.digits$}"))
}

pub(super) fn percent(share: Option<f64>) -> String {
    share.map_or_else(|| "-".to_owned(), |share| format!("{:.0} %", 100.0 * share))
}

fn part(some: usize, all: usize) -> String {
    if all > 0 { format!("{some} of {all}") } else { "-".to_owned() }
}
