//! Places at risk: what belongs to one, what is measured of it, in which order they come, and that
//! screen, summary, page and table tell the same of them.
#![cfg(feature = "cli")]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod support;

use std::collections::BTreeSet;
use std::fs;
use std::io::Read;
use std::path::Path;
use std::process::Command;

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use cagewise::assess::{AssessOptions, Assessment};
use cagewise::mesh::{Cage, PolygonMesh, Vec3};
use cagewise::picture::{Gallery, UpAxis};
use cagewise::risk::{Band, Cause, Place, shown_risk};
use cagewise::subdivision::{RefinedFaces, Samples, refine};
use flate2::read::GzDecoder;
use serde_json::Value;
use support::cages::{Random, random_cage, torus};
use support::surface_of;

/// Round-off of sums over some thousand terms of size 1.
const SUM_EPSILON: f64 = 1e-11;

fn assessed(mesh: &PolygonMesh) -> Assessment {
    Cage::from_mesh(mesh.clone()).assess(&AssessOptions::default())
}

/// A torus of 24 by 12 quads with some vertices pushed off it by 0.3 of its tube.
fn pushed(vertices: &[usize]) -> PolygonMesh {
    let clean = torus(24, 12, 2.0, 0.7);
    let surface = surface_of(&clean);
    let mut positions = clean.positions().to_vec();
    for &v in vertices {
        positions[v] += surface.vertex_limit(v).1.unwrap() * 0.21;
    }
    let (starts, corners) = (clean.face_starts(), clean.corner_vertices());
    PolygonMesh::new(positions, starts.to_vec(), corners.to_vec()).unwrap()
}

#[test]
fn one_pushed_vertex_is_one_place_about_it() {
    let mesh = pushed(&[40]);
    let found = assessed(&mesh);
    let places = &found.findings.places;
    assert_eq!(places.len(), 1, "{places:?}");
    let place = &places[0];
    let topology = found.surface.control().topology();
    let about: Vec<usize> = topology.neighbours(40).chain([40]).collect();
    assert!(about.contains(&place.peak));
    let at = mesh.positions()[40];
    let edge = (at - mesh.positions()[about[0]]).norm();
    assert!((place.centre - at).norm() < edge, "{place:?}");
    assert!(
        place.radius > 0.5 * edge && place.radius < 4.0 * edge,
        "{place:?}"
    );
    assert!(place.mean_risk <= place.risk && place.mean_risk >= 0.25);
}

#[test]
fn faults_far_from_each_other_are_places_of_their_own() {
    let found = assessed(&pushed(&[40, 190]));
    let places = &found.findings.places;
    let topology = found.surface.control().topology();
    let near = |v: usize| -> BTreeSet<usize> { topology.neighbours(v).chain([v]).collect() };
    let of = |v: usize| {
        let near = near(v);
        places.iter().position(|p| near.contains(&p.peak)).unwrap()
    };
    assert_ne!(of(40), of(190));
}

/// Areas about each cage vertex by the faces of a refined mesh on the limit surface. A quad's refined
/// faces lie row by row, those of any other face corner by corner; each belongs to the vertex of its
/// quarter.
fn areas_by_refinement(mesh: &PolygonMesh, level: usize) -> Vec<f64> {
    let fine = refine(&surface_of(mesh), level, Samples::Limit);
    let RefinedFaces::Quads(quads) = &fine.faces else {
        panic!("level 1 and more gives quads")
    };
    let area = |quad: &[u32; 4]| {
        let [a, b, c, d] = quad.map(|v| Vec3::from(fine.positions[v as usize]));
        (c - a).cross(&(d - b)).norm() / 2.0
    };
    let count = mesh.vertex_count();
    let cage_vertex = |quad: &[u32; 4]| quad.iter().map(|&v| v as usize).find(|&v| v < count);
    let half = 1 << (level - 1);
    let mut areas = vec![0.0; count];
    let mut start = 0;
    for face in mesh.faces() {
        let block = &quads[start..start + face.len() * half * half];
        start += block.len();
        let side = 2 * half;
        for (k, quad) in block.iter().enumerate() {
            let owner = if face.len() == 4 {
                let end = |i: usize| if i < half { 0 } else { side - 1 };
                cage_vertex(&block[end(k / side) * side + end(k % side)])
            } else {
                let corner = k / (half * half) * half * half;
                block[corner..corner + half * half]
                    .iter()
                    .find_map(cage_vertex)
            };
            areas[owner.unwrap()] += area(quad);
        }
    }
    areas
}

#[test]
fn shares_and_means_are_those_of_a_refined_mesh() {
    let mut compared = 0;
    for seed in 0..6 {
        let mesh = random_cage(seed);
        let found = assessed(&mesh).findings;
        let (same, fine) = (areas_by_refinement(&mesh, 1), areas_by_refinement(&mesh, 5));
        let share = |areas: &[f64], place: &Place| {
            let own: f64 = place.vertices.iter().map(|&v| areas[v]).sum();
            own / areas.iter().sum::<f64>()
        };
        for place in &found.places {
            let off = place.area_share - share(&same, place);
            assert!(off.abs() < SUM_EPSILON, "{seed}: {off}");
            // Flat pieces in place of curved ones: within a sixth, on cages as rough as these.
            let ratio = place.area_share / share(&fine, place);
            assert!((5.0 / 6.0..1.2).contains(&ratio), "{seed}: {ratio}");
            let risk = |v: &usize| same[*v] * found.risks.total[*v];
            let own: f64 = place.vertices.iter().map(|&v| same[v]).sum();
            let mean = place.vertices.iter().map(risk).sum::<f64>() / own;
            assert!((place.mean_risk - mean).abs() < SUM_EPSILON, "{seed}");
            compared += 1;
        }
    }
    assert!(compared > 5);
}

/// A torus with up to eight vertices pushed off or in by chance, and a face reversed on every third.
fn rough_ring(seed: u64) -> PolygonMesh {
    let mut random = Random(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1);
    let clean = torus(24, 12, 2.0, 0.7);
    let surface = surface_of(&clean);
    let mut positions = clean.positions().to_vec();
    for _ in 0..2 + random.below(7) {
        let v = random.below(positions.len());
        positions[v] += surface.vertex_limit(v).1.unwrap() * (0.6 * random.unit() - 0.3);
    }
    let mut faces: Vec<Vec<u32>> = clean.faces().map(<[u32]>::to_vec).collect();
    if seed.is_multiple_of(3) {
        let f = random.below(faces.len());
        faces[f].reverse();
    }
    PolygonMesh::from_faces(positions, &faces).unwrap()
}

#[test]
fn places_hold_all_vertices_at_risk_once_hang_together_and_come_in_the_stated_order() {
    let mut several = 0;
    for seed in 0..30 {
        let mesh = rough_ring(seed);
        let assessment = assessed(&mesh);
        let (found, topology) = (
            &assessment.findings,
            assessment.surface.control().topology(),
        );
        let spots = found.spots();
        for (v, spot) in spots.iter().enumerate() {
            let at_risk = Band::of(found.risks.total[v]) >= Band::Watch;
            assert_eq!(spot.is_some(), at_risk, "{seed}: {v}");
        }
        let listed: usize = found.places.iter().map(|p| p.vertices.len()).sum();
        assert_eq!(listed, spots.iter().flatten().count(), "{seed}");
        for place in &found.places {
            let own: BTreeSet<usize> = place.vertices.iter().copied().collect();
            let edges = (0..topology.edge_count()).map(|e| topology.edge_vertices(e));
            let mut edges: Vec<[usize; 2]> = edges
                .filter(|e| e.iter().any(|v| own.contains(v)))
                .map(|[a, b]| [a.min(b), a.max(b)])
                .collect();
            edges.sort_unstable();
            edges.dedup();
            assert_eq!(place.edges, edges, "{seed}");
            let meets = |f: &usize| mesh.face(*f).iter().any(|v| own.contains(&(*v as usize)));
            let faces: Vec<usize> = (0..mesh.face_count()).filter(meets).collect();
            assert_eq!(place.faces, faces, "{seed}");
            // By its edges every vertex is reached from the peak.
            let mut reached = BTreeSet::from([place.peak]);
            loop {
                let before = reached.len();
                for e in &edges {
                    if e.iter().any(|v| reached.contains(v)) {
                        reached.extend(e);
                    }
                }
                if reached.len() == before {
                    break;
                }
            }
            assert!(own.is_subset(&reached), "{seed}: {place:?}");
            let highest = place.vertices.iter().map(|&v| found.risks.total[v]);
            assert_eq!(place.risk, highest.fold(0.0, f64::max), "{seed}");
        }
        for pair in found.places.windows(2) {
            several += 1;
            let bands = [Band::of(pair[0].risk), Band::of(pair[1].risk)];
            assert!(bands[0] >= bands[1], "{seed}");
            let visible = pair[0].visibility() >= pair[1].visibility() - SUM_EPSILON;
            assert!(visible || bands[0] > bands[1], "{seed}: {pair:?}");
        }
    }
    assert!(several > 10, "too few cages with several places: {several}");
}

/// What the four ways of telling say of a place: number, worst vertex, cause, vertices.
#[derive(Debug, PartialEq)]
struct Told {
    spot: u64,
    peak: u64,
    cause: String,
    vertices: BTreeSet<u64>,
}

fn told(summary: &Value) -> Vec<Told> {
    let numbers = |value: &Value| {
        value
            .as_array()
            .unwrap()
            .iter()
            .map(|v| v.as_u64().unwrap())
            .collect()
    };
    let places = summary["places"].as_array().unwrap();
    places
        .iter()
        .map(|place| Told {
            spot: place["spot"].as_u64().unwrap(),
            peak: place["peak_vertex"].as_u64().unwrap(),
            cause: place["cause"].as_str().unwrap().to_owned(),
            vertices: numbers(&place["vertices"]),
        })
        .collect()
}

/// The page's header and its section `spot`, unpacked.
fn page_content(html: &str) -> (Value, Vec<u32>) {
    let mark = "<script type=\"application/octet-stream;base64\">";
    let mut bytes = Vec::new();
    for block in html.split(mark).skip(1) {
        let coded = STANDARD.decode(block.split('<').next().unwrap()).unwrap();
        GzDecoder::new(coded.as_slice())
            .read_to_end(&mut bytes)
            .unwrap();
    }
    let length = u32::from_le_bytes(bytes[..4].try_into().unwrap()) as usize;
    let header: Value = serde_json::from_slice(&bytes[4..4 + length]).unwrap();
    let sections = header["sections"].as_array().unwrap();
    let section = sections.iter().find(|s| s["name"] == "spot").unwrap();
    let number = |key: &str| section[key].as_u64().unwrap() as usize;
    let count = number("count");
    let planes = &bytes[4 + length + number("start")..][..4 * count];
    let mut value = 0u32;
    let spots = (0..count).map(|i| {
        let coded = u32::from_le_bytes(std::array::from_fn(|plane| planes[plane * count + i]));
        let step = (coded >> 1) as i32 ^ -((coded & 1) as i32);
        value = value.wrapping_add(step as u32);
        value
    });
    let spots = spots.collect();
    (header, spots)
}

/// Runs `assess` and holds screen, summary, page and table against each other.
fn check_agreement(demo: &str, options: &[&str]) -> usize {
    let folder = tempfile::tempdir().unwrap();
    let file = format!("demo/{demo}.obj");
    let out = folder.path().to_str().unwrap();
    let output = Command::new(env!("CARGO_BIN_EXE_cagewise"))
        .args(["assess", &file, "--out", out])
        .args(options)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .unwrap();
    assert!(output.status.success(), "{demo}: {output:?}");
    let screen = String::from_utf8(output.stdout).unwrap();
    let text = |name: &str| fs::read_to_string(folder.path().join(name)).unwrap();
    let summary: Value = serde_json::from_str(&text("summary.json")).unwrap();
    let places = told(&summary);
    let numbers: Vec<u64> = places.iter().map(|place| place.spot).collect();
    assert_eq!(
        numbers,
        (1..=places.len() as u64).collect::<Vec<_>>(),
        "{demo}"
    );

    let (header, page_spots) = page_content(&text("report.html"));
    assert_eq!(header["summary"], summary, "{demo}");

    let table = text("risk.csv");
    let mut rows = csv::Reader::from_reader(table.as_bytes());
    let column = rows
        .headers()
        .unwrap()
        .iter()
        .position(|name| name == "spot")
        .unwrap();
    let mut by_spot = vec![BTreeSet::new(); places.len()];
    for (v, row) in rows.records().enumerate() {
        let row = row.unwrap();
        let spot: Option<usize> = (!row[column].is_empty()).then(|| row[column].parse().unwrap());
        assert_eq!(
            page_spots[v] as usize,
            spot.unwrap_or(0),
            "{demo}: vertex {}",
            v + 1
        );
        if let Some(spot) = spot {
            by_spot[spot - 1].insert(v as u64 + 1);
        }
    }
    for (place, vertices) in places.iter().zip(&by_spot) {
        assert_eq!(place.vertices, *vertices, "{demo}: {}", place.spot);
    }

    let lines: Vec<&str> = screen.lines().collect();
    let title = lines
        .iter()
        .position(|line| line.contains("share of the surface"));
    assert_eq!(title.is_some(), !places.is_empty(), "{demo}: {screen}");
    for (k, place) in places.iter().take(10).enumerate() {
        let entry = &summary["places"][k];
        let row = lines[title.unwrap() + 1..].iter();
        let start = format!("{:>3}  ", k + 1);
        let row = row.copied().find(|line| line.starts_with(&start)).unwrap();
        let words: Vec<&str> = row.split_whitespace().collect();
        let risk = shown_risk(entry["risk"].as_f64().unwrap());
        assert_eq!(
            words[1..3],
            [&risk, entry["band"].as_str().unwrap()],
            "{demo}: {row}"
        );
        let percent = entry["area_percent"].as_f64().unwrap();
        let shown: f64 = words[3].trim_start_matches('<').parse().unwrap();
        assert!((shown - percent).abs() <= 0.05, "{demo}: {row}");
        assert_eq!(
            words[4..7],
            ["%", &place.peak.to_string(), &place.cause],
            "{demo}: {row}"
        );
    }
    places.len()
}

#[test]
fn screen_summary_page_and_table_agree_on_every_demo() {
    let mut demos: Vec<String> = fs::read_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join("demo"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "obj"))
        .map(|path| path.file_stem().unwrap().to_str().unwrap().to_owned())
        .collect();
    demos.sort();
    assert!(demos.len() >= 4);
    let places: usize = demos.iter().map(|demo| check_agreement(demo, &[])).sum();
    assert!(places > 5, "hardly a place to compare: {places}");
    assert!(check_agreement("cowl", &["--mirror", "x"]) > 0);
}

#[test]
fn close_ups_come_in_the_order_of_the_places() {
    let found = assessed(&pushed(&[40, 190]));
    let gallery = Gallery::new(&found, "ring", UpAxis::Z);
    let views = gallery.views();
    let close: Vec<(String, usize)> = views
        .iter()
        .filter_map(|view| Some((view.name.clone(), view.place?)))
        .collect();
    let count = found.findings.places.len().min(10);
    let expected: Vec<(String, usize)> = (0..count)
        .map(|rank| (format!("place-{:02}", rank + 1), rank))
        .collect();
    assert!(count >= 2);
    assert_eq!(close, expected);
}

/// A reversed face is the fault whatever else its neighbourhood shows.
#[test]
fn a_place_with_a_reversed_face_is_called_a_fold() {
    let bumped = pushed(&[40]);
    let mut faces: Vec<Vec<u32>> = bumped.faces().map(<[u32]>::to_vec).collect();
    let beside = faces.iter().position(|f| f.contains(&40)).unwrap();
    faces[beside].reverse();
    let mesh = PolygonMesh::from_faces(bumped.positions().to_vec(), &faces).unwrap();
    let places = assessed(&mesh).findings.places;
    let place = places.iter().find(|p| p.vertices.contains(&40)).unwrap();
    assert_eq!(place.cause, Cause::Fold);
    assert!(place.figure.contains("reversed"), "{}", place.figure);
}
