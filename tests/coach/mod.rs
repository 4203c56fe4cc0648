//! Tests of `coach`: the engine and all texts. Each rule carries its own examples in its file.

mod aims;
mod choice;
mod folding;
mod json;
mod judging;
mod marks;
mod mix;
mod past;
mod register;
mod spill;
mod texts;
mod windows;

use deskside::coach::{Advice, Aims, Judgement, Options, Outcome, coach};
use deskside::reading::Reading;

/// The advice with default options and no file of the team's own.
fn advise(reading: &Reading) -> Advice {
    coach(reading, &Aims::default(), &Options::default())
}

/// The judgement of a rule on the first channel that it looked at.
fn judgement<'a>(advice: &'a Advice, rule: &str) -> &'a Judgement {
    advice
        .judgements
        .iter()
        .find(|judgement| judgement.rule.id == rule)
        .expect("the rule looked at something")
}

/// The outcome of a rule on the first channel that it looked at.
fn outcome<'a>(advice: &'a Advice, rule: &str) -> &'a Outcome {
    &judgement(advice, rule).outcome
}

/// Ids of the rules of notes.
fn rules(notes: &[deskside::coach::Note]) -> Vec<&'static str> {
    notes.iter().map(|note| note.rule.id).collect()
}
