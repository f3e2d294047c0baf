//! `cagewise completions`: completions for a shell.

use clap::CommandFactory;
use clap_complete::Shell;

use super::Outcome;
use super::args::Arguments;
use super::failure::Failure;
use super::output::print_bytes;

/// Prints the completions for a shell.
pub fn run(shell: Shell) -> Result<Outcome, Failure> {
    let mut text = Vec::new();
    clap_complete::generate(shell, &mut Arguments::command(), "cagewise", &mut text);
    print_bytes(&text)?;
    Ok(Outcome::Done)
}
