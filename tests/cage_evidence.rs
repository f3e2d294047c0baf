//! Evidence read off the cage: unchanged by what does not change the form, nothing where the form is
//! even, something where it breaks off.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod support;

use cagewise::measure::MeasureContext;
use cagewise::mesh::{PolygonMesh, Topology, Vec3};
use cagewise::risk::evidence::cage::cage_columns;
use cagewise::subdivision::{BoundaryRule, Creases};
use nalgebra::{Rotation3, Unit};
use support::cages::{
    Random, height_grid, held_slab, inside_out, moved, nearest, pushed, random_cage, renumbered,
    tube,
};
use support::caps::{Cap, closed_tube, ripples};
use support::{creased_surface_of, surface_of};

/// Largest difference, relative to values above 1: coordinates are moved and turned, which rounds
/// them at 1e-16; logarithms and angles of nearly equal figures magnify that.
const TOLERANCE: f64 = 1e-7;

/// All columns, by name.
struct Evidence(Vec<(&'static str, Vec<f64>)>);

impl Evidence {
    fn of(mesh: &PolygonMesh) -> Self {
        let surface = surface_of(mesh);
        let columns = cage_columns(&MeasureContext::new(&surface));
        let named = columns.into_iter().map(|c| (c.quantity.name, c.values));
        Self(named.collect())
    }

    fn column(&self, name: &str) -> &[f64] {
        let found = self.0.iter().find(|(other, _)| *other == name);
        &found.unwrap_or_else(|| panic!("no column {name}")).1
    }

    fn largest(&self, name: &str) -> f64 {
        self.column(name).iter().copied().fold(f64::NAN, f64::max)
    }
}

fn cages() -> Vec<(String, PolygonMesh)> {
    let random = (0..10).map(|seed| (format!("random cage {seed}"), random_cage(seed)));
    let slab = pushed(&held_slab(), 17, Vec3::new(0.03, 0.02, 0.05));
    let open = height_grid(7, 5, |x, y| 0.1 * x * x + (1.3 * y).sin());
    // Its loops turn by right angles up and down.
    let stair = moved(&height_grid(9, 5, |_, _| 0.0), |p| {
        let step = |x: f64| (0.5 * x).floor();
        Vec3::new(step(p.x + 1.0), p.y, step(p.x))
    });
    let more = [
        ("pushed slab", slab),
        ("open sheet", open),
        ("stair", stair),
    ];
    random
        .chain(more.map(|(name, mesh)| (name.to_owned(), mesh)))
        .collect()
}

fn assert_alike(what: &str, before: &Evidence, after: &Evidence, image: impl Fn(usize) -> usize) {
    for ((name, old), (_, new)) in before.0.iter().zip(&after.0) {
        for (v, &x) in old.iter().enumerate() {
            let y = new[image(v)];
            let near = (x - y).abs() <= TOLERANCE * x.abs().max(y.abs()).max(1.0);
            let same = near || (x.is_nan() && y.is_nan());
            assert!(same, "{what}: {name} of vertex {v}: {x} became {y}");
        }
    }
}

#[test]
fn evidence_is_unchanged_by_turning_scaling_moving_and_mirroring() {
    let axis = Unit::new_normalize(Vec3::new(0.3, -0.8, 0.5));
    let turn = Rotation3::from_axis_angle(&axis, 1.1);
    for (name, mesh) in cages() {
        let before = Evidence::of(&mesh);
        let turned = moved(&mesh, |p| turn * p * 3.7 + Vec3::new(0.4, -7.0, 2.0));
        assert_alike(&name, &before, &Evidence::of(&turned), |v| v);
        let mirrored = moved(&mesh, |p| turn * Vec3::new(-p.x, p.y, p.z));
        assert_alike(&name, &before, &Evidence::of(&mirrored), |v| v);
    }
}

#[test]
fn evidence_is_unchanged_by_renumbering_and_by_turning_inside_out() {
    for (seed, (name, mesh)) in cages().into_iter().enumerate() {
        let (after, order) = renumbered(&mesh, &mut Random(seed as u64 + 11));
        let before = Evidence::of(&mesh);
        for after in [inside_out(&after), after] {
            assert_alike(&name, &before, &Evidence::of(&after), |v| order[v]);
        }
    }
}

#[test]
fn evidence_does_not_depend_on_the_number_of_threads() {
    for (name, mesh) in cages() {
        let with_threads = |threads: usize| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
            pool.unwrap().install(|| Evidence::of(&mesh))
        };
        let [one, four] = [1, 4].map(with_threads);
        for ((column, a), (_, b)) in one.0.iter().zip(&four.0) {
            let bits = |values: &[f64]| values.iter().map(|x| x.to_bits()).collect::<Vec<_>>();
            assert_eq!(bits(a), bits(b), "{name}: {column}");
        }
    }
}

#[test]
fn quads_warped_alike_are_in_step_and_a_lifted_vertex_is_not() {
    // Every quad of z = x y / 4 is warped alike along its strips, by up to 20 degrees.
    let saddle = height_grid(8, 8, |x, y| 0.25 * (x - 4.0) * (y - 4.0));
    let even = Evidence::of(&saddle);
    assert!(even.largest("quad_warp") > 10.0);
    let lifted = nearest(&saddle, Vec3::new(4.0, 4.0, 0.0));
    let after = Evidence::of(&pushed(&saddle, lifted, Vec3::new(0.0, 0.0, 0.4)));
    for name in ["quad_warp_out_of_step", "quad_warp_times_strip"] {
        let before = even.column(name)[lifted];
        assert!(after.column(name)[lifted] > before + 0.5, "{name}");
        assert!(
            after.column(name)[lifted] >= after.largest(name) - 1e-9,
            "{name}"
        );
    }
    assert!(even.largest("quad_warp_out_of_step") < 2.0);
}

#[test]
fn graded_strips_are_even_and_a_slid_loop_is_not() {
    let heights: Vec<f64> = (0..9).map(|k| 1.3f64.powi(k)).collect();
    let graded = Evidence::of(&tube(12, &heights));
    // Differences of logarithms of lengths: rounding.
    assert!(graded.largest("grading_break") < 1e-9);
    assert!((graded.largest("length_out_of_step") - 1.3f64.ln()).abs() < 1e-9);
    let mut slid = heights.clone();
    slid[4] += 0.4 * (heights[5] - heights[4]);
    let slid = Evidence::of(&tube(12, &slid));
    let ring = 4 * 12 + 5;
    assert!(slid.column("grading_break")[ring] > 0.5);
    // The other loops through the same vertices run on unchanged.
    assert!(slid.column("grading_break_least")[ring] < 1e-9);
    assert!(slid.largest("opposite_edges") < 1e-9);
}

/// A sheet that is bent along x only, through the given points.
fn bent_sheet(profile: &[[f64; 2]]) -> PolygonMesh {
    let flat = height_grid(profile.len() - 1, 4, |_, _| 0.0);
    moved(&flat, |p| {
        let [x, z] = profile[p.x.round() as usize];
        Vec3::new(x, p.y, z)
    })
}

/// On a circle strips of d and d' degrees lean the limit normal between them by |d - d'| / 2: the tangent of
/// the limit curve there is the chord of the next two points (Catmull and Clark 1978, by the cubic B-spline
/// that their rules give on a regular grid).
#[test]
fn the_lean_of_uneven_strips_is_by_how_much_the_limit_normal_strays_from_the_round() {
    for slid in [-6.0, -1.0, 2.0, 5.0] {
        let angle = |i: usize| 12.0 * i as f64 + if i == 4 { slid } else { 0.0 };
        let on_circle = |i: usize| {
            let (sin, cos) = angle(i).to_radians().sin_cos();
            [3.0 * sin, 3.0 * cos]
        };
        let profile: Vec<[f64; 2]> = (0..9).map(on_circle).collect();
        let sheet = bent_sheet(&profile);
        let v = nearest(&sheet, Vec3::new(profile[4][0], 2.0, profile[4][1]));
        let surface = surface_of(&sheet);
        let context = MeasureContext::new(&surface);
        let normal = context.limit.vertices[v].normal;
        let radial = Vec3::new(profile[4][0], 0.0, profile[4][1]).normalize();
        let stray = normal.dot(&radial).abs().acos().to_degrees();
        let lean = Evidence::of(&sheet).column("spacing_lean")[v];
        // A parabola is not quite the circle.
        assert!((lean - stray).abs() < 0.03 * stray, "{lean}, not {stray}");
        assert!((stray - f64::abs(slid)).abs() < 1e-6, "{stray}");
    }
}

#[test]
fn an_edge_held_by_loops_at_unlike_distances_does_not_lean() {
    // A right angle with a loop close on one side of it and farther off on the other.
    let profile = [
        [0.0, 0.0],
        [1.0, 0.0],
        [1.8, 0.0],
        [2.0, 0.0],
        [2.0, -0.6],
        [2.0, -1.6],
        [2.0, -2.6],
    ];
    assert_eq!(
        Evidence::of(&bent_sheet(&profile)).largest("spacing_lean"),
        0.0
    );
}

#[test]
fn a_vertex_pushed_past_the_next_one_is_no_more_in_step_the_farther_it_goes() {
    let sheet = height_grid(9, 9, |_, _| 0.0);
    let [v, next] = [
        nearest(&sheet, Vec3::new(4.0, 4.0, 0.0)),
        nearest(&sheet, Vec3::new(5.0, 4.0, 0.0)),
    ];
    let way = sheet.positions()[next] - sheet.positions()[v];
    assert!((way.norm() - 1.0).abs() < 1e-12);
    let at = |part: f64| {
        let evidence = Evidence::of(&pushed(&sheet, v, way * part));
        evidence.column("length_out_of_step")[v]
    };
    let values: Vec<f64> = (1..=20).map(|i| at(f64::from(i) / 10.0)).collect();
    let falls = values.windows(2).any(|pair| pair[1] < pair[0] - TOLERANCE);
    assert!(!falls && values[0] > 0.05, "{values:?}");
    // Were the edge taken by its length, it would be as good as before when the vertex is as far on
    // the other side of the next one.
    assert!(at(2.0) > 3.0, "{}", at(2.0));
}

#[test]
fn a_vertex_slid_along_its_loop_jumps_in_the_widths_beside_it() {
    let grid = height_grid(8, 8, |_, _| 0.0);
    let even = Evidence::of(&grid);
    let names = [
        "rung_jump",
        "opposite_edges_out_of_step",
        "corner_out_of_step",
    ];
    let v = nearest(&grid, Vec3::new(4.0, 4.0, 0.0));
    let slid = Evidence::of(&pushed(&grid, v, Vec3::new(0.3, 0.1, 0.0)));
    for name in names {
        // A flat even grid: angles and lengths are equal but for rounding.
        assert!(even.largest(name) < 1e-6, "{name}");
    }
    for name in &names[1..] {
        assert!(
            slid.column(name)[v] > 0.03,
            "{name}: {}",
            slid.column(name)[v]
        );
    }
}

#[test]
fn a_support_loop_that_leaves_its_edge_jumps_and_one_that_goes_round_does_not() {
    let slab = held_slab();
    let even = Evidence::of(&slab);
    // The middle of the long edge at the top, and the vertex of its support loop on the top.
    let edge = nearest(&slab, Vec3::new(1.5, 0.0, 0.6));
    let support = nearest(&slab, Vec3::new(1.5 * 0.92, 0.0, 0.6));
    assert!(even.column("support_jump")[edge] < 1e-9);
    let away = Evidence::of(&pushed(&slab, support, Vec3::new(-0.3, 0.0, 0.0)));
    // The width beside the edge changes at the next vertex of the edge, not at the middle of the bay.
    for name in [
        "support_jump_ring",
        "support_out_of_step",
        "support_asymmetry",
    ] {
        let more = away.column(name)[edge] - even.column(name)[edge];
        assert!(more > 0.2, "{name}: {more}");
    }
    // The same on flat ground: nothing bends, so nothing is to be held.
    let grid = height_grid(8, 8, |_, _| 0.0);
    let v = nearest(&grid, Vec3::new(4.0, 4.0, 0.0));
    let flat = Evidence::of(&pushed(&grid, v, Vec3::new(0.4, 0.0, 0.0)));
    assert_eq!(flat.largest("support_jump"), 0.0);
}

/// A flat or bent sheet, one quad of it cut into a triangle fan.
fn sheet_with_fan(z: impl Fn(f64, f64) -> f64) -> (PolygonMesh, usize) {
    let grid = height_grid(8, 8, &z);
    let mut faces: Vec<Vec<u32>> = grid.faces().map(<[u32]>::to_vec).collect();
    let middle = nearest(&grid, Vec3::new(4.0, 4.0, z(4.0, 4.0)));
    let at = faces.iter().position(|f| f.contains(&(middle as u32)));
    let quad = faces.swap_remove(at.unwrap());
    let mut positions = grid.positions().to_vec();
    let centre = quad.iter().map(|&v| positions[v as usize]).sum::<Vec3>() / 4.0;
    positions.push(centre);
    let apex = positions.len() as u32 - 1;
    faces.extend((0..4).map(|k| vec![quad[k], quad[(k + 1) % 4], apex]));
    (PolygonMesh::from_faces(positions, &faces).unwrap(), middle)
}

/// Common practice: triangles on flat ground do no harm.
#[test]
fn triangles_harm_on_bent_ground_and_not_on_flat() {
    let (flat, v) = sheet_with_fan(|_, _| 0.0);
    let (bent, w) = sheet_with_fan(|x, y| 0.15 * (x - 4.0).powi(2) - 0.1 * (y - 3.0).powi(2));
    let [flat, bent] = [&flat, &bent].map(Evidence::of);
    for name in ["facet_lump", "facet_bend_times_ring", "pole_on_bend"] {
        // A flat sheet's normals are equal but for rounding.
        assert!(flat.column(name)[v] < 1e-6, "{name}");
        assert!(
            bent.column(name)[w] > 0.01,
            "{name}: {}",
            bent.column(name)[w]
        );
    }
    assert_eq!(flat.column("valence_excess")[v], 1.0);
    assert_eq!(flat.column("rings_to_small_pole")[v], 0.0);
    assert_eq!(flat.largest("rings_to_small_pole"), 4.0);
}

/// The lean of the limit normals is measured on the refined limit, the ripple of the evidence on three
/// samples an edge; where waves are higher than the arcs between their ends they are the same to a factor
/// of two, since a wave is no sine and a rim is rounded off.
#[test]
fn ripples_round_a_bare_rim_are_told_and_a_held_rim_has_none() {
    const ALIKE: std::ops::Range<f64> = 0.5..2.0;
    let told = |sides, cap| {
        let (bare, [rim, _]) = closed_tube(sides, cap, false);
        let held = Evidence::of(&closed_tube(sides, cap, true).0);
        assert!(held.largest("facet_ripple") < 0.1, "{cap:?}, {sides}");
        Evidence::of(&bare).column("facet_ripple")[rim[0] as usize]
    };
    for cap in [Cap::Fan, Cap::Face] {
        let by_sides = [12, 16, 24, 40].map(|sides| told(sides, cap));
        let grows = by_sides.windows(2).all(|pair| pair[0] < pair[1]);
        assert!(by_sides[0] > 0.1 && grows, "{cap:?}: {by_sides:?}");
        let ratio = by_sides[3] / ripples(&closed_tube(40, cap, false).0);
        assert!(ALIKE.contains(&ratio), "{cap:?}: {ratio}");
    }
    // A box closed by fans: with four sides there is no wave, its corners round off.
    assert!(told(4, Cap::Fan) < 1.0);
}

/// The other way to hold a rim; its vertices have no limit normal. And a rim two of whose vertices
/// coincide has an edge without a length.
#[test]
fn creased_rims_and_edges_without_length_do_not_ripple() {
    let (mesh, [rim, _]) = closed_tube(24, Cap::Face, false);
    let topology = Topology::new(&mesh);
    let after = |i: usize| rim[(i + 1) % rim.len()] as usize;
    let edge = |i: usize| topology.edge_between(rim[i] as usize, after(i)).unwrap() as u32;
    let creases = Creases {
        edges: (0..rim.len()).map(|i| (edge(i), f64::INFINITY)).collect(),
        vertices: Vec::new(),
    };
    let surface = creased_surface_of(&mesh, &creases, BoundaryRule::default());
    let columns = cage_columns(&MeasureContext::new(&surface));
    let found = columns.iter().find(|c| c.quantity.name == "facet_ripple");
    assert_eq!(found.unwrap().values[rim[0] as usize], 0.0);
    let mut positions = mesh.positions().to_vec();
    positions[rim[1] as usize] = positions[rim[0] as usize];
    let faces: Vec<Vec<u32>> = mesh.faces().map(<[u32]>::to_vec).collect();
    let pinched = PolygonMesh::from_faces(positions, &faces).unwrap();
    let ripples = Evidence::of(&pinched);
    let ripples = ripples.column("facet_ripple");
    assert!(ripples.iter().all(|r| r.is_finite()), "{ripples:?}");
}

#[test]
fn a_seam_left_open_has_no_gap_and_an_even_border_runs_on() {
    let left = height_grid(4, 4, |_, _| 0.0);
    let count = left.vertex_count() as u32;
    let right = moved(&left, |p| p + Vec3::new(4.0, 0.0, 0.0));
    let positions = [left.positions(), right.positions()].concat();
    let shifted = right.faces().map(|f| f.iter().map(|v| v + count).collect());
    let faces: Vec<Vec<u32>> = left.faces().map(<[u32]>::to_vec).chain(shifted).collect();
    let mesh = PolygonMesh::from_faces(positions, &faces).unwrap();
    let evidence = Evidence::of(&mesh);
    let seam = nearest(&mesh, Vec3::new(4.0, 2.0, 0.0));
    assert_eq!(evidence.column("gap")[seam], 0.0);
    let rim = nearest(&mesh, Vec3::new(0.0, 2.0, 0.0));
    let inside = nearest(&mesh, Vec3::new(2.0, 2.0, 0.0));
    for v in [rim, inside] {
        assert_eq!(evidence.column("gap")[v], 0.5);
    }
    // Straight and evenly spaced, and pushed by a tenth of the mean of its three unit edges.
    assert!(evidence.column("off_border_run")[rim] < 1e-12);
    let off = Evidence::of(&pushed(&mesh, rim, Vec3::new(0.0, 0.0, 0.1)));
    assert!(off.column("off_border_run")[rim] > 0.09);
}
