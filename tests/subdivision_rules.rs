//! The subdivision rules against hand-worked values and against a second implementation.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod support;

use cagewise::mesh::{PolygonMesh, Topology, Vec3};
use cagewise::subdivision::patch::{Grid, LevelWeights};
use cagewise::subdivision::{
    BoundaryRule, Creases, Numbering, RefinedFaces, Samples, Surface, refine, refined_size,
};
use support::cages::{Random, cube, random_cage};
use support::naive::NaiveMesh;
use support::{creased_surface_of, match_by_position, surface_of};

/// Largest difference that two ways of computing the same point may show, at model size about 3.
const ROUNDING_TOLERANCE: f64 = 1e-13;

fn points(positions: &[[f64; 3]]) -> Vec<Vec3> {
    positions.iter().map(|&p| Vec3::from(p)).collect()
}

/// Values of Catmull & Clark 1978 on the cube of half-width 1, worked by hand: a face point is the
/// mean of four corners, an edge point that of two ends and two face points, a vertex point
/// (F + 2R + (n - 3)P) / n = (1/3 + 2·2/3 + 0) / 3 = 5/9.
#[test]
fn the_cube_gives_the_points_of_the_1978_rules() {
    let refined = refine(&surface_of(&cube()), 1, Samples::Refined);
    for p in &refined.positions[..8] {
        assert!(p.iter().all(|x| (x.abs() - 5.0 / 9.0).abs() < 1e-15));
    }
    for p in &refined.positions[8..20] {
        let mut sizes = p.map(f64::abs);
        sizes.sort_by(f64::total_cmp);
        assert_eq!(sizes, [0.0, 0.75, 0.75]);
    }
    for p in &refined.positions[20..] {
        let mut sizes = p.map(f64::abs);
        sizes.sort_by(f64::total_cmp);
        assert_eq!(sizes, [0.0, 0.0, 1.0]);
    }
}

/// (9 v + 4 Σe + Σf) / 24 on the level-one ring of the cube's corner, worked by hand: 1/2.
#[test]
fn the_limit_of_the_cube_s_corner_is_one_half() {
    let limit = refine(&surface_of(&cube()), 0, Samples::Limit);
    let normals = limit.normals.unwrap();
    for (p, n) in limit.positions.iter().zip(&normals) {
        assert!(p.iter().all(|x| (x.abs() - 0.5).abs() < 1e-15));
        for (x, along) in p.iter().zip(n) {
            assert!((along - x.signum() / 3f64.sqrt()).abs() < 1e-14);
        }
    }
}

#[test]
fn refined_meshes_have_the_announced_size_and_every_vertex_in_use() {
    for seed in 0..20 {
        let mesh = random_cage(seed);
        let surface = surface_of(&mesh);
        for level in 1..4 {
            let refined = refine(&surface, level, Samples::Refined);
            let RefinedFaces::Quads(quads) = &refined.faces else {
                panic!("level {level} gives quads")
            };
            let size = (refined.positions.len() as u64, quads.len() as u64);
            assert_eq!(refined_size(&Topology::new(&mesh), level), Some(size));
            let mut used = vec![false; refined.positions.len()];
            quads
                .iter()
                .flatten()
                .for_each(|&v| used[v as usize] = true);
            assert!(used[mesh.vertex_count()..].iter().all(|&u| u));
        }
    }
}

#[test]
fn the_refined_faces_are_wound_like_the_cage_and_share_their_edges() {
    for seed in 0..10 {
        let mesh = random_cage(seed);
        let refined = refine(&surface_of(&mesh), 2, Samples::Refined);
        let RefinedFaces::Quads(quads) = &refined.faces else {
            panic!("level 2 gives quads")
        };
        let fine = PolygonMesh::from_faces(points(&refined.positions), quads).unwrap();
        let (coarse, fine) = (Topology::new(&mesh), Topology::new(&fine));
        assert!((0..fine.face_count()).all(|f| !fine.is_flipped(f)));
        let borders = |t: &Topology| {
            (0..t.edge_count())
                .filter(|&e| t.edge_face_count(e) == 1)
                .count()
        };
        assert_eq!(borders(&fine), 4 * borders(&coarse));
    }
}

/// A mesh with random creases for both implementations.
fn random_creases(mesh: &PolygonMesh, seed: u64) -> (Creases, NaiveMesh) {
    let mut random = Random(seed + 77);
    let topology = Topology::new(mesh);
    let mut creases = Creases::default();
    let mut naive = NaiveMesh::of(mesh);
    let choices = [0.4, 1.0, 1.5, 2.0, 2.7, 3.0, 12.0, f64::INFINITY];
    for e in 0..topology.edge_count() {
        if random.unit() < 0.25 {
            let s = choices[random.below(choices.len())];
            let [a, b] = topology.edge_vertices(e);
            creases.edges.push((e as u32, s));
            naive.edge_sharpness.insert((a.min(b), a.max(b)), s);
        }
    }
    for v in 0..topology.vertex_count() {
        if random.unit() < 0.05 {
            let s = choices[random.below(choices.len())];
            creases.vertices.push((v as u32, s));
            naive.vertex_sharpness.insert(v, s);
        }
    }
    (creases, naive)
}

fn is_manifold(mesh: &PolygonMesh) -> bool {
    let topology = Topology::new(mesh);
    (0..mesh.vertex_count()).all(|v| topology.is_manifold(v))
}

#[test]
fn refinement_agrees_with_the_plain_rules_applied_level_by_level() {
    let mut compared = 0;
    for seed in 0..60 {
        let mesh = random_cage(seed);
        if !is_manifold(&mesh) {
            continue;
        }
        compared += 1;
        let creased = seed % 3 != 0;
        let (creases, mut naive) = random_creases(&mesh, seed);
        let creases = if creased { creases } else { Creases::default() };
        if !creased {
            naive.edge_sharpness.clear();
            naive.vertex_sharpness.clear();
        }
        let (rule, corners) = match seed % 2 {
            0 => (BoundaryRule::EdgeAndCorner, true),
            _ => (BoundaryRule::EdgeOnly, false),
        };
        naive.sharpen_borders(corners);
        let surface = creased_surface_of(&mesh, &creases, rule);
        for level in 1..=4 {
            naive = naive.refined();
            let refined = refine(&surface, level, Samples::Refined);
            let worst = match_by_position(&points(&refined.positions), &naive.positions, 1e-3);
            assert!(
                worst < ROUNDING_TOLERANCE,
                "seed {seed}, level {level}: {worst}"
            );
        }
    }
    assert!(compared > 20, "only {compared} manifold cages");
}

#[test]
fn limit_points_are_what_deep_refinement_comes_to() {
    for seed in 0..12 {
        let mesh = random_cage(seed);
        let (creases, _) = random_creases(&mesh, seed);
        let surface = creased_surface_of(&mesh, &creases, BoundaryRule::EdgeAndCorner);
        let limit = refine(&surface, 0, Samples::Limit);
        let deep = surface_deep(&surface, mesh.vertex_count());
        for (v, (p, q)) in limit.positions.iter().zip(&deep).enumerate() {
            let d = (Vec3::from(*p) - q).norm();
            assert!(d < ROUNDING_TOLERANCE, "seed {seed}, vertex {v}: {d}");
        }
    }
}

/// Cage vertices followed for 90 levels: the slowest motion shrinks by 0.66 a level at most.
fn surface_deep(surface: &Surface, count: usize) -> Vec<Vec3> {
    let frame = surface.control().frame();
    (0..count)
        .map(|v| frame.outward(surface.vertex_ring(v).center_after(90)))
        .collect()
}

/// Largest difference of unit normals found in two ways: rounding over the length of the cross
/// product of the tangents, which random cages make small at worst by some thousandths.
const NORMAL_TOLERANCE: f64 = 1e-10;

/// Regular faces are sampled as patches and corner quads about poles by tables; the descent
/// through rings is the way without either.
#[test]
fn patches_and_tables_give_the_samples_of_the_descent() {
    for seed in 0..20 {
        let mesh = random_cage(seed);
        let (creases, _) = random_creases(&mesh, seed);
        let creases = if seed % 4 == 0 {
            creases
        } else {
            Creases::default()
        };
        let surface = creased_surface_of(&mesh, &creases, BoundaryRule::default());
        for level in [1, 3] {
            let fast = refine(&surface, level, Samples::Limit);
            let normals = fast.normals.unwrap();
            let inner = mesh.vertex_count()..fast.positions.len();
            let samples = descent_samples(&surface, level - 1);
            // Inside a crease every side has a normal of its own, so that the vertex has none.
            let topology = surface.control().topology();
            let numbering = Numbering::new(topology, level);
            let creased = (0..topology.edge_count()).filter(|&e| surface.is_creased(e));
            let creased: Vec<usize> = creased.flat_map(|e| numbering.edge_vertices(e)).collect();
            for v in inner {
                let (p, n) = (Vec3::from(fast.positions[v]), Vec3::from(normals[v]));
                let normal_agrees = |m: &Vec3| match creased.contains(&v) {
                    true => n == Vec3::zeros(),
                    false => (n - m).norm() < NORMAL_TOLERANCE,
                };
                let agrees = samples
                    .iter()
                    .any(|(q, m)| (p - q).norm() < ROUNDING_TOLERANCE && normal_agrees(m));
                assert!(agrees, "seed {seed}, level {level}, vertex {v}: {p} {n}");
            }
        }
    }
}

/// Limit points and normals of all corner quads, split further `levels` times.
fn descent_samples(surface: &Surface, levels: usize) -> Vec<(Vec3, Vec3)> {
    let stride = (1 << levels) + 1;
    let weights = LevelWeights::new(levels);
    let mut all = Vec::new();
    for c in 0..surface.control().topology().corner_count() {
        let mut positions = vec![Vec3::zeros(); stride * stride];
        let mut normals = positions.clone();
        let mut grid = Grid {
            positions: &mut positions,
            normals: &mut normals,
            stride,
        };
        let quad = surface.corner_quad(c, levels, 0);
        quad.fill(levels, &weights, Samples::Limit, &mut grid, 0);
        let outward = |p: &Vec3| surface.control().frame().outward(*p);
        all.extend(positions.iter().map(outward).zip(normals));
    }
    all
}

#[test]
fn refinement_does_not_depend_on_the_number_of_threads() {
    let surface = surface_of(&random_cage(5));
    let with_threads = |n| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(n).build();
        pool.unwrap()
            .install(|| refine(&surface, 4, Samples::Limit))
    };
    assert_eq!(with_threads(1), with_threads(5));
}
