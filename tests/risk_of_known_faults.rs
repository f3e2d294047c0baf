//! Risks of forms that are clean and of faults that were put at a known place.
//!
//! The truth about a fault is taken from the form: the angle between the limit normals of the faulty
//! cage and those of the clean one. Facts of the trade are marked as such.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod support;

use cagewise::assess::{AssessOptions, Assessment, assess};
use cagewise::measure::form_deviation::DEVIATION;
use cagewise::mesh::{Cage, PolygonMesh, Topology, Vec3};
use cagewise::risk::{Band, Cause};
use cagewise::subdivision::{Samples, refine};
use support::cages::{boxed, cube_sphere, even, height_grid, moved, torus, tube};
use support::caps::{Cap, closed_tube, ripples};
use support::surface_of;

/// Risks are told to two places: a fall of less is not seen.
const ROUNDING: f64 = 0.01;

fn assessed(mesh: &PolygonMesh) -> Assessment {
    let cage = Cage::from_mesh(mesh.clone());
    assess(&cage, Topology::new(mesh), &AssessOptions::default())
}

/// Stations from -1 to 1 with a support loop close to either end.
fn held(n: usize) -> Vec<f64> {
    let mut stations = even(n);
    stations.insert(1, -0.92);
    stations.insert(n + 1, 0.92);
    stations
}

/// Forms on which a practitioner sees no fault (common practice, no published source).
fn clean_forms() -> Vec<(&'static str, PolygonMesh)> {
    vec![
        ("sphere", cube_sphere(6)),
        (
            "ellipsoid",
            moved(&cube_sphere(6), |p| {
                p.component_mul(&Vec3::new(2.0, 1.0, 0.7))
            }),
        ),
        ("torus", torus(24, 12, 2.0, 0.7)),
        (
            "saddle",
            height_grid(10, 10, |x, y| 0.05 * (x - 5.0) * (y - 5.0)),
        ),
        ("tube", tube(16, &even(8))),
        ("tube held at its ends", tube(16, &held(6))),
        (
            "box held by support loops",
            boxed(&held(4), &held(4), &held(4)),
        ),
        (
            "flat slab held by support loops",
            moved(&boxed(&held(4), &held(4), &held(3)), |p| {
                p.component_mul(&Vec3::new(1.5, 1.5, 0.4))
            }),
        ),
    ]
}

/// Everybody sees normals that lean by more than 6 degrees (common practice, no published source).
#[test]
fn ripples_round_the_bare_rims_of_closed_tubes_are_told() {
    const SEEN: f64 = 6.0;
    for (cap, sides) in [(Cap::Face, 24), (Cap::Face, 40), (Cap::Fan, 40)] {
        let (mesh, rims) = closed_tube(sides, cap, false);
        let ripples = ripples(&mesh);
        assert!(ripples > SEEN, "{cap:?}, {sides}: {ripples}");
        let found = assessed(&mesh);
        for &v in rims.iter().flat_map(|rim| &rim[..sides]) {
            let risk = found.findings.risks.total[v as usize];
            assert!(Band::of(risk) >= Band::Fault, "{cap:?}, {sides}: {risk}");
        }
    }
}

#[test]
fn tubes_closed_behind_held_rims_do_not_ripple_and_are_clean() {
    const UNSEEN: f64 = 2.0;
    for (cap, sides) in [
        (Cap::Face, 24),
        (Cap::Face, 40),
        (Cap::Fan, 24),
        (Cap::Fan, 40),
    ] {
        let (mesh, _) = closed_tube(sides, cap, true);
        let ripples = ripples(&mesh);
        assert!(ripples < UNSEEN, "{cap:?}, {sides}: {ripples}");
        let risk = assessed(&mesh).highest_risk();
        assert_eq!(Band::of(risk), Band::Clean, "{cap:?}, {sides}: {risk}");
    }
}

#[test]
fn clean_forms_show_no_risk() {
    for (name, mesh) in clean_forms() {
        let risks = assessed(&mesh).findings.risks.total;
        let worst = risks.iter().copied().fold(0.0, f64::max);
        assert!(worst < 0.25, "{name}: {worst}");
    }
}

/// Under an affine map a clean cage stays clean. The corners of a held box are no longer alike
/// then, and this version takes them for faults: that is a known limit, so boxes are left out here;
/// and so is the ellipsoid, which is such an image already.
#[test]
fn clean_smooth_forms_show_no_risk_under_affine_maps_either() {
    let shear = nalgebra::Matrix3::new(1.2, 0.5, 0.1, 0.0, 0.8, 0.3, 0.2, 0.0, 1.1);
    let smooth =
        |(name, _): &(&str, PolygonMesh)| !name.contains("support loops") && *name != "ellipsoid";
    for (name, mesh) in clean_forms().into_iter().filter(smooth) {
        let risks = assessed(&moved(&mesh, |p| shear * p)).findings.risks.total;
        let flagged = risks.iter().filter(|&&r| r >= 0.5).count();
        assert_eq!(flagged, 0, "{name}");
    }
}

/// Triangles, n-gons and poles on flat ground do no harm (common practice, no published source).
#[test]
fn oddities_on_flat_ground_are_no_risk() {
    let grid = height_grid(8, 8, |_, _| 0.0);
    let mut faces: Vec<Vec<u32>> = grid.faces().map(<[u32]>::to_vec).collect();
    let face = faces.swap_remove(27);
    faces.push(vec![face[0], face[1], face[2]]);
    faces.push(vec![face[0], face[2], face[3]]);
    // Two quads side by side become a hexagon.
    let at = |f: usize| grid.face(f).to_vec();
    let (left, right) = (at(44), at(45));
    faces.retain(|f| *f != left && *f != right);
    faces.push(vec![left[0], left[1], right[1], right[2], left[2], left[3]]);
    let mesh = PolygonMesh::from_faces(grid.positions().to_vec(), &faces).unwrap();
    let risks = assessed(&mesh).findings.risks.total;
    assert!(
        risks.iter().all(|&r| Band::of(r) == Band::Clean),
        "{risks:?}"
    );
}

/// The largest angle, in degrees, by which limit normals of both cages differ, at level 3.
fn truth(clean: &PolygonMesh, faulty: &PolygonMesh) -> f64 {
    let normals = |mesh: &PolygonMesh| {
        refine(&surface_of(mesh), 3, Samples::Limit)
            .normals
            .unwrap()
    };
    let angle = |a: &[f64; 3], b: &[f64; 3]| {
        let (a, b) = (Vec3::from(*a), Vec3::from(*b));
        a.cross(&b).norm().atan2(a.dot(&b)).to_degrees()
    };
    let pairs = normals(clean);
    let other = normals(faulty);
    pairs
        .iter()
        .zip(&other)
        .map(|(a, b)| angle(a, b))
        .fold(0.0, f64::max)
}

/// Vertex 40 of a torus pushed off (true) or slid along it, by a part of its edge length.
fn disturbed(clean: &PolygonMesh, push: bool, part: f64) -> PolygonMesh {
    const VERTEX: usize = 40;
    let surface = surface_of(clean);
    let topology = surface.control().topology();
    let at = |v: usize| clean.positions()[v];
    let edges: Vec<Vec3> = topology
        .neighbours(VERTEX)
        .map(|w| at(w) - at(VERTEX))
        .collect();
    let length = edges.iter().map(|e| e.norm()).sum::<f64>() / edges.len() as f64;
    let way = match push {
        true => surface.vertex_limit(VERTEX).1.unwrap() * length,
        false => edges[0],
    };
    let mut positions = clean.positions().to_vec();
    positions[VERTEX] += way * part;
    let (starts, corners) = (clean.face_starts(), clean.corner_vertices());
    PolygonMesh::new(positions, starts.to_vec(), corners.to_vec()).unwrap()
}

#[test]
fn a_larger_fault_never_scores_less_and_goes_from_unseen_to_plain() {
    let clean = torus(24, 12, 2.0, 0.7);
    for push in [true, false] {
        let parts: Vec<f64> = (0..=16).map(|i| f64::from(i) * 0.05).collect();
        let risks: Vec<f64> = parts
            .iter()
            .map(|&part| assessed(&disturbed(&clean, push, part)).highest_risk())
            .collect();
        for (pair, part) in risks.windows(2).zip(&parts) {
            let falls = pair[1] < pair[0] - ROUNDING;
            assert!(!falls, "push {push}, {part}: {risks:?}");
        }
        for (part, risk) in parts.iter().zip(&risks) {
            let true_angle = truth(&clean, &disturbed(&clean, push, *part));
            let what = format!("push {push}, {part}: true {true_angle} degrees, risk {risk}");
            assert!(true_angle > 2.0 || *risk < 0.25, "{what}");
            assert!(true_angle < 12.0 || *risk > 0.5, "{what}");
        }
    }
}

/// The range stated where the deviation's threshold is set.
#[test]
fn the_measured_deviation_is_a_sixth_to_two_thirds_of_the_true_one() {
    let clean = torus(24, 12, 2.0, 0.7);
    for push in [true, false] {
        for part in [0.1, 0.2, 0.3, 0.5] {
            let faulty = disturbed(&clean, push, part);
            let assessment = assessed(&faulty);
            let measures = &assessment.findings.measures;
            let deviation = measures
                .iter()
                .find(|m| m.about.name == DEVIATION.name)
                .unwrap();
            let measured = deviation.values.iter().copied().fold(0.0, f64::max);
            let ratio = measured / truth(&clean, &faulty);
            assert!(
                (0.166..0.667).contains(&ratio),
                "push {push}, {part}: {ratio}"
            );
        }
    }
}

#[test]
fn a_reversed_face_is_a_fold_and_an_unwelded_seam_a_border_fault() {
    let clean = torus(12, 8, 2.0, 0.7);
    let mut faces: Vec<Vec<u32>> = clean.faces().map(<[u32]>::to_vec).collect();
    faces[20].reverse();
    let reversed = PolygonMesh::from_faces(clean.positions().to_vec(), &faces).unwrap();
    let found = assessed(&reversed);
    assert_eq!(found.oddities.reversed_faces, 1);
    for &v in &faces[20] {
        assert_eq!(found.findings.risks.cause[v as usize], Some(Cause::Fold));
    }

    // A triangle is a facet to the model as well; that it is reversed is the reason all the same.
    let corners = [[0., 0.], [1., 0.], [1., 1.], [0., 1.], [2., 0.], [2., 1.]];
    let mut positions: Vec<Vec3> = corners.map(|[x, y]| Vec3::new(x, y, 0.0)).to_vec();
    positions.push(Vec3::z());
    let sheet = [vec![0, 1, 2, 3], vec![1, 4, 5, 2], vec![0, 1, 6]];
    let risks = assessed(&PolygonMesh::from_faces(positions, &sheet).unwrap())
        .findings
        .risks;
    for v in [0, 1, 6] {
        let [facet, fold] = [Cause::Facet, Cause::Fold].map(|c| risks.by_cause[c as usize][v]);
        assert_eq!(
            risks.cause[v],
            Some(Cause::Fold),
            "{v}: facet {facet}, fold {fold}"
        );
    }

    let mut faces: Vec<Vec<u32>> = clean.faces().map(<[u32]>::to_vec).collect();
    let mut positions = clean.positions().to_vec();
    // The face keeps copies of two of its vertices.
    for corner in [0, 1] {
        positions.push(positions[faces[30][corner] as usize]);
        faces[30][corner] = positions.len() as u32 - 1;
    }
    let copies = faces[30].clone();
    let found = assessed(&PolygonMesh::from_faces(positions, &faces).unwrap());
    assert_eq!(found.oddities.unwelded_vertices, 4);
    for &v in &copies[..2] {
        let risks = &found.findings.risks;
        assert_eq!(risks.cause[v as usize], Some(Cause::Border));
        assert!(Band::of(risks.total[v as usize]) >= Band::Fault);
    }
}

/// Vertices of the centre line lie exactly in the mirror plane (common practice, no published
/// source).
#[test]
fn a_centre_line_vertex_off_its_plane_is_a_border_fault() {
    let half = height_grid(4, 8, |_, y| -0.05 * (y - 4.0) * (y - 4.0));
    let on_line = 4 * 5;
    let clean = assessed(&half);
    assert_eq!(clean.findings.risks.cause[on_line], None);
    let mut positions = half.positions().to_vec();
    positions[on_line].x += 0.15;
    let (starts, corners) = (half.face_starts(), half.corner_vertices());
    let off = PolygonMesh::new(positions, starts.to_vec(), corners.to_vec()).unwrap();
    let found = assessed(&off).findings.risks;
    assert_eq!(found.cause[on_line], Some(Cause::Border));
    assert!(found.total[on_line] > 0.5);
}

#[test]
fn risks_stay_in_range_name_a_cause_from_watch_on_and_lead_with_their_largest_part() {
    for seed in 0..20 {
        let found = assessed(&support::cages::random_cage(seed)).findings.risks;
        for v in 0..found.total.len() {
            let risk = found.total[v];
            assert!((0.0..=1.0).contains(&risk));
            assert_eq!(found.cause[v].is_some(), Band::of(risk) >= Band::Watch);
            let largest = found.by_cause.iter().map(|c| c[v]).fold(0.0, f64::max);
            assert_eq!(largest, risk);
            if let Some(cause) = found.cause[v] {
                assert_eq!(found.by_cause[cause as usize][v], risk);
            }
        }
    }
}

/// A fault that was mirrored with its half comes twice; it is not excused.
#[test]
fn a_fault_at_two_opposite_places_is_still_reported() {
    let clean = torus(24, 12, 2.0, 0.7);
    let surface = surface_of(&clean);
    let mut positions = clean.positions().to_vec();
    for v in [4, 4 + 12 * 12] {
        positions[v] += surface.vertex_limit(v).1.unwrap() * 0.3;
    }
    let (starts, corners) = (clean.face_starts(), clean.corner_vertices());
    let faulty = PolygonMesh::new(positions, starts.to_vec(), corners.to_vec()).unwrap();
    let found = assessed(&faulty);
    assert!(Band::of(found.highest_risk()) >= Band::Watch);
    assert!(found.findings.places.len() >= 2);
}

/// On top of a bump the normal is right and all those about it are wrong: it is at risk too.
#[test]
fn the_vertex_that_was_pushed_is_itself_at_risk() {
    let clean = torus(24, 12, 2.0, 0.7);
    let found = assessed(&disturbed(&clean, true, 0.5)).findings.risks;
    assert!(found.total[40] > 0.5, "{}", found.total[40]);
}
