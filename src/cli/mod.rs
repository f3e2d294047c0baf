//! The command line: reads the request, has the library do the work, says how it went.

mod args;
mod cage;
mod colour;
mod completions;
mod failure;
mod manual;
mod output;
mod progress;
mod smooth;

use std::process::ExitCode;

use clap::Parser;

use args::{Arguments, Command};
use failure::Failure;

/// How a request that is not at fault ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Outcome {
    /// Done: exit code 0.
    Done,
    /// Done, and a risk is above the user's limit: exit code 1.
    AboveLimit,
    /// Done, but for cages at fault that have been reported already: exit code 2.
    SomeAtFault,
}

/// Runs the program on its arguments.
pub fn run() -> ExitCode {
    let outcome = match Arguments::try_parse() {
        Ok(arguments) => obey(arguments.command),
        Err(error) => failure::of_arguments(&error),
    };
    match outcome {
        Ok(Outcome::Done) => ExitCode::SUCCESS,
        Ok(Outcome::AboveLimit) => ExitCode::from(1),
        Ok(Outcome::SomeAtFault) => ExitCode::from(2),
        Err(failure) => {
            failure.report();
            ExitCode::from(2)
        }
    }
}

fn obey(command: Command) -> Result<Outcome, Failure> {
    match command {
        Command::Assess(_) => Err(Failure::new("assess is not built yet")),
        Command::Explain { .. } => Err(Failure::new("explain is not built yet")),
        Command::Smooth(arguments) => smooth::run(&arguments),
        Command::Completions { shell } => completions::run(shell),
        Command::Manual => manual::run(),
    }
}
