//! Text for the user's screen or the next program of a pipe.

use std::io::{ErrorKind, Write};

use super::failure::Failure;

/// Prints to stdout. A reader that has gone away (`| head`) is no fault.
pub fn print(text: &str) -> Result<(), Failure> {
    print_bytes(text.as_bytes())
}

/// As [`print`].
pub fn print_bytes(bytes: &[u8]) -> Result<(), Failure> {
    let mut stdout = std::io::stdout().lock();
    match stdout.write_all(bytes).and_then(|()| stdout.flush()) {
        Err(error) if error.kind() == ErrorKind::BrokenPipe => Ok(()),
        Err(error) => Err(Failure::new(format!(
            "can't write to the standard output: {error}; choose another place"
        ))),
        Ok(()) => Ok(()),
    }
}
