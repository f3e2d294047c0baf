//! The limit surface at any place: closed forms, and what must hold wherever it is asked.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod support;

use std::f64::consts::TAU;

use approx::assert_relative_eq;
use cagewise::limit::{FacePatches, LimitPoint, LimitSurface, Place, PlaceError, pattern};
use cagewise::mesh::{PolygonMesh, Vec3};
use cagewise::subdivision::{BoundaryRule, Creases, Samples, refine};
use support::bench_cages;
use support::cages::{Random, cube, height_grid, random_cage, torus};
use support::{creased_surface_of, surface_of};

fn place(face: usize, u: f64, v: f64) -> Place {
    Place {
        face,
        corner: None,
        u,
        v,
    }
}

fn at(surface: &cagewise::subdivision::Surface, place: Place) -> LimitPoint {
    LimitSurface::new(surface).evaluate(&place).unwrap()
}

/// `count` places spread over the faces of a mesh by a fixed random sequence.
fn places_in(mesh: &PolygonMesh, count: usize, seed: u64) -> Vec<Place> {
    let mut random = Random(seed);
    let any = |_| {
        let face = random.below(mesh.face_count());
        let sides = mesh.face_corners(face).len();
        Place {
            face,
            corner: (sides != 4).then(|| random.below(sides)),
            u: random.unit(),
            v: random.unit(),
        }
    };
    (0..count).map(any).collect()
}

/// A quadratic is reproduced by uniform cubic B-splines: with control heights (a x² + b y²) on the
/// unit grid the surface is a x² + b y² + (a + b)/3, whose curvatures are known.
#[test]
fn a_grid_sampled_from_a_paraboloid_gives_its_curvatures_exactly() {
    for (a, b) in [(0.1, 0.1), (0.2, -0.15), (0.0, 0.3), (-0.05, -0.4)] {
        let surface = surface_of(&height_grid(6, 6, |x, y| a * x * x + b * y * y));
        for (i, j, u, v) in [(2, 2, 0.3, 0.9), (3, 2, 0.0, 0.5), (2, 3, 0.77, 0.12)] {
            let point = at(&surface, place(j * 6 + i, u, v));
            let (x, y) = (i as f64 + u, j as f64 + v);
            let p = point.position;
            assert_relative_eq!(p, Vec3::new(x, y, p.z), epsilon = 1e-14);
            assert_relative_eq!(p.z, a * x * x + b * y * y + (a + b) / 3.0, epsilon = 1e-13);
            let k = point.curvature().unwrap();
            let (fx, fy) = (2.0 * a * x, 2.0 * b * y);
            let w = 1.0 + fx * fx + fy * fy;
            // Normals point up, so a bowl that opens upward (a, b > 0) is concave: negative.
            let gauss = 4.0 * a * b / (w * w);
            let mean =
                -((1.0 + fy * fy) * 2.0 * a + (1.0 + fx * fx) * 2.0 * b) / (2.0 * w.powf(1.5));
            assert_relative_eq!(k.gauss(), gauss, epsilon = 1e-13);
            assert_relative_eq!(k.mean(), mean, epsilon = 1e-13);
        }
    }
}

/// The uniform cubic B-spline through control values f(2πk / n), with its first two derivatives by
/// the parameter: the basis in powers of t, a second way beside the program's.
fn spline_of_turn(f: fn(f64) -> f64, n: usize, x: f64) -> [f64; 3] {
    let k = x.floor();
    let t = x - k;
    let c: [f64; 4] = std::array::from_fn(|i| f((k + i as f64 - 1.0) / n as f64 * TAU));
    let a0 = (c[0] + 4.0 * c[1] + c[2]) / 6.0;
    let a1 = (c[2] - c[0]) / 2.0;
    let a2 = (c[0] - 2.0 * c[1] + c[2]) / 2.0;
    let a3 = (c[3] - c[0] + 3.0 * (c[1] - c[2])) / 6.0;
    [
        a0 + t * (a1 + t * (a2 + t * a3)),
        a1 + t * (2.0 * a2 + 3.0 * t * a3),
        2.0 * a2 + 6.0 * t * a3,
    ]
}

/// A turned B-spline: control points (r(j) cos, r(j) sin, z(j)) make the surface
/// (R(v) c(u), R(v) s(u), Z(v)) with B-splines R, Z, c, s, so that every derivative is a product of
/// plain ones.
fn turned(r: [f64; 3], z: [f64; 3], c: [f64; 3], s: [f64; 3]) -> ([Vec3; 2], [Vec3; 3], Vec3) {
    let d = |i: usize, j: usize| {
        let height = if i == 0 { z[j] } else { 0.0 };
        Vec3::new(r[j] * c[i], r[j] * s[i], height)
    };
    ([d(1, 0), d(0, 1)], [d(2, 0), d(1, 1), d(0, 2)], d(0, 0))
}

/// Gaussian and mean curvature straight from the fundamental forms (do Carmo 1976, section 3-3),
/// positive for a convex form with outward normals.
fn gauss_and_mean(first: [Vec3; 2], second: [Vec3; 3]) -> [f64; 2] {
    let [du, dv] = first;
    let n = du.cross(&dv).normalize();
    let (e, f, g) = (du.dot(&du), du.dot(&dv), dv.dot(&dv));
    let [l, m, nn] = second.map(|d| -d.dot(&n));
    let w = e * g - f * f;
    [
        (l * nn - m * m) / w,
        (e * nn - 2.0 * f * m + g * l) / (2.0 * w),
    ]
}

#[test]
fn a_torus_like_spline_has_the_curvatures_of_its_closed_form() {
    let (around, across, ring, tube) = (9, 7, 2.5, 0.8);
    let surface = surface_of(&torus(around, across, ring, tube));
    let mut random = Random(7);
    for _ in 0..300 {
        let (i, j) = (random.below(around), random.below(across));
        let (u, v) = (random.unit(), random.unit());
        let point = at(&surface, place(i * across + j, u, v));
        let (x, y) = (i as f64 + u, j as f64 + v);
        let [c, s] = [f64::cos, f64::sin].map(|f| spline_of_turn(f, around, x));
        let [cc, z] = [f64::cos, f64::sin].map(|f| spline_of_turn(f, across, y));
        let r = [ring + tube * cc[0], tube * cc[1], tube * cc[2]];
        let (first, second, position) = turned(r, z.map(|z| tube * z), c, s);
        assert_relative_eq!(point.position, position, epsilon = 1e-13);
        let k = point.curvature().unwrap();
        let [gauss, mean] = gauss_and_mean(first, second);
        assert_relative_eq!(k.gauss(), gauss, epsilon = 1e-11, max_relative = 1e-11);
        assert_relative_eq!(k.mean(), mean, epsilon = 1e-11, max_relative = 1e-11);
    }
}

#[test]
fn a_cylinder_like_spline_is_straight_along_its_axis_and_bends_as_its_profile() {
    let n = 8;
    let positions = (0..5 * n).map(|i| {
        let angle = (i % n) as f64 / n as f64 * TAU;
        Vec3::new(angle.cos(), angle.sin(), (i / n) as f64)
    });
    let id = |i: usize, j: usize| (j * n + i % n) as u32;
    let faces: Vec<[u32; 4]> = (0..4 * n)
        .map(|f| (f % n, f / n))
        .map(|(i, j)| [id(i, j), id(i + 1, j), id(i + 1, j + 1), id(i, j + 1)])
        .collect();
    let mesh = PolygonMesh::from_faces(positions.collect(), &faces).unwrap();
    let surface = surface_of(&mesh);
    for (i, j, u, v) in [(0, 1, 0.25, 0.5), (3, 2, 0.0, 0.1), (7, 1, 0.9, 1.0)] {
        let k = at(&surface, place(j * n + i, u, v)).curvature().unwrap();
        let x = i as f64 + u;
        let [c, s] = [f64::cos, f64::sin].map(|f| spline_of_turn(f, n, x));
        let profile = (c[1] * s[2] - s[1] * c[2]) / c[1].hypot(s[1]).powi(3);
        assert_relative_eq!(k.principal[0], profile, max_relative = 1e-12);
        assert_relative_eq!(k.principal[1], 0.0, epsilon = 1e-13);
        assert_relative_eq!(k.directions[1].z.abs(), 1.0, epsilon = 1e-12);
        assert_relative_eq!(k.along(&Vec3::z()), 0.0, epsilon = 1e-13);
    }
}

/// A sphere of radius r has both curvatures 1/r (do Carmo 1976, section 3-2). The cage's vertices
/// lie on the sphere, so that the surface lies inside by a second difference: both curvatures come to
/// 1/r with the square of the spacing.
#[test]
fn a_finer_sphere_like_cage_comes_closer_to_the_sphere_s_curvatures_with_order_two() {
    let off = |bands: usize| {
        let (around, radius) = (2 * bands, 3.0);
        let positions = (1..bands).flat_map(|j| {
            let polar = j as f64 / bands as f64 * TAU / 2.0;
            (0..around).map(move |i| {
                let angle = i as f64 / around as f64 * TAU;
                let (x, y) = (polar.sin() * angle.cos(), polar.sin() * angle.sin());
                Vec3::new(x, y, -polar.cos()) * radius
            })
        });
        let id = |i: usize, j: usize| (j * around + i % around) as u32;
        let faces: Vec<[u32; 4]> = (0..(bands - 2) * around)
            .map(|f| (f % around, f / around))
            .map(|(i, j)| [id(i, j), id(i + 1, j), id(i + 1, j + 1), id(i, j + 1)])
            .collect();
        let mesh = PolygonMesh::from_faces(positions.collect(), &faces).unwrap();
        let surface = surface_of(&mesh);
        let middle = (bands / 2 - 1) * around;
        let k = at(&surface, place(middle, 0.3, 0.4)).curvature().unwrap();
        k.principal.map(|k| (k * radius - 1.0).abs())
    };
    let errors: Vec<[f64; 2]> = [16, 32, 64].map(off).into();
    for pair in errors.windows(2) {
        for (coarse, fine) in pair[0].iter().zip(&pair[1]) {
            let ratio = coarse / fine;
            assert!((3.5..4.5).contains(&ratio), "{errors:?}");
        }
    }
}

#[test]
fn a_convex_form_with_outward_normals_has_positive_curvatures_and_a_hollow_negative_ones() {
    let turned_inside_out = |mesh: &PolygonMesh| {
        let faces: Vec<Vec<u32>> = (0..mesh.face_count())
            .map(|f| mesh.face(f).iter().rev().copied().collect())
            .collect();
        PolygonMesh::from_faces(mesh.positions().to_vec(), &faces).unwrap()
    };
    let convex = surface_of(&cube());
    let hollow = surface_of(&turned_inside_out(&cube()));
    for p in places_in(&cube(), 40, 3) {
        let [k1, k2] = at(&convex, p).curvature().unwrap().principal;
        assert!(k1 >= k2 && k2 > 0.0);
        let [k1, k2] = at(&hollow, p).curvature().unwrap().principal;
        assert!(k1 >= k2 && k1 < 0.0);
    }
}

#[test]
fn derivatives_are_those_of_the_positions_at_poles_borders_and_n_gons_too() {
    const STEP: f64 = 1e-5;
    for seed in 0..6 {
        let mesh = random_cage(seed);
        let surface = surface_of(&mesh);
        let size = surface.control().frame().scale;
        for p in places_in(&mesh, 40, seed + 1) {
            let (u, v) = (0.1 + 0.8 * p.u, 0.1 + 0.8 * p.v);
            let there = |u: f64, v: f64| at(&surface, Place { u, v, ..p });
            let first = there(u, v).first.unwrap();
            let second = there(u, v).second.unwrap();
            let slope = |a: Vec3, b: Vec3| (b - a) / (2.0 * STEP * size);
            let across = [
                [there(u - STEP, v), there(u + STEP, v)],
                [there(u, v - STEP), there(u, v + STEP)],
            ];
            for k in 0..2 {
                let [a, b] = across[k];
                let off = slope(a.position, b.position) - first[k] / size;
                assert!(off.norm() < 1e-7, "seed {seed}, {p:?}: {}", off.norm());
                for j in 0..2 {
                    let off =
                        slope(a.first.unwrap()[j], b.first.unwrap()[j]) - second[k + j] / size;
                    // Third derivatives jump on the lines between patches.
                    assert!(off.norm() < 1e-3, "seed {seed}, {p:?}: {}", off.norm());
                }
            }
        }
    }
}

#[test]
fn many_places_together_are_what_they_are_one_by_one() {
    for seed in 0..8 {
        let mesh = random_cage(seed);
        let surface = surface_of(&mesh);
        let limit = LimitSurface::new(&surface);
        let mut places = places_in(&mesh, 400, seed + 11);
        let corners = [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0), (0.5, 0.5)];
        for (p, (u, v)) in places.iter_mut().zip(corners.into_iter().cycle().take(40)) {
            (p.u, p.v) = (u, v);
        }
        let together = limit.evaluate_all(&places).unwrap();
        for (p, found) in places.iter().zip(&together) {
            let alone = limit.evaluate(p).unwrap();
            assert_eq!(alone.normal.is_some(), found.normal.is_some());
            assert!((alone.position - found.position).norm() < 1e-13, "{p:?}");
            let off = alone.normal.unwrap_or_default() - found.normal.unwrap_or_default();
            assert!(off.norm() < 1e-11, "seed {seed}, {p:?}: {}", off.norm());
        }
    }
}

#[test]
fn corners_and_centres_are_the_limit_points_of_the_refined_mesh() {
    for seed in 0..8 {
        let mesh = random_cage(seed);
        let surface = surface_of(&mesh);
        let limit = LimitSurface::new(&surface);
        // Level 1 numbers vertices, then edges, then faces.
        let refined = refine(&surface, 1, Samples::Limit);
        let topology = surface.control().topology();
        let first_face = topology.vertex_count() + topology.edge_count();
        for face in 0..mesh.face_count() {
            let quad = topology.face_size(face) == 4;
            let (u, v) = if quad { (0.5, 0.5) } else { (1.0, 1.0) };
            let corner = (!quad).then_some(0);
            let p = Place { face, corner, u, v };
            let middle = Vec3::from(refined.positions[first_face + face]);
            let found = limit.evaluate(&p).unwrap().position;
            assert!((found - middle).norm() < 1e-12, "seed {seed}, face {face}");
            let first = topology.vertex(topology.face_corners(face).start);
            let (u, v) = (0.0, 0.0);
            let found = limit.evaluate(&Place { u, v, ..p }).unwrap().position;
            let vertex = Vec3::from(refined.positions[first]);
            assert!((found - vertex).norm() < 1e-12, "seed {seed}, face {face}");
        }
    }
}

#[test]
fn a_face_that_the_file_winds_the_other_way_keeps_its_own_parameters() {
    let mesh = cube();
    let reversed = 4;
    let faces: Vec<Vec<u32>> = (0..6)
        .map(|f| {
            let vertices = mesh.face(f).iter().copied();
            if f == reversed {
                vertices.rev().collect()
            } else {
                vertices.collect()
            }
        })
        .collect();
    let turned = PolygonMesh::from_faces(mesh.positions().to_vec(), &faces).unwrap();
    let (right, wrong) = (surface_of(&mesh), surface_of(&turned));
    for (u, v) in [(0.2, 0.7), (0.0, 0.5), (0.9, 0.9)] {
        // Reversed, the first corner is the last one: u runs where it ran against v, and so on.
        let a = at(&right, place(reversed, u, 1.0 - v));
        let b = at(&wrong, place(reversed, u, v));
        assert_relative_eq!(b.position, a.position, epsilon = 1e-14);
        assert_relative_eq!(b.normal.unwrap(), a.normal.unwrap(), epsilon = 1e-13);
        assert_relative_eq!(b.first.unwrap()[0], a.first.unwrap()[0], epsilon = 1e-13);
        assert_relative_eq!(b.first.unwrap()[1], -a.first.unwrap()[1], epsilon = 1e-13);
    }
}

#[test]
fn at_a_pole_there_is_a_position_and_a_normal_but_no_curvature() {
    let surface = surface_of(&cube());
    for (u, v) in [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)] {
        let point = at(&surface, place(0, u, v));
        assert_eq!(point.curvature(), None);
        // The limit of a cube's corner (3-pole): 5/9 of it towards the centre, by Halstead, Kass &
        // DeRose 1993: (9 v + 4 Σe + Σf) / 24 with v = (1, 1, 1).
        let expected = (9.0 + 4.0 * 1.0 - 1.0) / 24.0;
        for x in point.position.iter() {
            assert_relative_eq!(x.abs(), expected, max_relative = 1e-14);
        }
        let n = point.normal.unwrap();
        assert_relative_eq!(n, point.position.normalize(), epsilon = 1e-13);
    }
}

#[test]
fn a_crease_parts_the_normals_of_its_two_sides_and_keeps_the_position() {
    let mesh = height_grid(4, 4, |x, _| -(x - 2.0).abs());
    let topology = cagewise::mesh::Topology::new(&mesh);
    let edges = (0..4).map(|j| topology.edge_between(j * 5 + 2, (j + 1) * 5 + 2).unwrap());
    let creases = Creases {
        edges: edges.map(|e| (e as u32, f64::INFINITY)).collect(),
        vertices: Vec::new(),
    };
    let surface = creased_surface_of(&mesh, &creases, BoundaryRule::default());
    let (left, right) = (
        at(&surface, place(5, 1.0, 0.3)),
        at(&surface, place(6, 0.0, 0.3)),
    );
    assert_relative_eq!(left.position, right.position, epsilon = 1e-14);
    assert_relative_eq!(left.position, Vec3::new(2.0, 1.3, 0.0), epsilon = 1e-14);
    let half = 0.5f64.sqrt();
    assert_relative_eq!(
        left.normal.unwrap(),
        Vec3::new(-half, 0.0, half),
        epsilon = 1e-13
    );
    assert_relative_eq!(
        right.normal.unwrap(),
        Vec3::new(half, 0.0, half),
        epsilon = 1e-13
    );
}

#[test]
fn a_place_that_is_none_is_refused_with_the_reason() {
    let mesh = PolygonMesh::from_faces(
        [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0], [2.0, 0.5]]
            .map(|[x, y]| Vec3::new(x, y, 0.0))
            .to_vec(),
        &[vec![0u32, 1, 2, 3], vec![1, 4, 2]],
    )
    .unwrap();
    let surface = surface_of(&mesh);
    let limit = LimitSurface::new(&surface);
    let fault = |face: usize, corner: Option<usize>, u: f64| {
        let p = Place {
            face,
            corner,
            u,
            v: 0.5,
        };
        limit.evaluate(&p).unwrap_err()
    };
    let of = |fault: PlaceError| fault.to_string();
    assert_eq!(
        of(fault(2, None, 0.5)),
        "face 3 does not exist: the cage has 2 faces"
    );
    assert!(of(fault(1, None, 0.5)).contains("name the corner (1 to 3)"));
    assert!(of(fault(1, Some(3), 0.5)).contains("has 3 sides, not a corner 4"));
    assert!(of(fault(0, Some(0), 0.5)).contains("leave the corner empty"));
    assert_eq!(
        of(fault(0, None, 1.5)),
        "u is 1.5: give a number from 0 to 1"
    );
    assert!(matches!(
        fault(0, None, f64::NAN),
        PlaceError::OutOfRange { .. }
    ));
    let (index, _) = limit
        .evaluate_all(&[place(0, 0.1, 0.1), place(1, 0.1, 0.1)])
        .unwrap_err();
    assert_eq!(index, 1);
}

#[test]
fn the_pattern_gives_the_measures_what_its_places_give_anyone() {
    for seed in 0..6 {
        let mesh = random_cage(seed);
        let surface = surface_of(&mesh);
        let topology = surface.control().topology();
        let frame = surface.control().frame();
        let read = pattern::per_corner(&surface, |_, points| *points);
        let places: Vec<Place> = pattern::places(topology).collect();
        assert_eq!(
            places.len(),
            pattern::PLACES_PER_CORNER * topology.corner_count()
        );
        let named = LimitSurface::new(&surface).evaluate_all(&places).unwrap();
        // A reversed face names its corners and parameters the other way round.
        let upright = |i: &usize| !topology.is_flipped(places[*i].face);
        for i in (0..places.len()).filter(upright) {
            let inward = read[i / 4][i % 4];
            assert!((frame.outward(inward.position) - named[i].position).norm() < 1e-12);
            let k = inward.curvature().unwrap().principal[0] / frame.scale;
            let other = named[i].curvature().unwrap().principal[0];
            assert!(
                (k - other).abs() < 1e-9 * other.abs().max(1.0),
                "{k} {other}"
            );
        }
    }
}

#[test]
fn the_patches_of_a_face_cover_it_but_for_what_is_left_at_its_poles() {
    for seed in 0..6 {
        let mesh = random_cage(seed);
        let surface = surface_of(&mesh);
        for f in 0..mesh.face_count() {
            let sides = mesh.face_corners(f).len();
            let face = FacePatches::new(&surface, f, 5);
            let covered: f64 = face.parts().map(|part| part.size * part.size).sum();
            let smallest = if sides == 4 {
                0.5f64.powi(6)
            } else {
                0.5f64.powi(5)
            };
            let left = face.irregular_parts().len() as f64 * smallest * smallest;
            let whole = if sides == 4 { 1.0 } else { sides as f64 };
            assert_relative_eq!(covered + left, whole, max_relative = 1e-12);
        }
    }
}

/// Second differences shrink by 4 and more from level to level, so that rounding would drown them
/// were points not held relative to the pole, or to the end of the crease. The same cage turned and
/// moved is rounded otherwise.
#[test]
fn curvature_close_to_a_pole_or_a_crease_s_end_is_not_lost_in_rounding() {
    let turn = nalgebra::Rotation3::from_euler_angles(0.3, -0.8, 1.1);
    let turned = support::cages::moved(&cube(), |p| turn * p + Vec3::new(0.3, 0.7, -0.4));
    let topology = cagewise::mesh::Topology::new(&turned);
    let first = topology.edge_between(0, 2).unwrap() as u32;
    let dart = Creases {
        edges: vec![(first, f64::INFINITY)],
        vertices: Vec::new(),
    };
    for creases in [Creases::default(), dart] {
        let surfaces = [&cube(), &turned]
            .map(|mesh| creased_surface_of(mesh, &creases, BoundaryRule::default()));
        for level in [6, 10, 14, 18] {
            let [u, v] = [0.6, 0.3].map(|x| x * 0.5f64.powi(level));
            let [a, b] = surfaces.each_ref().map(|surface| {
                let k = at(surface, place(0, u, v)).curvature().unwrap();
                k.principal
            });
            for k in 0..2 {
                let off = (a[k] - b[k]).abs() / a[0].abs().max(a[1].abs());
                assert!(off < 1e-7, "2^-{level}: {a:?} {b:?}");
            }
        }
    }
}

#[test]
fn curvatures_taken_several_places_at_a_time_are_those_of_each_place() {
    let surface = surface_of(&bench_cages::mixed(9));
    let found = cagewise::measure::curvature::corner_curvatures(&surface);
    let wanted = pattern::per_corner(&surface, |_, points| {
        let curvatures = points.iter().filter_map(LimitPoint::curvature);
        curvatures.map(|k| k.largest()).fold(f64::NAN, f64::max)
    });
    let regular = (0..surface.control().topology().face_count())
        .filter(|&f| surface.regular_patch(f).is_some())
        .count();
    assert!(regular > 50, "{regular}");
    for (c, (found, wanted)) in found.iter().zip(&wanted).enumerate() {
        let off = (found - wanted).abs();
        assert!(
            off <= 1e-12 * wanted.abs().max(1.0),
            "corner {c}: {found} {wanted}"
        );
    }
}
