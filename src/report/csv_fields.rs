//! Fields of the tables written: numbers as the shortest text that reads back as the same double,
//! and an empty field for what is not defined.

use std::io::Write;

use crate::mesh::Vec3;

/// Three fields, one per coordinate.
pub fn write_vector<W: Write>(rows: &mut csv::Writer<W>, vector: Option<&Vec3>) -> csv::Result<()> {
    (0..3).try_for_each(|k| write_number(rows, vector.map(|p| p[k])))
}

/// A number; empty where there is none or it is not finite.
pub fn write_number<W: Write>(rows: &mut csv::Writer<W>, number: Option<f64>) -> csv::Result<()> {
    let Some(x) = number.filter(|x| x.is_finite()) else {
        return rows.write_field("");
    };
    let mut buffer = zmij::Buffer::new();
    // -0 says no more than 0.
    let digits = buffer.format_finite(x + 0.0);
    rows.write_field(digits.strip_suffix(".0").unwrap_or(digits))
}

/// An index, counted from 0 here and from 1 in the table; empty where there is none.
pub fn write_index<W: Write>(rows: &mut csv::Writer<W>, index: Option<usize>) -> csv::Result<()> {
    match index {
        Some(index) => rows.write_field(itoa::Buffer::new().format(index + 1)),
        None => rows.write_field(""),
    }
}
