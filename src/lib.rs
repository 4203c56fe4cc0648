//! `deskside` reads the per-channel recordings of a rehearsal and turns them into a few coaching notes.
//!
//! The modules in reading order: a session flows from the top to the bottom.

// The tests inside rule files share a session with the tests outside the crate.
#[cfg(test)]
extern crate self as deskside;

pub mod unit;

pub mod error;

pub mod dsp;

pub mod audio;

pub mod session;

pub mod measure;

pub mod relate;

pub mod reading;

pub mod coach;

pub mod trend;

pub mod history;

pub mod comparison;

pub mod report;

pub mod page;

pub mod demo;

pub mod run;

pub mod cli;
