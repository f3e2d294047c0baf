//! The pictures among an assessment's files.

use std::fs::File;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};

use cagewise::assess::Assessment;
use cagewise::io::{OutputFile, OutputSet, WriteError};
use cagewise::picture::png_file::HEAD_BYTES;
use cagewise::picture::{CLOSE_UPS_MAX, Gallery, UpAxis, is_own, picture_names};
use cagewise::report::StillPicture;

use super::args::AssessArguments;
use super::failure::Failure;

/// Folder of the pictures inside that of the results.
const FOLDER: &str = "pictures";

/// What the names of close-ups begin with.
const CLOSE_UP: &str = "place-";

/// The pictures of one cage, on their way.
pub struct Pictures {
    folder: PathBuf,
    wanted: bool,
    up: UpAxis,
    /// Files opened, in the order of the views.
    files: Vec<OutputFile>,
}

impl Pictures {
    /// Opens the pictures that every cage has, if any are wanted.
    pub fn open(
        arguments: &AssessArguments,
        results: &Path,
        outputs: &mut OutputSet,
    ) -> Result<Self, WriteError> {
        let mut pictures = Self {
            folder: results.join(FOLDER),
            wanted: arguments.pictures,
            up: arguments.up.into(),
            files: Vec::new(),
        };
        if pictures.wanted {
            pictures.open_up_to(0, outputs)?;
        }
        Ok(pictures)
    }

    /// Opens the close-ups that an assessment asks for, has pictures of an earlier run that are not
    /// drawn anew taken away at the end, and names all that will be written.
    pub fn settle(
        &mut self,
        assessment: &Assessment,
        outputs: &mut OutputSet,
    ) -> Result<Vec<String>, WriteError> {
        let places = assessment.findings.places.len();
        if self.wanted {
            self.open_up_to(places, outputs)?;
        }
        for name in &picture_names(CLOSE_UPS_MAX)[self.files.len()..] {
            let outdated = self.folder.join(name);
            if is_own_picture(&outdated) {
                outputs.retire(&outdated);
            }
        }
        let names = picture_names(places);
        let written = names[..self.files.len()].iter();
        Ok(written.map(|name| format!("{FOLDER}/{name}")).collect())
    }

    fn open_up_to(&mut self, places: usize, outputs: &mut OutputSet) -> Result<(), WriteError> {
        for name in &picture_names(places)[self.files.len()..] {
            self.files.push(outputs.create(&self.folder.join(name))?);
        }
        Ok(())
    }

    /// Draws and writes them, and hands out those of the whole form for the page.
    pub fn draw(self, assessment: &Assessment, cage: &Path) -> Result<Vec<StillPicture>, Failure> {
        if self.files.is_empty() {
            return Ok(Vec::new());
        }
        let name = cage.file_name().unwrap_or_default().to_string_lossy();
        let drawn = Gallery::new(assessment, &name, self.up).draw_all();
        let mut stills = Vec::new();
        for (file, picture) in self.files.into_iter().zip(drawn) {
            let mut png = Vec::new();
            // Writing to memory cannot fail.
            let _ = picture.write(&mut png);
            file.write_whole(|out| out.write_all(&png))?;
            // Close-ups would make the page ten times as large; they lie beside it.
            if !picture.name.starts_with(CLOSE_UP) {
                let title = picture.name.trim_end_matches(".png").to_owned();
                stills.push(StillPicture { title, png });
            }
        }
        Ok(stills)
    }
}

/// Whether a file is a picture that this program has written: others' are left alone.
fn is_own_picture(path: &Path) -> bool {
    let mut head = Vec::new();
    let read = File::open(path).and_then(|f| f.take(HEAD_BYTES as u64).read_to_end(&mut head));
    read.is_ok() && is_own(&head)
}
