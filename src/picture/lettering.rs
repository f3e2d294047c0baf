//! Letters drawn with a round pen: a small built-in script for captions and legends.

use super::canvas::{Canvas, Colour, Point};

/// Width of a letter's cell over its height unit; see [`strokes`].
const ADVANCE: f32 = 6.0;

/// Row of the base line.
const BASE_ROW: f32 = 6.0;

/// Width of the pen in units.
const PEN: f32 = 0.8;

/// Draws text whose first letter starts at `at` on its base line. `unit` is the size of a step of
/// the letters' grid in pixels: capitals are six steps high, a letter and its gap six wide.
pub fn write(canvas: &mut Canvas, text: &str, at: Point, unit: f32, colour: Colour) {
    for (place, letter) in text.chars().enumerate() {
        let left = at[0] + place as f32 * ADVANCE * unit;
        for stroke in strokes(letter)
            .split(' ')
            .filter(|stroke| !stroke.is_empty())
        {
            let digits: Vec<f32> = stroke.bytes().map(|b| f32::from(b - b'0')).collect();
            let points: Vec<Point> = digits
                .chunks_exact(2)
                .map(|p| [left + p[0] * unit, at[1] + (p[1] - BASE_ROW) * unit])
                .collect();
            canvas.stroke(&points, PEN * unit, colour);
        }
    }
}

/// Width of a text in pixels.
pub fn width(text: &str, unit: f32) -> f32 {
    (text.chars().count() as f32 * ADVANCE - 2.0).max(0.0) * unit
}

/// The strokes of a letter, parted by spaces: runs of points, a digit for the column (0 to 4) and
/// one for the row (0 the top of capitals, 2 that of small letters, 6 the base line, 8 the bottom).
/// What has no letter is shown as a box.
fn strokes(letter: char) -> &'static str {
    if letter.is_ascii_digit() {
        return digit(letter);
    }
    if letter.is_ascii_uppercase() {
        return capital(letter);
    }
    if letter.is_ascii_lowercase() {
        return small(letter);
    }
    match letter {
        ' ' => "",
        '.' => "2626",
        ',' => "2617",
        ':' => "2323 2626",
        ';' => "2323 2617",
        '-' => "0444",
        '_' => "0747",
        '+' => "0444 2226",
        '=' => "0343 0545",
        '/' => "0640",
        '\\' => "0046",
        '(' => "3021122536 ",
        ')' => "1021322516 ",
        '[' => "30202636",
        ']' => "10202616",
        '|' => "2027",
        '\'' => "2021",
        '"' => "1011 3031",
        '!' => "2024 2626",
        '#' => "1006 4036 0242 0444",
        '%' => "0640 0111 3545",
        '&' => "4621101020211516263644",
        '~' => "0413243342",
        '*' => "2125 0234 0432",
        _ => "0040460600",
    }
}

fn digit(letter: char) -> &'static str {
    match letter {
        '0' => "103041453616050110",
        '1' => "112026 1636",
        '2' => "01103041420646",
        '3' => "0110304142334445361605 3323",
        '4' => "36300444",
        '5' => "4000023243453616 1605",
        '6' => "3010010516364544331304",
        '7' => "00404126",
        '8' => "1030414233130201 0110 1304051636454433",
        _ => "4213020110304145361605",
    }
}

fn capital(letter: char) -> &'static str {
    match letter {
        'A' => "062046 1434",
        'B' => "00063645443303 0030414233",
        'C' => "4130100105163645",
        'D' => "00062644422000",
        'E' => "40000646 0333",
        'F' => "400006 0333",
        'G' => "41301001051636454323",
        'H' => "0006 4046 0343",
        'I' => "1030 2026 1636",
        'J' => "4045361605",
        'K' => "0006 4003 0346",
        'L' => "000646",
        'M' => "0600234046",
        'N' => "06004640",
        'O' => "103041453616050110",
        'P' => "060030414232 3203",
        'Q' => "103041453616050110 2446",
        'R' => "060030414233 0333 2346",
        'S' => "413010010213334445361605",
        'T' => "0040 2026",
        'U' => "000516364540",
        'V' => "002640",
        'W' => "0016233640",
        'X' => "0046 4006",
        'Y' => "002340 2326",
        _ => "00400646",
    }
}

fn small(letter: char) -> &'static str {
    match letter {
        'a' => "12324346 4414051636 3645",
        'b' => "0006 031232434536160505",
        'c' => "43321203051636 3645",
        'd' => "4046 433212030516364545",
        'e' => "04444332120305163645",
        'f' => "40302126 0343",
        'g' => "42473818 1807 433212030415354444",
        'h' => "0006 0312324346",
        'i' => "2020 122226 1636",
        'j' => "3030 22323728171717",
        'k' => "0006 4204 1446",
        'l' => "10202536 3646",
        'm' => "0602 03122226 23324346",
        'n' => "0602 0312324346",
        'o' => "123243453616050312",
        'p' => "0208 031232434536160505",
        'q' => "4248 433212030516364545",
        'r' => "0602 03122232 3243",
        's' => "43321203143445361605",
        't' => "2025364645 0242",
        'u' => "020516364542 4246",
        'v' => "022642",
        'w' => "0216243642",
        'x' => "0246 4206",
        'y' => "0226 421808",
        _ => "02420646",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_printable_letter_has_strokes_inside_its_cell() {
        for letter in ' '..='~' {
            for stroke in strokes(letter).split(' ').filter(|s| !s.is_empty()) {
                assert!(stroke.len() >= 4 && stroke.len() % 2 == 0, "{letter}");
                let points = stroke.as_bytes().chunks_exact(2);
                for point in points {
                    assert!((b'0'..=b'4').contains(&point[0]), "{letter}: {stroke}");
                    assert!((b'0'..=b'8').contains(&point[1]), "{letter}: {stroke}");
                }
            }
        }
    }

    #[test]
    fn letters_that_stand_in_captions_differ() {
        let letters: Vec<char> = ('a'..='z').chain('A'..='Z').chain('0'..='9').collect();
        for (i, &a) in letters.iter().enumerate() {
            let alike = letters[..i].iter().find(|&&b| strokes(b) == strokes(a));
            // The capital O and the zero look alike in many scripts.
            assert!(alike.is_none_or(|_| a == '0'), "{a} is like {alike:?}");
        }
    }
}
