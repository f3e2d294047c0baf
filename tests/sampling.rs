//! `cagewise sample`: tables of places in, tables of samples out.
#![cfg(feature = "cli")]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use cagewise::io::{PlaceRow, read_places_from};
use cagewise::limit::Place;
use tempfile::TempDir;

/// A lantern's roof over its body: four triangles over a cube without its top, in one shell.
const LANTERN: &str = "v -1 -1 0\nv 1 -1 0\nv 1 1 0\nv -1 1 0\nv -1 -1 2\nv 1 -1 2\nv 1 1 2\n\
    v -1 1 2\nv 0 0 3\nf 4 3 2 1\nf 1 2 6 5\nf 2 3 7 6\nf 3 4 8 7\nf 4 1 5 8\nf 5 6 9\nf 6 7 9\n\
    f 7 8 9\nf 8 5 9\n";

struct Desk(TempDir);

impl Desk {
    fn new() -> Self {
        let desk = Self(tempfile::tempdir().unwrap());
        desk.put("lantern.obj", LANTERN);
        desk
    }

    fn put(&self, name: &str, text: &str) {
        fs::write(self.path(name), text).unwrap();
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn run(&self, arguments: &[&str]) -> Output {
        Command::new(env!("CARGO_BIN_EXE_cagewise"))
            .current_dir(self.0.path())
            .args(arguments)
            .output()
            .unwrap()
    }

    /// Samples the lantern at the places of a table.
    fn sample(&self, places: &str) -> Output {
        self.put("places.csv", places);
        let at = ["--at", "places.csv", "--out", "samples.csv"];
        self.run(&[&["sample", "lantern.obj"], at.as_slice()].concat())
    }

    fn rows(&self) -> (Vec<String>, Vec<Vec<String>>) {
        let mut reader = csv::Reader::from_path(self.path("samples.csv")).unwrap();
        let header = reader
            .headers()
            .unwrap()
            .iter()
            .map(str::to_owned)
            .collect();
        let fields = |r: csv::StringRecord| r.iter().map(str::to_owned).collect();
        (
            header,
            reader.records().map(|r| fields(r.unwrap())).collect(),
        )
    }
}

fn refusal(output: &Output) -> String {
    assert_eq!(output.status.code(), Some(2));
    assert!(output.stdout.is_empty());
    let text = String::from_utf8(output.stderr.clone()).unwrap();
    assert_eq!(text.lines().count(), 1, "{text}");
    text.trim_end().to_owned()
}

#[test]
fn a_row_comes_out_for_every_place_in_the_given_order() {
    let desk = Desk::new();
    let places = "u,v,face,corner\n0.5,0.5,3,\n0.25,0.75,6,2\n0,0,1,\n0.5,0.5,3,\n";
    assert_eq!(desk.sample(places).status.code(), Some(0));
    let (header, rows) = desk.rows();
    assert_eq!(header[..4], ["face", "corner", "u", "v"]);
    assert_eq!(header[10..12], ["k1", "k2"]);
    let places: Vec<String> = rows.iter().map(|row| row[..4].join(",")).collect();
    assert_eq!(
        places,
        ["3,,0.5,0.5", "6,2,0.25,0.75", "1,,0,0", "3,,0.5,0.5"]
    );
    assert_eq!(rows[0], rows[3]);
    let number = |row: &[String], name: &str| -> f64 {
        let column = header.iter().position(|h| h == name).unwrap();
        row[column].parse().unwrap()
    };
    for row in [&rows[0], &rows[1]] {
        let [k1, k2] = ["k1", "k2"].map(|name| number(row, name));
        assert!(k1 >= k2);
        assert!((number(row, "gauss") - k1 * k2).abs() < 1e-14);
        assert!((number(row, "mean") - (k1 + k2) / 2.0).abs() < 1e-14);
        let vector = |name: &str| ["x", "y", "z"].map(|k| number(row, &format!("{name}_{k}")));
        let dot = |a: [f64; 3], b: [f64; 3]| a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
        let normal = vector("normal");
        assert!((dot(normal, normal) - 1.0).abs() < 1e-14);
        for tangent in ["du", "dv", "k1", "k2"] {
            assert!(dot(normal, vector(tangent)).abs() < 1e-14, "{tangent}");
        }
    }
    // The lantern's foot is a 3-pole: a position, a normal, and nothing else.
    let pole = &rows[2];
    assert!(pole[4..10].iter().all(|field| !field.is_empty()));
    assert!(pole[10..].iter().all(String::is_empty));
}

#[test]
fn without_places_the_pattern_s_four_places_per_corner_are_sampled() {
    let desk = Desk::new();
    let output = desk.run(&["sample", "lantern.obj", "--out", "samples.csv"]);
    assert_eq!(output.status.code(), Some(0));
    let (_, rows) = desk.rows();
    assert_eq!(rows.len(), 4 * (5 * 4 + 4 * 3));
    assert_eq!(rows[0][..4], ["1", "", "0.125", "0.125"]);
    assert_eq!(rows[4 * 20][..4], ["6", "1", "0.25", "0.25"]);
    assert!(rows.iter().flatten().skip(2).all(|field| field != "NaN"));
}

#[test]
fn creases_and_borders_shape_what_is_sampled() {
    let desk = Desk::new();
    desk.put(
        "sharp.csv",
        "v0,v1,sharpness\n5,6,inf\n6,7,inf\n7,8,inf\n8,5,inf\n",
    );
    let at_rim = "face,corner,u,v\n2,,0.5,1\n";
    assert_eq!(desk.sample(at_rim).status.code(), Some(0));
    let height = |desk: &Desk| -> f64 { desk.rows().1[0][6].parse().unwrap() };
    let round = height(&desk);
    let creased = [
        "--creases",
        "sharp.csv",
        "--at",
        "places.csv",
        "--out",
        "samples.csv",
    ];
    let output = desk.run(&[&["sample", "lantern.obj"], creased.as_slice()].concat());
    assert_eq!(output.status.code(), Some(0));
    assert!(round < 2.0 && height(&desk) == 2.0, "{round}");
}

#[test]
fn a_table_at_fault_is_refused_in_one_line_that_names_the_line_and_the_mend() {
    let desk = Desk::new();
    let cases = [
        (
            "face,u,v\n1,0,0\n",
            "places.csv:1: the header is 'face,u,v'; write face,corner,u,v",
        ),
        (
            "face,corner,u,v\n1,0,0\n",
            "places.csv:2: the row has 3 fields; write 4",
        ),
        (
            "face,corner,u,v\n\n0,,0,0\n",
            "places.csv:3: '0' in column face is not a number",
        ),
        (
            "face,corner,u,v\n1,,x,0\n",
            "places.csv:2: 'x' in column u is not a number",
        ),
        (
            "face,corner,u,v\n1,,0,0\n10,,0,0\n",
            "places.csv:3: face 10 does not exist",
        ),
        (
            "face,corner,u,v\n1,1,0,0\n",
            "places.csv:2: face 1 is a quad: leave the corner empty",
        ),
        (
            "face,corner,u,v\n6,,0,0\n",
            "places.csv:2: face 6 has 3 sides: name the corner",
        ),
        (
            "face,corner,u,v\n6,4,0,0\n",
            "places.csv:2: face 6 has 3 sides, not a corner 4",
        ),
        (
            "face,corner,u,v\n1,,1.01,0\n",
            "places.csv:2: u is 1.01: give a number from 0 to 1",
        ),
        (
            "face,corner,u,v\n1,,0,nan\n",
            "places.csv:2: v is NaN: give a number from 0 to 1",
        ),
        ("", "places.csv: the file is empty"),
    ];
    for (table, message) in cases {
        let line = refusal(&desk.sample(table));
        assert!(line.contains(message), "{line}\n{message}");
        assert!(!desk.path("samples.csv").exists(), "{message}");
    }
}

#[test]
fn a_table_is_not_overwritten_by_its_own_samples() {
    let desk = Desk::new();
    desk.put("places.csv", "face,corner,u,v\n1,,0,0\n");
    let onto_itself = ["--at", "places.csv", "--out", "places.csv"];
    refusal(&desk.run(&[&["sample", "lantern.obj"], onto_itself.as_slice()].concat()));
    assert!(
        fs::read_to_string(desk.path("places.csv"))
            .unwrap()
            .ends_with("1,,0,0\n")
    );
}

#[test]
fn a_table_without_rows_gives_a_table_without_rows() {
    let desk = Desk::new();
    assert_eq!(desk.sample("face,corner,u,v\n").status.code(), Some(0));
    assert!(desk.rows().1.is_empty());
}

#[test]
fn blanks_line_ends_and_byte_order_marks_do_no_harm() {
    let text = "\u{feff}face , corner,u,v\r\n\r\n 2 , 3, .5 ,1e-1\r\n";
    let rows = read_places_from(text.as_bytes(), Path::new("places.csv")).unwrap();
    let place = Place {
        face: 1,
        corner: Some(2),
        u: 0.5,
        v: 0.1,
    };
    assert_eq!(rows, [PlaceRow { line: 3, place }]);
}
