//! Oddities of meshes are counted, one by one, and the cage is assessed all the same.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod support;

use cagewise::assess::{AssessOptions, Assessment};
use cagewise::mesh::{Cage, Oddities, PolygonMesh, Topology, Vec3};
use cagewise::subdivision::smoothing_group_creases;
use support::cages::{cube, cube_sphere, height_grid, moved};

fn assessed(mesh: &PolygonMesh) -> Assessment {
    Cage::from_mesh(mesh.clone()).assess(&AssessOptions::default())
}

/// The cube with further vertices and faces.
fn cube_and(positions: &[[f64; 3]], faces: &[&[u32]]) -> Assessment {
    let cube = cube();
    let mut all: Vec<Vec3> = cube.positions().to_vec();
    all.extend(positions.iter().map(|&p| Vec3::from(p)));
    let mut list: Vec<Vec<u32>> = cube.faces().map(<[u32]>::to_vec).collect();
    list.extend(faces.iter().map(|f| f.to_vec()));
    assessed(&PolygonMesh::from_faces(all, &list).unwrap())
}

#[test]
fn a_sound_cage_has_no_oddities() {
    assert_eq!(assessed(&cube()).oddities, Oddities::default());
}

#[test]
fn an_edge_of_three_faces_is_non_manifold_with_both_its_vertices() {
    let found = cube_and(&[[3.0, 3.0, 0.5], [3.0, 3.0, -0.5]], &[&[3, 7, 8, 9]]).oddities;
    assert_eq!(found.non_manifold_edges, 1);
    assert_eq!(found.non_manifold_vertices, 2);
}

#[test]
fn two_shells_that_touch_in_one_vertex_make_a_bow_tie() {
    let found = cube_and(&[[3.0, 1.0, 1.0], [3.0, 2.0, 1.0]], &[&[7, 8, 9]]);
    assert_eq!(found.oddities.non_manifold_vertices, 1);
    assert_eq!(found.oddities.non_manifold_edges, 0);
    assert_eq!(found.body.shells, 1, "a shell hangs together by vertices");
}

#[test]
fn repeated_faces_are_found_whatever_their_order() {
    assert_eq!(cube_and(&[], &[&[1, 3, 2, 0]]).oddities.repeated_faces, 1);
    assert_eq!(cube_and(&[], &[&[0, 2, 3, 1]]).oddities.repeated_faces, 1);
    assert_eq!(cube_and(&[], &[&[0, 2, 3]]).oddities.repeated_faces, 0);
}

#[test]
fn faces_that_name_a_vertex_twice_or_have_no_area_are_counted() {
    let far = [[3.0, 0.0, 0.0], [4.0, 0.0, 0.0], [5.0, 0.0, 0.0]];
    let found = cube_and(&far, &[&[8, 9, 10], &[0, 8, 8, 9]]).oddities;
    assert_eq!(found.zero_area_faces, 1);
    assert_eq!(found.faces_repeating_a_vertex, 1);
}

#[test]
fn unused_and_unwelded_vertices_and_shells_are_counted() {
    let found = cube_and(
        &[
            [9.0, 9.0, 9.0],
            [1.0, 1.0, 1.0],
            [3.0, 1.0, 1.0],
            [3.0, 2.0, 1.0],
        ],
        &[&[9, 10, 11]],
    );
    assert_eq!(found.oddities.unreferenced_vertices, 1);
    assert_eq!(found.oddities.unwelded_vertices, 2);
    assert_eq!(found.body.shells, 2);
}

#[test]
fn borders_are_walked_apart_and_told_odd_or_even() {
    let mut sphere: Vec<Vec<u32>> = cube_sphere(4).faces().map(<[u32]>::to_vec).collect();
    sphere.remove(40);
    let face = sphere[5].clone();
    sphere[5] = face[..3].to_vec();
    let mesh = PolygonMesh::from_faces(cube_sphere(4).positions().to_vec(), &sphere).unwrap();
    let mut edges: Vec<usize> = assessed(&mesh)
        .body
        .borders
        .iter()
        .map(|b| b.edges)
        .collect();
    edges.sort_unstable();
    assert_eq!(edges, [3, 4]);
}

/// A ball of radius 1: the limit of a fine cube-sphere comes close to it from within.
#[test]
fn volume_and_extent_lost_are_those_of_the_limit_whatever_the_size() {
    let sphere = cube_sphere(12);
    let body = assessed(&sphere).body;
    let (cage, limit) = body.volumes.unwrap();
    let ball = 4.0 / 3.0 * std::f64::consts::PI;
    assert!(limit < cage && cage < ball && limit > 0.97 * ball);
    for scale in [1e-150, 1e150] {
        let loss = assessed(&moved(&sphere, |p| p * scale)).body.volume_loss;
        assert!((loss.unwrap() - body.volume_loss.unwrap()).abs() < 1e-12);
    }
    assert_eq!(assessed(&height_grid(3, 3, |x, _| x)).body.volumes, None);
}

/// A cubic B-spline surface over a straight grid stays in its plane and keeps its border.
#[test]
fn a_flat_sheet_loses_no_extent() {
    let body = assessed(&height_grid(4, 3, |_, _| 0.0)).body;
    assert_eq!(body.cage_extent, body.limit_extent);
}

/// Smoothing-group numbers are labels, and only whether neighbours share one matters (common
/// practice, no published source).
#[test]
fn renaming_smoothing_groups_changes_no_crease() {
    let mesh = cube();
    let topology = Topology::new(&mesh);
    let mut cage = Cage::from_mesh(mesh);
    cage.smoothing.stated = true;
    cage.smoothing.of_face = vec![1, 1, 2, 2, 0, 3];
    let before = smoothing_group_creases(&topology, &cage.smoothing);
    cage.smoothing.of_face = vec![40, 40, 7, 7, 0, 1];
    let after = smoothing_group_creases(&topology, &cage.smoothing);
    assert_eq!(before, after);
    assert!(!before.edges.is_empty());
}
