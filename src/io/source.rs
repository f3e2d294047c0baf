//! Reading a whole input file, and telling early that it is none of ours.

use std::fs;
use std::io;
use std::path::Path;

use thiserror::Error;

/// What keeps an input file from being read as text at all. The message is a fault and its mend,
/// without the file's name.
#[derive(Debug, Error)]
pub enum SourceFault {
    /// There is no such file.
    #[error("there is no such file; check the path")]
    Missing,
    /// The path is a folder.
    #[error("this is a folder, not a file; name a file in it")]
    Folder,
    /// The path is a device, pipe or socket.
    #[error("this is not a regular file; save the data to a file and name that")]
    NotRegular,
    /// The file holds nothing.
    #[error("the file is empty; export it again")]
    Empty,
    /// The file is of another kind.
    #[error("this is {found}, not {wanted}; name {wanted}")]
    OtherKind {
        /// What the file is, with its article.
        found: &'static str,
        /// What it should be, with its article.
        wanted: &'static str,
    },
    /// The system refuses to read it.
    #[error("the file can't be read ({0}); check its permissions and the disk")]
    Io(io::Error),
}

/// Reads a whole regular file.
pub(super) fn load(path: &Path) -> Result<Vec<u8>, SourceFault> {
    let classify = |error: io::Error| match error.kind() {
        io::ErrorKind::NotFound | io::ErrorKind::NotADirectory => SourceFault::Missing,
        io::ErrorKind::IsADirectory => SourceFault::Folder,
        _ => SourceFault::Io(error),
    };
    let metadata = fs::metadata(path).map_err(classify)?;
    if metadata.is_dir() {
        return Err(SourceFault::Folder);
    }
    // A device may never end, and a pipe without a writer never begins.
    if !metadata.is_file() {
        return Err(SourceFault::NotRegular);
    }
    fs::read(path).map_err(classify)
}

/// First bytes by which a file of another kind is known.
const SIGNATURES: &[(&[u8], &str)] = &[
    (b"\x89PNG", "a PNG picture"),
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"GIF8", "a GIF picture"),
    (b"II*\0", "a TIFF picture"),
    (b"MM\0*", "a TIFF picture"),
    (b"PK\x03\x04", "a ZIP archive"),
    (b"PK\x05\x06", "a ZIP archive"),
    (b"\x1f\x8b", "a gzip archive"),
    (b"7z\xbc\xaf\x27\x1c", "a 7z archive"),
    (b"BZh", "a bzip2 archive"),
    (b"\xfd7zXZ", "an xz archive"),
    (b"\x28\xb5\x2f\xfd", "a zstd archive"),
    (b"%PDF", "a PDF document"),
    (b"glTF", "a binary glTF model"),
    (b"PXR-USDC", "a binary USD model"),
    (b"#usda", "a USD text"),
    (b"ply\n", "a PLY model"),
    (b"ply\r", "a PLY model"),
    (b"solid ", "an STL model"),
    (b"<?xml", "an XML document"),
    (b"<!DOCTYPE", "an HTML document"),
    (b"\xff\xfe", "UTF-16 text"),
    (b"\xfe\xff", "UTF-16 text"),
];

/// Tells files that are no text of ours by their first bytes and by NUL bytes, and takes off the
/// byte-order mark of UTF-8.
pub(super) fn text_of<'a>(bytes: &'a [u8], wanted: &'static str) -> Result<&'a [u8], SourceFault> {
    let text = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    if text.iter().all(u8::is_ascii_whitespace) {
        return Err(SourceFault::Empty);
    }
    let known = SIGNATURES
        .iter()
        .find(|(start, _)| bytes.starts_with(start));
    if let Some(&(_, found)) = known {
        return Err(SourceFault::OtherKind { found, wanted });
    }
    if memchr::memchr(0, text).is_some() {
        let found = "binary data";
        return Err(SourceFault::OtherKind { found, wanted });
    }
    Ok(text)
}
