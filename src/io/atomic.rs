//! Writing results whole: everything is written beside its target and renamed at the end, so that
//! a failure or a kill leaves each file as it was or as it shall be.

use std::fs::{self, File};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use tempfile::TempPath;
use thiserror::Error;

use super::quote::shown_path;
use super::temporaries::Listed;

/// Size of the buffer of each output, in bytes: large enough that the system calls don't show.
const BUFFER_SIZE: usize = 1 << 16;

/// Why results can't be written. The message is one line: the file, the fault and its mend.
#[derive(Debug, Error)]
pub enum WriteError {
    /// The output is one of the inputs.
    #[error("can't write {}: it is an input; choose another output", shown_path(.path))]
    IsInput {
        /// The output.
        path: PathBuf,
    },
    /// Two outputs are one file.
    #[error("can't write {}: two outputs have this path; give each its own", shown_path(.path))]
    Twice {
        /// The output.
        path: PathBuf,
    },
    /// The output is a folder.
    #[error("can't write {}: it is a folder; name a file", shown_path(.path))]
    Folder {
        /// The output.
        path: PathBuf,
    },
    /// The folder for the output is a file.
    #[error(
        "can't write into {}: it is a file, not a folder; name a folder",
        shown_path(.path)
    )]
    FileForFolder {
        /// The supposed folder.
        path: PathBuf,
    },
    /// The output exists and is a device, pipe or socket.
    #[error("can't write {}: it is not a regular file; name another", shown_path(.path))]
    NotRegular {
        /// The output.
        path: PathBuf,
    },
    /// The output exists and is write-protected.
    #[error(
        "can't write {}: the file is write-protected; allow writing or name another",
        shown_path(.path)
    )]
    Protected {
        /// The output.
        path: PathBuf,
    },
    /// The system refuses.
    #[error(
        "can't write {}: {reason}; choose another place or free this one",
        shown_path(.path)
    )]
    Io {
        /// The output, or the folder it should stand in.
        path: PathBuf,
        /// What the system says.
        reason: io::Error,
    },
    /// An output was opened and never finished: a fault of the calling program.
    #[error("can't write {}: its writing was not finished; please report this", shown_path(.path))]
    Unfinished {
        /// The output.
        path: PathBuf,
    },
}

fn io_error(path: &Path) -> impl FnOnce(io::Error) -> WriteError + '_ {
    |reason| WriteError::Io {
        path: path.to_owned(),
        reason,
    }
}

/// A set of result files that appear together.
///
/// Each is written to a temporary file in its target's own folder. [`OutputSet::commit`] renames
/// them; a set that is dropped without it leaves nothing behind, and earlier results untouched.
/// Folders that are missing are made, and taken away again if nothing is committed.
///
/// Each rename is atomic; the set as a whole is not: a kill between two renames leaves new files
/// beside old ones, each whole. A program that is told to stop can take the temporary files away
/// ([`super::remove_open_temporaries`]); one that is killed outright leaves them, named
/// `.cagewise-*.part`.
#[derive(Debug, Default)]
pub struct OutputSet {
    inputs: Vec<Identity>,
    pending: Vec<Pending>,
    /// Files of an earlier run that go when the new ones come.
    outdated: Vec<PathBuf>,
    /// Folders made, outermost first. After `pending`, whose files must go first.
    folders: MadeFolders,
}

#[derive(Debug)]
struct Pending {
    target: PathBuf,
    temporary: TempPath,
    _listed: Listed,
    finished: Arc<AtomicBool>,
}

impl OutputSet {
    /// A set none of whose files may be one of `inputs`. Inputs that don't exist are passed over.
    pub fn new<P: AsRef<Path>>(inputs: &[P]) -> Self {
        let identities = inputs.iter().filter_map(|p| Identity::of(p.as_ref()));
        Self {
            inputs: identities.collect(),
            ..Self::default()
        }
    }

    /// Opens an output. A symbolic link is followed: what it leads to is replaced, not the link.
    ///
    /// # Errors
    /// [`WriteError`] if `target` is an input, an output already opened, a folder, not a regular
    /// file or write-protected, or if its folder can't be made or written to.
    pub fn create(&mut self, target: &Path) -> Result<OutputFile, WriteError> {
        let path = target.to_owned();
        // A link that leads nowhere is replaced itself.
        let real = fs::canonicalize(target).unwrap_or_else(|_| path.clone());
        self.check_target(target, &real)?;
        let folder = match real.parent() {
            Some(parent) if !parent.as_os_str().is_empty() => parent,
            _ => Path::new("."),
        };
        self.folders.make(folder)?;
        let real = match (fs::canonicalize(folder), real.file_name()) {
            (Ok(folder), Some(name)) => folder.join(name),
            _ => return Err(WriteError::Folder { path }),
        };
        if self.pending.iter().any(|p| p.target == real) {
            return Err(WriteError::Twice { path });
        }
        let created = Listed::creating(|| temporary_in(folder));
        let (temporary, listed) = created.map_err(io_error(target))?;
        let (file, temporary) = temporary.into_parts();
        let finished = Arc::new(AtomicBool::new(false));
        self.pending.push(Pending {
            target: real,
            _listed: listed,
            temporary,
            finished: Arc::clone(&finished),
        });
        Ok(OutputFile {
            path,
            writer: BufWriter::with_capacity(BUFFER_SIZE, file),
            finished,
        })
    }

    /// Names a file of an earlier run that [`OutputSet::commit`] takes away, and its folder with it
    /// if nothing else is in there. It must be no output of this set; one that doesn't exist by
    /// then is passed over.
    pub fn retire(&mut self, outdated: &Path) {
        self.outdated.push(outdated.to_owned());
    }

    fn check_target(&self, target: &Path, real: &Path) -> Result<(), WriteError> {
        let path = target.to_owned();
        if target.file_name().is_none() || ends_with_separator(target) {
            return Err(WriteError::Folder { path });
        }
        let Ok(metadata) = fs::metadata(real) else {
            return Ok(());
        };
        if metadata.is_dir() {
            return Err(WriteError::Folder { path });
        }
        if Identity::of(real).is_some_and(|id| self.inputs.iter().any(|i| i.is_same(&id))) {
            return Err(WriteError::IsInput { path });
        }
        if !metadata.is_file() {
            return Err(WriteError::NotRegular { path });
        }
        if metadata.permissions().readonly() {
            return Err(WriteError::Protected { path });
        }
        Ok(())
    }

    /// Puts every output in its place, then takes away what [`OutputSet::retire`] named.
    ///
    /// # Errors
    /// [`WriteError::Unfinished`] if an output was not finished: then nothing is put in place.
    /// [`WriteError::Io`] if a rename fails: then the outputs opened before that one are in place;
    /// or if an outdated file can't be taken away: then all of them are.
    pub fn commit(mut self) -> Result<(), WriteError> {
        let unfinished = self
            .pending
            .iter()
            .find(|p| !p.finished.load(Ordering::Acquire));
        if let Some(pending) = unfinished {
            let path = pending.target.clone();
            return Err(WriteError::Unfinished { path });
        }
        for pending in std::mem::take(&mut self.pending) {
            let placed = pending.temporary.persist(&pending.target);
            placed.map_err(|error| io_error(&pending.target)(error.error))?;
            self.folders.keep();
        }
        for outdated in &self.outdated {
            match fs::remove_file(outdated) {
                Err(error) if error.kind() != io::ErrorKind::NotFound => {
                    return Err(io_error(outdated)(error));
                }
                _ => {}
            }
            if let Some(folder) = outdated.parent() {
                // Only an empty folder goes.
                let _ = fs::remove_dir(folder);
            }
        }
        Ok(())
    }
}

/// A temporary file with the permissions of any new file.
fn temporary_in(folder: &Path) -> io::Result<tempfile::NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(".cagewise-").suffix(".part");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // The process's umask takes off what new files shall not have.
        builder.permissions(fs::Permissions::from_mode(0o666));
    }
    builder.tempfile_in(folder)
}

fn ends_with_separator(path: &Path) -> bool {
    let last = path.as_os_str().as_encoded_bytes().last();
    last.is_some_and(|&b| std::path::is_separator(char::from(b)))
}

/// One output of an [`OutputSet`], buffered. [`OutputFile::finish`] it, or let
/// [`OutputFile::write_whole`] do so; the set refuses to commit an output that is not finished.
#[derive(Debug)]
pub struct OutputFile {
    path: PathBuf,
    writer: BufWriter<File>,
    finished: Arc<AtomicBool>,
}

impl OutputFile {
    /// Writes everything by one function and finishes.
    ///
    /// # Errors
    /// [`WriteError::Io`] if writing fails.
    pub fn write_whole(
        mut self,
        write: impl FnOnce(&mut BufWriter<File>) -> io::Result<()>,
    ) -> Result<(), WriteError> {
        write(&mut self.writer).map_err(io_error(&self.path))?;
        self.finish()
    }

    /// Hands what is buffered to the system, and marks the output as complete.
    ///
    /// # Errors
    /// [`WriteError::Io`] if writing fails.
    pub fn finish(mut self) -> Result<(), WriteError> {
        self.writer.flush().map_err(io_error(&self.path))?;
        self.finished.store(true, Ordering::Release);
        Ok(())
    }
}

impl Write for OutputFile {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.writer.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.writer.flush()
    }
}

/// Folders made for outputs; taken away on drop, where empty, unless kept.
#[derive(Debug, Default)]
struct MadeFolders(Vec<PathBuf>);

impl MadeFolders {
    /// Makes the folder and those it stands in.
    fn make(&mut self, folder: &Path) -> Result<(), WriteError> {
        if let Some(file) = folder.ancestors().find(|f| f.is_file()) {
            let path = file.to_owned();
            return Err(WriteError::FileForFolder { path });
        }
        let is_missing = |f: &&Path| !f.as_os_str().is_empty() && !f.exists();
        let missing: Vec<&Path> = folder.ancestors().take_while(is_missing).collect();
        for folder in missing.into_iter().rev() {
            match fs::create_dir(folder) {
                Ok(()) => self.0.push(folder.to_owned()),
                // Another process made it meanwhile, or the path goes in and out by `..`.
                Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {}
                Err(error) => return Err(io_error(folder)(error)),
            }
        }
        Ok(())
    }

    fn keep(&mut self) {
        self.0.clear();
    }
}

impl Drop for MadeFolders {
    fn drop(&mut self) {
        for folder in self.0.iter().rev() {
            // A folder that is no longer empty is someone else's now.
            let _ = fs::remove_dir(folder);
        }
    }
}

/// What tells whether two paths are one file.
#[derive(Debug, PartialEq, Eq)]
struct Identity {
    canonical: PathBuf,
    /// Device and inode: hard links have one file under several paths.
    #[cfg(unix)]
    node: (u64, u64),
}

impl Identity {
    /// The identity of a file that exists.
    fn of(path: &Path) -> Option<Self> {
        let canonical = fs::canonicalize(path).ok()?;
        #[cfg(unix)]
        let node = {
            use std::os::unix::fs::MetadataExt;
            let metadata = fs::metadata(&canonical).ok()?;
            (metadata.dev(), metadata.ino())
        };
        Some(Self {
            canonical,
            #[cfg(unix)]
            node,
        })
    }

    fn is_same(&self, other: &Self) -> bool {
        #[cfg(unix)]
        if self.node == other.node {
            return true;
        }
        self.canonical == other.canonical
    }
}
