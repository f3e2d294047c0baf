//! The temporary files that are being written, so that a program that is told to stop can take
//! them away.

use std::path::PathBuf;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::{fs, io};

use tempfile::NamedTempFile;

static OPEN: Mutex<Vec<PathBuf>> = Mutex::new(Vec::new());

fn open() -> MutexGuard<'static, Vec<PathBuf>> {
    OPEN.lock().unwrap_or_else(PoisonError::into_inner)
}

/// A temporary file on the list for as long as this lives.
#[derive(Debug)]
pub(super) struct Listed(PathBuf);

impl Listed {
    /// Lists the file that `create` makes; a stop that comes meanwhile waits, and takes it away.
    pub fn creating(
        create: impl FnOnce() -> io::Result<NamedTempFile>,
    ) -> io::Result<(NamedTempFile, Self)> {
        let mut open = open();
        let file = create()?;
        let path = file.path().to_owned();
        open.push(path.clone());
        Ok((file, Self(path)))
    }
}

impl Drop for Listed {
    fn drop(&mut self) {
        open().retain(|path| *path != self.0);
    }
}

/// Takes away the temporary files of every [`OutputSet`](super::OutputSet) of this process that is
/// still being written: for a program that is about to stop on a signal. Targets are untouched.
pub fn remove_open_temporaries() {
    for path in open().drain(..) {
        // One that was just renamed to its target is gone, and that is well.
        let _ = fs::remove_file(path);
    }
}
