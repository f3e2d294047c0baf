//! Reading crease tables and holding them against a mesh.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::fs;
use std::path::Path;

use cagewise::io::{CreaseRow, ResolvedCreases, read_creases, read_creases_from, resolve_creases};

const NAME: &str = "creases.csv";

fn read(text: impl AsRef<[u8]>) -> Vec<CreaseRow> {
    read_creases_from(text.as_ref(), Path::new(NAME)).unwrap_or_else(|e| panic!("{e}"))
}

fn refusal(text: impl AsRef<[u8]>) -> String {
    let message = match read_creases_from(text.as_ref(), Path::new(NAME)) {
        Ok(rows) => panic!("accepted: {rows:?}"),
        Err(error) => error.to_string(),
    };
    assert!(!message.chars().any(char::is_control), "{message:?}");
    message
}

fn row(line: u64, v0: u32, v1: Option<u32>, sharpness: f64) -> CreaseRow {
    CreaseRow {
        line,
        v0,
        v1,
        sharpness,
    }
}

/// The edges of a square of four vertices: edge `k` joins `k` and its successor.
fn edge_of_square(a: u32, b: u32) -> Option<u32> {
    (0..4).find(|&k| [(k, (k + 1) % 4), ((k + 1) % 4, k)].contains(&(a, b)))
}

fn resolve(text: &str) -> Result<ResolvedCreases, String> {
    resolve_creases(&read(text), 4, edge_of_square, Path::new(NAME)).map_err(|e| e.to_string())
}

#[test]
fn rows_are_edges_and_rows_without_v1_are_corners() {
    let rows = read("v0,v1,sharpness\n1,2,3.5\n7,,2\n");
    assert_eq!(rows, [row(2, 0, Some(1), 3.5), row(3, 6, None, 2.0)]);
}

#[test]
fn columns_may_come_in_any_order() {
    assert_eq!(read("sharpness,v0,v1\n4,1,2\n"), [row(2, 0, Some(1), 4.0)]);
}

#[test]
fn ten_and_more_and_inf_are_infinitely_sharp() {
    for sharpness in [
        "10", "10.0", "11", "1e999", "inf", "Infinity", "INF", "+inf",
    ] {
        let rows = read(format!("v0,v1,sharpness\n1,2,{sharpness}\n"));
        assert_eq!(rows[0].sharpness, f64::INFINITY, "{sharpness}");
    }
    assert_eq!(read("v0,v1,sharpness\n1,2,9.999\n")[0].sharpness, 9.999);
}

#[test]
fn sharpness_counts_from_zero() {
    let rows = read("v0,v1,sharpness\n1,2,0\n2,3,-0\n");
    assert!(rows.iter().all(|r| r.sharpness.to_bits() == 0));
}

#[test]
fn byte_order_marks_crlf_blanks_and_empty_lines_do_no_harm() {
    let text = "\u{feff} v0 , v1 ,sharpness \r\n\r\n 1 , 2 , 3 \r\n\r\n  \r\n4,,5";
    assert_eq!(read(text), [row(3, 0, Some(1), 3.0), row(6, 3, None, 5.0)]);
}

#[test]
fn a_table_with_no_rows_sharpens_nothing() {
    assert_eq!(read("v0,v1,sharpness\n"), []);
}

#[test]
fn every_malformed_row_is_refused_with_its_line() {
    for (last, fault) in [
        ("0,2,3", "'0' in column v0 is not a vertex number"),
        ("1,-2,3", "'-2' in column v1 is not a vertex number"),
        ("1.5,2,3", "'1.5' in column v0 is not a vertex number"),
        (",2,3", "'' in column v0 is not a vertex number"),
        (
            "99999999999,2,3",
            "'99999999999' in column v0 is not a vertex number",
        ),
        ("1,2,", "sharpness '' is not usable"),
        ("1,2,nan", "sharpness 'nan' is not usable"),
        ("1,2,-1", "sharpness '-1' is not usable"),
        ("1,2,-inf", "sharpness '-inf' is not usable"),
        ("1,2,sharp", "sharpness 'sharp' is not usable"),
        ("1,2", "the row has 2 fields"),
        ("1,2,3,4", "the row has 4 fields"),
    ] {
        let message = refusal(format!("v0,v1,sharpness\n1,2,3\n\n{last}\n"));
        let expected = format!("{NAME}:4: {fault}; ");
        assert!(message.starts_with(&expected), "{message}");
    }
}

#[test]
fn another_header_is_refused() {
    for header in [
        "1,2,3",
        "v0,v1",
        "v0,v1,sharpness,note",
        "V0,V1,Sharpness",
        "v0,v0,sharpness",
    ] {
        let message = refusal(format!("{header}\n1,2,3\n"));
        let expected = format!("{NAME}:1: the header is '{header}'; write v0,v1,sharpness");
        assert!(message.starts_with(&expected), "{message}");
    }
}

#[test]
fn other_files_are_refused() {
    assert_eq!(
        refusal(""),
        "creases.csv: the file is empty; export it again"
    );
    let message = refusal(b"\x89PNG\r\n\x1a\n");
    assert!(
        message.contains("this is a PNG picture, not a crease table"),
        "{message}"
    );
    let folder = tempfile::tempdir().unwrap();
    let message = read_creases(folder.path()).unwrap_err().to_string();
    assert!(message.contains("folder"), "{message}");
    let message = read_creases(Path::new("none.csv")).unwrap_err().to_string();
    assert_eq!(message, "none.csv: there is no such file; check the path");
}

#[test]
fn a_table_on_disk_is_read_like_its_bytes() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(NAME);
    fs::write(&path, "v0,v1,sharpness\n1,2,3\n").unwrap();
    assert_eq!(read_creases(&path).unwrap(), [row(2, 0, Some(1), 3.0)]);
}

#[test]
fn bytes_that_are_not_utf_8_are_shown_escaped() {
    let message = refusal(b"v0,v1,sharpness\n1,\xe9\x1b,3\n");
    assert!(message.contains("'\\xe9\\u{1b}' in column v1"), "{message}");
}

#[test]
fn rows_are_found_on_the_mesh_in_either_direction() {
    let found = resolve("v0,v1,sharpness\n2,1,3\n4,1,inf\n3,,2\n").unwrap();
    assert_eq!(found.edges, [(0, 3.0), (3, f64::INFINITY)]);
    assert_eq!(found.vertices, [(2, 2.0)]);
}

#[test]
fn a_row_repeated_with_the_same_sharpness_counts_once() {
    let found = resolve("v0,v1,sharpness\n1,2,inf\n2,1,12\n3,,2\n3,,2\n").unwrap();
    assert_eq!(found.edges, [(0, f64::INFINITY)]);
    assert_eq!(found.vertices, [(2, 2.0)]);
}

#[test]
fn rows_that_do_not_fit_the_mesh_are_refused() {
    for (last, fault) in [
        (
            "1,3,1",
            "no edge joins vertices 1 and 3; name the two ends of one edge",
        ),
        (
            "1,5,1",
            "vertex 5 does not exist, the cage has 4 vertices; correct the number",
        ),
        (
            "5,,1",
            "vertex 5 does not exist, the cage has 4 vertices; correct the number",
        ),
        (
            "2,2,1",
            "v0 and v1 are both vertex 2; leave v1 empty to make it a sharp corner",
        ),
        (
            "2,1,1",
            "line 2 gives this edge sharpness 3, not 1; keep one of the rows",
        ),
        (
            "4,,1",
            "line 3 gives this corner sharpness inf, not 1; keep one of the rows",
        ),
    ] {
        let message = resolve(&format!("v0,v1,sharpness\n1,2,3\n4,,inf\n{last}\n")).unwrap_err();
        assert_eq!(message, format!("{NAME}:4: {fault}"));
    }
}
