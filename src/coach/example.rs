//! A small healthy session for the tests inside rule files, and what a rule says about it.

use super::aims::Aims;
use super::judge::{Judgement, Outcome, judge};
use super::rule::Rule;
use crate::reading::{Channel, Processing, Reading};
use crate::unit::Fact;

#[path = "../../tests/support/readings.rs"]
mod readings;

pub(super) use readings::{
    backing, channel, main_mix, mixed, pair, session, solo, song, spill, spilled, with_main,
    with_pair,
};

/// Every judgement of a rule.
pub(super) fn judged(rule: &'static Rule, reading: &Reading) -> Vec<Judgement> {
    let observations = (rule.observe)(reading).into_iter();
    observations.map(|observation| judge(rule, observation, &Aims::default())).collect()
}

/// The outcome of the first judgement of a rule.
pub(super) fn only(rule: &'static Rule, reading: &Reading) -> Outcome {
    judged(rule, reading).first().expect("the rule has something to look at").outcome.clone()
}

/// What a compressor of a voice does that is well set.
pub(super) fn processing(raw: &Channel) -> Processing {
    Processing {
        raw: raw.id.clone(),
        static_gain_db: Fact::exact(6.0),
        usual_reduction_db: Fact::exact(4.0),
        loud_reduction_db: Fact::exact(7.0),
        deep_percent: Fact::exact(1.0),
        threshold_dbfs: Fact::exact(-24.0),
        ratio: Fact::exact(3.0),
        least_attack_s: Fact::exact(0.005),
        most_attack_s: Fact::exact(0.015),
        release_s: Fact::exact(0.15),
        pump_db: Fact::exact(1.0),
    }
}
