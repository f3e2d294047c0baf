//! The page among an assessment's files.

use std::fs::File;
use std::io::Read;
use std::path::Path;

use cagewise::assess::Assessment;
use cagewise::io::{OutputFile, OutputSet, WriteError};
use cagewise::mesh::Cage;
use cagewise::report::{PAGE_MARK, PageOptions, Summary, write_page};

/// Name of the page.
const NAME: &str = "report.html";

/// Bytes at a page's head in which its mark stands.
const HEAD_BYTES: u64 = 512;

/// The page of one cage, on its way.
pub struct Page {
    file: Option<OutputFile>,
}

impl Page {
    /// Opens the page if it is `wanted`; else has one of an earlier run taken away at the end, so that
    /// none stays beside newer figures.
    pub fn open(wanted: bool, results: &Path, outputs: &mut OutputSet) -> Result<Self, WriteError> {
        let path = results.join(NAME);
        if !wanted && is_own(&path) {
            outputs.retire(&path);
        }
        let file = wanted.then(|| outputs.create(&path)).transpose()?;
        Ok(Self { file })
    }

    /// The page's name if it will be written.
    pub fn name(&self) -> Option<&'static str> {
        self.file.as_ref().map(|_| NAME)
    }

    /// Writes the page, if it is wanted.
    pub fn write(
        self,
        cage: &Cage,
        assessment: &Assessment,
        summary: &Summary,
        options: &PageOptions,
    ) -> Result<(), WriteError> {
        match self.file {
            None => Ok(()),
            Some(file) => {
                file.write_whole(|out| write_page(out, cage, assessment, summary, options))
            }
        }
    }
}

/// Whether a file is a page that this program has written: others' are left alone.
fn is_own(path: &Path) -> bool {
    let mut head = Vec::new();
    let read = File::open(path).and_then(|f| f.take(HEAD_BYTES).read_to_end(&mut head));
    let mark = PAGE_MARK.as_bytes();
    read.is_ok() && head.windows(mark.len()).any(|part| part == mark)
}
