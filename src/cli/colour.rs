//! Whether the screen gets colours.

use std::io::IsTerminal;

/// Whether text on stdout is to be coloured: on a terminal that can, unless `NO_COLOR` is set to
/// anything (<https://no-color.org>).
pub fn wanted() -> bool {
    let forbidden = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
    let dumb = std::env::var_os("TERM").is_some_and(|value| value == "dumb");
    std::io::stdout().is_terminal() && !forbidden && !dumb
}
