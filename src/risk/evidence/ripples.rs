//! Ripples along edges between quads and other faces.
//!
//! Round a cap of one face or of a fan, with no loop that holds its rim, each edge of the rim is drawn
//! further in than its ends are: the limit scallops. As every edge does so, none stands out from the
//! others, and no comparison shows it. Only rims against quads are asked: beside triangles there is no
//! telling which edges go round. The formula is this program's.

use std::f64::consts::PI;

use super::groundwork::{Groundwork, columns as collected, per_vertex};
use super::{Column, Quantity};
use crate::measure::MeasureContext;
use crate::risk::Cause;

static RIPPLE: Quantity = Quantity::new(
    "facet_ripple",
    "over the edges at the vertex between a quad and another face, the largest atan(pi d) d / (d + |s|), in degrees, d = |h - s|, s = tan(t / 4) / 2, h the height of the limit over the edge's middle above the chord between its ends, along the mean of their normals, in chords, t the angle by which the normals turn along the chord; 0 without such edges, and where an end has no limit normal, as on a crease",
    Cause::Facet,
);

/// The column.
pub fn columns(ground: &Groundwork) -> Vec<Column> {
    let context = ground.context;
    let values = per_vertex(context, |v| {
        let edges = context.spokes.of(v).iter().map(|s| s.edge as usize);
        [edges.map(|e| ripple(context, e)).fold(0.0, f64::max)]
    });
    collected([&RIPPLE], values)
}

/// Slope, in degrees, of a wave from vertex to vertex along an edge between a quad and another face: a
/// sine whose crests are the ends and whose trough lies over the middle has pi times the part of a chord
/// by which the middle is off the arc that the normals at the ends ask for, of height tan(t / 4) / 2 over
/// its chord. Beside a higher arc a wave counts less: an edge that is to turn far may round off in another
/// way than by an arc, and only a wave as high as the arc makes a dent of it. 0 for other edges, and where
/// an end has no normal.
fn ripple(context: &MeasureContext, e: usize) -> f64 {
    let topology = context.topology();
    let corner = topology.edge_corner(e);
    let is_quad = |c: usize| topology.face_size(topology.face_of(c)) == 4;
    let is_mixed = topology
        .twin(corner)
        .is_some_and(|twin| is_quad(corner) != is_quad(twin));
    if !is_mixed {
        return 0.0;
    }
    let [a, b] = topology
        .edge_vertices(e)
        .map(|v| &context.limit.vertices[v]);
    let chord = b.position - a.position;
    let up = (a.normal + b.normal).normalize();
    let middle = (a.position + b.position) / 2.0;
    let height = (context.limit.edges[e].position - middle).dot(&up) / chord.norm();
    let sine = (b.normal - a.normal).dot(&chord) / (2.0 * chord.norm());
    let turn = 2.0 * sine.clamp(-1.0, 1.0).asin();
    let arc = (turn / 4.0).tan() / 2.0;
    let off = (height - arc).abs();
    let wave = (PI * off).atan().to_degrees() * (off / (off + arc.abs()));
    if a.has_normal() && b.has_normal() && !wave.is_nan() {
        wave
    } else {
        0.0
    }
}
