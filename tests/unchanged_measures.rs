//! Measures and risks are unchanged by what does not change the form: moving, turning, scaling,
//! renumbering, the corner a face starts at, and turning the whole model inside out.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod support;

use cagewise::assess::{AssessOptions, Assessment, assess};
use cagewise::io::read_cage;
use cagewise::measure::Unit;
use cagewise::mesh::{Cage, PolygonMesh, Topology, Vec3};
use nalgebra::{Rotation3, Unit as UnitVector};
use std::path::Path;
use support::cages::{Random, inside_out, moved, random_cage, renumbered};

/// Largest difference, relative to values above 1: coordinates are moved and turned, which rounds
/// them at 1e-16, and the robust fits magnify that by up to some thousands.
const TOLERANCE: f64 = 1e-7;

/// By how much risks may differ: less than is told, two places.
const RISK_TOLERANCE: f64 = 0.005;

fn assessed(mesh: &PolygonMesh) -> Assessment {
    let topology = Topology::new(mesh);
    let cage = Cage::from_mesh(mesh.clone());
    assess(&cage, topology, &AssessOptions::default())
}

fn cages() -> Vec<(String, PolygonMesh)> {
    let demo = |name: &str| {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("demo/{name}.obj"));
        (name.to_owned(), read_cage(&path).unwrap().mesh)
    };
    let random = (0..12).map(|seed| (format!("random cage {seed}"), random_cage(seed)));
    random
        .chain(["cowl", "cleat", "bell", "crate"].map(demo))
        .collect()
}

/// Checks that vertex `v` of `before` and vertex `image(v)` of `after` have the same values; lengths
/// of `after` are `scale` times as long.
fn assert_alike(
    what: &str,
    before: &Assessment,
    after: &Assessment,
    image: impl Fn(usize) -> usize,
    scale: f64,
) {
    let near = |a: f64, b: f64| {
        (a.is_nan() && b.is_nan()) || (a - b).abs() <= TOLERANCE * a.abs().max(b.abs()).max(1.0)
    };
    let (a, b) = (&before.findings, &after.findings);
    for (old, new) in a.measures.iter().zip(&b.measures) {
        let factor = match old.about.unit {
            Unit::Length => scale,
            Unit::PerLength => 1.0 / scale,
            _ => 1.0,
        };
        for (v, x) in old.values.iter().enumerate() {
            let y = new.values[image(v)];
            let same = near(x * factor, y);
            assert!(
                same,
                "{what}: {} of vertex {v}: {x} became {y}",
                old.about.name
            );
        }
    }
    for (v, x) in a.risks.total.iter().enumerate() {
        let y = b.risks.total[image(v)];
        assert!(
            (x - y).abs() <= RISK_TOLERANCE,
            "{what}: risk of vertex {v}: {x} became {y}"
        );
    }
    assert_eq!(before.oddities, after.oddities, "{what}");
}

#[test]
fn measures_are_unchanged_by_moving_turning_and_scaling_the_model() {
    let axis = UnitVector::new_normalize(Vec3::new(0.3, -0.8, 0.5));
    let turn = Rotation3::from_axis_angle(&axis, 1.1);
    for (name, mesh) in cages() {
        let before = assessed(&mesh);
        for (scale, shift) in [(1.0, Vec3::new(0.4, -7.0, 2.0)), (3.7, Vec3::zeros())] {
            let after = moved(&mesh, |p| turn * p * scale + shift);
            assert_alike(&name, &before, &assessed(&after), |v| v, scale);
        }
    }
}

#[test]
fn measures_are_unchanged_by_renumbering_and_by_the_corner_a_face_starts_at() {
    for (seed, (name, mesh)) in cages().into_iter().enumerate() {
        let (after, order) = renumbered(&mesh, &mut Random(seed as u64 + 11));
        assert_alike(
            &name,
            &assessed(&mesh),
            &assessed(&after),
            |v| order[v],
            1.0,
        );
    }
}

#[test]
fn measures_are_unchanged_by_turning_inside_out() {
    for (name, mesh) in cages() {
        let before = assessed(&mesh);
        let turned_over = assessed(&inside_out(&mesh));
        assert_alike(&name, &before, &turned_over, |v| v, 1.0);
    }
}

/// Sizes and places at which squares overflow, vanish, or swallow the form.
#[test]
fn tiny_huge_and_distant_models_have_the_figures_of_the_plain_one() {
    for (name, mesh) in cages() {
        let before = assessed(&mesh);
        for scale in [2f64.powi(-498), 2f64.powi(498)] {
            let scaled = moved(&mesh, |p| p * scale);
            assert_alike(&name, &before, &assessed(&scaled), |v| v, scale);
        }
    }
    // 1e8 away a double holds 1.5e-8 of a unit: compared with the same rounding near the origin.
    let far = 2f64.powi(27);
    let rounded = |mesh: &PolygonMesh| moved(mesh, |p| p.map(|x| (x + far) - far));
    for (name, mesh) in cages() {
        let near = rounded(&mesh);
        let distant = moved(&near, |p| p.map(|x| x + far));
        assert_alike(&name, &assessed(&near), &assessed(&distant), |v| v, 1.0);
    }
}

#[test]
fn assessments_do_not_depend_on_the_number_of_threads() {
    let with_threads = |mesh: &PolygonMesh, threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
        pool.unwrap().install(|| assessed(mesh))
    };
    for (name, mesh) in cages() {
        let one = with_threads(&mesh, 1).findings;
        let four = with_threads(&mesh, 4).findings;
        for (a, b) in one.measures.iter().zip(&four.measures) {
            let bits = |values: &[f64]| values.iter().map(|x| x.to_bits()).collect::<Vec<_>>();
            assert_eq!(bits(&a.values), bits(&b.values), "{name}: {}", a.about.name);
        }
        assert_eq!(one.risks.total, four.risks.total, "{name}");
    }
}
