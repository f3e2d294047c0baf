//! Checking numbers without converting them: the parser converts the same bytes later.

use super::statement::ends_token;

/// Why a token is no usable number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum NumberFault {
    Malformed,
    NotFinite,
}

/// Length from which a number without exponent may exceed the largest double (about 1.8e308).
const OVERFLOW_LENGTH: usize = 300;

/// Checks the decimal number that starts at `at` and returns where it ends. What passes is a
/// subset of what [`str::parse`] takes for `f64`: no `nan`, no `inf`, and nothing that overflows.
pub(super) fn scan_number(text: &[u8], at: usize) -> Result<usize, NumberFault> {
    let whole = skip_sign(text, at);
    let mut end = skip_digits(text, whole);
    let mut digits = end - whole;
    if text.get(end) == Some(&b'.') {
        let fraction = end + 1;
        end = skip_digits(text, fraction);
        digits += end - fraction;
    }
    let mut may_overflow = digits > OVERFLOW_LENGTH;
    if digits > 0 && matches!(text.get(end), Some(b'e' | b'E')) {
        let exponent = skip_sign(text, end + 1);
        end = skip_digits(text, exponent);
        digits = end - exponent;
        may_overflow = true;
    }
    if digits == 0 || !ends_token(text, end) {
        return Err(fault_of(super::statement::token_at(text, at)));
    }
    if may_overflow && !value_of(&text[at..end]).is_finite() {
        return Err(NumberFault::NotFinite);
    }
    Ok(end)
}

/// The value of a token that [`scan_number`] has passed; NaN for any other.
pub(super) fn value_of(token: &[u8]) -> f64 {
    let text = std::str::from_utf8(token).ok();
    text.and_then(|t| t.parse().ok()).unwrap_or(f64::NAN)
}

fn skip_sign(text: &[u8], at: usize) -> usize {
    at + usize::from(matches!(text.get(at), Some(b'+' | b'-')))
}

fn skip_digits(text: &[u8], mut at: usize) -> usize {
    while at < text.len() && text[at].is_ascii_digit() {
        at += 1;
    }
    at
}

fn fault_of(token: &[u8]) -> NumberFault {
    let word = &token[skip_sign(token, 0)..];
    let starts = |name: &[u8]| {
        word.get(..name.len())
            .is_some_and(|head| head.eq_ignore_ascii_case(name))
    };
    if starts(b"nan") || starts(b"inf") {
        NumberFault::NotFinite
    } else {
        NumberFault::Malformed
    }
}

/// A whole number as a face names it, and where it ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Index {
    pub negative: bool,
    /// Saturates: any number this large is out of range.
    pub magnitude: u64,
    pub end: usize,
}

/// Reads the whole number that starts at `at`, if one does; the caller judges what follows it.
pub(super) fn scan_index(text: &[u8], at: usize) -> Option<Index> {
    let start = skip_sign(text, at);
    let mut end = start;
    let mut magnitude = 0u64;
    while let Some(digit) = text.get(end).filter(|b| b.is_ascii_digit()) {
        magnitude = magnitude
            .saturating_mul(10)
            .saturating_add(u64::from(digit - b'0'));
        end += 1;
    }
    (end > start).then_some(Index {
        negative: text.get(at) == Some(&b'-'),
        magnitude,
        end,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Everything that passes must mean the same finite number to the standard parser, which is
    /// the one that `tobj` uses.
    #[test]
    fn what_passes_is_a_finite_number_to_the_standard_parser() {
        for token in [
            "0",
            "-0",
            "+1",
            "1.",
            ".5",
            "-.5e3",
            "1e5",
            "1E5",
            "1e+5",
            "1E-05",
            "007",
            "1e-400",
            "1e308",
            "4.9e-324",
            "123456789012345678901234567890",
        ] {
            assert_eq!(scan_number(token.as_bytes(), 0), Ok(token.len()), "{token}");
            assert!(token.parse::<f64>().is_ok_and(f64::is_finite), "{token}");
        }
    }

    #[test]
    fn what_is_no_finite_number_is_told_from_what_is_no_number() {
        for token in ["nan", "NaN", "-inf", "+Infinity", "1e999", "-nan(ind)"] {
            let fault = scan_number(token.as_bytes(), 0);
            assert_eq!(fault, Err(NumberFault::NotFinite), "{token}");
        }
        let long = "9".repeat(400);
        let fault = scan_number(long.as_bytes(), 0);
        assert_eq!(fault, Err(NumberFault::NotFinite));
        for token in [
            "1d5", "1,5", ".", "-", "", "e5", "1e", "1e+", "0x10", "1_000", "--1", "1.2.3",
        ] {
            let fault = scan_number(token.as_bytes(), 0);
            assert_eq!(fault, Err(NumberFault::Malformed), "{token}");
        }
    }

    #[test]
    fn whole_numbers_of_any_length_saturate() {
        let index = scan_index(b"-99999999999999999999999/1", 0);
        let index = index.map(|i| (i.negative, i.magnitude, i.end));
        assert_eq!(index, Some((true, u64::MAX, 24)));
        assert_eq!(scan_index(b"/1", 0), None);
        assert_eq!(scan_index(b"-", 0), None);
    }
}
