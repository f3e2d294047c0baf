//! What is wrong with an OBJ file, said in one line.

use std::fmt;
use std::path::PathBuf;

use thiserror::Error;

use crate::io::quote::{counted, shown_path};
use crate::io::source::SourceFault;

/// Why a file gives no cage. The message is one line: the file, the line where there is one, the
/// fault and its mend.
#[derive(Debug, Error)]
pub enum ReadError {
    /// The file can't be read, or is no OBJ text.
    #[error("{}: {fault}", shown_path(.path))]
    Source {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        fault: SourceFault,
    },
    /// A statement is at fault.
    #[error("{}:{line}: {fault}", shown_path(.path))]
    Line {
        /// The file.
        path: PathBuf,
        /// The line, from 1; of a continued statement its first line.
        line: u32,
        /// What is wrong with it.
        fault: LineFault,
    },
    /// The file has no face.
    #[error(
        "{}: the file has no faces ({}); export the polygons with the cage",
        shown_path(.path), counted(*vertices, "vertex", "vertices")
    )]
    NoFaces {
        /// The file.
        path: PathBuf,
        /// Number of vertices it has.
        vertices: usize,
    },
    /// More elements than 32-bit indices can name.
    #[error(
        "{}: {count} {element} are more than 32-bit indices can name; split the file",
        shown_path(.path)
    )]
    TooLarge {
        /// The file.
        path: PathBuf,
        /// What there are too many of.
        element: &'static str,
        /// How many there are.
        count: usize,
    },
    /// `tobj` does not return what the cleaned stream holds: a fault of this program.
    #[error(
        "{}: the OBJ parser disagrees with the file ({reason}); please report this file",
        shown_path(.path)
    )]
    Parser {
        /// The file.
        path: PathBuf,
        /// What it says.
        reason: String,
    },
}

/// What a face's corner names: an entry of the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Entry {
    /// A vertex (`v`).
    Vertex,
    /// A UV (`vt`).
    Uv,
    /// A normal (`vn`).
    Normal,
}

impl Entry {
    fn counted(self, count: usize) -> String {
        match self {
            Self::Vertex => counted(count, "vertex", "vertices"),
            Self::Uv => counted(count, "UV", "UVs"),
            Self::Normal => counted(count, "normal", "normals"),
        }
    }
}

impl fmt::Display for Entry {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Vertex => "vertex",
            Self::Uv => "UV",
            Self::Normal => "normal",
        })
    }
}

/// What is wrong with one statement. The message is a fault and its mend, without file and line.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum LineFault {
    /// A token that should be a number is none.
    #[error("{token} in '{statement}' is not a number; write it like -1.25 or 3e-4")]
    NumberMalformed {
        /// The statement's keyword.
        statement: &'static str,
        /// The token, quoted.
        token: String,
    },
    /// A number is not finite, or too large for double precision.
    #[error("{token} in '{statement}' is not a finite number; correct it or export again")]
    NumberNotFinite {
        /// The statement's keyword.
        statement: &'static str,
        /// The token, quoted.
        token: String,
    },
    /// A statement has the wrong number of numbers.
    #[error(
        "'{statement}' has {}; it takes {expected}",
        counted(*found, "number", "numbers")
    )]
    NumberCount {
        /// The statement's keyword.
        statement: &'static str,
        /// How many it has.
        found: usize,
        /// How many it takes.
        expected: &'static str,
    },
    /// A face has fewer than three corners.
    #[error(
        "the face has {}; give it at least 3, or delete the line",
        counted(*found, "corner", "corners")
    )]
    FaceTooShort {
        /// How many it has.
        found: usize,
    },
    /// A face's corner is not of the form `v`, `v/vt`, `v//vn` or `v/vt/vn`.
    #[error("{token} is not a face corner; write it as v, v/vt, v//vn or v/vt/vn")]
    CornerMalformed {
        /// The token, quoted.
        token: String,
    },
    /// An index is 0.
    #[error("the face names {entry} 0, but OBJ counts from 1; correct the index")]
    IndexZero {
        /// What it names.
        entry: Entry,
    },
    /// An index is beyond the file's entries.
    #[error(
        "the face names {entry} {index}, but the file has {}; correct the index",
        entry.counted(*count)
    )]
    IndexOutOfRange {
        /// What it names.
        entry: Entry,
        /// The index as written.
        index: u64,
        /// How many entries the file has.
        count: usize,
    },
    /// A relative (negative) index reaches back beyond the first entry.
    #[error(
        "the face names {entry} -{back}, but before it the file has {}; correct the index",
        entry.counted(*count)
    )]
    IndexBeforeFirst {
        /// What it names.
        entry: Entry,
        /// How far it reaches back.
        back: u64,
        /// How many entries stand before the face.
        count: usize,
    },
    /// A smoothing group is neither a number nor `off`.
    #[error("{text} is not a smoothing group; write one whole number from 0, or off")]
    SmoothingMalformed {
        /// The rest of the statement, quoted.
        text: String,
    },
}
