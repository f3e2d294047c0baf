//! Halves that are mirrored: they are assessed as the whole they make, and told of as the half they
//! are. Expected values are those of the full model, or worked by hand.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod support;

use std::collections::BTreeSet;
use std::path::Path;

use cagewise::assess::{AssessOptions, Assessment};
use cagewise::io::{read_cage, read_cage_from};
use cagewise::measure::about::About;
use cagewise::measure::centre_line::{CENTRE_LINE_CREASE, CENTRE_LINE_OFF};
use cagewise::mesh::{
    Axis, Cage, MirrorPlane, Mirrored, NONE, PolygonMesh, Topology, Vec3, planar_borders,
};
use cagewise::report::{PreviewColours, PreviewOptions, write_half_preview, write_whole_preview};
use cagewise::risk::Cause;
use cagewise::subdivision::{
    BoundaryRule, ControlMesh, Creases, Numbering, Samples, Surface, mirrored_creases,
};
use support::cages::{boxed, cube, cube_sphere, even, height_grid, moved, torus, tube};

/// Largest difference, relative to values above 1: vertices and faces have another order in the full
/// model, which rounds sums at 1e-16, and the robust fits magnify that by up to some thousands.
const TOLERANCE: f64 = 1e-7;

fn plane(axis: Axis, offset: f64) -> MirrorPlane {
    MirrorPlane { axis, offset }
}

const X: MirrorPlane = MirrorPlane {
    axis: Axis::X,
    offset: 0.0,
};

/// Symmetric about x = 0, and as irregular as that leaves it.
fn crooked(p: Vec3) -> Vec3 {
    let x = p.x.abs();
    let moved = Vec3::new(
        x * (1.0 + 0.15 * (3.0 * p.y + 2.0 * p.z).sin()),
        p.y + 0.12 * (4.0 * x + p.z).sin(),
        p.z + 0.1 * (5.0 * x - 2.0 * p.y).cos(),
    );
    Vec3::new(moved.x * p.x.signum(), moved.y, moved.z)
}

/// Pushes the vertices of a ball that lie on the axes off it, but for those on the z axis.
fn lumpy(p: Vec3) -> Vec3 {
    let on_axis = |along: f64| (p.norm() - along.abs()).abs() < 1e-9;
    if on_axis(p.x) {
        p * 1.15
    } else if on_axis(p.y) {
        p * (1.15 + 0.05 * p.y.signum())
    } else {
        p
    }
}

/// Whole cages, symmetric about x = 0 with vertices there: closed and open, regular, with poles,
/// with loops that hold edges, crooked, and with lumps.
fn wholes() -> Vec<(&'static str, PolygonMesh)> {
    let held = [-1.0, -0.93, 0.0, 0.93, 1.0];
    // Turned by a quarter so that rings lie in x = 0, up to rounding: put exactly there.
    let ring = moved(&torus(12, 8, 2.0, 0.7), |p| {
        Vec3::new(if p.y.abs() < 1e-9 { 0.0 } else { p.y }, p.x, p.z)
    });
    let sheet = moved(&height_grid(6, 5, |_, y| 0.1 * y * y), |p| {
        Vec3::new(p.x - 3.0, p.y, p.z)
    });
    vec![
        ("ball", cube_sphere(4)),
        ("held box", boxed(&held, &held, &held)),
        ("crooked ball", moved(&cube_sphere(4), crooked)),
        ("crooked ring", moved(&ring, crooked)),
        ("crooked sheet", moved(&sheet, crooked)),
        ("lumpy ball", moved(&cube_sphere(8), lumpy)),
    ]
}

/// The half of a mesh with x at `from` and more, and the whole's number of each of its vertices.
fn cut(whole: &PolygonMesh, axis: Axis, from: f64) -> (PolygonMesh, Vec<usize>) {
    let kept = |face: &&[u32]| {
        face.iter()
            .all(|&v| whole.positions()[v as usize][axis as usize] >= from)
    };
    let faces: Vec<&[u32]> = whole.faces().filter(kept).collect();
    let used: BTreeSet<u32> = faces.iter().flat_map(|face| face.iter().copied()).collect();
    let of_whole: Vec<u32> = used.into_iter().collect();
    let number = |v: &u32| of_whole.binary_search(v).unwrap() as u32;
    let faces: Vec<Vec<u32>> = faces
        .iter()
        .map(|face| face.iter().map(number).collect())
        .collect();
    let positions = of_whole.iter().map(|&v| whole.positions()[v as usize]);
    let half = PolygonMesh::from_faces(positions.collect(), &faces).unwrap();
    (half, of_whole.into_iter().map(|v| v as usize).collect())
}

fn bare(mesh: &PolygonMesh) -> Cage {
    Cage::from_mesh(mesh.clone())
}

fn assessed(half: &PolygonMesh, plane: MirrorPlane) -> Assessment {
    let assessment = bare(half).assess_mirrored(plane, &AssessOptions::default());
    assessment.unwrap_or_else(|error| panic!("{error}"))
}

/// By how much risks may differ: less than is told, two places.
const RISK_TOLERANCE: f64 = 0.005;

/// Whether a risk is so near to where places begin that rounding decides.
fn is_undecided(risk: f64) -> bool {
    (risk - 0.25).abs() <= RISK_TOLERANCE
}

fn near(a: f64, b: f64) -> bool {
    (a.is_nan() && b.is_nan()) || (a - b).abs() <= TOLERANCE * a.abs().max(b.abs()).max(1.0)
}

fn values<'a>(assessment: &'a Assessment, about: &About) -> &'a [f64] {
    let measures = &assessment.findings.measures;
    let found = measures.iter().find(|m| m.about.name == about.name);
    &found.unwrap().values
}

/// Checks that a half has the values that its vertices have in the full model.
fn assert_like_full_model(what: &str, half: &Assessment, full: &Assessment, of_whole: &[usize]) {
    assert_eq!(half.findings.risks.total.len(), of_whole.len(), "{what}");
    for (v, &w) in of_whole.iter().enumerate() {
        let pairs = [
            (half.limit_positions[v], full.limit_positions[w]),
            (half.limit_normals[v], full.limit_normals[w]),
        ];
        for (a, b) in pairs {
            assert_eq!(a.is_some(), b.is_some(), "{what}: vertex {v}");
            let apart = (a.unwrap_or_default() - b.unwrap_or_default()).norm();
            assert!(
                apart < TOLERANCE,
                "{what}: limit of vertex {v}: {a:?} {b:?}"
            );
        }
        let (a, b) = (half.findings.risks.total[v], full.findings.risks.total[w]);
        assert!(
            (a - b).abs() <= RISK_TOLERANCE,
            "{what}: risk of vertex {v}: {a} and {b}"
        );
    }
    for (a, b) in half.findings.measures.iter().zip(&full.findings.measures) {
        let name = a.about.name;
        assert_eq!(a.values.len(), of_whole.len(), "{what}: {name}");
        if [CENTRE_LINE_OFF.name, CENTRE_LINE_CREASE.name].contains(&name) {
            continue;
        }
        for (v, &w) in of_whole.iter().enumerate() {
            let (x, y) = (a.values[v], b.values[w]);
            assert!(near(x, y), "{what}: {name} of vertex {v}: {x} and {y}");
        }
    }
}

#[test]
fn a_half_has_the_limit_the_measures_and_the_risks_of_the_full_model() {
    for (name, whole) in wholes() {
        let full = bare(&whole).assess(&AssessOptions::default());
        let (half, of_whole) = cut(&whole, Axis::X, 0.0);
        let mirrored = assessed(&half, X);
        assert_like_full_model(name, &mirrored, &full, &of_whole);
        assert_eq!(mirrored.body.shells, 1);
        let [a, b] = [&mirrored, &full].map(|a| a.body.volumes.map(|v| v.1));
        assert!(
            near(a.unwrap_or(0.0), b.unwrap_or(0.0)),
            "{name}: {a:?} {b:?}"
        );
        let extents = mirrored.body.limit_extent - full.body.limit_extent;
        assert!(extents.norm() < TOLERANCE, "{name}");
    }
}

#[test]
fn planes_across_any_axis_at_any_offset_do() {
    let (_, ball) = wholes().swap_remove(2);
    for (axis, offset) in [(Axis::X, 0.25), (Axis::Y, -3.0), (Axis::Z, 100.0)] {
        let turned = moved(&ball, |p| {
            let mut q = p;
            q[0] = p[axis as usize];
            q[axis as usize] = p[0];
            q[axis as usize] += offset;
            q
        });
        let full = bare(&turned).assess(&AssessOptions::default());
        let (half, of_whole) = cut(&turned, axis, offset);
        let mirrored = assessed(&half, plane(axis, offset));
        assert_like_full_model(axis.name(), &mirrored, &full, &of_whole);
    }
}

#[test]
fn it_does_not_matter_how_the_half_is_wound_or_on_which_side_it_lies() {
    let (_, ball) = wholes().swap_remove(2);
    let (half, _) = cut(&ball, Axis::X, 0.0);
    let plain = assessed(&half, X);
    let inside_out: Vec<Vec<u32>> = half
        .faces()
        .map(|face| face.iter().rev().copied().collect())
        .collect();
    let inside_out = PolygonMesh::from_faces(half.positions().to_vec(), &inside_out).unwrap();
    let other_side = moved(&half, |p| Vec3::new(-p.x, p.y, p.z));
    for (what, mesh) in [("inside out", inside_out), ("other side", other_side)] {
        let assessment = assessed(&mesh, X);
        for (v, risk) in plain.findings.risks.total.iter().enumerate() {
            let other = assessment.findings.risks.total[v];
            assert!((risk - other).abs() <= RISK_TOLERANCE, "{what}");
        }
        assert_eq!(assessment.oddities.reversed_faces, 0, "{what}");
    }
    // One face against the others shows as one, not as two and not as a tear.
    let mut faces: Vec<Vec<u32>> = half.faces().map(<[u32]>::to_vec).collect();
    faces[0].reverse();
    let odd = PolygonMesh::from_faces(half.positions().to_vec(), &faces).unwrap();
    let assessment = assessed(&odd, X);
    assert_eq!(assessment.oddities.reversed_faces, 1);
    assert_eq!(assessment.body.borders, []);
}

#[test]
fn places_are_those_of_the_full_model_each_listed_once() {
    let mut with_places = 0;
    for (name, whole) in wholes() {
        let full = bare(&whole).assess(&AssessOptions::default());
        let (half, of_whole) = cut(&whole, Axis::X, 0.0);
        let in_half = |v: usize| {
            let p = whole.positions()[v];
            let folded = Vec3::new(p.x.abs(), p.y, p.z);
            let distance = |h: &usize| (half.positions()[*h] - folded).norm();
            (0..of_whole.len())
                .min_by(|a, b| distance(a).total_cmp(&distance(b)))
                .unwrap()
        };
        let places = &full.findings.places;
        let findings = assessed(&half, X).findings;
        let decided = |place: &BTreeSet<usize>| -> BTreeSet<usize> {
            let sure = place.iter().copied();
            sure.filter(|&v| !is_undecided(findings.risks.total[v]))
                .collect()
        };
        let expected: BTreeSet<BTreeSet<usize>> = places
            .iter()
            .map(|place| place.vertices.iter().map(|&v| in_half(v)).collect())
            .map(|place| decided(&place))
            .filter(|place| !place.is_empty())
            .collect();
        let mirrored = &findings.places;
        let found: BTreeSet<BTreeSet<usize>> = mirrored
            .iter()
            .map(|place| place.vertices.iter().copied().collect())
            .map(|place| decided(&place))
            .filter(|place| !place.is_empty())
            .collect();
        assert_eq!(found, expected, "{name}");
        assert!(mirrored.iter().all(|p| p.vertices.contains(&p.peak)));
        with_places += mirrored.len();
    }
    assert!(with_places > 2, "the cages show no places to compare");
}

/// The numbers of the edges with the given ends.
fn edges(topology: &Topology, ends: &[[usize; 2]], sharpness: f64) -> Vec<(u32, f64)> {
    let edge = |&[a, b]: &[usize; 2]| (topology.edge_between(a, b).unwrap() as u32, sharpness);
    ends.iter().map(edge).collect()
}

#[test]
fn creases_hold_on_both_sides_and_along_the_line() {
    let (_, whole) = wholes().swap_remove(2);
    let (half, of_whole) = cut(&whole, Axis::X, 0.0);
    let on_line = |v: usize| half.positions()[v].x == 0.0;
    let topology = Topology::new(&half);
    // A few edges: along the line, out from it, and away from it; and a corner.
    let kind = |count: usize| {
        let found = (0..topology.edge_count()).map(|e| topology.edge_vertices(e));
        let found = found.filter(move |e| e.iter().filter(|&&v| on_line(v)).count() == count);
        found.take(3).collect::<Vec<_>>()
    };
    let ends: Vec<[usize; 2]> = (0..3).flat_map(kind).collect();
    assert_eq!(ends.len(), 9);
    let corner = (0..half.vertex_count()).rfind(|&v| !on_line(v)).unwrap();
    let mirror_of = |v: usize| {
        let p = half.positions()[v];
        let image = Vec3::new(-p.x, p.y, p.z);
        (0..whole.vertex_count())
            .find(|&w| (whole.positions()[w] - image).norm() < 1e-12)
            .unwrap()
    };
    let full_topology = Topology::new(&whole);
    let own = ends.iter().map(|e| e.map(|v| of_whole[v]));
    let images = ends.iter().map(|e| e.map(mirror_of));
    let all: Vec<[usize; 2]> = own.chain(images).collect();
    for sharpness in [1.5, f64::INFINITY] {
        let corners = [of_whole[corner], mirror_of(corner)];
        let options = |edges, vertices| AssessOptions {
            creases: Creases { edges, vertices },
            boundary: BoundaryRule::EdgeAndCorner,
        };
        let full = bare(&whole).assess(&options(
            edges(&full_topology, &all, sharpness),
            corners.map(|v| (v as u32, sharpness)).to_vec(),
        ));
        let creases = options(
            edges(&topology, &ends, sharpness),
            vec![(corner as u32, sharpness)],
        );
        let mirrored = bare(&half).assess_mirrored(X, &creases).unwrap();
        assert_like_full_model("creases", &mirrored, &full, &of_whole);
    }
}

/// Half a roof, its ridge along y at x = 0, sloping down at 45 degrees.
fn half_roof() -> PolygonMesh {
    height_grid(4, 6, |x, _| -x)
}

/// The vertices of the roof's ridge.
fn ridge(roof: &PolygonMesh) -> Vec<usize> {
    (0..roof.vertex_count())
        .filter(|&v| roof.positions()[v].x == 0.0)
        .collect()
}

/// By hand: both slopes of a creased roof are flat, so that they meet at right angles; welded
/// without a crease the ridge is rounded.
#[test]
fn the_crease_across_the_line_is_the_angle_between_its_two_sides() {
    let roof = half_roof();
    let topology = Topology::new(&roof);
    let line: Vec<[usize; 2]> = ridge(&roof).windows(2).map(|w| [w[0], w[1]]).collect();
    let smooth = assessed(&roof, X);
    let options = AssessOptions {
        creases: Creases {
            edges: edges(&topology, &line, f64::INFINITY),
            vertices: Vec::new(),
        },
        boundary: BoundaryRule::EdgeAndCorner,
    };
    let creased = bare(&roof).assess_mirrored(X, &options).unwrap();
    let on_ridge: BTreeSet<usize> = ridge(&roof).into_iter().collect();
    for v in 0..roof.vertex_count() {
        let [a, b] = [&smooth, &creased].map(|a| values(a, &CENTRE_LINE_CREASE)[v]);
        if on_ridge.contains(&v) {
            assert!(a.abs() < 1e-6 && (b - 90.0).abs() < 1e-6, "{v}: {a} {b}");
        } else {
            assert!(a.is_nan() && b.is_nan(), "{v}: {a} {b}");
        }
        let off = values(&smooth, &CENTRE_LINE_OFF)[v];
        assert_eq!(off == 0.0, on_ridge.contains(&v), "{v}: {off}");
    }
    let report = creased.mirror.unwrap();
    assert!((report.largest_crease.unwrap().1 - 90.0).abs() < 1e-6);
    assert_eq!((report.welded, report.off_plane.len()), (7, 0));
}

#[test]
fn vertices_of_the_line_off_the_plane_are_reported_and_at_risk_on_either_side_of_it() {
    let roof = half_roof();
    let line = ridge(&roof);
    let mut risks = Vec::new();
    for off in [0.002, 0.01, 0.1, 0.3, -0.1] {
        let far = moved(&roof, |p| {
            let off = if p == roof.positions()[line[3]] {
                off
            } else {
                0.0
            };
            p + Vec3::new(off, 0.0, 0.0)
        });
        let assessment = assessed(&far, X);
        let report = assessment.mirror.as_ref().unwrap();
        assert_eq!(report.welded, 6);
        assert_eq!(report.off_plane.len(), 1);
        let (v, distance) = report.off_plane[0];
        assert_eq!(v, line[3]);
        assert!((distance - f64::abs(off)).abs() < 1e-12);
        assert_eq!(values(&assessment, &CENTRE_LINE_OFF)[v], distance);
        let risks_of = &assessment.findings.risks;
        assert_eq!(risks_of.cause[v], Some(Cause::Border), "{off}");
        risks.push(risks_of.total[v]);
        let mut places = assessment.findings.places.iter();
        let place = places.find(|p| p.vertices.contains(&v));
        assert!(place.unwrap().figure.contains("off the plane"));
    }
    assert!(risks.iter().all(|&r| r > 0.5), "{risks:?}");
    // That a larger gap never scores less is not met: see README.md on sweeps.
    assert!(risks.iter().all(|&r| r >= 0.5), "{risks:?}");
    // A notch that reaches further than half an edge is cut on purpose.
    let notch = moved(&roof, |p| {
        let off = if p == roof.positions()[line[3]] {
            0.6
        } else {
            0.0
        };
        p + Vec3::new(off, 0.0, 0.0)
    });
    assert_eq!(assessed(&notch, X).mirror.unwrap().off_plane, []);
}

#[test]
fn what_is_welded_does_not_depend_on_the_size_of_the_model() {
    let roof = half_roof();
    let line = ridge(&roof);
    // Mean edge length along the ridge: near 1.1 units.
    for (off, welded) in [(1e-5, true), (5e-4, true), (5e-3, false)] {
        for scale in [2f64.powi(-498), 1.0, 2f64.powi(498), 2f64.powi(1000)] {
            let scaled = moved(&roof, |p| {
                let off = if p == roof.positions()[line[2]] {
                    off
                } else {
                    0.0
                };
                (p + Vec3::new(off, 0.0, 0.0)) * scale
            });
            let topology = Topology::new(&scaled);
            let mirrored = Mirrored::new(&bare(&scaled), topology, X).unwrap();
            assert_eq!(mirrored.map.is_welded(line[2]), welded, "{off}, {scale}");
            if welded {
                assert_eq!(mirrored.whole.mesh.positions()[line[2]].x, 0.0);
            }
            assert_eq!(mirrored.map.off_plane().count(), usize::from(!welded));
        }
    }
}

/// A vertex inside the surface that lies in the plane: welded, four sheets would meet there.
#[test]
fn vertices_inside_the_surface_are_mirrored_even_if_they_touch_the_plane() {
    let grid = height_grid(6, 4, |_, _| 0.0);
    let touching = moved(&grid, |p| {
        if (p.x, p.y) == (3.0, 2.0) {
            Vec3::new(0.0, p.y, 1.0)
        } else {
            p
        }
    });
    let v = (0..grid.vertex_count()).find(|&v| touching.positions()[v].z == 1.0);
    let assessment = assessed(&touching, X);
    let mirrored = Mirrored::new(&bare(&touching), Topology::new(&touching), X).unwrap();
    assert!(!mirrored.map.is_welded(v.unwrap()));
    assert_eq!(assessment.oddities.non_manifold_vertices, 0);
    assert_eq!(assessment.oddities.unwelded_vertices, 1);
}

#[test]
fn a_vertex_that_no_face_uses_keeps_its_row_and_does_no_harm() {
    let roof = half_roof();
    let mut positions = roof.positions().to_vec();
    positions.insert(0, Vec3::new(-50.0, 0.0, 0.0));
    let faces: Vec<Vec<u32>> = roof
        .faces()
        .map(|face| face.iter().map(|v| v + 1).collect())
        .collect();
    let loose = PolygonMesh::from_faces(positions, &faces).unwrap();
    let [with, without] = [&loose, &roof].map(|mesh| assessed(mesh, X));
    assert_eq!(with.oddities.unreferenced_vertices, 1);
    assert_eq!(with.limit_positions[0], None);
    assert_eq!(with.mirror.unwrap().welded, 7);
    assert_eq!(
        with.findings.risks.total[1..],
        without.findings.risks.total[..]
    );
}

/// Why a mesh can't be mirrored.
fn refusal(mesh: &PolygonMesh, plane: MirrorPlane) -> String {
    let refused = bare(mesh).assess_mirrored(plane, &AssessOptions::default());
    let message = match refused {
        Ok(_) => panic!("accepted"),
        Err(error) => error.to_string(),
    };
    assert!(!message.contains('\n'), "{message}");
    message
}

#[test]
fn what_is_no_half_is_refused_with_the_element_and_the_mend() {
    let roof = half_roof();
    assert_eq!(
        refusal(&roof, plane(Axis::X, -0.25)),
        "no border vertex lies in the mirror plane x = -0.25, the nearest, vertex 1, is 0.25 units away; \
         open the half where it is to be joined, or mirror it where its border lies (--mirror x)"
    );
    assert_eq!(
        refusal(&cube(), X),
        "vertex 1 lies 1 units beyond the mirror plane x = 0, and so do 3 more, where its mirror image \
         will be; delete what lies on that side, or move it into the plane"
    );
    assert_eq!(
        refusal(&cube(), plane(Axis::Z, 1.0)),
        "face 2 lies in the mirror plane z = 1, where it would close the half off from its mirror \
         image; delete it"
    );
    let crossing = moved(&roof, |p| {
        if (p.x, p.y) == (2.0, 2.0) {
            Vec3::new(-0.5, p.y, p.z)
        } else {
            p
        }
    });
    let message = refusal(&crossing, X);
    assert!(
        message.starts_with("vertex 13 lies 0.5 units beyond"),
        "{message}"
    );
    let nothing = PolygonMesh::from_faces::<[u32; 3]>(Vec::new(), &[]).unwrap();
    assert_eq!(
        refusal(&nothing, X),
        "the cage has no faces to mirror; export it again with its polygons"
    );
    // From -1.5e308 to 0: the image reaches to -3e308, beyond double precision.
    let far = moved(&roof, |p| Vec3::new(p.x * 0.375e308 - 1.5e308, p.y, p.z));
    assert_eq!(
        refusal(&far, plane(Axis::X, -1.5e308)),
        "mirrored at x = -1.5e308 the cage is too large for the range of numbers; move it nearer to \
         the origin, or scale it down"
    );
}

/// Two quads of a half with all that a file can hold.
const FENDER: &str = "mtllib harbour.mtl\no fender\n\
    v 0 0 0 1 0 0\nv 1 0 0 0 1 0\nv 1 1 0 0 0 1\nv 0 1 0 1 1 0\nv 2 0 0.5 0 0 0\nv 2 1 0.5 0 0 0\n\
    vt 0 0\nvt 0.5 0\nvt 0.5 1\nvt 0 1\nvn 0.6 0 0.8\n\
    g flank\nusemtl rubber\ns 2\nf 1/1/1 2/2/1 3/3/1 4/4/1\ng end\nusemtl rope\ns off\nf 2 5 6 3\n";

#[test]
fn faces_corners_and_vertices_carry_over_all_that_the_file_says() {
    let half = read_cage_from(FENDER.as_bytes(), Path::new("fender.obj")).unwrap();
    let mirrored = Mirrored::new(&half, Topology::new(&half.mesh), X).unwrap();
    let whole = &mirrored.whole;
    assert_eq!(mirrored.map.images, [0, 6, 7, 3, 8, 9, 1, 2, 4, 5]);
    assert_eq!(whole.mesh.face(0), half.mesh.face(0));
    assert_eq!(whole.mesh.face(2), [0, 3, 7, 6]);
    assert_eq!(whole.mesh.face(3), [6, 7, 9, 8]);
    assert_eq!(whole.mesh.positions()[9], Vec3::new(-2.0, 1.0, 0.5));
    for tables in [&whole.groups, &whole.materials, &whole.objects] {
        assert_eq!(
            [tables.get(0), tables.get(1)],
            [tables.get(2), tables.get(3)]
        );
    }
    assert_eq!(whole.groups.get(3), Some(&b"end"[..]));
    assert_eq!(whole.smoothing.of_face, [2, 0, 2, 0]);
    assert_eq!(whole.colours.as_ref().unwrap()[6], [0.0, 1.0, 0.0]);
    assert_eq!(whole.vertex_lines[6], half.vertex_lines[1]);
    assert_eq!(whole.face_lines[2], half.face_lines[0]);
    let uvs = whole.uvs.as_ref().unwrap();
    assert_eq!(uvs.of_corner[8..], [0, 3, 2, 1, NONE, NONE, NONE, NONE]);
    let normals = whole.normals.as_ref().unwrap();
    let turned = normals.vectors[normals.of_corner[8] as usize];
    assert_eq!(turned, Vec3::new(-0.6, 0.0, 0.8));
    assert_eq!(normals.of_corner[12..], [NONE; 4]);
}

fn cowl() -> Cage {
    read_cage(&Path::new(env!("CARGO_MANIFEST_DIR")).join("demo/cowl.obj")).unwrap()
}

/// The words of an OBJ's lines of one kind.
fn lines<'a>(text: &'a str, kind: &str) -> Vec<Vec<&'a str>> {
    let words = text.lines().map(|line| line.split(' ').collect::<Vec<_>>());
    words.filter(|words| words[0] == kind).collect()
}

/// The faces of an OBJ, with positions, colours and UVs in place of numbers.
fn resolved_faces(text: &str) -> Vec<String> {
    let [v, vt] = ["v", "vt"].map(|kind| lines(text, kind));
    let corner = |word: &&str| {
        let numbers: Vec<usize> = word.split('/').map(|n| n.parse().unwrap()).collect();
        format!("{:?} {:?}", v[numbers[0] - 1], vt[numbers[1] - 1])
    };
    let faces = lines(text, "f");
    let face = |words: &Vec<&str>| words[1..].iter().map(corner).collect::<Vec<_>>().join(";");
    faces.iter().map(face).collect()
}

#[test]
fn the_half_s_preview_is_the_half_of_the_whole_s() {
    let half = cowl();
    let mirrored = Mirrored::new(&half, Topology::new(&half.mesh), X).unwrap();
    let topology = Topology::new(&mirrored.whole.mesh);
    let creases = mirrored_creases(&Creases::default(), &mirrored, &topology);
    let boundary = BoundaryRule::EdgeAndCorner;
    let control = ControlMesh::new(&mirrored.whole.mesh, topology, &creases, boundary);
    let surface = Surface::new(control);
    let risks: Vec<f64> = (0..half.mesh.vertex_count())
        .map(|v| v as f64 / 500.0)
        .collect();
    for (level, samples) in [
        (1, Samples::Refined),
        (2, Samples::Refined),
        (2, Samples::Limit),
    ] {
        let options = PreviewOptions {
            level,
            samples,
            colours: PreviewColours::Risk(&risks),
            material_libraries: &[],
        };
        let [mut a, mut b] = [Vec::new(), Vec::new()];
        write_half_preview(&mut a, &half, &mirrored, &surface, &options).unwrap();
        write_whole_preview(&mut b, &mirrored, &surface, &options).unwrap();
        let [a, b] = [a, b].map(|text| String::from_utf8(text).unwrap());
        let (own, whole) = (lines(&a, "v"), lines(&b, "v"));
        let [few, all] = [&mirrored.half_topology, surface.control().topology()];
        let [n, m] = [few, all].map(|topology| Numbering::new(topology, level));
        assert_eq!(own.len(), n.refined_vertex_count());
        for v in 0..half.mesh.vertex_count() {
            assert_eq!(own[v], whole[v]);
        }
        for e in 0..few.edge_count() {
            assert_eq!(own[n.edge_vertices(e)], whole[m.edge_vertices(e)], "{e}");
        }
        for f in 0..few.face_count() {
            assert_eq!(own[n.face_vertices(f)], whole[m.face_vertices(f)], "{f}");
        }
        let (own, whole) = (resolved_faces(&a), resolved_faces(&b));
        assert_eq!(2 * own.len(), whole.len());
        assert_eq!(own, whole[..own.len()]);
        // What stands between the faces is the half's.
        assert_eq!(
            lines(&a, "usemtl"),
            lines(&b, "usemtl")[..lines(&a, "usemtl").len()]
        );
    }
}

/// Figures that demo/README.md tells: the fault at vertex 283 stays, and the false alarms where the
/// cowl is cut go.
#[test]
fn the_cowl_mirrored_keeps_its_fault_on_the_line_and_loses_the_false_alarms_there() {
    let whole = cowl()
        .assess_mirrored(X, &AssessOptions::default())
        .unwrap();
    let report = whole.mirror.as_ref().unwrap();
    assert_eq!(report.welded, 104);
    assert_eq!(report.off_plane, [(282, 0.004)]);
    assert_eq!(report.largest_crease.unwrap().0, 282);
    let risks = &whole.findings.risks;
    assert_eq!(risks.cause[282], Some(Cause::Border));
    assert!(risks.total[282] >= 0.5);
    for v in [41, 418, 364, 356, 435] {
        assert!(risks.total[v - 1] < 0.25, "{v}: {}", risks.total[v - 1]);
    }
    let at_fault = whole.findings.places.iter().filter(|p| p.risk >= 0.5);
    let peaks: std::collections::BTreeSet<usize> = at_fault.map(|place| place.peak + 1).collect();
    assert_eq!(peaks, [31, 224, 287, 292, 402].into());
}

fn hints(mesh: &PolygonMesh) -> Vec<(usize, usize, Option<String>)> {
    let found = planar_borders(&bare(mesh), &Topology::new(mesh));
    let told = found.iter().map(|border| {
        let option = border.plane.map(|plane| plane.option());
        (border.edges, border.of_edges, option)
    });
    told.collect()
}

#[test]
fn open_borders_in_a_plane_are_told_with_the_plane() {
    let option = |text: &str| Some(text.to_owned());
    let pipe = tube(8, &[0.0, 1.0, 2.0]);
    assert_eq!(hints(&pipe), [(8, 8, option("z")), (8, 8, option("z@2"))]);
    let (half, _) = cut(&cube_sphere(4), Axis::X, 0.0);
    let moved_half = moved(&half, |p| p + Vec3::new(0.25, 0.0, 0.0));
    assert_eq!(hints(&moved_half), [(16, 16, option("x@0.25"))]);
    // Turned by 45 degrees about z its border lies across no axis.
    let turned = moved(&half, |p| {
        Vec3::new(p.x - p.y, p.x + p.y, p.z * 2f64.sqrt())
    });
    assert_eq!(hints(&turned), [(16, 16, None)]);
    let (quarter, _) = cut(&half, Axis::Y, 0.0);
    assert_eq!(
        hints(&quarter),
        [(8, 16, option("x")), (8, 16, option("y"))]
    );
    // The cowl's line runs on round its foot, and one vertex of it is off the plane.
    assert_eq!(hints(&cowl().mesh), [(102, 112, option("x"))]);
}

#[test]
fn borders_that_nothing_can_be_mirrored_at_are_no_hint() {
    assert_eq!(hints(&cube_sphere(4)), []);
    // A flat sheet lies on one side of each of its own edges, but also in a plane of its own.
    let flat = hints(&height_grid(4, 4, |_, _| 0.0));
    assert!(
        flat.iter().all(|hint| hint.2 != Some("z".to_owned())),
        "{flat:?}"
    );
    // A hole in the middle of a wavy sheet: the sheet lies on both sides of its plane.
    let sheet = height_grid(8, 8, |x, y| (x - 4.0) * (y - 4.0) * 0.1);
    let faces: Vec<Vec<u32>> = sheet
        .faces()
        .map(<[u32]>::to_vec)
        .filter(|face| !face.contains(&40))
        .collect();
    let holed = PolygonMesh::from_faces(sheet.positions().to_vec(), &faces).unwrap();
    assert!(
        hints(&holed).iter().all(|hint| hint.1 > 8),
        "{:?}",
        hints(&holed)
    );
    let half_width = even(4);
    assert_eq!(hints(&boxed(&half_width, &half_width, &half_width)), []);
}

#[cfg(feature = "cli")]
mod on_the_command_line {
    use std::fs;
    use std::path::Path;
    use std::process::{Command, Output};

    fn run(folder: &Path, arguments: &[&str]) -> Output {
        Command::new(env!("CARGO_BIN_EXE_cagewise"))
            .args(arguments)
            .current_dir(folder)
            .output()
            .unwrap()
    }

    fn refusal(folder: &Path, arguments: &[&str]) -> String {
        let output = run(folder, arguments);
        assert_eq!(output.status.code(), Some(2), "{output:?}");
        let message = String::from_utf8(output.stderr).unwrap();
        assert_eq!(message.lines().count(), 1, "{message}");
        message
    }

    fn screen(folder: &Path, arguments: &[&str]) -> String {
        let output = run(folder, arguments);
        assert_eq!(output.status.code(), Some(0), "{output:?}");
        String::from_utf8(output.stdout).unwrap()
    }

    /// A folder with half a hull: six stations from its keel, which lies at x = 0.25.
    fn slip() -> tempfile::TempDir {
        let mut text = String::new();
        for j in 0..6 {
            for i in 0..5 {
                let x = f64::from(i);
                text += &format!("v {} {j} {}\n", x + 0.25, x * x * 0.1);
            }
        }
        for j in 0..5 {
            for i in 0..4 {
                let a = j * 5 + i + 1;
                text += &format!("f {} {} {} {}\n", a, a + 1, a + 6, a + 5);
            }
        }
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("hull.obj"), text).unwrap();
        folder
    }

    fn count(path: &Path, kind: &str) -> usize {
        let text = fs::read_to_string(path).unwrap();
        text.lines().filter(|line| line.starts_with(kind)).count()
    }

    #[test]
    fn results_speak_of_the_half_and_say_that_it_was_mirrored() {
        let folder = slip();
        let at = folder.path();
        let arguments = ["assess", "hull.obj", "--out", "out", "--mirror", "x@0.25"];
        let text = screen(at, &arguments);
        assert!(text.contains("30 vertices, 49 edges, 20 faces"), "{text}");
        assert!(text.contains("the half's counts"), "{text}");
        assert!(text.contains("mirroring  in x = 0.25, 6 welded"), "{text}");
        assert!(text.contains("of the whole, no volume (open)"), "{text}");
        assert_eq!(count(&at.join("out/risk.csv"), ""), 31);
        // 20 quads twice subdivided, and 9 by 9 points for each quad but for those shared.
        assert_eq!(count(&at.join("out/preview.obj"), "f "), 320);
        assert_eq!(count(&at.join("out/preview.obj"), "v "), 17 * 21);
        let json = fs::read_to_string(at.join("out/summary.json")).unwrap();
        let json: serde_json::Value = serde_json::from_str(&json).unwrap();
        let mirror = &json["mirror"];
        assert_eq!(mirror["axis"], "x");
        assert_eq!(mirror["offset_units"], 0.25);
        assert_eq!(mirror["welded_vertices"], 6);
        assert_eq!(mirror["off_plane"], serde_json::json!([]));
        assert!(mirror["largest_crease"]["crease_deg"].as_f64().unwrap() < 1e-6);
        assert_eq!(mirror["preview_of"], "half");
        assert_eq!(json["input"]["vertices"], 30);
        assert_eq!(json["planar_borders"], serde_json::json!([]));
        assert_eq!(json["body"]["cage_extent_units"][0], 8.0);

        let whole = [&arguments[..], &["--mirror-preview"]].concat();
        screen(at, &whole);
        assert_eq!(count(&at.join("out/preview.obj"), "f "), 640);
        assert_eq!(count(&at.join("out/preview.obj"), "v "), 33 * 21);
        assert_eq!(count(&at.join("out/risk.csv"), ""), 31);
    }

    #[test]
    fn smooth_writes_the_half_or_the_whole() {
        let folder = slip();
        let at = folder.path();
        let mirror = ["--mirror", "x@0.25", "--level", "1"];
        let arguments = [&["smooth", "hull.obj", "--out", "s.obj"][..], &mirror].concat();
        screen(at, &arguments);
        assert_eq!(count(&at.join("s.obj"), "f "), 80);
        let half = fs::read_to_string(at.join("s.obj")).unwrap();
        // Inside the whole, the keel keeps its place in the plane and flattens.
        let keel: Vec<f64> = half.lines().nth(11).unwrap()[2..]
            .split(' ')
            .map(|x| x.parse().unwrap())
            .collect();
        assert_eq!(keel[0], 0.25);
        assert!(keel[2] > 0.01, "{keel:?}");
        screen(at, &[&arguments[..], &["--mirror-preview"]].concat());
        assert_eq!(count(&at.join("s.obj"), "f "), 160);
        let level_0 = ["--mirror", "x@0.25", "--level", "0"];
        screen(
            at,
            &[&["smooth", "hull.obj", "--out", "s.obj"][..], &level_0].concat(),
        );
        assert_eq!(count(&at.join("s.obj"), "f "), 20);
    }

    #[test]
    fn an_open_border_in_a_plane_is_hinted_at() {
        let folder = tempfile::tempdir().unwrap();
        let at = folder.path();
        let crate_half = "v 0.25 0 0\nv 1 0 0\nv 0.25 1 0\nv 1 1 0\nv 0.25 0 1\nv 1 0 1\n\
            v 0.25 1 1\nv 1 1 1\nf 1 3 4 2\nf 5 6 8 7\nf 1 2 6 5\nf 3 7 8 4\nf 2 4 8 6\n";
        fs::write(at.join("half.obj"), crate_half).unwrap();
        let text = screen(at, &["assess", "half.obj", "--out", "out"]);
        let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
        let hint = "mirroring 4 border edges in x = 0.25; if this is a half that is to be mirrored \
                    there: give --mirror x@0.25";
        assert!(words.contains(hint), "{text}");
        let json = fs::read_to_string(at.join("out/summary.json")).unwrap();
        let json: serde_json::Value = serde_json::from_str(&json).unwrap();
        assert_eq!(json["mirror"], serde_json::Value::Null);
        let border = serde_json::json!([{
            "edges": 4, "of_edges": 4, "vertex": 1, "normal": [1.0, 0.0, 0.0],
            "offset_units": 0.25, "option": "--mirror x@0.25",
        }]);
        assert_eq!(json["planar_borders"], border);
        // The option does what the hint says.
        let text = screen(
            at,
            &["assess", "half.obj", "--out", "out", "--mirror", "x@0.25"],
        );
        assert!(text.contains("borders    none: closed"), "{text}");
        assert!(!text.contains("if this is a half"), "{text}");
    }

    #[test]
    fn planes_that_can_t_be_meant_are_refused_in_one_line() {
        let folder = slip();
        let at = folder.path();
        let with = |plane: &str| refusal(at, &["assess", "hull.obj", "--mirror", plane]);
        let message = with("w");
        assert!(
            message.contains("'w'") && message.contains("the axis is x, y or z"),
            "{message}"
        );
        let message = with("x@1/4");
        assert!(message.contains("after @ stands a number"), "{message}");
        let message = with("x");
        let expected = "cagewise: hull.obj: no border vertex lies in the mirror plane x = 0, the \
                        nearest, vertex 1 (line 1), is 0.25 units away; ";
        assert!(message.starts_with(expected), "{message}");
        assert!(message.contains("(--mirror x@0.25)"), "{message}");
        let message = refusal(at, &["assess", "hull.obj", "--mirror-preview"]);
        assert!(message.contains("--mirror"), "{message}");
        assert!(!at.join("hull_assessment").exists());
    }

    #[test]
    fn a_plane_holds_for_all_cages_of_a_call() {
        let folder = slip();
        let at = folder.path();
        fs::copy(at.join("hull.obj"), at.join("other.obj")).unwrap();
        let arguments = ["assess", "hull.obj", "other.obj", "--mirror", "x@0.25"];
        screen(at, &arguments);
        for name in ["hull", "other"] {
            let path = at.join(format!("{name}_assessment/summary.json"));
            let json = fs::read_to_string(path).unwrap();
            assert!(json.contains("\"welded_vertices\": 6"), "{json}");
        }
    }

    #[test]
    fn smoothing_groups_and_crease_tables_hold_for_the_mirrored_part() {
        let folder = slip();
        let at = folder.path();
        fs::write(at.join("keel.csv"), "v0,v1,sharpness\n1,6,inf\n6,11,inf\n").unwrap();
        let arguments = ["assess", "hull.obj", "--out", "out", "--mirror", "x@0.25"];
        let text = screen(at, &[&arguments[..], &["--creases", "keel.csv"]].concat());
        assert!(text.contains("2 crease edges"), "{text}");
        // Without smoothing every edge is hard, those of the keel included.
        let flat = fs::read_to_string(at.join("hull.obj")).unwrap();
        fs::write(at.join("hull.obj"), flat.replacen("f ", "s off\nf ", 1)).unwrap();
        let text = screen(at, &[&arguments[..], &["--creases", "groups"]].concat());
        // 31 edges between two quads of the half, and the 5 of the keel.
        assert!(text.contains("36 crease edges"), "{text}");
    }
}
