//! A small healthy session for the tests inside rule files, and what a rule says about it.

use super::aims::Aims;
use super::judge::{Judgement, Outcome, judge};
use super::rule::Rule;
use crate::reading::Reading;

#[path = "../../tests/support/readings.rs"]
mod readings;

pub(super) use readings::{
    backing, channel, main_mix, mixed, pair, processing, session, solo, song, sound_levels, spill,
    spilled, with_main, with_pair, with_room,
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
