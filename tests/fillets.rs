//! Fillets of bent edges: closed forms of edges that run on unchanged, support that is missing in
//! part, creases, and what must hold on any cage.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod support;

use std::path::Path;

use approx::assert_relative_eq;
use cagewise::io::read_cage;
use cagewise::limit::{EdgeLoop, Fillets, Station, held};
use cagewise::mesh::{PolygonMesh, Topology, Vec3};
use cagewise::subdivision::{BoundaryRule, Creases, Surface};
use support::cages::{closed_round, cube, height_grid, random_cage};
use support::{creased_surface_of, surface_of};

/// Relative agreement of sampling and closed forms.
const TOLERANCE: f64 = 1e-10;

/// Bends in degrees; edges count as bent from [`BENT_ABOVE`] on here.
const BENDS: [f64; 8] = [20.0, 30.0, 45.0, 60.0, 75.0, 90.0, 105.0, 120.0];

/// In degrees; nothing that these tests call flat bends as much.
const BENT_ABOVE: f64 = 15.0;

/// A strip bent once along y, with loops at the given distances on both flanks; `lengths` are the
/// spacings along the edge. Its section lies in the plane of x and z.
fn bent_strip(bend_deg: f64, sides: [&[f64]; 2], lengths: &[f64]) -> PolygonMesh {
    let half = (bend_deg / 2.0).to_radians();
    let on_flank = |side: f64, distance: f64| {
        Vec3::new(side * half.cos() * distance, 0.0, -half.sin() * distance)
    };
    let mut section: Vec<Vec3> = sides[0].iter().rev().map(|&d| on_flank(-1.0, d)).collect();
    section.push(Vec3::zeros());
    section.extend(sides[1].iter().map(|&d| on_flank(1.0, d)));
    let mut along = vec![0.0];
    for length in lengths {
        along.push(along[along.len() - 1] + length);
    }
    let (nx, ny) = (section.len(), along.len());
    let at = |i: usize, j: usize| (j * nx + i) as u32;
    let mut faces = Vec::new();
    for j in 0..ny - 1 {
        for i in 0..nx - 1 {
            faces.push([at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)]);
        }
    }
    let rows = along
        .iter()
        .flat_map(|&y| section.iter().map(move |p| p + Vec3::y() * y));
    PolygonMesh::from_faces(rows.collect(), &faces).unwrap()
}

/// A strip held evenly: support loops at `d`, the loops beyond at `d + e`, and one more.
fn evenly_held(bend_deg: f64, d: f64, e: f64) -> PolygonMesh {
    let distances = [d, d + e, d + 2.0 * e + 0.3];
    bent_strip(
        bend_deg,
        [&distances, &distances],
        &[1.0, 0.7, 1.3, 0.4, 1.0],
    )
}

fn fillets(mesh: &PolygonMesh) -> Fillets {
    Fillets::bent_above(&surface_of(mesh), BENT_ABOVE)
}

/// The one loop of a strip.
fn only_loop(fillets: &Fillets) -> &EdgeLoop {
    assert_eq!(fillets.loops().len(), 1);
    &fillets.loops()[0]
}

fn smallest(stations: &[Station], of: impl Fn(&Station) -> f64) -> f64 {
    stations.iter().map(of).fold(f64::INFINITY, f64::min)
}

fn largest(stations: &[Station], of: impl Fn(&Station) -> f64) -> f64 {
    stations.iter().map(of).fold(0.0, f64::max)
}

#[test]
fn evenly_held_edges_have_the_fillets_of_their_closed_forms() {
    for bend in BENDS {
        for (d, e) in [
            (0.1, 0.1),
            (0.2, 0.05),
            (0.05, 0.149),
            (0.4, 0.9),
            (1.0, 1.0),
        ] {
            let fillets = fillets(&evenly_held(bend, d, e));
            let edge_loop = only_loop(&fillets);
            assert!(!edge_loop.closed);
            assert_eq!(edge_loop.vertices.len(), 6);
            for station in fillets.stations_of(edge_loop) {
                let near = |found: f64, wanted: f64| {
                    assert_relative_eq!(found, wanted, max_relative = TOLERANCE);
                };
                near(station.bend_deg, bend);
                near(station.radius, held::radius_at_edge(bend, d));
                near(station.width, held::width(bend, d, e));
                near(station.stand_off, held::stand_off(bend, d));
            }
        }
    }
}

/// The section again as a cubic B-spline by its de Boor points, of `e` far from `d`, searched by
/// brute force: an independent way to the tightest place.
fn tightest_radius_of_spline(points: &[Vec3; 5]) -> f64 {
    let steps = 2_000;
    let curvature = |piece: usize, t: f64| {
        let p = &points[piece..piece + 4];
        let (s, third) = (1.0 - t, p[3] - p[2]);
        let [first, second] = [p[1] - p[0], p[2] - p[1]];
        let slope = (first * (s * s) + second * (1.0 + 2.0 * t * s) + third * (t * t)) / 2.0;
        let bend = (second - first) * s + (third - second) * t;
        slope.cross(&bend).norm() / slope.norm().powi(3)
    };
    let mut best = (0.0, 0, 0.0);
    let mut reach = 0.5;
    // Each pass looks a hundred times as closely about the best place of the one before.
    for pass in 0..4 {
        let around = if pass == 0 { 0.5 } else { best.2 };
        for i in -steps..=steps {
            let t = (around + reach * f64::from(i) / f64::from(steps)).clamp(0.0, 1.0);
            for piece in if pass == 0 { 0..2 } else { best.1..best.1 + 1 } {
                let found = curvature(piece, t);
                if found > best.0 {
                    best = (found, piece, t);
                }
            }
        }
        reach /= 100.0;
    }
    1.0 / best.0
}

fn section_points(bend_deg: f64, before: [f64; 2], after: [f64; 2]) -> [Vec3; 5] {
    let half = (bend_deg / 2.0).to_radians();
    let on_flank = |side: f64, distance: f64| {
        Vec3::new(side * half.cos() * distance, 0.0, -half.sin() * distance)
    };
    [
        on_flank(-1.0, before[1]),
        on_flank(-1.0, before[0]),
        Vec3::zeros(),
        on_flank(1.0, after[0]),
        on_flank(1.0, after[1]),
    ]
}

#[test]
fn a_wide_strip_beyond_the_support_loops_moves_the_tightest_place_off_the_edge() {
    for bend in [45.0, 90.0, 120.0] {
        let d = 0.05;
        for e in [0.16, 0.5, 2.0, 5.0] {
            assert!(e > held::TIGHTEST_AT_EDGE_MAX * d);
            let fillets = fillets(&evenly_held(bend, d, e));
            let station = fillets.stations()[2];
            let plain = tightest_radius_of_spline(&section_points(bend, [d, d + e], [d, d + e]));
            assert_relative_eq!(station.radius, plain, max_relative = TOLERANCE);
            assert_relative_eq!(
                held::tightest_radius(bend, d, e),
                plain,
                max_relative = TOLERANCE
            );
            assert!(station.radius < held::radius_at_edge(bend, d));
        }
    }
}

#[test]
fn an_edge_held_unevenly_is_tighter_than_at_the_edge_itself() {
    for bend in BENDS {
        for [near, far] in [[0.1, 0.11], [0.1, 0.2], [0.05, 0.5], [0.01, 1.0]] {
            let (before, after) = ([near, near + 0.3], [far, far + 0.3]);
            let mesh = bent_strip(bend, [&before, &after], &[1.0; 5]);
            let found = fillets(&mesh).stations()[2];
            let points = section_points(bend, before, after);
            let (a, c) = (points[2] - points[1], points[3] - points[2]);
            let at_edge = 1.0 / held::curvature_at_edge(&a, &c);
            assert!(found.radius < at_edge, "{bend} {near} {far}: {found:?}");
            let plain = tightest_radius_of_spline(&points);
            assert_relative_eq!(found.radius, plain, max_relative = TOLERANCE);
        }
    }
}

#[test]
fn the_closed_forms_agree_with_each_other() {
    for bend in [0.5, 20.0, 60.0, 90.0, 120.0, 170.0] {
        for d in [0.01, 0.3, 2.0] {
            let points = section_points(bend, [d, 2.0 * d], [d, 2.0 * d]);
            let (a, c) = (points[2] - points[1], points[3] - points[2]);
            let radius = held::radius_at_edge(bend, d);
            let general = held::curvature_at_edge(&a, &c);
            assert_relative_eq!(1.0 / general, radius, max_relative = 1e-12);
            let tightest = held::tightest_radius(bend, d, held::TIGHTEST_AT_EDGE_MAX * d);
            assert_relative_eq!(tightest, radius, max_relative = 1e-12);
            assert_relative_eq!(
                held::support_for_radius(bend, radius),
                d,
                max_relative = 1e-12
            );
            let image = (points[1] + points[2] * 4.0 + points[3]) / 6.0;
            assert_relative_eq!(held::stand_off(bend, d), image.norm(), max_relative = 1e-12);
        }
    }
    // A right angle: cos² and sin of 45 degrees are 1/2 and 1/√2.
    assert_relative_eq!(
        held::radius_at_edge(90.0, 1.0),
        0.125f64.sqrt(),
        max_relative = 1e-15
    );
    assert_relative_eq!(
        held::stand_off(90.0, 3.0),
        0.5f64.sqrt(),
        max_relative = 1e-15
    );
    assert_relative_eq!(
        held::width(90.0, 1.0, 1.0),
        2f64.sqrt(),
        max_relative = 1e-15
    );
}

#[test]
fn lengths_grow_with_the_model_and_nothing_depends_on_where_it_lies() {
    let mesh = random_cage(3);
    let plain = fillets(&mesh);
    assert!(plain.stations().len() > 10);
    for scale in [2f64.powi(-300), 1.0, 2f64.powi(300)] {
        let shift = Vec3::new(3.0, -5.0, 2.0) * scale;
        let moved = mesh.positions().iter().map(|p| p * scale + shift).collect();
        let moved = PolygonMesh::new(
            moved,
            mesh.face_starts().to_vec(),
            mesh.corner_vertices().to_vec(),
        );
        let moved = fillets(&moved.unwrap());
        assert_eq!(plain.loops(), moved.loops());
        for (a, b) in plain.stations().iter().zip(moved.stations()) {
            assert_relative_eq!(a.radius * scale, b.radius, max_relative = 1e-9);
            assert_relative_eq!(a.width * scale, b.width, max_relative = 1e-9);
            assert_relative_eq!(a.stand_off * scale, b.stand_off, max_relative = 1e-9);
        }
    }
}

/// All twelve edges of a cube end at three-poles, and are alike.
#[test]
fn edges_between_poles_are_loops_of_one_edge() {
    let fillets = fillets(&cube());
    assert_eq!(fillets.loops().len(), 12);
    let first = fillets.stations()[0];
    for (edge_loop, station) in fillets.loops().iter().zip(fillets.stations()) {
        assert_eq!((edge_loop.vertices.len(), edge_loop.closed), (2, false));
        assert_relative_eq!(station.radius, first.radius, max_relative = 1e-12);
        // The edge points (3/4 of the half-width off the axis) bound it.
        assert!(station.radius > 0.0 && station.stand_off > 0.25 * 2f64.sqrt());
    }
}

/// The rim of a drum: its closed loop is found whole from whichever edge it starts.
#[test]
fn a_rim_is_one_closed_loop() {
    let fillets = fillets(&drum(16, 0.1));
    let rims: Vec<&EdgeLoop> = fillets.loops().iter().filter(|l| l.closed).collect();
    assert_eq!(rims.len(), 2);
    for rim in rims {
        assert_eq!(rim.vertices.len(), 16);
        assert_eq!(rim.stations.len(), 16);
        let stations = fillets.stations_of(rim);
        let ratio = largest(stations, |s| s.radius) / smallest(stations, |s| s.radius);
        assert_relative_eq!(ratio, 1.0, max_relative = 1e-9);
    }
}

/// A drum of `n` sides, radius 1 and height 1, with loops at `d` from its rims; its lids end in
/// n-gons.
fn drum(n: usize, d: f64) -> PolygonMesh {
    let rings = [
        [1.0 - 2.0 * d, 0.0],
        [1.0 - d, 0.0],
        [1.0, 0.0],
        [1.0, d],
        [1.0, 1.0 - d],
        [1.0, 1.0],
        [1.0 - d, 1.0],
        [1.0 - 2.0 * d, 1.0],
    ];
    closed_round(&rings, n, [None; 2]).0
}

/// Beside an n-gon the width reaches to its centre's image, whatever the number of sides; from 87
/// sides on a corner's quad holds only part of the n-gon's ring.
#[test]
fn beside_n_gons_the_width_reaches_to_the_image_of_the_centre() {
    for n in [6, 30, 120] {
        let outline = [[1.0, 0.0], [1.0, 0.2], [1.0, 0.8], [1.0, 1.0]];
        let (mesh, [lower, _]) = closed_round(&outline, n, [None; 2]);
        let surface = surface_of(&mesh);
        let fillets = Fillets::new(&surface);
        let frame = surface.control().frame();
        let topology = surface.control().topology();
        // The lids come last, the lower one first.
        let lid = topology.face_count() - 2;
        let centre = frame.outward(surface.face_ring(lid).limit(0).position);
        let ends = |s: &Station| topology.edge_vertices(s.edge);
        let on_rim = |s: &&Station| ends(s).iter().all(|&v| lower.contains(&(v as u32)));
        let rim: Vec<&Station> = fillets.stations().iter().filter(on_rim).collect();
        assert_eq!(rim.len(), n);
        for station in rim {
            let [a, b] = ends(station);
            let beside = topology.edge_between(a + 1, b + 1).unwrap();
            let other = frame.outward(surface.edge_ring(beside).limit(0).position);
            assert_relative_eq!(station.width, (centre - other).norm(), max_relative = 1e-12);
            assert!(
                station.radius > 0.0 && station.radius < 1.0,
                "{n}: {station:?}"
            );
        }
    }
}

/// A ridge of bend 90 whose support loop on one side stops half-way, at a vertex that ends it in
/// a quad split to a triangle and a pentagon.
fn partly_supported() -> PolygonMesh {
    let (d, length) = (0.1, 10usize);
    let half = 45f64.to_radians();
    let columns = [-2.0, -1.0, -d, 0.0, d, 1.0, 2.0];
    let on = |x: f64, j: usize| Vec3::new(x * half.cos(), j as f64, -x.abs() * half.sin());
    let width = columns.len();
    let mut positions = Vec::new();
    for j in 0..=length {
        positions.extend(columns.iter().map(|&x| on(x, j)));
    }
    let at = |i: usize, j: usize| (j * width + i) as u32;
    let mut faces: Vec<Vec<u32>> = Vec::new();
    let stop = length / 2;
    for j in 0..length {
        for i in 0..width - 1 {
            // Beyond the stop the loop in column 4 is left out.
            match i {
                3 if j == stop => faces.push(vec![
                    at(3, j),
                    at(4, j),
                    at(5, j),
                    at(5, j + 1),
                    at(3, j + 1),
                ]),
                3 if j > stop => faces.push(vec![at(3, j), at(5, j), at(5, j + 1), at(3, j + 1)]),
                4 if j >= stop => {}
                _ => faces.push(vec![at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)]),
            }
        }
    }
    PolygonMesh::from_faces(positions, &faces).unwrap()
}

#[test]
fn where_a_support_loop_is_missing_the_radius_is_larger() {
    let fillets = fillets(&partly_supported());
    let edge_loop = only_loop(&fillets);
    let stations = fillets.stations_of(edge_loop);
    assert_eq!(stations.len(), 10);
    let from_start = edge_loop.vertices[0] == 3;
    let (held, bare) = if from_start {
        (stations[1], stations[8])
    } else {
        (stations[8], stations[1])
    };
    assert!(bare.radius > 1.5 * held.radius, "{held:?} {bare:?}");
    assert!(bare.width > 1.5 * held.width, "{held:?} {bare:?}");
    assert!(bare.stand_off > 1.5 * held.stand_off, "{held:?} {bare:?}");
}

fn creased(mesh: &PolygonMesh, sharpness: f64) -> Surface {
    let topology = Topology::new(mesh);
    let bent = Fillets::new(&surface_of(mesh));
    let edges = bent.stations().iter().map(|s| (s.edge as u32, sharpness));
    let creases = Creases {
        edges: edges.collect(),
        vertices: Vec::new(),
    };
    assert_eq!(topology.edge_count(), Topology::new(mesh).edge_count());
    creased_surface_of(mesh, &creases, BoundaryRule::default())
}

#[test]
fn an_infinitely_sharp_edge_has_no_radius_and_a_semi_sharp_one_a_smaller_one() {
    let mesh = evenly_held(90.0, 0.2, 0.3);
    let plain = fillets(&mesh).stations()[2];
    let mut before = plain;
    for sharpness in [1.0, 2.0, 3.5] {
        let station = Fillets::new(&creased(&mesh, sharpness)).stations()[2];
        assert!(
            station.radius < 0.8 * before.radius,
            "{sharpness}: {station:?}"
        );
        assert!(station.radius > 0.0);
        assert!(station.stand_off < before.stand_off);
        assert_relative_eq!(station.width, plain.width, max_relative = 1e-3);
        before = station;
    }
    let sharp = Fillets::new(&creased(&mesh, f64::INFINITY)).stations()[2];
    assert_eq!((sharp.radius, sharp.width), (0.0, 0.0));
    assert!(sharp.stand_off < 1e-15);
}

/// The crease curve of a bent rim is a cubic B-spline through the rim alone.
#[test]
fn a_crease_stands_off_by_its_own_curve() {
    let n = 16;
    let surface = creased(&drum(n, 0.1), f64::INFINITY);
    let fillets = Fillets::new(&surface);
    // Middle of the limit curve of a regular n-gon: weights (1, 23, 23, 1) / 48.
    let step = std::f64::consts::TAU / n as f64;
    let image = (23.0 * (step / 2.0).cos() + (1.5 * step).cos()) / 24.0;
    let wanted = (step / 2.0).cos() - image;
    for station in fillets.stations() {
        assert_eq!(station.radius, 0.0);
        assert_relative_eq!(station.stand_off, wanted, max_relative = 1e-10);
    }
}

#[test]
fn borders_and_flat_ground_have_no_fillets() {
    assert_eq!(
        fillets(&height_grid(5, 5, |x, y| 0.1 * (x * y).sin())).stations(),
        []
    );
    let fold = height_grid(4, 4, |x, _| (x - 2.0).abs());
    let found = fillets(&fold);
    assert_eq!(only_loop(&found).vertices, [2, 7, 12, 17, 22]);
}

/// Middles of the edges met when going straight on across quads from the edge at corner `c`.
fn rungs(topology: &Topology, mesh: &PolygonMesh, c: usize, count: usize) -> Option<Vec<Vec3>> {
    let mut c = Some(c);
    let mut middles = Vec::new();
    for _ in 0..count {
        let opposite = topology.next(topology.next(c?));
        if topology.face_size(topology.face_of(opposite)) != 4 {
            return None;
        }
        let ends = topology.edge_vertices(topology.edge(opposite));
        middles.push(ends.map(|v| mesh.positions()[v]).iter().sum::<Vec3>() / 2.0);
        c = topology.twin(opposite);
    }
    Some(middles)
}

/// Distances d and e of the loops that hold an edge, if they do so evenly on flat flanks at right
/// angles to it, to 1e-6 of d.
fn even_support(topology: &Topology, mesh: &PolygonMesh, edge: usize) -> Option<(f64, f64)> {
    let c = topology.edge_corner(edge);
    let [from, to] = topology.edge_vertices(edge).map(|v| mesh.positions()[v]);
    let middle = (from + to) / 2.0;
    let sides = [Some(c), topology.twin(c)].map(|c| rungs(topology, mesh, c?, 2));
    let [Some(a), Some(b)] = sides else {
        return None;
    };
    let steps = |r: &[Vec3]| [r[0] - middle, r[1] - r[0]];
    let ([a0, a1], [b0, b1]) = (steps(&a), steps(&b));
    let near = |x: f64, y: f64| (x - y).abs() < 1e-6 * a0.norm();
    let straight =
        |near: Vec3, far: Vec3| near.cross(&far).norm() < 1e-6 * near.norm() * far.norm();
    let square = [a0, b0]
        .iter()
        .all(|s| s.dot(&(to - from)).abs() < 1e-6 * s.norm() * (to - from).norm());
    let even = near(a0.norm(), b0.norm()) && near(a1.norm(), b1.norm());
    (even && square && straight(a0, a1) && straight(b0, b1)).then(|| (a0.norm(), a1.norm()))
}

/// The crate's edges run on unchanged for one quad only, so that its sections are not exactly those
/// of the closed form.
#[test]
fn the_crate_s_evenly_held_edges_have_nearly_the_closed_form_s_fillets() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo/crate.obj");
    let mesh = read_cage(&path).unwrap().mesh;
    let surface = surface_of(&mesh);
    let topology = surface.control().topology();
    let fillets = Fillets::new(&surface);
    let mut compared = 0;
    for station in fillets.stations() {
        let Some((d, e)) = even_support(topology, &mesh, station.edge) else {
            continue;
        };
        let wanted = held::tightest_radius(station.bend_deg, d, e);
        assert_relative_eq!(station.radius, wanted, max_relative = 0.05);
        let wanted = held::width(station.bend_deg, d, e);
        assert_relative_eq!(station.width, wanted, max_relative = 0.05);
        compared += 1;
    }
    assert!(compared >= 12, "only {compared} edges are held evenly");
}

/// The flange's upper edge, where both support loops are missing between five-sided faces: see
/// demo/README.md.
#[test]
fn the_cowl_s_edge_is_rounder_where_its_support_loops_are_missing() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo/cowl.obj");
    let surface = surface_of(&read_cage(&path).unwrap().mesh);
    let fillets = Fillets::new(&surface);
    let [bare, held] = [[30, 31], [27, 28]].map(|numbers| {
        let [a, b] = numbers.map(|v| v - 1);
        let edge = surface.control().topology().edge_between(a, b).unwrap();
        *fillets.stations().iter().find(|s| s.edge == edge).unwrap()
    });
    assert_relative_eq!(bare.bend_deg, held.bend_deg, max_relative = 0.01);
    assert!(bare.radius > 3.0 * held.radius, "{bare:?} {held:?}");
    assert!(bare.stand_off > 2.0 * held.stand_off, "{bare:?} {held:?}");
}

#[test]
fn a_mirrored_half_tells_of_its_own_part_of_each_loop() {
    use cagewise::assess::AssessOptions;
    use cagewise::mesh::{Axis, Cage, MirrorPlane};
    let mesh = cube();
    // The cube cut in two: its upper half, the lower corners moved into the plane z = 0.
    let positions = mesh
        .positions()
        .iter()
        .map(|p| Vec3::new(p.x, p.y, p.z.max(0.0)));
    let faces: Vec<Vec<u32>> = mesh.faces().skip(1).map(<[u32]>::to_vec).collect();
    let half = PolygonMesh::from_faces(positions.collect(), &faces).unwrap();
    let plane = MirrorPlane {
        axis: Axis::Z,
        offset: 0.0,
    };
    let half = Cage::from_mesh(half);
    let assessment = half
        .assess_mirrored(plane, &AssessOptions::default())
        .unwrap();
    // Four edges round the top and four upright ones; of those below the plane none.
    let stations = assessment.fillets.stations();
    assert_eq!(stations.len(), 8);
    for edge_loop in assessment.fillets.loops() {
        assert_eq!(edge_loop.vertices.len(), edge_loop.stations.len() + 1);
        assert!(edge_loop.vertices.iter().all(|v| *v < 8));
    }
}
