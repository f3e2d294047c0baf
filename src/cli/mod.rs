//! The command line: reads the request, has the library do the work, says how it went.

mod args;
mod assess;
mod cage;
mod colour;
mod completions;
mod explain;
mod failure;
mod folders;
mod manual;
mod output;
mod page;
mod pictures;
mod progress;
mod sample;
mod smooth;

use std::process::ExitCode;

use clap::Parser;

use args::{Arguments, Command};
use failure::Failure;

/// How a request ends that can be met at least in part; what is worse counts as greater.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Outcome {
    /// Done: exit code 0.
    Done,
    /// Done, and a risk is above the user's limit: exit code 1.
    AboveLimit,
    /// Done, but for cages at fault that have been reported already: exit code 2.
    SomeAtFault,
}

/// Exit code of a program that is stopped by the user (128 and the number of the interrupt signal,
/// as shells have it).
const STOPPED: i32 = 130;

/// Runs the program on its arguments.
pub fn run() -> ExitCode {
    // Without a handler a stop would leave temporary files; that is no reason not to work.
    let _ = ctrlc::set_handler(|| {
        cagewise::io::remove_open_temporaries();
        std::process::exit(STOPPED);
    });
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
        Command::Assess(arguments) => assess::run(&arguments),
        Command::Explain { name } => explain::run(name.as_deref()),
        Command::Sample(arguments) => sample::run(&arguments),
        Command::Smooth(arguments) => smooth::run(&arguments),
        Command::Completions { shell } => completions::run(shell),
        Command::Manual => manual::run(),
    }
}
