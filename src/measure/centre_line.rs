//! The centre line of a mirrored half: what is off the plane, and what creases there.

use super::Measured;
use super::about::{About, Unit};
use super::angles::angle_deg;
use super::context::{MeasureContext, largest};
use crate::mesh::MirrorMap;

/// Distance of the centre line from the plane.
pub const CENTRE_LINE_OFF: About = About {
    name: "centre_line_off",
    tells: "how far a vertex of the centre line stands off the mirror plane",
    formula: "distance from the mirror plane before welding; empty off the centre line and without --mirror",
    unit: Unit::Length,
    range: "from 0 (in the plane)",
    source: "vertices of the centre line lie exactly in the mirror plane: common practice, no published source",
    remedy: "put the vertex into the mirror plane; mirrored, it opens a gap or folds a crease",
};

/// Crease across the centre line.
pub const CENTRE_LINE_CREASE: About = About {
    name: "centre_line_crease",
    tells: "by how much the smoothed surface folds across the centre line",
    formula: "angle between the limit normal on the half's side of the line and its mirror image; the larger one where the two stretches of the line at the vertex differ; empty off the centre line and without --mirror",
    unit: Unit::Degrees,
    range: "0 (smooth) to 180 (folded back)",
    source: "angle of normals: common geometry",
    remedy: "put the vertex into the mirror plane, or take the crease off the line",
};

/// The two measures, in the order of their columns: undefined but for a mirrored half's line.
pub fn measure(context: &MeasureContext) -> Vec<Measured> {
    let on_line = |value: &(dyn Fn(&MirrorMap, usize) -> f64 + Sync)| {
        context.per_vertex(|v| match context.mirror {
            Some(map) if !map.distances[v].is_nan() => value(map, v),
            _ => f64::NAN,
        })
    };
    vec![
        Measured {
            about: &CENTRE_LINE_OFF,
            values: on_line(&|map, v| map.distances[v]),
        },
        Measured {
            about: &CENTRE_LINE_CREASE,
            values: on_line(&|map, v| crease(context, map, map.in_half(v))),
        },
    ]
}

/// The crease at vertex `v` of the half. The sectors that lie on the line are those of the quads
/// with an edge to the other part or to none.
fn crease(context: &MeasureContext, map: &MirrorMap, v: usize) -> f64 {
    let topology = context.topology();
    if !topology.is_manifold(v) {
        return f64::NAN;
    }
    let Some(fan) = topology.fans(v).next() else {
        return f64::NAN;
    };
    let is_outside = |c: Option<usize>| c.is_none_or(|c| topology.face_of(c) >= map.half_faces);
    let ring = context.surface.vertex_ring(v);
    let on_line = fan.iter().enumerate().filter(|&(_, &c)| {
        let c = c as usize;
        let ends = [topology.twin(c), topology.counter_clockwise(c)];
        !is_outside(Some(c)) && ends.into_iter().any(is_outside)
    });
    largest(on_line.map(|(sector, _)| {
        let normal = ring.limit(sector).normal();
        normal.map_or(f64::NAN, |n| angle_deg(&n, &map.plane.turned(&n)))
    }))
}
