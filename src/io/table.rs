//! Tables that users write: CSV files with a header and a few known columns, which may come in any
//! order.

use std::fmt::{Debug, Display};
use std::path::{Path, PathBuf};

use thiserror::Error;

use super::quote::{quoted, shown_path};
use super::source::{self, SourceFault};

/// Why a table can't be used. The message is one line: the file, the line where there is one, the
/// fault and its mend.
#[derive(Debug, Error)]
pub enum TableError<F: Debug + Display> {
    /// The file can't be read, or is no text.
    #[error("{}: {fault}", shown_path(.path))]
    Source {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        fault: SourceFault,
    },
    /// A line is at fault.
    #[error("{}:{line}: {fault}", shown_path(.path))]
    Line {
        /// The file.
        path: PathBuf,
        /// The line, from 1.
        line: u64,
        /// What is wrong with it.
        fault: F,
    },
}

/// A kind of table, by what one of its rows holds.
pub(super) trait TableRow<const N: usize>: Sized {
    /// What is wrong with a line.
    type Fault: Debug + Display;

    /// What the file should be, with its article, as messages say it.
    const WANTED: &'static str;

    /// The columns, in the order that [`TableRow::of`] gets a row's fields in.
    const COLUMNS: [&'static str; N];

    /// The fault of a header, quoted, that does not name the columns.
    fn header_fault(found: String) -> Self::Fault;

    /// The fault of a row with another number of fields than there are columns.
    fn field_count_fault(found: usize) -> Self::Fault;

    /// A row from its fields, blanks about them taken off; `line` counts from 1.
    fn of(fields: [&[u8]; N], line: u64) -> Result<Self, Self::Fault>;
}

/// Reads the table in a file.
pub(super) fn read<const N: usize, R: TableRow<N>>(
    path: &Path,
) -> Result<Vec<R>, TableError<R::Fault>> {
    let bytes = source::load(path).map_err(|fault| TableError::Source {
        path: path.to_owned(),
        fault,
    })?;
    read_from(&bytes, path)
}

/// Reads the table in the bytes of a file; `name` is the file's name in messages.
pub(super) fn read_from<const N: usize, R: TableRow<N>>(
    bytes: &[u8],
    name: &Path,
) -> Result<Vec<R>, TableError<R::Fault>> {
    let unreadable = |fault| TableError::Source {
        path: name.to_owned(),
        fault,
    };
    let text = source::text_of(bytes, R::WANTED).map_err(unreadable)?;
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(text);
    let mut lines = LineCounter::new(text);
    let mut columns = None;
    let mut rows = Vec::new();
    for record in reader.byte_records() {
        let record =
            record.map_err(|error| unreadable(SourceFault::Io(std::io::Error::other(error))))?;
        let line = lines.line_of(record.position().map_or(0, csv::Position::byte));
        let outcome = match columns {
            None => columns_of::<N, R>(&record).map(|found| columns = Some(found)),
            Some(columns) => row_of(&record, columns, line).map(|row: Option<R>| rows.extend(row)),
        };
        outcome.map_err(|fault| TableError::Line {
            path: name.to_owned(),
            line,
            fault,
        })?;
    }
    Ok(rows)
}

/// Where each column stands.
fn columns_of<const N: usize, R: TableRow<N>>(
    header: &csv::ByteRecord,
) -> Result<[usize; N], R::Fault> {
    let places = R::COLUMNS.map(|name| header.iter().position(|field| field == name.as_bytes()));
    if header.len() == N && places.iter().all(Option::is_some) {
        return Ok(places.map(Option::unwrap_or_default));
    }
    let fields: Vec<&[u8]> = header.iter().collect();
    Err(R::header_fault(quoted(&fields.join(&b','))))
}

fn row_of<const N: usize, R: TableRow<N>>(
    record: &csv::ByteRecord,
    columns: [usize; N],
    line: u64,
) -> Result<Option<R>, R::Fault> {
    // A line of blanks alone is a record of one empty field to the CSV reader.
    if record.len() == 1 && record[0].is_empty() {
        return Ok(None);
    }
    if record.len() != N {
        return Err(R::field_count_fault(record.len()));
    }
    R::of(columns.map(|c| &record[c]), line).map(Some)
}

/// Lines by byte offset, for offsets that rise. Records begin after the blank lines above them,
/// which the CSV reader counts as part of the record.
struct LineCounter<'a> {
    text: &'a [u8],
    at: usize,
    line: u64,
}

impl<'a> LineCounter<'a> {
    fn new(text: &'a [u8]) -> Self {
        Self {
            text,
            at: 0,
            line: 1,
        }
    }

    fn line_of(&mut self, byte: u64) -> u64 {
        let byte = usize::try_from(byte).unwrap_or(usize::MAX);
        while let Some(&b) = self.text.get(self.at) {
            let ends_line = matches!(b, b'\n' | b'\r');
            if self.at >= byte && !ends_line {
                break;
            }
            let is_crlf = b == b'\r' && self.text.get(self.at + 1) == Some(&b'\n');
            if ends_line && !is_crlf {
                self.line += 1;
            }
            self.at += 1;
        }
        self.line
    }
}
