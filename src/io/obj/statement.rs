//! Logical lines of an OBJ file and the keyword each begins with.

/// Blanks within a line; a form feed is one.
pub(super) fn is_blank(byte: u8) -> bool {
    matches!(byte, b' ' | b'\t' | 0x0b | 0x0c)
}

/// Where the next token of `text` starts at or after `at`, or its length. For statements of
/// numbers, where `#` opens a comment wherever it stands.
pub(super) fn next_token(text: &[u8], mut at: usize) -> usize {
    while at < text.len() && is_blank(text[at]) {
        at += 1;
    }
    if at < text.len() && text[at] == b'#' {
        text.len()
    } else {
        at
    }
}

/// Whether a token ends before index `at`.
pub(super) fn ends_token(text: &[u8], at: usize) -> bool {
    text.get(at).is_none_or(|&b| is_blank(b) || b == b'#')
}

/// The token that starts at `at`.
pub(super) fn token_at(text: &[u8], at: usize) -> &[u8] {
    let length = text[at..].iter().position(|&b| is_blank(b) || b == b'#');
    &text[at..length.map_or(text.len(), |n| at + n)]
}

/// The bytes without blanks at either end.
pub(super) fn trimmed(text: &[u8]) -> &[u8] {
    let Some(start) = text.iter().position(|&b| !is_blank(b)) else {
        return &[];
    };
    let end = text.iter().rposition(|&b| !is_blank(b)).unwrap_or(start);
    &text[start..=end]
}

/// What a statement is, by its keyword.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Keyword {
    Vertex,
    Uv,
    Normal,
    Face,
    Smoothing,
    Group,
    Object,
    Material,
    MaterialLibrary,
    Line,
    Point,
    FreeForm,
    RenderAttribute,
    Unknown,
}

impl Keyword {
    fn of(word: &[u8]) -> Self {
        match word {
            b"v" => Self::Vertex,
            b"vt" => Self::Uv,
            b"vn" => Self::Normal,
            // `fo`, the face outline of old files, is read as `f` by the format's own definition.
            b"f" | b"fo" => Self::Face,
            b"s" => Self::Smoothing,
            b"g" => Self::Group,
            b"o" => Self::Object,
            b"usemtl" => Self::Material,
            b"mtllib" => Self::MaterialLibrary,
            b"l" => Self::Line,
            b"p" => Self::Point,
            b"vp" | b"cstype" | b"deg" | b"bmat" | b"step" | b"curv" | b"curv2" | b"surf"
            | b"parm" | b"trim" | b"hole" | b"scrv" | b"sp" | b"end" | b"con" | b"mg"
            | b"ctech" | b"stech" | b"bsp" | b"bzp" | b"cdc" | b"cdp" | b"res" => Self::FreeForm,
            b"bevel" | b"c_interp" | b"d_interp" | b"lod" | b"maplib" | b"usemap"
            | b"shadow_obj" | b"trace_obj" => Self::RenderAttribute,
            _ => Self::Unknown,
        }
    }
}

/// One statement: its keyword, what follows the keyword, and its (first) line from 1.
#[derive(Debug, Clone, Copy)]
pub(super) struct Statement<'a> {
    pub keyword: Keyword,
    pub rest: &'a [u8],
    pub line: u32,
}

/// Cuts a file into statements. Lines end with LF, CRLF or CR; a backslash at the end of a line
/// that holds no `#` continues it, and stands for a blank.
pub(super) struct Statements<'a> {
    text: &'a [u8],
    at: usize,
    line: u32,
    joined: Vec<u8>,
}

impl<'a> Statements<'a> {
    pub fn new(text: &'a [u8]) -> Self {
        Self {
            text,
            at: 0,
            line: 0,
            joined: Vec::new(),
        }
    }

    /// The next statement; empty lines and comments are passed over.
    pub fn next(&mut self) -> Option<Statement<'_>> {
        let (text, line) = loop {
            let first = self.physical_line()?;
            let start = first.iter().position(|&b| !is_blank(b));
            let Some(start) = start.filter(|&s| first[s] != b'#') else {
                continue;
            };
            let line = self.line;
            if !continues(first) {
                break (&first[start..], line);
            }
            self.join(&first[start..]);
            // A continued line of blanks alone holds no statement.
            if !trimmed(&self.joined).is_empty() {
                break (trimmed(&self.joined), line);
            }
        };
        let end = text.iter().position(|&b| is_blank(b) || b == b'#');
        let (word, rest) = text.split_at(end.unwrap_or(text.len()));
        Some(Statement {
            keyword: Keyword::of(word),
            rest,
            line,
        })
    }

    /// One line as it stands, without its end; counts it.
    fn physical_line(&mut self) -> Option<&'a [u8]> {
        if self.at >= self.text.len() {
            return None;
        }
        let rest = &self.text[self.at..];
        self.line = self.line.saturating_add(1);
        let Some(length) = memchr::memchr2(b'\n', b'\r', rest) else {
            self.at = self.text.len();
            return Some(rest);
        };
        let crlf = rest[length..].starts_with(b"\r\n");
        self.at += length + if crlf { 2 } else { 1 };
        Some(&rest[..length])
    }

    fn join(&mut self, first: &'a [u8]) {
        self.joined.clear();
        let mut piece = first;
        while continues(piece) {
            self.joined.extend_from_slice(&piece[..piece.len() - 1]);
            self.joined.push(b' ');
            let Some(next) = self.physical_line() else {
                return;
            };
            piece = next;
        }
        self.joined.extend_from_slice(piece);
    }
}

/// A comment that happens to end with a backslash must not swallow the line below it.
fn continues(line: &[u8]) -> bool {
    line.last() == Some(&b'\\') && memchr::memchr(b'#', line).is_none()
}
