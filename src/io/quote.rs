//! Wording of messages of one line: nothing of a file that a terminal would act on gets through,
//! and a long token is cut.

use std::fmt::Write;
use std::path::Path;

/// Characters that a message gives a token at most, escapes as they are written; a longer one
/// would push the mend off the line.
const SHOWN_CHARACTERS: usize = 40;

/// The token between quotes, with control characters and bytes that are not UTF-8 escaped, cut to
/// [`SHOWN_CHARACTERS`].
pub(crate) fn quoted(token: &[u8]) -> String {
    // A character takes at most four bytes, so this much is enough to fill what is shown.
    let head = &token[..token.len().min(4 * SHOWN_CHARACTERS + 4)];
    let escaped = escaped(head);
    let mut cut = escaped.char_indices().skip(SHOWN_CHARACTERS);
    match cut.next() {
        Some((end, _)) => format!("'{}...'", &escaped[..end]),
        None => format!("'{escaped}'"),
    }
}

/// The path as a message shows it: whole, with control characters and bytes that are not UTF-8
/// escaped.
pub(crate) fn shown_path(path: &Path) -> String {
    escaped(path.as_os_str().as_encoded_bytes())
}

/// A count and what is counted.
pub(super) fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

fn escaped(bytes: &[u8]) -> String {
    let mut text = String::new();
    for chunk in bytes.utf8_chunks() {
        for c in chunk.valid().chars() {
            push_escaped(&mut text, c);
        }
        for byte in chunk.invalid() {
            // Writing to a String cannot fail.
            let _ = write!(text, "\\x{byte:02x}");
        }
    }
    text
}

fn push_escaped(text: &mut String, c: char) {
    // `escape_debug` escapes what does not print, which is wanted, and quotes and backslashes,
    // which is not.
    if matches!(c, '\'' | '"' | '\\') {
        text.push(c);
    } else {
        text.extend(c.escape_debug());
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn terminal_escapes_are_shown_not_sent() {
        assert_eq!(quoted(b"a\x1b[31mb"), "'a\\u{1b}[31mb'");
        assert_eq!(quoted("a\u{202e}b".as_bytes()), "'a\\u{202e}b'");
    }

    #[test]
    fn bytes_that_are_not_utf_8_are_shown_as_numbers() {
        assert_eq!(quoted(b"caf\xe9"), "'caf\\xe9'");
    }

    #[test]
    fn long_tokens_are_cut() {
        assert_eq!(quoted(&[b'7'; 41]), format!("'{}...'", "7".repeat(40)));
        assert_eq!(quoted(&[b'7'; 40]), format!("'{}'", "7".repeat(40)));
        assert!(quoted(&[0xff; 10_000]).len() < 200);
    }
}
