//! Volume, area, extents and total curvature of the limit surface against closed forms and a second
//! way.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod support;

use std::f64::consts::TAU;

use approx::assert_relative_eq;
use cagewise::limit::integrals::{LimitIntegrals, euler_characteristic};
use cagewise::limit::{LimitSurface, Place, limit_extent};
use cagewise::mesh::{PolygonMesh, Vec3};
use cagewise::subdivision::{
    BoundaryRule, Creases, RefinedFaces, Samples, Surface, refine, spline,
};
use nalgebra::Matrix3;
use support::cages::{Random, cube, height_grid, moved, random_cage, torus};
use support::{creased_surface_of, surface_of};

/// Two poles of valence `n` over a bent ring of triangles.
fn bipyramid(n: usize) -> PolygonMesh {
    let mut positions = vec![Vec3::new(0.0, 0.0, 0.7), Vec3::new(0.1, 0.0, -0.7)];
    let mut faces = Vec::new();
    for i in 0..n {
        let a = i as f64 / n as f64 * TAU;
        positions.push(Vec3::new(a.cos(), a.sin(), 0.1 * (3.0 * a).cos()));
        let (a, b) = ((2 + i) as u32, (2 + (i + 1) % n) as u32);
        faces.extend([[a, b, 0], [b, a, 1]]);
    }
    PolygonMesh::from_faces(positions, &faces).unwrap()
}

fn integrals(mesh: &PolygonMesh) -> LimitIntegrals {
    LimitIntegrals::new(&surface_of(mesh))
}

/// Integrals in file units.
fn volume(mesh: &PolygonMesh) -> f64 {
    let surface = surface_of(mesh);
    let scale = surface.control().frame().scale;
    LimitIntegrals::new(&surface).volume.unwrap() * scale.powi(3)
}

fn area(mesh: &PolygonMesh) -> f64 {
    let surface = surface_of(mesh);
    LimitIntegrals::new(&surface).area * surface.control().frame().scale.powi(2)
}

/// The integral over 2π, less the Euler characteristic.
fn defect(surface: &Surface) -> f64 {
    let characteristic = euler_characteristic(surface.control().topology()).unwrap();
    LimitIntegrals::new(surface).curvature.unwrap() / TAU - characteristic as f64
}

/// The volume inside meshes of limit points, two levels together (the error of one falls to a
/// quarter from level to level).
fn refined_volume(surface: &Surface, level: usize) -> f64 {
    let frame = surface.control().frame();
    let [coarse, fine] = [level - 1, level].map(|level| {
        let mesh = refine(surface, level, Samples::Limit);
        let RefinedFaces::Quads(quads) = &mesh.faces else {
            panic!("level 0")
        };
        let at = |v: u32| frame.inward(Vec3::from(mesh.positions[v as usize]));
        let pyramid = |q: &[u32; 4]| {
            let p = q.map(at);
            let centre = p.iter().sum::<Vec3>() / 4.0;
            let sides = (0..4).map(|i| centre.dot(&p[i].cross(&p[(i + 1) % 4])));
            sides.sum::<f64>() / 6.0
        };
        quads.iter().map(pyramid).sum::<f64>()
    });
    fine + (fine - coarse) / 3.0
}

/// The area of meshes of limit points, two levels together, in the frame's units.
fn refined_area(surface: &Surface, level: usize) -> f64 {
    let scale = surface.control().frame().scale;
    let [coarse, fine] = [level - 1, level].map(|level| {
        let mesh = refine(surface, level, Samples::Limit);
        let RefinedFaces::Quads(quads) = &mesh.faces else {
            panic!("level 0")
        };
        let halves = quads.iter().map(|q| {
            let [a, b, c, d] = q.map(|v| Vec3::from(mesh.positions[v as usize]));
            (b - a).cross(&(c - a)).norm() + (c - a).cross(&(d - a)).norm()
        });
        halves.sum::<f64>() / 2.0 / (scale * scale)
    });
    fine + (fine - coarse) / 3.0
}

#[test]
fn the_volume_inside_a_turned_spline_is_that_of_its_closed_form() {
    // Control points r(j) (cos a(i), sin a(i)), z(j): the surface is a spline of r and z times a
    // closed spline about the axis. Its volume is (area inside the spline about the axis, for
    // radius 1) times ∮ r² dz of the spline of the section; both by plain sums of many spans.
    let (around, across, ring, tube) = (8, 6, 2.0, 0.8);
    let on_circle = |n: usize, i: usize, t: f64, order: bool| {
        let w = if order {
            spline::basis_derivative(t)
        } else {
            spline::basis(t)
        };
        (0..4).fold((0.0, 0.0), |(x, y), k| {
            let a = (i + k) as f64 / n as f64 * TAU;
            (x + w[k] * a.cos(), y + w[k] * a.sin())
        })
    };
    // The mid-point rule on a closed C2 piecewise polynomial; 4000 points a span leave about 1e-9.
    let steps = 4000;
    let mut plan = 0.0;
    let mut section = 0.0;
    for k in 0..steps {
        let t = (k as f64 + 0.5) / steps as f64;
        for i in 0..around {
            let ((x, y), (dx, dy)) = (
                on_circle(around, i, t, false),
                on_circle(around, i, t, true),
            );
            plan += (x * dy - y * dx) / 2.0 / steps as f64;
        }
        for j in 0..across {
            let ((c, _), (_, ds)) = (
                on_circle(across, j, t, false),
                on_circle(across, j, t, true),
            );
            section += (ring + tube * c).powi(2) * tube * ds / steps as f64;
        }
    }
    let found = volume(&torus(around, across, ring, tube));
    assert_relative_eq!(found, plan * section, max_relative = 1e-8);
}

#[test]
fn volumes_agree_with_those_of_fine_meshes() {
    // Near poles the second way's own error falls slowly, but by half and more per level, so that
    // what its last level changed bounds it.
    let meshes = [3, 4, 5, 6, 8, 12, 14, 40].map(bipyramid);
    for mesh in meshes.into_iter().chain([cube(), torus(5, 4, 2.0, 0.8)]) {
        let surface = surface_of(&mesh);
        let found = LimitIntegrals::new(&surface).volume.unwrap();
        let [before, last] = [5, 6].map(|level| refined_volume(&surface, level));
        assert!(
            (found - last).abs() < (last - before).abs(),
            "{found} {last} {before}"
        );
    }
}

#[test]
fn the_volume_about_smooth_poles_depends_on_no_level_and_neither_do_creases_for_long() {
    for mesh in [cube(), bipyramid(3), bipyramid(6), bipyramid(12)] {
        let surface = surface_of(&mesh);
        let [shallow, deep] = [1, 7].map(|l| LimitIntegrals::with_levels(&surface, l).volume);
        assert_relative_eq!(shallow.unwrap(), deep.unwrap(), max_relative = 1e-14);
    }
    // A crease that ends: the tails there are closed by cones.
    let creases = Creases {
        edges: (0..3).map(|e| (e, f64::INFINITY)).collect(),
        ..Creases::default()
    };
    let surface = creased_surface_of(&cube(), &creases, BoundaryRule::default());
    let [eight, nine, eleven] =
        [8, 9, 11].map(|l| LimitIntegrals::with_levels(&surface, l).volume.unwrap());
    assert!((eight / eleven - 1.0).abs() < 1e-8);
    assert!((nine / eleven - 1.0).abs() < 0.3 * (eight / eleven - 1.0).abs());
}

#[test]
fn the_volume_grows_by_the_determinant_of_any_affine_map_and_turns_with_the_winding() {
    let mut random = Random(77);
    for mesh in [random_closed(3), bipyramid(4), bipyramid(7), cube()] {
        let map = Matrix3::from_fn(|_, _| 2.0 * random.unit() - 1.0);
        let shift = Vec3::new(1e3, -2e3, 5e2);
        let mapped = moved(&mesh, |p| map * p + shift);
        // The unified winding faces outward before and after, whichever way the map turns.
        let wanted = volume(&mesh).abs() * map.determinant().abs();
        assert_relative_eq!(volume(&mapped).abs(), wanted, max_relative = 1e-8);
        let inside_out: Vec<Vec<u32>> = mesh
            .faces()
            .map(|f| f.iter().rev().copied().collect())
            .collect();
        let turned = PolygonMesh::from_faces(mesh.positions().to_vec(), &inside_out).unwrap();
        assert_relative_eq!(
            volume(&turned).abs(),
            volume(&mesh).abs(),
            max_relative = 1e-13
        );
    }
}

/// The refined control mesh as a cage of its own.
fn control_mesh(surface: &Surface, level: usize) -> PolygonMesh {
    let mesh = refine(surface, level, Samples::Refined);
    let RefinedFaces::Quads(quads) = &mesh.faces else {
        panic!("level 0")
    };
    let positions = mesh.positions.iter().map(|&p| Vec3::from(p)).collect();
    PolygonMesh::from_faces(positions, quads).unwrap()
}

/// A random cage without borders.
fn random_closed(which: usize) -> PolygonMesh {
    let closed = |mesh: &PolygonMesh| integrals(mesh).curvature.is_some();
    (0..).map(random_cage).filter(closed).nth(which).unwrap()
}

#[test]
fn flat_sheets_keep_their_area_and_it_grows_with_the_square_of_the_size() {
    let sheet = height_grid(5, 4, |_, _| 2.0);
    assert_relative_eq!(area(&sheet), 20.0, max_relative = 1e-14);
    assert_eq!(integrals(&sheet).volume, None);
    let hills = height_grid(6, 6, |x, y| 0.5 * (x * 1.3).sin() * y.cos());
    let larger = moved(&hills, |p| p * 3.0 + Vec3::new(50.0, 0.0, -9.0));
    assert_relative_eq!(area(&larger), 9.0 * area(&hills), max_relative = 1e-12);
}

#[test]
fn areas_converge_and_the_levels_chosen_are_enough() {
    let poles = [3, 5, 6, 8, 12].map(|n| (bipyramid(n), 4));
    // Past the tables, no fewer than eight levels are taken.
    for (mesh, level) in poles.into_iter().chain([(cube(), 4), (bipyramid(20), 8)]) {
        let surface = surface_of(&mesh);
        let deep = LimitIntegrals::with_levels(&surface, 14).area;
        let error = |l: usize| (LimitIntegrals::with_levels(&surface, l).area / deep - 1.0).abs();
        assert!(error(level + 2) < 0.3 * error(level));
        assert!((LimitIntegrals::new(&surface).area / deep - 1.0).abs() < 1e-5);
    }
}

#[test]
fn areas_agree_with_those_of_fine_meshes() {
    // A polyhedron's area falls short by a part that shrinks with the square of its faces' size.
    for mesh in [cube(), bipyramid(5), torus(5, 4, 2.0, 0.8)] {
        let surface = surface_of(&mesh);
        let found = LimitIntegrals::new(&surface).area;
        let [before, last] = [5, 6].map(|level| refined_area(&surface, level));
        assert!((found - last).abs() < (last - before).abs());
    }
}

#[test]
fn the_curvature_of_closed_cages_sums_to_their_topology() {
    let mut surfaces = vec![surface_of(&torus(8, 6, 2.0, 0.8)), surface_of(&cube())];
    surfaces.extend([3, 5, 6, 8, 12, 14].map(|n| surface_of(&bipyramid(n))));
    for surface in &surfaces {
        assert!(defect(surface).abs() < 1e-9, "{:e}", defect(surface));
    }
    // Wildly bent cages, with places where the normal turns within a small part of a patch: the
    // same surface by its refined mesh, where more of the error of integration has to be gone
    // (but for 1e-5: fine meshes are integrated by fewer points).
    for which in 0..6 {
        let surface = surface_of(&random_closed(which));
        let finer = surface_of(&control_mesh(&surface, 4));
        let [coarse, fine] = [&surface, &finer].map(|surface| defect(surface).abs());
        assert!(fine < (coarse / 10.0).max(1e-5), "{coarse:e} {fine:e}");
    }
    for sharpness in [0.5, 1.0, 2.3, 4.0] {
        let creases = Creases {
            edges: (0..3).map(|e| (e, sharpness)).collect(),
            ..Creases::default()
        };
        let surface = creased_surface_of(&cube(), &creases, BoundaryRule::default());
        assert!(defect(&surface).abs() < 1e-6);
    }
}

#[test]
fn without_smoothness_or_with_borders_there_is_no_total_curvature() {
    let creases = Creases {
        edges: vec![(0, f64::INFINITY)],
        ..Creases::default()
    };
    let creased = creased_surface_of(&cube(), &creases, BoundaryRule::default());
    assert_eq!(LimitIntegrals::new(&creased).curvature, None);
    assert_eq!(integrals(&height_grid(3, 3, |x, _| x)).curvature, None);
}

#[test]
fn extents_reach_the_furthest_point_and_no_further() {
    let mut meshes = vec![cube(), torus(8, 6, 2.0, 0.8), bipyramid(12), bipyramid(40)];
    meshes.extend((0..8).map(random_cage));
    let mut random = Random(5);
    for mesh in meshes {
        let turn = nalgebra::Rotation3::new(random.vector() * 3.0);
        let surface = surface_of(&moved(&mesh, |p| turn * p));
        let frame = surface.control().frame();
        let [low, high] = limit_extent(&surface, std::iter::empty()).unwrap();
        // Meshes of limit points lie inside, control points of the refined mesh reach beyond.
        let [inner, outer] = [Samples::Limit, Samples::Refined].map(|samples| {
            let mesh = refine(&surface, 6, samples);
            let points = mesh.positions.iter().map(|&p| frame.inward(Vec3::from(p)));
            let empty = (Vec3::repeat(f64::INFINITY), Vec3::repeat(f64::NEG_INFINITY));
            points.fold(empty, |(a, b), p| (a.inf(&p), b.sup(&p)))
        });
        for k in 0..3 {
            let (below, above) = (low[k] - inner.0[k], high[k] - inner.1[k]);
            assert!(below < 1e-10 && above > -1e-10, "{below:e} {above:e}");
            let (below, above) = (low[k] - outer.0[k], high[k] - outer.1[k]);
            assert!(below > -1e-10 && above < 1e-10, "{below:e} {above:e}");
        }
    }
}

#[test]
fn the_extent_of_a_turned_spline_is_that_of_its_section() {
    let surface = surface_of(&torus(64, 6, 2.0, 0.8));
    let scale = surface.control().frame().scale;
    let [low, high] = limit_extent(&surface, std::iter::empty()).unwrap();
    // The section's highest control points are two at the same height: the spline's top lies at the
    // middle of their span, weights 1/48, 23/48, 23/48, 1/48.
    let top = 0.8 * (TAU / 6.0).sin() * 46.0 / 48.0;
    assert_relative_eq!((high.z - low.z) * scale, 2.0 * top, max_relative = 1e-11);
}

#[test]
fn surfaces_are_the_same_wherever_they_are_read() {
    // The extremes found are points of the surface: the top of a bump, by its place.
    let bump = height_grid(4, 4, |x, y| if (x, y) == (2.0, 2.0) { 1.0 } else { 0.0 });
    let surface = surface_of(&bump);
    let frame = surface.control().frame();
    let [_, high] = limit_extent(&surface, std::iter::empty()).unwrap();
    let place = Place {
        face: 5,
        corner: None,
        u: 1.0,
        v: 1.0,
    };
    let top = LimitSurface::new(&surface)
        .evaluate(&place)
        .unwrap()
        .position;
    assert_relative_eq!(frame.inward(top).z, high.z, epsilon = 1e-11);
    assert_relative_eq!(top.z, 4.0 / 9.0, max_relative = 1e-13);
}

#[test]
fn the_number_of_threads_changes_no_digit() {
    let surface = surface_of(&control_mesh(&surface_of(&bipyramid(14)), 3));
    let with = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap();
        pool.install(|| {
            let extent = limit_extent(&surface, std::iter::empty()).unwrap();
            (LimitIntegrals::new(&surface), extent)
        })
    };
    assert_eq!(with(1), with(3));
}
