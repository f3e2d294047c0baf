//! Damaged files, made by seeded mutation: reading ends in a sound cage or in one clear line, in
//! bounded time, and never in a panic. Deterministic: the same cases on every run.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::path::Path;
use std::time::{Duration, Instant};

use cagewise::io::{read_cage_from, read_creases_from, resolve_creases};
use cagewise::mesh::{Cage, NONE};

/// Cases per test: a few seconds on one core.
const OBJ_CASES: usize = 150_000;
const CREASE_CASES: usize = 150_000;

/// Longest that one file of a few kilobytes may take; thousands of times what it takes, so that
/// a loaded machine does not fail the test and a runaway loop does.
const LONGEST: Duration = Duration::from_secs(2);

/// Longest message: it must stay one readable line whatever the file holds.
const LONGEST_MESSAGE: usize = 400;

/// Files to damage, named by what they stress.
const OBJ_SEEDS: &[&[u8]] = &[
    // Quads with UVs and normals, names, smoothing groups.
    b"mtllib quay.mtl\no bollard\nv -1 -1 0\nv 1 -1 0\nv 1 1 0\nv -1 1 0\nv 0 0 2\nvt 0 0\n\
      vt 1 0\nvt 1 1\nvn 0 0 1\nvn 0 1 0\ng side a\nusemtl iron\ns 1\nf 1/1/1 2/2/1 3/3/1 4/1/2\n\
      s off\nf 1//1 2//2 5//1\nf 2/1 3/2 5/3\nf 3 4 5\n",
    // Relative indices, entries between faces.
    b"v 0 0 0\nv 1 0 0\nv 1 1 0\nf -3 -2 -1\nvt .5 .5\nvn 0 0 1\nv 0 1 0.5\nf -1/-1/-1 -2/-1/-1 -4\n",
    // Continuations, comments, blanks, CRLF, byte-order mark, names that are not UTF-8.
    b"\xef\xbb\xbf# k\xe9el\\\r\nv 0 \\\r\n 0 0 # a\r\nv\t1 0 0\r\nv 1 1 0\r\n\r\no \xe9\xff\r\n\
      f 1 \\\r\n\\\r\n 2 3\r\n",
    // Colours on some, w, numbers of every spelling.
    b"v 0 0 0 1 .5 0\nv 1e0 +0 -0. 2\nv 1E0 1.e-0 .0 1 0 0 1\nv 0 1 1e-300\nvt .25\nvt 1 2 3\n\
      f 1/1 2/2 3/1 4\n",
    // What is skipped.
    b"vp 0 0\ncstype bspline\ndeg 3\nl 1 2\np 1\nlod 3\nfrobnicate\nv 0 0 0\nv 1 0 0\nv 0 1 0\n\
      curv 0 1 1 2 3\nend\nf 1 2 3\ns 99999999999999\nf 3 2 1\n",
];

const CREASE_SEEDS: &[&[u8]] = &[
    b"v0,v1,sharpness\n1,2,3.5\n2,3,inf\n3,,2\n4,5,0\n",
    b"\xef\xbb\xbfsharpness, v1 ,v0\r\n10,2,1\r\n\r\n\"2\" ,,3\r\n1e1,\"4\",3\r\n",
];

/// Tokens that stress one rule or another.
const TOKENS: &[&[u8]] = &[
    b"0",
    b"-1",
    b"1",
    b"2",
    b"99",
    b"-99",
    b"4294967295",
    b"4294967296",
    b"18446744073709551616",
    b"-9223372036854775808",
    b"99999999999999999999999999",
    b"nan",
    b"inf",
    b"-inf",
    b"1e999",
    b"1e308",
    b"1e-999",
    b"1d5",
    b".",
    b"-",
    b"+",
    b"e",
    b"1/",
    b"/1",
    b"1//",
    b"1/1/1/1",
    b"\\",
    b"\\\n",
    b"\\\r\n",
    b"#",
    b"\n",
    b"\r",
    b"\t",
    b"\x0c",
    b"\0",
    b"\xff",
    b"\xef\xbb\xbf",
    b"v",
    b"vt",
    b"vn",
    b"f",
    b"s",
    b"g",
    b"o",
    b"usemtl",
    b"l",
    b"\nf 1 2 3\n",
    b"\nv 0 0 0\n",
    b",",
    b",,",
    b"\"",
    b"v0",
    b"sharpness",
    b"\nf 4000000000 1 2\n",
    b"\nf -4000000000 1 2\n",
];

/// Marsaglia's 64-bit xorshift (2003, triple 13, 7, 17).
struct Random(u64);

impl Random {
    fn next(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }

    fn below(&mut self, bound: usize) -> usize {
        (self.next() % bound.max(1) as u64) as usize
    }

    fn pick<T: Copy>(&mut self, from: &[T]) -> T {
        from[self.below(from.len())]
    }
}

/// Where each token starts and ends.
fn token_spans(text: &[u8]) -> Vec<(usize, usize)> {
    let parts = |b: &u8| b.is_ascii_whitespace() || matches!(b, b'/' | b',');
    let mut spans = Vec::new();
    let mut start = 0;
    for part in text.split(parts) {
        if !part.is_empty() {
            spans.push((start, start + part.len()));
        }
        start += part.len() + 1;
    }
    spans
}

fn mutate(text: &mut Vec<u8>, random: &mut Random) {
    let at = random.below(text.len() + 1);
    match random.below(9) {
        0 if at < text.len() => text[at] ^= 1 << random.below(8),
        1 => text.truncate(at),
        2 => splice(text, (at, at), random.pick(TOKENS)),
        3 | 4 => {
            let spans = token_spans(text);
            if !spans.is_empty() {
                let token = random.pick(TOKENS);
                splice(text, random.pick(&spans), token);
            }
        }
        5 => {
            let spans = token_spans(text);
            if !spans.is_empty() {
                let (from, to) = (random.pick(&spans), random.pick(&spans));
                let token = text[from.0..from.1].to_vec();
                splice(text, to, &token);
            }
        }
        6 => {
            let lines: Vec<Vec<u8>> = text
                .split_inclusive(|&b| b == b'\n')
                .map(Vec::from)
                .collect();
            if !lines.is_empty() {
                let line = &lines[random.below(lines.len())];
                splice(text, (at, at), line);
            }
        }
        7 => {
            let end = (at + random.below(20)).min(text.len());
            splice(text, (at, end), b"");
        }
        _ => {
            let run = random.pick(TOKENS).repeat(1 << random.below(8));
            splice(text, (at, at), &run);
        }
    }
}

fn splice(text: &mut Vec<u8>, (start, end): (usize, usize), with: &[u8]) {
    text.splice(start..end, with.iter().copied());
}

/// A seed damaged one to four times.
fn damaged(seeds: &[&[u8]], random: &mut Random) -> Vec<u8> {
    let mut text = random.pick(seeds).to_vec();
    for _ in 0..=random.below(4) {
        mutate(&mut text, random);
    }
    text
}

fn assert_is_sound(cage: &Cage) {
    let (faces, corners) = (cage.mesh.face_count(), cage.mesh.corner_count());
    let vertices = cage.mesh.vertex_count();
    assert!(faces > 0);
    assert!(cage.mesh.faces().all(|face| face.len() >= 3));
    assert!(
        cage.mesh
            .corner_vertices()
            .iter()
            .all(|&v| (v as usize) < vertices)
    );
    assert!(
        cage.mesh
            .positions()
            .iter()
            .flatten()
            .all(|x| x.is_finite())
    );
    assert_eq!(cage.vertex_lines.len(), vertices);
    assert_eq!(cage.face_lines.len(), faces);
    assert!(cage.vertex_lines.is_sorted() && cage.face_lines.is_sorted());
    assert_eq!(cage.smoothing.of_face.len(), faces);
    for table in [&cage.objects, &cage.groups, &cage.materials] {
        assert_eq!(table.of_face.len(), faces);
        let is_known = |&i: &u32| i == NONE || (i as usize) < table.names.len();
        assert!(table.of_face.iter().all(is_known));
    }
    if let Some(colours) = &cage.colours {
        assert_eq!(colours.len(), vertices);
        assert!(colours.iter().flatten().all(|x| x.is_finite()));
    }
    let layers = [
        cage.uvs
            .as_ref()
            .map(|l| (&l.of_corner, l.coordinates.len())),
        cage.normals
            .as_ref()
            .map(|l| (&l.of_corner, l.vectors.len())),
    ];
    for (of_corner, entries) in layers.into_iter().flatten() {
        assert_eq!(of_corner.len(), corners);
        assert!(
            of_corner
                .iter()
                .all(|&i| i == NONE || (i as usize) < entries)
        );
        assert!(of_corner.iter().any(|&i| i != NONE));
    }
}

fn assert_is_one_line(message: &str, text: &[u8]) {
    let is_clear = !message.chars().any(char::is_control)
        && message.len() < LONGEST_MESSAGE
        && message.contains("; ")
        && !message.contains("please report");
    assert!(
        is_clear,
        "{message:?} for {:?}",
        String::from_utf8_lossy(text)
    );
}

#[test]
fn the_files_to_damage_are_sound_themselves() {
    for seed in OBJ_SEEDS {
        assert_is_sound(&read_cage_from(seed, Path::new("seed.obj")).unwrap());
    }
    for seed in CREASE_SEEDS {
        assert!(
            read_creases_from(seed, Path::new("seed.csv"))
                .unwrap()
                .len()
                >= 3
        );
    }
}

#[test]
fn damaged_obj_files_give_a_sound_cage_or_one_clear_line() {
    let mut random = Random(0x5eed_0b1e_c7ed_0001);
    let mut accepted = 0;
    for _ in 0..OBJ_CASES {
        let text = damaged(OBJ_SEEDS, &mut random);
        let start = Instant::now();
        match read_cage_from(&text, Path::new("damaged.obj")) {
            Ok(cage) => {
                assert_is_sound(&cage);
                accepted += 1;
            }
            Err(error) => assert_is_one_line(&error.to_string(), &text),
        }
        assert!(
            start.elapsed() < LONGEST,
            "{:?}",
            String::from_utf8_lossy(&text)
        );
    }
    // Both outcomes must be common, or the mutations test nothing.
    assert!(
        (OBJ_CASES / 20..OBJ_CASES * 19 / 20).contains(&accepted),
        "{accepted}"
    );
}

#[test]
fn damaged_crease_tables_give_sound_rows_or_one_clear_line() {
    let mut random = Random(0x5eed_0b1e_c7ed_0002);
    let mut accepted = 0;
    let name = Path::new("damaged.csv");
    let edge_of = |a: u32, b: u32| (a.abs_diff(b) == 1).then_some(a.min(b));
    for _ in 0..CREASE_CASES {
        let text = damaged(CREASE_SEEDS, &mut random);
        let start = Instant::now();
        let resolved = read_creases_from(&text, name).and_then(|rows| {
            accepted += 1;
            assert!(rows.iter().all(|row| row.sharpness >= 0.0 && row.line > 1));
            resolve_creases(&rows, 5, edge_of, name)
        });
        match resolved {
            Ok(creases) => {
                assert!(creases.edges.iter().all(|&(e, _)| e < 4));
                assert!(creases.vertices.iter().all(|&(v, _)| v < 5));
            }
            Err(error) => assert_is_one_line(&error.to_string(), &text),
        }
        assert!(
            start.elapsed() < LONGEST,
            "{:?}",
            String::from_utf8_lossy(&text)
        );
    }
    assert!(
        (CREASE_CASES / 20..CREASE_CASES * 19 / 20).contains(&accepted),
        "{accepted}"
    );
}

#[test]
fn one_line_of_a_million_corners_and_a_million_lines_are_read_in_bounded_time() {
    let one_line = format!("v 0 0 0\nv 1 0 0\nv 0 1 0\nf{}\n", " 1 2 3".repeat(333_334));
    let many_lines = format!(
        "v 0 0 0\nv 1 0 0\nv 0 1 0\n{}",
        "o a\nf 1 2 3\n".repeat(500_000)
    );
    let continued = format!("v 0 0 0\nv 1 0 0\nv 0 1 0\nf{}", " 1\\\n".repeat(1_000_000));
    let comments = format!("{}v 0 0 0\nf 1 1 1\n", "#\\\n".repeat(1_000_000));
    for text in [one_line, many_lines, continued, comments] {
        let start = Instant::now();
        let cage = read_cage_from(text.as_bytes(), Path::new("long.obj")).unwrap();
        assert_is_sound(&cage);
        // Linear time takes well under a second; quadratic time would take hours.
        assert!(start.elapsed() < Duration::from_secs(20));
    }
}
