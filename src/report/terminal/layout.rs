//! Text in lines of the screen's width: labels, wrapping, cutting, counting.

/// Columns of the screen.
pub(super) const WIDTH: usize = 80;

/// Column at which the facts start, after their labels.
pub(super) const INDENT: usize = 13;

/// Lines that one fact may take; a longer one is cut.
pub(super) const FACT_LINES: usize = 2;

/// Label of the fact that is never cut: what is odd about the cage.
pub(super) const WARNINGS: &str = "warnings";

/// Lines that all warnings together take at most.
pub(super) const WARNING_LINES: usize = 5;

pub(super) fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

/// Those counts that are not 0.
pub(super) fn listed(counts: &[(usize, &str, &str)]) -> String {
    let counts = counts.iter().filter(|(count, _, _)| *count > 0);
    let told: Vec<String> = counts
        .map(|(count, one, many)| counted(*count, one, many))
        .collect();
    told.join(", ")
}

/// A label and its text, wrapped.
pub(super) fn fact(label: &str, text: &str) -> Vec<String> {
    let lines_max = if label == WARNINGS {
        WARNING_LINES
    } else {
        FACT_LINES
    };
    let pieces = wrapped(text, WIDTH - INDENT, lines_max);
    let labels = std::iter::once(label).chain(std::iter::repeat(""));
    let lines = pieces.iter().zip(labels);
    let width = INDENT - 2;
    lines
        .map(|(piece, label)| format!("  {label:width$}{piece}"))
        .collect()
}

/// Breaks a text at its blanks into lines of at most `width` characters; what goes beyond
/// `lines_max` is cut.
pub fn wrapped(text: &str, width: usize, lines_max: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in text.split_whitespace() {
        let last = lines.len() - 1;
        let used = lines[last].chars().count();
        if used > 0 && used + 1 + word.chars().count() > width {
            if lines.len() == lines_max {
                lines[last] = cut(&format!("{} {word}{word}", lines[last]), width);
                return lines;
            }
            lines.push(cut(word, width));
            continue;
        }
        if used > 0 {
            lines[last].push(' ');
        }
        lines[last].push_str(&cut(word, width));
    }
    lines
}

/// The start of a text, of at most `width` characters.
pub(super) fn cut(text: &str, width: usize) -> String {
    if text.chars().count() <= width {
        return text.to_owned();
    }
    let kept: String = text.chars().take(width.saturating_sub(3)).collect();
    format!("{kept}...")
}

/// The end of a text, of at most `width` characters: of a path, it tells more than the start.
pub(super) fn end_of(text: &str, width: usize) -> String {
    let count = text.chars().count();
    if count <= width {
        return text.to_owned();
    }
    let kept: String = text.chars().skip(count - width.saturating_sub(3)).collect();
    format!("...{kept}")
}

/// The text with control characters escaped.
pub(super) fn printable(text: &str) -> String {
    let mut shown = String::new();
    for c in text.chars() {
        if c.is_control() {
            shown.extend(c.escape_debug());
        } else {
            shown.push(c);
        }
    }
    shown
}
