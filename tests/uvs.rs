//! UVs of refined meshes against OpenSubdiv and against what must hold of them.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod support;

use std::fs;
use std::path::Path;

use cagewise::io::read_cage;
use cagewise::mesh::{Cage, NONE, Topology, UvLayer, Vec3};
use cagewise::subdivision::{
    BoundaryRule, ControlMesh, Creases, RefinedFaces, RefinedMesh, RefinedUvs, Samples, Surface,
    UvSurface, refine,
};
use support::cages::height_grid;

/// Largest difference to OpenSubdiv's results, at sizes of about 1.
const REFERENCE_TOLERANCE: f64 = 1e-12;

fn reference_data() -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("reference-data")
}

fn refined(cage: &Cage, level: usize) -> (RefinedMesh, RefinedUvs) {
    let control = ControlMesh::new(
        &cage.mesh,
        Topology::new(&cage.mesh),
        &Creases::default(),
        BoundaryRule::EdgeAndCorner,
    );
    let uvs = UvSurface::new(&control, cage.uvs.as_ref().unwrap()).unwrap();
    let mesh = refine(&Surface::new(control), level, Samples::Refined);
    (mesh, uvs.refine(level))
}

/// Each distinct pair of a refined vertex's position and UV.
fn pairs(mesh: &RefinedMesh, uvs: &RefinedUvs) -> Vec<[f64; 5]> {
    let RefinedFaces::Quads(quads) = &mesh.faces else {
        panic!("level 1 and more gives quads")
    };
    assert_eq!(quads.len(), uvs.quads.len());
    let corners = quads.iter().flatten().zip(uvs.quads.iter().flatten());
    let mut corners: Vec<_> = corners.map(|(&v, &t)| (v, t)).collect();
    corners.sort();
    corners.dedup();
    let pair = |(v, t): (u32, u32)| {
        let ([x, y, z], [u, w]) = (mesh.positions[v as usize], uvs.coordinates[t as usize]);
        [x, y, z, u, w]
    };
    corners.into_iter().map(pair).collect()
}

fn reference(name: &str) -> Vec<(usize, [f64; 5])> {
    let path = reference_data().join(format!("opensubdiv/{name}.uv.csv"));
    let text = fs::read_to_string(path).unwrap();
    let row = |line: &str| {
        let (level, rest) = line.split_once(',').unwrap();
        let numbers: Vec<f64> = rest.split(',').map(|x| x.parse().unwrap()).collect();
        (level.parse().unwrap(), numbers.try_into().unwrap())
    };
    text.lines().skip(1).map(row).collect()
}

/// OpenSubdiv 3.5.0, `FVAR_LINEAR_BOUNDARIES`: see `reference-data/README.md`. Position and UV are
/// compared together, so that a UV on the wrong side of a seam is found.
#[test]
fn uvs_agree_with_opensubdiv() {
    for name in [
        "uv-boxes",
        "uv-island-seam",
        "uv-on-pentagon",
        "uv-seam-ends",
    ] {
        let cage = read_cage(&reference_data().join(format!("cages/{name}.obj"))).unwrap();
        let reference = reference(name);
        for level in 1..=3 {
            let (mesh, uvs) = refined(&cage, level);
            let own = pairs(&mesh, &uvs);
            let of_level: Vec<_> = reference.iter().filter(|row| row.0 == level).collect();
            assert!(!of_level.is_empty());
            // Level 3 is thinned out in the reference.
            if level < 3 {
                assert_eq!(own.len(), of_level.len(), "{name}, level {level}");
            }
            for (_, wanted) in of_level {
                let off = |own: &[f64; 5]| {
                    let differences = own.iter().zip(wanted).map(|(a, b)| (a - b).abs());
                    differences.fold(0.0, f64::max)
                };
                let nearest = own.iter().map(off).fold(f64::INFINITY, f64::min);
                assert!(
                    nearest < REFERENCE_TOLERANCE,
                    "{name}, level {level}: {nearest}"
                );
            }
        }
    }
}

/// A bent grid whose UVs are its own x and y: positions and UVs obey the same rules inside, and
/// borders are straight lines on which linear and smooth rules agree.
fn grid_with_own_uvs(reversed: &[usize]) -> Cage {
    let grid = height_grid(5, 4, |x, y| 0.1 * x * y);
    let mut faces: Vec<Vec<u32>> = grid.faces().map(<[u32]>::to_vec).collect();
    for &f in reversed {
        faces[f].reverse();
    }
    let mesh = cagewise::mesh::PolygonMesh::from_faces(grid.positions().to_vec(), &faces).unwrap();
    let coordinates = mesh.positions().iter().map(|p| [p.x, p.y]).collect();
    let of_corner = mesh.corner_vertices().to_vec();
    let mut cage = Cage::from_mesh(mesh);
    cage.uvs = Some(UvLayer {
        coordinates,
        of_corner,
    });
    cage
}

fn assert_uvs_are_x_and_y(cage: &Cage, level: usize) {
    let (mesh, uvs) = refined(cage, level);
    let RefinedFaces::Quads(quads) = &mesh.faces else {
        panic!("level 1 and more gives quads")
    };
    let corners = quads.iter().flatten().zip(uvs.quads.iter().flatten());
    for (&v, &t) in corners.filter(|(_, t)| **t != NONE) {
        let [x, y, _] = mesh.positions[v as usize];
        let [u, w] = uvs.coordinates[t as usize];
        assert!(
            (x - u).abs() < 1e-13 && (y - w).abs() < 1e-13,
            "{x} {y}: {u} {w}"
        );
    }
}

#[test]
fn faces_of_opposite_winding_keep_their_uvs_at_their_corners() {
    for reversed in [&[][..], &[0], &[7, 8], &[3, 11, 19]] {
        for level in 1..4 {
            assert_uvs_are_x_and_y(&grid_with_own_uvs(reversed), level);
        }
    }
}

#[test]
fn faces_without_uvs_have_none_and_do_not_shift_the_others() {
    let mut cage = grid_with_own_uvs(&[2, 13]);
    let layer = cage.uvs.as_mut().unwrap();
    // A whole row without: the UV borders that it makes are straight.
    for f in 10..15 {
        layer.of_corner[4 * f + usize::from(f == 12)] = NONE;
    }
    for level in 1..4 {
        assert_uvs_are_x_and_y(&cage, level);
        let (_, uvs) = refined(&cage, level);
        let children = 1 << (2 * level);
        for (q, quad) in uvs.quads.iter().enumerate() {
            let without = (10..15).contains(&(q / children));
            assert_eq!(quad.contains(&NONE), without, "quad {q}");
            assert_eq!(*quad == [NONE; 4], without, "quad {q}");
        }
    }
}

#[test]
fn entries_repeated_in_the_file_make_no_seam() {
    let joined = grid_with_own_uvs(&[]);
    let mut apart = joined.clone();
    let layer = apart.uvs.as_mut().unwrap();
    let own = layer.of_corner.iter();
    layer.coordinates = own.map(|&t| layer.coordinates[t as usize]).collect();
    layer.of_corner = (0..layer.coordinates.len() as u32).collect();
    assert_eq!(refined(&joined, 2).1, refined(&apart, 2).1);
}

/// A Möbius strip of three rows: its faces can't be wound alike, so that some edges are joined in
/// neither mesh; every UV must still belong to its corner.
#[test]
fn a_strip_that_cannot_be_wound_alike_keeps_its_uvs_at_their_corners() {
    let (around, across) = (9u32, 3u32);
    let mut positions = Vec::new();
    for i in 0..around {
        for j in 0..=across {
            let angle = f64::from(i) / f64::from(around) * std::f64::consts::TAU;
            let offset = f64::from(j) / f64::from(across) - 0.5;
            let radius = 2.0 + offset * (angle / 2.0).cos();
            let height = offset * (angle / 2.0).sin();
            positions.push(Vec3::new(
                radius * angle.cos(),
                radius * angle.sin(),
                height,
            ));
        }
    }
    let at = |i: u32, j: u32| {
        if i == around {
            across - j
        } else {
            i * (across + 1) + j
        }
    };
    let mut faces = Vec::new();
    for i in 0..around {
        for j in 0..across {
            faces.push([at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)]);
        }
    }
    let mesh = cagewise::mesh::PolygonMesh::from_faces(positions, &faces).unwrap();
    let coordinates: Vec<[f64; 2]> = mesh.positions().iter().map(|p| [p.x, p.y]).collect();
    let of_corner = mesh.corner_vertices().to_vec();
    for skipped in [None, Some(0), Some(4), Some(13)] {
        let mut cage = Cage::from_mesh(mesh.clone());
        let mut of_corner = of_corner.clone();
        if let Some(f) = skipped {
            of_corner[4 * f] = NONE;
        }
        cage.uvs = Some(UvLayer {
            coordinates: coordinates.clone(),
            of_corner,
        });
        let (refined, uvs) = refined(&cage, 1);
        let RefinedFaces::Quads(quads) = &refined.faces else {
            panic!("level 1 gives quads")
        };
        let of_skipped = quads.iter().zip(&uvs.quads);
        let of_skipped = of_skipped.filter(|(_, uv)| uv[0] == NONE);
        let at_skipped: Vec<u32> = of_skipped.flat_map(|(quad, _)| *quad).collect();
        for (quad, uv) in quads.iter().zip(&uvs.quads).filter(|(_, uv)| uv[0] != NONE) {
            for (&v, &t) in quad.iter().zip(uv) {
                // Edge points and face points obey the same rules in space and in the plane, but
                // for those of edges that are borders in the plane alone.
                if v as usize >= cage.mesh.vertex_count() && !at_skipped.contains(&v) {
                    let [x, y, _] = refined.positions[v as usize];
                    let [u, w] = uvs.coordinates[t as usize];
                    assert!((x - u).abs() < 1e-13 && (y - w).abs() < 1e-13, "{quad:?}");
                }
            }
        }
    }
}
