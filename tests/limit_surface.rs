//! The limit surface against closed forms and invariants.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod support;

use cagewise::mesh::{PolygonMesh, Vec3};
use cagewise::subdivision::masks;
use cagewise::subdivision::{RefinedMesh, Samples, refine};
use nalgebra::{DMatrix, Matrix3};
use support::cages::{random_cage, torus};
use support::naive::NaiveMesh;
use support::rings::{matrix_of, ring_matrix};
use support::{match_by_position, surface_of};

/// Checks that `weights` sum to 0 and are a left eigenvector of `matrix`.
fn assert_tangent(weights: Vec<f64>, matrix: &DMatrix<f64>, eigenvalue: f64, what: &str) {
    let row = DMatrix::from_row_slice(1, weights.len(), &weights);
    assert!(row.sum().abs() < 1e-12, "{what}: {}", row.sum());
    let off = (&row * matrix - &row * eigenvalue).amax();
    assert!(off < 1e-13 * row.amax().max(1.0), "{what}: {off}");
}

#[test]
fn tangent_weights_sum_to_zero_and_are_left_eigenvectors_of_the_subdominant_eigenvalue() {
    for n in 3..=20 {
        let mask = masks::smooth_limit_mask(n);
        for t in 0..2 {
            let spokes = mask.tangents.iter().map(|w| w[0][t]);
            let diagonals = mask.tangents.iter().map(|w| w[1][t]);
            let weights = std::iter::once(0.0)
                .chain(spokes)
                .chain(diagonals)
                .collect();
            let eigenvalue = masks::subdominant_eigenvalue(n);
            assert_tangent(
                weights,
                &ring_matrix(n),
                eigenvalue,
                &format!("valence {n}"),
            );
        }
    }
}

#[test]
fn border_tangents_are_left_eigenvectors_whatever_the_number_of_faces() {
    for k in 2..=12 {
        let w = masks::SectorTangent::new(k);
        let sine = |j: usize| (j as f64 * w.step).sin();
        let spoke = |j: usize| if j == 0 || j == k { w.end } else { sine(j) };
        let mut weights = vec![w.center];
        weights.extend((0..=k).map(spoke));
        weights.extend((0..k).map(|j| w.diagonal_ratio * (sine(j) + sine(j + 1))));
        let eigenvalue = masks::mode_eigenvalue(w.step);
        assert_tangent(
            weights,
            &matrix_of(k + 1, k),
            eigenvalue,
            &format!("{k} faces"),
        );
    }
}

/// The limit position mask is the left eigenvector of eigenvalue 1.
#[test]
fn limit_weights_are_a_left_eigenvector_of_the_ring_matrix() {
    for n in 2..=16 {
        let w = masks::smooth_limit_position(n);
        let row = DMatrix::from_fn(1, 2 * n + 1, |_, i| match i {
            0 => w.center,
            i if i <= n => w.spoke,
            _ => w.diagonal,
        });
        let moved = &row * ring_matrix(n);
        assert!((moved - row).amax() < 1e-15, "valence {n}");
    }
}

fn points(mesh: &RefinedMesh) -> Vec<Vec3> {
    mesh.positions.iter().map(|&p| Vec3::from(p)).collect()
}

#[test]
fn subdivision_commutes_with_affine_maps() {
    let shear = Matrix3::new(1.3, 0.4, -0.2, 0.1, 0.7, 0.5, -0.3, 0.2, 1.1);
    let shift = Vec3::new(5.0, -3.0, 2.0);
    for seed in 0..8 {
        let mesh = random_cage(seed);
        let mapped = mesh.positions().iter().map(|p| shear * p + shift).collect();
        let mapped = PolygonMesh::new(
            mapped,
            mesh.face_starts().to_vec(),
            mesh.corner_vertices().to_vec(),
        )
        .unwrap();
        for samples in [Samples::Refined, Samples::Limit] {
            let plain = refine(&surface_of(&mesh), 2, samples);
            let found = refine(&surface_of(&mapped), 2, samples);
            for (p, q) in points(&plain).iter().zip(points(&found)) {
                assert!((shear * p + shift - q).norm() < 1e-13);
            }
        }
    }
}

/// Refined points approach the limit like 1/4 per level, since what is left of a control point's
/// distance to the surface is a second difference.
#[test]
fn refined_meshes_converge_to_the_limit_with_order_two() {
    let surface = surface_of(&torus(8, 6, 2.0, 0.7));
    let distance = |level: usize| {
        let refined = points(&refine(&surface, level, Samples::Refined));
        let limit = points(&refine(&surface, level, Samples::Limit));
        let off = refined.iter().zip(&limit).map(|(a, b)| (a - b).norm());
        off.fold(0.0, f64::max)
    };
    let distances: Vec<f64> = (1..=5).map(distance).collect();
    for pair in distances.windows(2) {
        let ratio = pair[0] / pair[1];
        assert!((3.6..4.2).contains(&ratio), "{distances:?}");
    }
}

/// A fan of `n` triangles about a raised apex, and a raised n-gon inside a ring of quads: beyond a
/// certain valence quads carry a window of the ring only, which must change nothing.
#[test]
fn poles_and_faces_of_very_high_valence_refine_like_any_other() {
    for n in [20, 31, 60] {
        let turn = |i: usize| i as f64 / n as f64 * std::f64::consts::TAU;
        let on = |i: usize, r: f64, z: f64| {
            Vec3::new(
                r * turn(i).cos(),
                r * turn(i).sin(),
                z + 0.1 * (3.0 * turn(i)).sin(),
            )
        };
        let mut positions = vec![Vec3::new(0.1, 0.05, 0.8)];
        positions.extend((0..n).map(|i| on(i, 1.0, 0.3)));
        positions.extend((0..n).map(|i| on(i, 1.4, -0.5)));
        let ring = |i: usize, k: usize| (1 + k * n + i % n) as u32;
        let mut faces: Vec<Vec<u32>> = (0..n)
            .map(|i| vec![ring(i, 0), ring(i, 1), ring(i + 1, 1), ring(i + 1, 0)])
            .collect();
        faces.extend((0..n).map(|i| vec![0, ring(i, 0), ring(i + 1, 0)]));
        faces.push((0..n).rev().map(|i| ring(i, 1)).collect());
        let mesh = PolygonMesh::from_faces(positions, &faces).unwrap();
        let mut naive = NaiveMesh::of(&mesh);
        for level in 1..=4 {
            naive = naive.refined();
            let refined = points(&refine(&surface_of(&mesh), level, Samples::Refined));
            let worst = match_by_position(&refined, &naive.positions, 1e-4);
            assert!(worst < 1e-13, "valence {n}, level {level}: {worst}");
        }
    }
}
