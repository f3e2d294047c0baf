//! Facts of the trade that the risk has to agree with, on small cages. Each is common practice, no
//! published source, and is stated as it is told: as an order, or as what is left alone.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod support;

use std::path::Path;

use cagewise::assess::{AssessOptions, Assessment};
use cagewise::io::read_cage_from;
use cagewise::measure::fillets::FILLET_RADIUS;
use cagewise::mesh::{Axis, Cage, MirrorPlane, PolygonMesh, Vec3};
use cagewise::risk::Band;
use support::cages::{boxed, cube_sphere, even, height_grid, moved, torus, tube};
use support::loop_ends::{End, arched, sheet};

fn assessed(mesh: &PolygonMesh) -> Assessment {
    Cage::from_mesh(mesh.clone()).assess(&AssessOptions::default())
}

fn highest(mesh: &PolygonMesh) -> f64 {
    assessed(mesh).highest_risk()
}

fn is_clean(mesh: &PolygonMesh) -> bool {
    Band::of(highest(mesh)) == Band::Clean
}

/// The quad of a sheet of 10 by 10 that is cut, or becomes one with the next.
const CUT: usize = 44;

/// What stands in the middle of a grid of quads.
#[derive(Clone, Copy, Debug)]
enum Middle {
    Quads,
    /// One quad cut along a diagonal.
    Triangles,
    /// Two quads become one face of six sides.
    Hexagon,
}

fn with_middle(grid: &PolygonMesh, middle: Middle) -> PolygonMesh {
    let mut faces: Vec<Vec<u32>> = grid.faces().map(<[u32]>::to_vec).collect();
    match middle {
        Middle::Quads => {}
        Middle::Triangles => {
            let [a, b, c, d] = faces[CUT][..] else {
                panic!("a quad")
            };
            faces[CUT] = vec![a, b, c];
            faces.push(vec![a, c, d]);
        }
        Middle::Hexagon => {
            let (left, right) = (faces[CUT].clone(), faces[CUT + 1].clone());
            let [a, b, c, d] = left[..] else {
                panic!("a quad")
            };
            let [b2, e, g, c2] = right[..] else {
                panic!("a quad")
            };
            assert_eq!((b, c), (b2, c2), "side by side");
            faces[CUT] = vec![a, b, e, g, c, d];
            faces.remove(CUT + 1);
        }
    }
    PolygonMesh::from_faces(grid.positions().to_vec(), &faces).unwrap()
}

/// The highest risk of a cage about the two quads in the middle of the sheet that it was made of: the
/// sheet's borders bend as well.
fn about_the_middle(mesh: &PolygonMesh, grid: &PolygonMesh) -> f64 {
    let risks = assessed(mesh).findings.risks.total;
    let middle = [CUT, CUT + 1].into_iter().flat_map(|f| grid.face(f));
    middle.map(|&v| risks[v as usize]).fold(0.0, f64::max)
}

/// On arches of 60 strips round to 12. Common practice, no published source.
#[test]
fn quads_all_the_way_smooth_best_triangles_worse_and_faces_of_more_sides_worst() {
    let sheet = height_grid(10, 10, |_, _| 0.0);
    for strips in [60.0, 40.0, 30.0, 24.0, 18.0, 12.0] {
        let arch = moved(&sheet, arched(360.0 / strips));
        assert!(is_clean(&arch), "{strips}");
        let risks = [Middle::Quads, Middle::Triangles, Middle::Hexagon]
            .map(|middle| about_the_middle(&with_middle(&arch, middle), &arch));
        assert!(risks[0] < risks[1], "triangles: {strips}, {risks:?}");
        assert!(risks[1] < risks[2], "more sides: {strips}, {risks:?}");
    }
}

/// Common practice, no published source.
#[test]
fn a_triangle_on_flat_ground_is_tolerated() {
    let flat = height_grid(10, 10, |_, _| 0.0);
    assert!(is_clean(&with_middle(&flat, Middle::Triangles)));
}

/// A tube along z with rings of 16 quads at the given heights, its profile bulging like a barrel.
fn barrel(heights: &[f64]) -> PolygonMesh {
    moved(&tube(16, heights), |p| {
        let r = 1.0 - 0.3 * p.z * p.z;
        Vec3::new(p.x * r, p.y * r, p.z)
    })
}

/// Common practice, no published source.
#[test]
fn strips_of_even_width_beside_each_other_smooth_evenly() {
    let uneven = [-1.0, -0.75, -0.5, -0.25, 0.18, 0.25, 0.5, 0.75, 1.0];
    let (even, uneven) = (barrel(&even(8)), barrel(&uneven));
    assert!(is_clean(&even));
    let (even, uneven) = (highest(&even), highest(&uneven));
    assert!(even < uneven, "{even} {uneven}");
}

/// Stations from -1 to 1 with a loop close to either end.
fn held(n: usize) -> Vec<f64> {
    let mut stations = even(n);
    stations.insert(1, -0.92);
    stations.insert(n + 1, 0.92);
    stations
}

/// Common practice, no published source.
#[test]
fn a_loop_set_close_to_another_makes_a_tight_edge_that_is_often_wanted() {
    let loose = assessed(&boxed(&even(4), &even(4), &even(4)));
    let tight = assessed(&boxed(&held(4), &held(4), &held(4)));
    let radius = |assessment: &Assessment| {
        let measures = assessment.findings.measures.iter();
        let mut radii = measures.filter(|m| m.about.name == FILLET_RADIUS.name);
        let values = &radii.next().unwrap().values;
        values.iter().copied().fold(f64::INFINITY, f64::min)
    };
    assert!(radius(&tight) < 0.5 * radius(&loose));
    assert_eq!(Band::of(tight.highest_risk()), Band::Clean);
}

/// Common practice, no published source.
#[test]
fn a_loop_set_close_to_a_border_is_often_wanted() {
    assert!(is_clean(&barrel(&held(8))));
    assert!(is_clean(&tube(16, &held(8))));
}

const ALLOWED: [End; 3] = [End::Border, End::Vertex, End::Triangle];

/// Common practice, no published source.
#[test]
fn a_loop_may_end_on_a_border_at_a_vertex_where_another_goes_on_or_in_a_triangle_s_side() {
    // On ground that hardly bends, as where loops are ended: by a degree a strip.
    for end in ALLOWED {
        let flat = sheet(end, true);
        assert!(is_clean(&flat), "{end:?}, flat");
        assert!(is_clean(&moved(&flat, arched(1.0))), "{end:?}, bent");
    }
    // A form's own poles: a ball's loops end at eight vertices where others go on.
    assert!(is_clean(&cube_sphere(6)));
}

/// An end in the middle of an edge is one in the side of the face beyond it: that is let pass where
/// nothing bends. Common practice, no published source.
#[test]
fn a_loop_may_end_in_the_middle_of_an_edge_on_flat_ground() {
    assert!(is_clean(&sheet(End::Quad, true)));
}

/// On an arch that bends as a tube of twelve strips does, where an end is seen. A triangle that the loop makes a quad of was there
/// before: asked is what the loop adds. Common practice, no published source.
#[test]
fn a_loop_that_ends_anywhere_else_on_curved_ground_is_worse_than_one_that_ends_well() {
    const BEND: f64 = 30.0;
    let risk = |end, with_loop| highest(&moved(&sheet(end, with_loop), arched(BEND)));
    let adds = |end| risk(end, true) - risk(end, false);
    assert_eq!(Band::of(risk(End::Quad, false)), Band::Clean);
    assert!(Band::of(risk(End::Quad, true)) >= Band::Fault);
    let bad = adds(End::Quad);
    for end in ALLOWED {
        let good = adds(end);
        assert!(good < bad, "{end:?}: {good}, in a quad's side: {bad}");
    }
}

/// Common practice, no published source.
#[test]
fn vertices_of_the_centre_line_lie_exactly_in_the_mirror_plane() {
    let half = height_grid(5, 10, |x, y| -0.03 * (x * x + (y - 5.0) * (y - 5.0)));
    let plane = MirrorPlane {
        axis: Axis::X,
        offset: 0.0,
    };
    let mirrored = |mesh: &PolygonMesh| {
        let cage = Cage::from_mesh(mesh.clone());
        cage.assess_mirrored(plane, &AssessOptions::default())
            .unwrap()
    };
    let on_line = 5 * 6;
    let exact = mirrored(&half);
    assert_eq!(exact.mirror.as_ref().unwrap().off_plane, []);
    assert_eq!(Band::of(exact.highest_risk()), Band::Clean);
    let off = moved(&half, |p| match p == half.positions()[on_line] {
        true => p + Vec3::new(0.05, 0.0, 0.0),
        false => p,
    });
    let off = mirrored(&off);
    assert_eq!(off.mirror.as_ref().unwrap().off_plane.len(), 1);
    assert!(Band::of(off.findings.risks.total[on_line]) >= Band::Fault);
}

/// An open box whose sides have the given smoothing groups.
fn grouped(groups: [&str; 5]) -> Cage {
    let corners = "v 0 0 0\nv 2 0 0\nv 2 2 0\nv 0 2 0\nv 0 0 1\nv 2 0 1\nv 2 2 1\nv 0 2 1\n";
    let sides = ["4 3 2 1", "1 2 6 5", "2 3 7 6", "3 4 8 7", "4 1 5 8"];
    let faces: Vec<String> = sides
        .iter()
        .zip(groups)
        .map(|(side, group)| format!("s {group}\nf {side}\n"))
        .collect();
    let text = format!("{corners}{}", faces.concat());
    read_cage_from(text.as_bytes(), Path::new("box.obj")).unwrap()
}

/// Common practice, no published source.
#[test]
fn numbers_of_smoothing_groups_are_labels_only_sharing_one_matters() {
    let creases = |groups| {
        let cage = grouped(groups);
        let topology = cagewise::mesh::Topology::new(&cage.mesh);
        cagewise::subdivision::smoothing_group_creases(&topology, &cage.smoothing)
    };
    let risks = |groups| {
        let options = AssessOptions {
            creases: creases(groups),
            ..AssessOptions::default()
        };
        grouped(groups).assess(&options).findings.risks.total
    };
    let first = ["1", "2", "2", "3", "3"];
    let renamed = ["40", "7", "7", "1", "1"];
    assert_eq!(creases(first), creases(renamed));
    assert_eq!(risks(first), risks(renamed));
    assert_ne!(creases(first), creases(["1", "1", "1", "1", "1"]));
}

/// Common practice, no published source: a torus of quads has nothing to find fault with.
#[test]
fn a_form_of_quads_in_even_loops_is_clean() {
    assert!(is_clean(&torus(24, 12, 2.0, 0.7)));
}
