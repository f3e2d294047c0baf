//! Evidence of poles, and of triangles and n-gons by the harm they do.
//!
//! That poles belong on flat or evenly curved ground, and that triangles and faces of more than four
//! sides smooth unpredictably but on flat ground do no harm, is common practice, without published
//! source; the formulas are this program's.

use super::groundwork::{Groundwork, columns as collected, median, per_index, per_vertex};
use super::{Column, Quantity};
use crate::measure::MeasureContext;
use crate::measure::angles::angle_deg;
use crate::measure::context::largest;
use crate::mesh::Vec3;
use crate::risk::Cause;

/// Bend, in degrees, at which curved ground counts half.
const BEND_FLOOR: f64 = 5.0;

/// Angle added to both sides of a comparison, in degrees: nobody sees less.
const ANGLE_FLOOR: f64 = 1.0;

/// Valences further off than this are alike.
const EXCESS_MAX: f64 = 4.0;

/// Rings that poles are looked for in.
const RINGS: usize = 4;

static EXCESS: Quantity = Quantity::new(
    "valence_excess",
    "|valence - 4| inside, |valence - 3| on a border (0 at its corners, of one face); at most 4",
    Cause::Pole,
);

static ON_BEND: Quantity = Quantity::new(
    "pole_on_bend",
    "valence_excess times b / (b + 5 degrees), b the mean angle between the limit normal and those at the neighbours",
    Cause::Pole,
);

static NEAR_SMALL: Quantity = Quantity::new(
    "rings_to_small_pole",
    "edges to the nearest inner vertex of valence 3 or 5; at most 4",
    Cause::Pole,
);

static NEAR_LARGE: Quantity = Quantity::new(
    "rings_to_large_pole",
    "edges to the nearest inner vertex of valence 6 and more; at most 4",
    Cause::Pole,
);

static OFF_PLANE: Quantity = Quantity::new(
    "facet_off_plane",
    "over the faces at the vertex that are no quads, the largest angle by which a corner rises from the face's plane, seen from its centre, in degrees; 0 without such faces",
    Cause::Facet,
);

static LUMP: Quantity = Quantity::new(
    "facet_lump",
    "over the faces at the vertex that are no quads, the largest angle between the limit normal over the face's centre and the mean of those at its corners, in degrees; 0 without such faces",
    Cause::Facet,
);

static UNLIKE: Quantity = Quantity::new(
    "facet_bend_times_ring",
    "over the faces at the vertex that are no quads, the largest |ln((b + e) / (m + e))|, b the largest angle between the limit normals of a face's corners and their mean, m its median over the faces beside it, e = 1 degree; 0 without such faces",
    Cause::Facet,
);

/// The columns.
pub fn columns(ground: &Groundwork) -> Vec<Column> {
    let context = ground.context;
    let mut all = of_poles(context);
    all.extend(of_faces(context));
    all
}

/// The quantities of poles.
fn of_poles(context: &MeasureContext) -> Vec<Column> {
    let [excess, on_bend] = per_vertex(context, |v| {
        let excess = valence_excess(context, v);
        if excess == 0.0 {
            return [0.0; 2];
        }
        let bend = limit_bend(context, v);
        [excess, excess * (bend / (bend + BEND_FLOOR))]
    });
    let [small, large] = rings_to_poles(context);
    collected(
        [&EXCESS, &ON_BEND, &NEAR_SMALL, &NEAR_LARGE],
        [excess, on_bend, small, large],
    )
}

/// Mean angle between the limit normal of vertex `v` and its neighbours'.
fn limit_bend(context: &MeasureContext, v: usize) -> f64 {
    let normal = |v: usize| &context.limit.vertices[v].normal;
    let neighbours = context.spokes.of(v).iter().map(|s| s.vertex as usize);
    let angles = neighbours.map(|w| angle_deg(normal(v), normal(w)));
    let (sum, count) = angles
        .filter(|angle| !angle.is_nan())
        .fold((0.0, 0.0), |(sum, count), angle| (sum + angle, count + 1.0));
    sum / count
}

fn valence_excess(context: &MeasureContext, v: usize) -> f64 {
    let valence = context.spokes.of(v).len();
    let usual = match (context.spokes.is_interior(v), valence) {
        (true, _) => 4,
        (false, 2) => 2,
        (false, _) => 3,
    };
    (valence.abs_diff(usual) as f64).min(EXCESS_MAX)
}

/// Edges from each vertex to the nearest pole of 3 or 5, and of 6 and more.
fn rings_to_poles(context: &MeasureContext) -> [Vec<f64>; 2] {
    let count = context.topology().vertex_count();
    let mut rings: Vec<[u8; 2]> = per_index(count, |v| {
        let valence = context.spokes.of(v).len();
        let pole = context.spokes.is_interior(v) && valence != 4;
        let found = |found: bool| if found { 0 } else { RINGS as u8 };
        [found(pole && valence < 6), found(pole && valence >= 6)]
    });
    for _ in 1..RINGS {
        rings = per_index(count, |v| {
            let around = context
                .spokes
                .of(v)
                .iter()
                .map(|s| rings[s.vertex as usize]);
            around.fold(rings[v], |[a, b], [c, d]| [a.min(c + 1), b.min(d + 1)])
        });
    }
    per_vertex(context, |v| rings[v].map(f64::from))
}

/// The quantities of faces that are no quads.
fn of_faces(context: &MeasureContext) -> Vec<Column> {
    let harm = harm_of_faces(context);
    let values = per_vertex(context, |v| {
        // Quads do none.
        let faces = context.faces_of(v).map(|f| harm[f]);
        faces.fold([0.0f64; 3], |worst, harm| {
            std::array::from_fn(|k| worst[k].max(harm[k]))
        })
    });
    collected([&OFF_PLANE, &LUMP, &UNLIKE], values)
}

/// For each face that is no quad how far its corners are off its plane, the lump over it, and how
/// unlike its bend is to that of the faces beside it; 0 for quads.
fn harm_of_faces(context: &MeasureContext) -> Vec<[f64; 3]> {
    let topology = context.topology();
    per_index(topology.face_count(), |f| {
        if topology.face_size(f) == 4 {
            return [0.0; 3];
        }
        let beside = topology.face_corners(f).filter_map(|c| topology.twin(c));
        let usual = median(beside.map(|c| face_bend(context, topology.face_of(c))));
        let bend = face_bend(context, f);
        let unlike = ((bend + ANGLE_FLOOR) / (usual + ANGLE_FLOOR)).ln().abs();
        let centre = &context.limit.faces[f].normal;
        let lump = angle_deg(centre, &mean_normal(context, f));
        [off_plane(context, f), lump, unlike].map(|x| if x.is_nan() { 0.0 } else { x })
    })
}

/// The sum of the limit normals at the corners of face `f`.
fn mean_normal(context: &MeasureContext, f: usize) -> Vec3 {
    let corners = context.topology().face_corners(f);
    let vertices = corners.map(|c| context.topology().vertex(c));
    vertices.map(|v| context.limit.vertices[v].normal).sum()
}

/// Largest angle between a corner's limit normal and the mean of all corners of face `f`.
fn face_bend(context: &MeasureContext, f: usize) -> f64 {
    let mean = mean_normal(context, f);
    let corners = context.topology().face_corners(f);
    let vertices = corners.map(|c| context.topology().vertex(c));
    largest(vertices.map(|v| angle_deg(&context.limit.vertices[v].normal, &mean)))
}

/// Largest angle, in degrees, by which a corner of face `f` rises from the plane through the mean of
/// its corners with the direction of its area.
fn off_plane(context: &MeasureContext, f: usize) -> f64 {
    let topology = context.topology();
    let corners = || {
        let corners = topology.face_corners(f);
        corners.map(|c| context.positions()[topology.vertex(c)])
    };
    let centre = corners().sum::<Vec3>() / topology.face_size(f) as f64;
    let normal = context.face_normal(f);
    largest(corners().map(|p| {
        let arm = p - centre;
        let height = arm.dot(&normal);
        height
            .abs()
            .atan2((arm - normal * height).norm())
            .to_degrees()
    }))
}
