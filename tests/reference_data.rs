//! Refinement and limits against OpenSubdiv 3.5.0 and CGAL 5.5.1 on small cages that each stress one
//! thing. The files under `reference-data` say how they were made; neither library is needed here.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod support;

use std::collections::HashMap;
use std::path::{Path, PathBuf};

use cagewise::mesh::{Topology, Vec3};
use cagewise::subdivision::{BoundaryRule, Samples, Surface, refine, refined_size};
use support::creased_surface_of;
use support::reference::{data, load, names};

/// Largest difference of positions, in units of models of size about 3. Both sides work in double
/// precision.
const POSITION_TOLERANCE: f64 = 1e-12;

/// Largest difference of unit normals.
const NORMAL_TOLERANCE: f64 = 1e-11;

/// OpenSubdiv keeps sharpness in single precision: 0.4 and 2.7 differ by up to 1e-7 there.
const SINGLE_PRECISION_TOLERANCE: f64 = 3e-7;

/// The one cage whose sharpness is not exact in single precision.
const INEXACT_SHARPNESS: &str = "semi-sharp-decimals";

/// A row of a reference table.
struct Row {
    level: usize,
    position: Vec3,
    limit: Option<Vec3>,
    normal: Option<Vec3>,
    kind: String,
}

fn rows(path: &Path) -> Vec<Row> {
    let mut reader = csv::ReaderBuilder::new()
        .flexible(true)
        .from_path(path)
        .unwrap();
    let vector = |record: &csv::StringRecord, from: usize| {
        let parts: Option<Vec<f64>> = (from..from + 3)
            .map(|i| record.get(i).and_then(|x| x.parse().ok()))
            .collect();
        parts.map(|p| Vec3::from_column_slice(&p))
    };
    reader
        .records()
        .map(|record| {
            let record = record.unwrap();
            Row {
                level: record[0].parse().unwrap(),
                position: vector(&record, 1).unwrap(),
                limit: vector(&record, 4),
                normal: vector(&record, 7),
                kind: record.get(10).unwrap_or_default().to_owned(),
            }
        })
        .collect()
}

/// Finds points by position.
struct Finder {
    cells: HashMap<[i64; 3], Vec<usize>>,
    points: Vec<Vec3>,
}

impl Finder {
    const CELL: f64 = 1e-4;

    fn new(points: Vec<Vec3>) -> Self {
        let mut cells = HashMap::<_, Vec<usize>>::new();
        for (i, p) in points.iter().enumerate() {
            cells.entry(Self::key(p)).or_default().push(i);
        }
        Self { cells, points }
    }

    fn key(p: &Vec3) -> [i64; 3] {
        [p.x, p.y, p.z].map(|x| (x / Self::CELL).floor() as i64)
    }

    /// All points within a cell of `p`, with their distance, nearest first.
    fn near(&self, p: &Vec3) -> Vec<(f64, usize)> {
        let [x, y, z] = Self::key(p);
        let mut found = Vec::new();
        for dx in -1..=1 {
            for dy in -1..=1 {
                for dz in -1..=1 {
                    for &i in self
                        .cells
                        .get(&[x + dx, y + dy, z + dz])
                        .into_iter()
                        .flatten()
                    {
                        found.push(((self.points[i] - p).norm(), i));
                    }
                }
            }
        }
        found.sort_by(|a, b| a.0.total_cmp(&b.0));
        found
    }
}

fn points(positions: &[[f64; 3]]) -> Vec<Vec3> {
    positions.iter().map(|&p| Vec3::from(p)).collect()
}

fn opensubdiv_tables() -> Vec<(String, BoundaryRule, PathBuf)> {
    let folder = data().join("opensubdiv");
    let table = |name: &String| {
        let plain = (
            BoundaryRule::EdgeAndCorner,
            folder.join(format!("{name}.csv")),
        );
        let edge_only = (
            BoundaryRule::EdgeOnly,
            folder.join(format!("{name}.edge-only.csv")),
        );
        [plain, edge_only]
            .into_iter()
            .filter(|(_, path)| path.exists())
            .map(|(rule, path)| (name.clone(), rule, path))
            .collect::<Vec<_>>()
    };
    names("cages", ".obj").iter().flat_map(table).collect()
}

fn tolerance(name: &str, usual: f64) -> f64 {
    if name == INEXACT_SHARPNESS {
        SINGLE_PRECISION_TOLERANCE
    } else {
        usual
    }
}

#[test]
fn refined_positions_are_opensubdiv_s_to_level_four() {
    let (mut tables, mut compared) = (0, 0);
    for (name, rule, path) in opensubdiv_tables() {
        let (mesh, creases) = load(&name);
        let surface = creased_surface_of(&mesh, &creases, rule);
        let rows = rows(&path);
        for level in 1..=4 {
            let refined = refine(&surface, level, Samples::Refined);
            let finder = Finder::new(points(&refined.positions));
            for row in rows.iter().filter(|r| r.level == level) {
                let d = finder
                    .near(&row.position)
                    .first()
                    .map_or(f64::INFINITY, |n| n.0);
                let allowed = tolerance(&name, POSITION_TOLERANCE);
                assert!(
                    d < allowed,
                    "{name}, {rule:?}, level {level}: {:?} off by {d}",
                    row.position
                );
                compared += 1;
            }
        }
        tables += 1;
    }
    assert!(
        tables >= 80 && compared > 50_000,
        "{tables} tables, {compared} points"
    );
}

/// The numbers of vertices and faces that OpenSubdiv counts.
#[test]
fn refined_meshes_have_opensubdiv_s_numbers_of_vertices_and_faces() {
    let mut reader = csv::Reader::from_path(data().join("opensubdiv/counts.csv")).unwrap();
    let mut compared = 0;
    for record in reader.records() {
        let record = record.unwrap();
        let mesh = load(&record[0]).0;
        let topology = Topology::new(&mesh);
        let level: usize = record[2].parse().unwrap();
        let (vertices, faces) = refined_size(&topology, level).unwrap();
        let counted: [u64; 2] = [record[3].parse().unwrap(), record[4].parse().unwrap()];
        assert_eq!([vertices, faces], counted, "{} level {level}", &record[0]);
        compared += 1;
    }
    assert!(compared > 300, "{compared} counts");
}

#[test]
fn limit_positions_and_normals_of_cage_vertices_are_opensubdiv_s() {
    let (mut positions, mut normals) = (0, 0);
    for (name, rule, path) in opensubdiv_tables() {
        let (mesh, creases) = load(&name);
        let surface = creased_surface_of(&mesh, &creases, rule);
        let frame = surface.control().frame();
        let rows = rows(&path);
        let of_cage: Vec<&Row> = rows.iter().filter(|r| r.level == 0).collect();
        assert_eq!(of_cage.len(), mesh.vertex_count(), "{name}");
        for (v, row) in of_cage.into_iter().enumerate() {
            let (position, normal) = surface.vertex_limit(v);
            let what = format!("{name}, {rule:?}, vertex {v} ({})", row.kind);
            if let Some(wanted) = row.limit {
                let d = (frame.outward(position) - wanted).norm();
                assert!(
                    d < tolerance(&name, POSITION_TOLERANCE),
                    "{what}: position off by {d}"
                );
                positions += 1;
            }
            if let Some(wanted) = row.normal {
                let normal = normal.unwrap_or_else(|| panic!("{what}: no normal"));
                let d = (normal - wanted).norm();
                assert!(
                    d < tolerance(&name, NORMAL_TOLERANCE),
                    "{what}: normal off by {d}"
                );
                normals += 1;
            }
        }
    }
    assert!(
        positions > 1000 && normals > 500,
        "{positions} positions, {normals} normals"
    );
}

/// At level 2 the limit at every refined vertex, matched by its refined position.
#[test]
fn limit_positions_and_normals_of_refined_vertices_are_opensubdiv_s() {
    let (mut positions, mut normals) = (0, 0);
    for (name, rule, path) in opensubdiv_tables() {
        let (mesh, creases) = load(&name);
        let surface = creased_surface_of(&mesh, &creases, rule);
        let refined = refine(&surface, 2, Samples::Refined);
        let limit = refine(&surface, 2, Samples::Limit);
        let limit_normals = points(limit.normals.as_ref().unwrap());
        let finder = Finder::new(points(&refined.positions));
        for row in rows(&path)
            .iter()
            .filter(|r| r.level == 2 && r.limit.is_some())
        {
            let what = format!("{name}, {rule:?}, {:?} ({})", row.position, row.kind);
            let near = finder.near(&row.position);
            let wanted = row.limit.unwrap();
            let off = |i: usize| (Vec3::from(limit.positions[i]) - wanted).norm();
            let best = near
                .iter()
                .map(|n| n.1)
                .min_by(|&a, &b| off(a).total_cmp(&off(b)));
            let best = best.unwrap_or_else(|| panic!("{what}: not found"));
            let d = off(best);
            assert!(
                d < tolerance(&name, POSITION_TOLERANCE),
                "{what}: position off by {d}"
            );
            positions += 1;
            if let Some(wanted) = row.normal {
                let d = (limit_normals[best] - wanted).norm();
                assert!(
                    d < tolerance(&name, NORMAL_TOLERANCE),
                    "{what}: normal off by {d}"
                );
                normals += 1;
            }
        }
    }
    assert!(
        positions > 10_000 && normals > 5_000,
        "{positions} positions, {normals} normals"
    );
}

#[test]
fn refined_positions_are_cgal_s_to_level_three() {
    let mut compared = 0;
    for name in names("cgal", ".csv") {
        let (mesh, creases) = load(&name);
        let surface: Surface = creased_surface_of(&mesh, &creases, BoundaryRule::EdgeOnly);
        let rows = rows(&data().join("cgal").join(format!("{name}.csv")));
        for level in 1..=3 {
            let finder = Finder::new(points(&refine(&surface, level, Samples::Refined).positions));
            for row in rows.iter().filter(|r| r.level == level) {
                let d = finder
                    .near(&row.position)
                    .first()
                    .map_or(f64::INFINITY, |n| n.0);
                assert!(
                    d < POSITION_TOLERANCE,
                    "{name}, level {level}: {:?} off by {d}",
                    row.position
                );
                compared += 1;
            }
        }
    }
    assert!(compared > 10_000, "{compared} points");
}
