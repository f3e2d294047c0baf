//! Tables of places on the limit surface: a CSV file with the columns `face,corner,u,v`.
//!
//! Faces and corners are numbered from 1, as in the OBJ; `corner` is empty for a quad and needed
//! for any other face: see [`Place`].

use std::path::Path;

use thiserror::Error;

use super::quote::{counted, quoted};
use super::table::{self, TableError, TableRow};
use crate::limit::{Place, PlaceError};

/// One row of a table of places.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlaceRow {
    /// Line of the file, from 1.
    pub line: u64,
    /// The place.
    pub place: Place,
}

/// Why a table of places can't be used.
pub type PlacesError = TableError<PlaceFault>;

/// What is wrong with one line of a table of places. The message is a fault and its mend, without
/// file and line.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum PlaceFault {
    /// The first line is not the header.
    #[error("the header is {found}; write face,corner,u,v, each once, in any order")]
    Header {
        /// The line as it stands, quoted.
        found: String,
    },
    /// A row has another number of fields than the header.
    #[error(
        "the row has {}; write 4, with corner left empty for a quad",
        counted(*found, "field", "fields")
    )]
    FieldCount {
        /// How many it has.
        found: usize,
    },
    /// A face or corner is not a whole number.
    #[error("{token} in column {column} is not a number to count by; write a whole number from 1")]
    NumberMalformed {
        /// The column.
        column: &'static str,
        /// The field, quoted.
        token: String,
    },
    /// A parameter is not a number.
    #[error("{token} in column {column} is not a number; write one from 0 to 1")]
    ParameterMalformed {
        /// The column.
        column: &'static str,
        /// The field, quoted.
        token: String,
    },
    /// The cage has no such place.
    #[error("{0}")]
    NoPlace(#[from] PlaceError),
}

/// Reads a table of places.
///
/// # Errors
/// [`PlacesError`] if the file can't be read, if its header is not `face,corner,u,v` in some
/// order, or if a row is malformed. Whether a cage has the places is
/// [`LimitSurface::evaluate_all`](crate::limit::LimitSurface::evaluate_all)'s matter.
pub fn read_places(path: &Path) -> Result<Vec<PlaceRow>, PlacesError> {
    table::read(path)
}

/// Reads the table of places in the bytes of a file, as [`read_places`] does; `name` is the file's
/// name in messages.
///
/// # Errors
/// As [`read_places`].
pub fn read_places_from(bytes: &[u8], name: &Path) -> Result<Vec<PlaceRow>, PlacesError> {
    table::read_from(bytes, name)
}

impl TableRow<4> for PlaceRow {
    type Fault = PlaceFault;

    const WANTED: &'static str = "a table of places (CSV)";

    const COLUMNS: [&'static str; 4] = ["face", "corner", "u", "v"];

    fn header_fault(found: String) -> PlaceFault {
        PlaceFault::Header { found }
    }

    fn field_count_fault(found: usize) -> PlaceFault {
        PlaceFault::FieldCount { found }
    }

    fn of([face, corner, u, v]: [&[u8]; 4], line: u64) -> Result<Self, PlaceFault> {
        let place = Place {
            face: number_of(face, "face")?,
            corner: if corner.is_empty() {
                None
            } else {
                Some(number_of(corner, "corner")?)
            },
            u: parameter_of(u, "u")?,
            v: parameter_of(v, "v")?,
        };
        Ok(Self { line, place })
    }
}

/// A number that counts from 1, less one.
fn number_of(field: &[u8], column: &'static str) -> Result<usize, PlaceFault> {
    let text = std::str::from_utf8(field).ok();
    let number = text.and_then(|t| t.parse::<usize>().ok());
    number
        .and_then(|n| n.checked_sub(1))
        .ok_or_else(|| PlaceFault::NumberMalformed {
            column,
            token: quoted(field),
        })
}

fn parameter_of(field: &[u8], column: &'static str) -> Result<f64, PlaceFault> {
    let text = std::str::from_utf8(field).ok();
    text.and_then(|t| t.parse().ok())
        .ok_or_else(|| PlaceFault::ParameterMalformed {
            column,
            token: quoted(field),
        })
}
