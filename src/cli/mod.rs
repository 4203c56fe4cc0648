//! Arguments, printing and exit codes.
//!
//! The only module that prints, writes reports and asks the environment. A command is a file beside this one.

mod args;
mod channels;
mod compare;
mod demo;
mod excerpts;
mod explain;
mod habits;
mod history;
mod mark;
mod output;
mod place;
mod review;
mod sheet;
mod targets;

use std::process::ExitCode;

use clap::Parser;

use args::{Args, Command};

/// Could not do it.
const FAILED: u8 = 1;

/// Runs the program with the arguments of the process and gives its exit code: 0 done, 1 could not do it, 2 wrong usage.
pub fn main() -> ExitCode {
    let outcome = match Args::parse().command {
        Command::Review(arguments) => review::run(&arguments),
        Command::Channels(arguments) => channels::run(&arguments),
        Command::Demo(arguments) => demo::run(&arguments),
        Command::Mark(arguments) => mark::run(&arguments),
        Command::Sheet(arguments) => sheet::run(&arguments),
        Command::Compare(arguments) => compare::run(&arguments),
        Command::Explain(arguments) => explain::run(&arguments),
        Command::Targets(arguments) => targets::run(&arguments),
        Command::Habits(arguments) => habits::run(&arguments),
        Command::History(arguments) => history::run(&arguments),
    };
    match outcome {
        Ok(()) => ExitCode::SUCCESS,
        Err(errors) => {
            for error in errors {
                place::complain("error", &error);
            }
            ExitCode::from(FAILED)
        }
    }
}

/// What a command came to: nothing to say, or a sentence for each thing that could not be done.
type Outcome = Result<(), Vec<String>>;
