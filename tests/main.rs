//! All tests, in one program; its modules mirror the sources.
#![expect(clippy::unwrap_used, reason = "a test that can't go on has failed")]

mod audio;
mod cli;
mod coach;
mod demo;
mod docs;
mod dsp;
mod house;
mod measure;
mod relate;
mod report;
mod run;
mod session;
mod support;
