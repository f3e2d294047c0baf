//! Evidence at borders: seams that were meant to be closed, and borders that do not run on evenly;
//! and faces wound the wrong way.

use super::groundwork::{Groundwork, columns as collected, per_vertex, ring_largest};
use super::{Column, Quantity};
use crate::measure::MeasureContext;
use crate::measure::borders::seam_neighbours;
use crate::measure::spokes::Spoke;
use crate::mesh::Vec3;
use crate::risk::Cause;

/// The gap, over the edge length, of a vertex that has no other border near: the reach of the search.
const NO_GAP: f64 = 0.5;

static GAP: Quantity = Quantity::new(
    "gap",
    "distance from a border vertex to the nearest border vertex that no face shares, over the mean edge length; 0.5 inside and where there is none within that",
    Cause::Border,
);

static OFF_RUN: Quantity = Quantity::new(
    "off_border_run",
    "distance of a border vertex from the cubic through the two border vertices either way, by chord length, over the mean edge length; 0 inside (Lagrange interpolation)",
    Cause::Border,
);

static OFF_RUN_RING: Quantity = Quantity::new(
    "off_border_run_ring",
    "largest off_border_run of a neighbour",
    Cause::Border,
);

static REVERSED: Quantity = Quantity::new(
    "reversed_share",
    "share of the faces at the vertex that are wound against the most of their shell",
    Cause::Fold,
);

/// The columns.
pub fn columns(ground: &Groundwork) -> Vec<Column> {
    let context = ground.context;
    let nearest = seam_neighbours(context);
    let [gap, off_run, reversed] = per_vertex(context, |v| {
        let gap = nearest[v].map_or(NO_GAP, |(_, gap)| gap.min(NO_GAP));
        let run = off_run(context, v).unwrap_or(0.0);
        [gap, run, reversed(context, v)]
    });
    let ring = ring_largest(context, &off_run);
    collected(
        [&GAP, &OFF_RUN, &OFF_RUN_RING, &REVERSED],
        [gap, off_run, ring, reversed],
    )
}

/// Distance of border vertex `v` from the cubic through its neighbours along the border. `None`
/// inside and where the border is too short.
fn off_run(context: &MeasureContext, v: usize) -> Option<f64> {
    let spokes = context.spokes.of(v);
    if context.spokes.is_interior(v) || !context.spokes.is_manifold(v) || spokes.len() < 3 {
        return None;
    }
    let at = |s: Spoke| context.positions()[s.vertex as usize];
    let [ahead, back] = [*spokes.first()?, *spokes.last()?];
    let beyond = [ahead, back].map(|s| context.spokes.border_on(s));
    let points = [at(beyond[0]?), at(ahead), at(back), at(beyond[1]?)];
    let here = context.positions()[v];
    let steps = [(points[0] - points[1]).norm(), (points[1] - here).norm()];
    let steps_back = [(points[2] - here).norm(), (points[3] - points[2]).norm()];
    let places = [
        -steps[1] - steps[0],
        -steps[1],
        steps_back[0],
        steps_back[0] + steps_back[1],
    ];
    let off = (cubic_at_origin(places, points) - here).norm() / context.edge_length[v];
    off.is_finite().then_some(off)
}

/// The value at 0 of the cubic that takes the given points at the given places.
fn cubic_at_origin(places: [f64; 4], points: [Vec3; 4]) -> Vec3 {
    let weight = |k: usize| -> f64 {
        let others = (0..4).filter(|&j| j != k);
        others
            .map(|j| places[j] / (places[j] - places[k]))
            .product()
    };
    (0..4).map(|k| points[k] * weight(k)).sum()
}

/// Share of the faces at vertex `v` that are reversed.
fn reversed(context: &MeasureContext, v: usize) -> f64 {
    let (reversed, count) = context
        .faces_of(v)
        .fold((0.0, 0.0), |(reversed, count), f| {
            let more = f64::from(u8::from(context.topology().is_flipped(f)));
            (reversed + more, count + 1.0)
        });
    reversed / count
}
