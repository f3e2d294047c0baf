//! A request that can't be met: one line on stderr, exit code 2.

use std::ffi::OsString;
use std::fmt::Display;
use std::io::Write;

use clap::CommandFactory;
use clap::error::ErrorKind;

use super::Outcome;
use super::args::Arguments;
use super::output::print;

/// What is at fault, in one line: where, what, and how to mend it.
#[derive(Debug, PartialEq, Eq)]
pub struct Failure(String);

impl Failure {
    /// The failure that a message tells of. Control characters in it are escaped.
    pub fn new(message: impl Display) -> Self {
        let mut line = String::new();
        for c in message.to_string().chars() {
            if c.is_control() {
                line.extend(c.escape_debug());
            } else {
                line.push(c);
            }
        }
        Self(line)
    }

    /// Prints the line on stderr.
    pub fn report(&self) {
        // There is nowhere left to tell of a failure here.
        let _ = writeln!(std::io::stderr(), "cagewise: {}", self.0);
    }
}

impl<E: std::error::Error> From<E> for Failure {
    fn from(error: E) -> Self {
        Self::new(error)
    }
}

/// What to do about arguments that ask for no work: help and version are printed, everything else
/// is at fault.
pub fn of_arguments(error: &clap::Error) -> Result<Outcome, Failure> {
    match error.kind() {
        ErrorKind::DisplayHelp | ErrorKind::DisplayVersion => {
            print(&error.render().to_string())?;
            Ok(Outcome::Done)
        }
        ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand => Err(Failure::new(
            "no command is given; say what to do, or see 'cagewise --help'",
        )),
        _ => {
            let command = named_command(std::env::args_os().nth(1));
            let rendered = error.render().to_string();
            Err(Failure::new(one_line(&rendered, command.as_deref())))
        }
    }
}

/// The essence of a rendered error: its first paragraph, and where help is found.
fn one_line(rendered: &str, command: Option<&str>) -> String {
    let text = rendered.strip_prefix("error: ").unwrap_or(rendered);
    let lines = text.lines().map(str::trim);
    let first: Vec<&str> = lines.clone().take_while(|line| !line.is_empty()).collect();
    let mut line = first.join(" ");
    let tip = lines.clone().find_map(|line| line.strip_prefix("tip: "));
    if let Some(tip) = tip {
        line.push_str("; ");
        line.push_str(tip);
    }
    let command = command.map(|name| format!("{name} "));
    format!(
        "{line}; see 'cagewise {}--help'",
        command.unwrap_or_default()
    )
}

/// The command that the arguments name, if they name one.
fn named_command(first: Option<OsString>) -> Option<String> {
    let first = first?.into_string().ok()?;
    let program = Arguments::command();
    program
        .find_subcommand(&first)
        .map(|command| command.get_name().to_owned())
}

#[cfg(test)]
mod tests {
    use clap::Parser;

    use super::*;

    fn line_for(arguments: &[&str]) -> String {
        let all = std::iter::once(&"cagewise").chain(arguments);
        match Arguments::try_parse_from(all) {
            Ok(arguments) => format!("accepted: {arguments:?}"),
            Err(error) => {
                let command = named_command(arguments.first().map(OsString::from));
                one_line(&error.render().to_string(), command.as_deref())
            }
        }
    }

    #[test]
    fn wrong_options_are_told_in_one_line() {
        assert_eq!(
            line_for(&["smooth", "a.obj"]),
            "the following required arguments were not provided: --out <FILE.obj>; \
             see 'cagewise smooth --help'"
        );
        assert_eq!(
            line_for(&["smooth", "a.obj", "--out", "b.obj", "--boundary", "soft"]),
            "invalid value 'soft' for '--boundary <RULE>' \
             [possible values: edge-and-corner, edge-only]; see 'cagewise smooth --help'"
        );
        let unknown = line_for(&["assess", "a.obj", "--levle", "3"]);
        assert!(
            unknown.starts_with("unexpected argument '--levle' found; "),
            "{unknown}"
        );
        assert!(
            unknown.ends_with("; see 'cagewise assess --help'"),
            "{unknown}"
        );
    }

    #[test]
    fn control_characters_are_shown_not_sent() {
        assert_eq!(Failure::new("a\u{1b}[31m\nb").0, "a\\u{1b}[31m\\nb");
    }
}
