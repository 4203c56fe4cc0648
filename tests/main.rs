//! All tests, in one program; its modules mirror the sources.
#![expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "lengths and samples of tests are small and known"
)]
#![expect(clippy::unwrap_used, reason = "a test that can't go on has failed")]

mod accuracy;
mod audio;
mod cli;
mod clocks;
mod coach;
mod comparison;
mod demo;
mod docs;
mod dsp;
mod faults;
mod fuzz;
mod hard;
mod history;
mod house;
mod measure;
mod mixes;
mod page;
mod relate;
mod report;
mod run;
mod session;
mod sheet;
mod support;
mod trend;
mod unit;
mod wedges;
