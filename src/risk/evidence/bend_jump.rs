//! Jumps of curvature along the loops: a form that is meant bends alike from station to station.

use super::cells::per_vertex;
use super::surroundings::{median, straight_along, straight_loops};
use super::{Column, Quantity};
use crate::measure::MeasureContext;
use crate::measure::spokes::Spoke;
use crate::risk::Cause;

const fn quantity(name: &'static str, formula: &'static str) -> Quantity {
    Quantity {
        name,
        formula,
        speaks_for: Cause::Bump,
        rising: false,
    }
}

// Source of both: normal curvature from second differences (common geometry); the jump is this
// program's.

/// The smaller jump.
pub static BEND_JUMP_LEAST: Quantity = quantity(
    "bend_jump_least",
    "least over the straight loops of |k - m| h: k the limit surface's normal curvature along the loop at the vertex (second difference over half edges), m its median over the five stations about it, h the mean edge length",
);
/// The larger jump.
pub static BEND_JUMP: Quantity = quantity(
    "bend_jump",
    "as bend_jump_least, the largest over the loops",
);

/// Stations taken on each side of the vertex.
const STATIONS_BESIDE: usize = 2;

/// The evidence.
pub fn columns(context: &MeasureContext) -> Vec<Column> {
    let [least, most] = per_vertex(context, |v| {
        let jumps = straight_loops(context, v).map(|(a, b)| jump(context, v, a, b));
        jumps.fold([f64::NAN; 2], |[least, most], x| {
            [least.min(x), most.max(x)]
        })
    });
    let column = |quantity, values| Column { quantity, values };
    vec![column(&BEND_JUMP_LEAST, least), column(&BEND_JUMP, most)]
}

fn jump(context: &MeasureContext, v: usize, a: Spoke, b: Spoke) -> f64 {
    let own = curvature(context, a.edge, v, b.edge);
    let beside = |first: Spoke| {
        let arrivals = straight_along(context, first).take(STATIONS_BESIDE);
        arrivals.map(|s| match context.spokes.straight_on(s) {
            Some(on) => curvature(context, s.edge, s.vertex as usize, on.edge),
            None => f64::NAN,
        })
    };
    let usual = median(std::iter::once(own).chain(beside(a)).chain(beside(b)));
    (own - usual).abs() * context.edge_length[v]
}

/// Normal curvature at vertex `v` between the middles of two edges, in the frame's unit.
fn curvature(context: &MeasureContext, e: u32, v: usize, f: u32) -> f64 {
    let own = &context.limit.vertices[v];
    let [p, q] = [e, f].map(|e| context.limit.edges[e as usize].position - own.position);
    let (a, b) = (p.norm(), q.norm());
    if !own.has_normal() {
        return f64::NAN;
    }
    2.0 * (p / a + q / b).dot(&own.normal) / (a + b)
}
