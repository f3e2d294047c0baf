//! Checks every statement of an OBJ file and sorts what it says: entries stay text for the parser,
//! face corners become absolute indices, and what faces carry is noted per face.

use super::error::{Entry, LineFault};
use super::names::{NameTracker, SmoothingLabels};
use super::numbers::{NumberFault, scan_index, scan_number, value_of};
use super::statement::{Keyword, Statement, Statements, ends_token, next_token, token_at, trimmed};
use crate::io::quote::quoted;
use crate::mesh::{NONE, NameTable, SkippedStatements, SmoothingGroups};

/// Most numbers a statement takes: position, w and colour.
const MOST_NUMBERS: usize = 7;

/// Entries of one kind (`v`, `vt` or `vn`), cleaned, and the entry each corner names.
#[derive(Debug, Default)]
pub(super) struct Entries {
    /// One plain statement `v` of three numbers per entry, as text.
    pub text: Vec<u8>,
    /// Number of entries.
    pub count: usize,
    /// One per corner: index from 0, or [`NONE`].
    pub of_corner: Vec<u32>,
    /// First index too long for 32 bits, with its line.
    oversized: Option<(u32, u64)>,
}

/// A file, checked and sorted.
#[derive(Debug, Default)]
pub(super) struct Cleaned {
    pub vertices: Entries,
    pub uvs: Entries,
    pub normals: Entries,
    pub vertex_lines: Vec<u32>,
    pub colours: Option<Vec<[f64; 3]>>,
    pub face_starts: Vec<u32>,
    pub face_lines: Vec<u32>,
    pub objects: NameTable,
    pub groups: NameTable,
    pub materials: NameTable,
    pub material_libraries: Vec<Vec<u8>>,
    pub smoothing: SmoothingGroups,
    pub skipped: SkippedStatements,
}

/// A fault and the line it stands on.
pub(super) type Located = (u32, LineFault);

/// Checks and sorts the statements of `text`.
pub(super) fn clean(text: &[u8]) -> Result<Cleaned, Located> {
    let mut cleaner = Cleaner::default();
    cleaner.out.face_starts.push(0);
    let mut statements = Statements::new(text);
    while let Some(statement) = statements.next() {
        let line = statement.line;
        cleaner.take(statement).map_err(|fault| (line, fault))?;
    }
    cleaner.finish()
}

#[derive(Default)]
struct Cleaner {
    out: Cleaned,
    objects: NameTracker,
    groups: NameTracker,
    materials: NameTracker,
    labels: SmoothingLabels,
    smoothing: u32,
}

impl Cleaner {
    fn take(&mut self, statement: Statement<'_>) -> Result<(), LineFault> {
        let Statement {
            keyword,
            rest,
            line,
        } = statement;
        let skipped = &mut self.out.skipped;
        match keyword {
            Keyword::Vertex => self.vertex(rest, line)?,
            Keyword::Uv => self.uv(rest)?,
            Keyword::Normal => self.normal(rest)?,
            Keyword::Face => self.face(rest, line)?,
            Keyword::Smoothing => self.smoothing(rest)?,
            Keyword::Group => self.groups.state(trimmed(rest)),
            Keyword::Object => self.objects.state(trimmed(rest)),
            Keyword::Material => self.materials.state(trimmed(rest)),
            Keyword::MaterialLibrary => {
                self.out.material_libraries.push(trimmed(rest).to_vec());
            }
            Keyword::Line => skipped.lines += 1,
            Keyword::Point => skipped.points += 1,
            Keyword::FreeForm => skipped.free_form += 1,
            Keyword::RenderAttribute => skipped.render_attributes += 1,
            Keyword::Unknown => skipped.unknown += 1,
        }
        Ok(())
    }

    fn vertex(&mut self, rest: &[u8], line: u32) -> Result<(), LineFault> {
        let numbers = Numbers::scan("v", rest)?;
        let first_of_colour = match numbers.count {
            // A fourth number is the weight that free-form surfaces use: polygons have none.
            3 | 4 => None,
            6 => Some(3),
            7 => Some(4),
            _ => {
                return Err(numbers.count_fault("v", "3 (x y z), 4 with w, or 3 more for a colour"));
            }
        };
        let out = &mut self.out;
        out.vertices.add(numbers.text(rest, 0, 3), b"\n");
        out.vertex_lines.push(line);
        if let Some(first) = first_of_colour {
            let colour = [0, 1, 2].map(|i| value_of(numbers.text(rest, first + i, 1)));
            let colours = out.colours.get_or_insert_default();
            colours.resize(out.vertices.count - 1, WHITE);
            colours.push(colour);
        }
        Ok(())
    }

    fn uv(&mut self, rest: &[u8]) -> Result<(), LineFault> {
        let numbers = Numbers::scan("vt", rest)?;
        match numbers.count {
            // The format gives v the value 0 where it is left out.
            1 => self.out.uvs.add(numbers.text(rest, 0, 1), b" 0 0\n"),
            2 | 3 => self.out.uvs.add(numbers.text(rest, 0, 2), b" 0\n"),
            _ => return Err(numbers.count_fault("vt", "2 (u v), or 1 to 3")),
        }
        Ok(())
    }

    fn normal(&mut self, rest: &[u8]) -> Result<(), LineFault> {
        let numbers = Numbers::scan("vn", rest)?;
        if numbers.count != 3 {
            return Err(numbers.count_fault("vn", "3 (x y z)"));
        }
        self.out.normals.add(numbers.text(rest, 0, 3), b"\n");
        Ok(())
    }

    fn face(&mut self, rest: &[u8], line: u32) -> Result<(), LineFault> {
        let mut corners = 0;
        let mut at = next_token(rest, 0);
        while at < rest.len() {
            at = next_token(rest, self.corner(rest, at, line)?);
            corners += 1;
        }
        if corners < 3 {
            return Err(LineFault::FaceTooShort { found: corners });
        }
        self.objects.add_face();
        self.groups.add_face();
        self.materials.add_face();
        self.out.smoothing.of_face.push(self.smoothing);
        self.out.face_lines.push(line);
        // Truncates only beyond what `finish`'s caller refuses as too large.
        let end = self.out.vertices.of_corner.len() as u32;
        self.out.face_starts.push(end);
        Ok(())
    }

    /// Reads the corner that starts at `start`, and returns where it ends.
    fn corner(&mut self, rest: &[u8], start: usize, line: u32) -> Result<usize, LineFault> {
        let malformed = || LineFault::CornerMalformed {
            token: quoted(token_at(rest, start)),
        };
        let out = &mut self.out;
        let mut at = out.vertices.name(rest, start, Entry::Vertex, line)?;
        if at == start {
            return Err(malformed());
        }
        for (entries, entry) in [(&mut out.uvs, Entry::Uv), (&mut out.normals, Entry::Normal)] {
            if rest.get(at) == Some(&b'/') {
                at = entries.name(rest, at + 1, entry, line)?;
            } else {
                entries.of_corner.push(NONE);
            }
        }
        if ends_token(rest, at) {
            Ok(at)
        } else {
            Err(malformed())
        }
    }

    fn smoothing(&mut self, rest: &[u8]) -> Result<(), LineFault> {
        let start = next_token(rest, 0);
        let token = token_at(rest, start);
        let is_alone = next_token(rest, start + token.len()) == rest.len();
        let label = self.labels.label(token).filter(|_| is_alone);
        self.smoothing = label.ok_or_else(|| LineFault::SmoothingMalformed {
            text: quoted(trimmed(rest)),
        })?;
        self.out.smoothing.stated = true;
        Ok(())
    }

    /// Checks what only the whole file decides.
    fn finish(mut self) -> Result<Cleaned, Located> {
        let out = &mut self.out;
        for (entries, entry) in [
            (&out.vertices, Entry::Vertex),
            (&out.uvs, Entry::Uv),
            (&out.normals, Entry::Normal),
        ] {
            entries.check_range(entry, &out.face_starts, &out.face_lines)?;
        }
        if let Some(colours) = &mut out.colours {
            colours.resize(out.vertices.count, WHITE);
        }
        out.objects = self.objects.into_table();
        out.groups = self.groups.into_table();
        out.materials = self.materials.into_table();
        Ok(self.out)
    }
}

/// Colour of a vertex that has none, in a file where others have one.
const WHITE: [f64; 3] = [1.0; 3];

impl Entries {
    /// Whether any corner names one of these entries.
    pub fn is_used(&self) -> bool {
        self.of_corner.iter().any(|&index| index != NONE)
    }

    fn add(&mut self, numbers: &[u8], end: &[u8]) {
        self.text.extend_from_slice(b"v ");
        self.text.extend_from_slice(numbers);
        self.text.extend_from_slice(end);
        self.count += 1;
    }

    /// Takes the index that starts at `at`, or none, for the next corner; returns where it ends.
    /// Forward references are legal, so an absolute index is checked at the end of the file; a
    /// relative one counts back from here.
    fn name(
        &mut self,
        text: &[u8],
        at: usize,
        entry: Entry,
        line: u32,
    ) -> Result<usize, LineFault> {
        let Some(index) = scan_index(text, at) else {
            self.of_corner.push(NONE);
            return Ok(at);
        };
        let count = self.count;
        let magnitude = index.magnitude;
        let from_zero = match (index.negative, magnitude) {
            (_, 0) => return Err(LineFault::IndexZero { entry }),
            (false, _) => magnitude - 1,
            (true, back) => (count as u64)
                .checked_sub(back)
                .ok_or(LineFault::IndexBeforeFirst { entry, back, count })?,
        };
        if from_zero >= u64::from(NONE) {
            self.oversized.get_or_insert((line, magnitude));
        }
        self.of_corner.push(from_zero as u32);
        Ok(index.end)
    }

    fn check_range(
        &self,
        entry: Entry,
        face_starts: &[u32],
        face_lines: &[u32],
    ) -> Result<(), Located> {
        let count = self.count;
        let fault = |index| LineFault::IndexOutOfRange {
            entry,
            index,
            count,
        };
        if let Some((line, index)) = self.oversized {
            return Err((line, fault(index)));
        }
        let is_beyond = |&index: &u32| index != NONE && index as usize >= count;
        let Some(corner) = self.of_corner.iter().position(is_beyond) else {
            return Ok(());
        };
        let face = face_starts.partition_point(|&start| start as usize <= corner) - 1;
        let line = face_lines.get(face).copied().unwrap_or(0);
        Err((line, fault(u64::from(self.of_corner[corner]) + 1)))
    }
}

/// Where the numbers of a statement stand.
struct Numbers {
    spans: [(usize, usize); MOST_NUMBERS],
    count: usize,
}

impl Numbers {
    /// Checks the numbers in `rest`; all are counted, the first [`MOST_NUMBERS`] are kept.
    fn scan(statement: &'static str, rest: &[u8]) -> Result<Self, LineFault> {
        let mut numbers = Self {
            spans: [(0, 0); MOST_NUMBERS],
            count: 0,
        };
        let mut at = next_token(rest, 0);
        while at < rest.len() {
            let end = scan_number(rest, at).map_err(|fault| {
                let token = quoted(token_at(rest, at));
                match fault {
                    NumberFault::Malformed => LineFault::NumberMalformed { statement, token },
                    NumberFault::NotFinite => LineFault::NumberNotFinite { statement, token },
                }
            })?;
            if let Some(span) = numbers.spans.get_mut(numbers.count) {
                *span = (at, end);
            }
            numbers.count += 1;
            at = next_token(rest, end);
        }
        Ok(numbers)
    }

    /// The bytes of `count` numbers from the `first` on, with the blanks between them.
    fn text<'a>(&self, rest: &'a [u8], first: usize, count: usize) -> &'a [u8] {
        &rest[self.spans[first].0..self.spans[first + count - 1].1]
    }

    fn count_fault(&self, statement: &'static str, expected: &'static str) -> LineFault {
        LineFault::NumberCount {
            statement,
            found: self.count,
            expected,
        }
    }
}
