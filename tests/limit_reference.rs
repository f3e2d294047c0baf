//! The limit surface at some thousand places against OpenSubdiv 3.5.0's own evaluation (`Bfr`), on
//! the cages of `reference-data`, which says how the tables were made and what was left out.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod support;

use cagewise::io::read_places_from;
use cagewise::limit::{LimitPoint, LimitSurface, Place};
use cagewise::mesh::Vec3;
use cagewise::subdivision::{BoundaryRule, Surface};
use support::creased_surface_of;
use support::reference::{data, load, names};

/// Largest relative difference. Both sides work in double precision; second derivatives close to a
/// pole are differences of nearly equal numbers, scaled up by 4 per level.
const TOLERANCE: f64 = 1e-8;

/// What OpenSubdiv says of one place.
struct Row {
    place: Place,
    position: Vec3,
    first: [Vec3; 2],
    second: [Vec3; 3],
    normal: Vec3,
    principal: [f64; 2],
}

fn rows(table: &str) -> Vec<Row> {
    let path = data().join("limit").join(format!("{table}.csv"));
    let mut reader = csv::Reader::from_path(&path).unwrap();
    let header = reader.headers().unwrap().clone();
    let column = |name: &str| header.iter().position(|h| h == name).unwrap();
    let records: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    let mut places = String::from("face,corner,u,v\n");
    for record in &records {
        let fields = ["face", "corner", "u", "v"].map(|name| &record[column(name)]);
        places += &(fields.join(",") + "\n");
    }
    let places = read_places_from(places.as_bytes(), &path).unwrap();
    let row = |(record, place): (&csv::StringRecord, Place)| {
        let number = |name: &str| -> f64 { record[column(name)].parse().unwrap() };
        let vector = |name: &str| {
            let [x, y, z] = ["x", "y", "z"].map(|k| number(&format!("{name}_{k}")));
            Vec3::new(x, y, z)
        };
        Row {
            place,
            position: Vec3::new(number("x"), number("y"), number("z")),
            first: ["du", "dv"].map(vector),
            second: ["duu", "duv", "dvv"].map(vector),
            normal: vector("normal"),
            principal: ["k1", "k2"].map(number),
        }
    };
    let places = places.iter().map(|row| row.place);
    records.iter().zip(places).map(row).collect()
}

/// Relative differences: position, first derivatives, second derivatives, normal, curvatures. What
/// is small against the whole is compared with the whole: lengths with the model's size, second
/// derivatives with the first and curvatures with each other or one over the size.
fn differences(found: &LimitPoint, row: &Row, size: f64) -> [f64; 5] {
    let off = |a: &[Vec3], b: &[Vec3], unit: f64| {
        let pairs = a.iter().zip(b);
        pairs
            .map(|(a, b)| (a - b).norm() / unit)
            .fold(0.0, f64::max)
    };
    let longest = |v: &[Vec3]| v.iter().map(Vec3::norm).fold(0.0, f64::max);
    let first = found.first.unwrap();
    let second = found.second.unwrap();
    let principal = found.curvature().unwrap().principal;
    let largest = row.principal[0].abs().max(row.principal[1].abs());
    let curvature = (0..2).map(|k| (principal[k] - row.principal[k]).abs());
    [
        (found.position - row.position).norm() / size,
        off(&first, &row.first, longest(&row.first)),
        off(
            &second,
            &row.second,
            longest(&row.second).max(longest(&row.first)),
        ),
        (found.normal.unwrap() - row.normal).norm(),
        curvature.fold(0.0, f64::max) / largest.max(1.0 / size),
    ]
}

fn surface_and_size(table: &str) -> (Surface, f64) {
    let (name, rule) = match table.strip_suffix(".edge-only") {
        Some(name) => (name, BoundaryRule::EdgeOnly),
        None => (table, BoundaryRule::EdgeAndCorner),
    };
    let (mesh, creases) = load(name);
    let largest = mesh.positions().iter().map(Vec3::norm).fold(0.0, f64::max);
    (creased_surface_of(&mesh, &creases, rule), largest)
}

#[test]
fn places_have_the_positions_derivatives_normals_and_curvatures_of_opensubdiv() {
    let mut places = 0;
    let mut worst = [0.0f64; 5];
    for table in names("limit", ".csv") {
        let (surface, size) = surface_and_size(&table);
        let rows = rows(&table);
        let asked: Vec<Place> = rows.iter().map(|row| row.place).collect();
        let found = LimitSurface::new(&surface).evaluate_all(&asked).unwrap();
        for (found, row) in found.iter().zip(&rows) {
            let off = differences(found, row, size);
            let what = format!("{table}, {:?}: {off:?}", row.place);
            assert!(off.iter().all(|d| *d < TOLERANCE), "{what}");
            for (worst, d) in worst.iter_mut().zip(off) {
                *worst = worst.max(d);
            }
        }
        places += rows.len();
    }
    assert!(
        places >= 5000,
        "{places} places; largest differences {worst:?}"
    );
}
