//! Evidence of strips of uneven width on evenly curved ground: by how much they make the surface lean.
//!
//! At a vertex of a regular stretch the limit curve of a loop runs along the chord of the next two vertices
//! (the cubic B-spline to which the rules come down there: Catmull and Clark, Recursively generated B-spline
//! surfaces on arbitrary topological meshes, 1978), and the form runs along the tangent of the parabola
//! through all three, in which lengths count. Where the strips before and behind are alike both are the same.
//! The angle between them and what it is set against are this program's.

use super::groundwork::{Groundwork, columns as collected, per_index, ring_largest};
use super::{Column, Quantity};
use crate::measure::MeasureContext;
use crate::measure::spokes::Spoke;
use crate::risk::Cause;

/// What leans by more does not lean any more, in degrees.
const LEAN_MAX_DEG: f64 = 90.0;

static LEAN: Quantity = Quantity::new(
    "spacing_lean",
    "angle, in degrees up to 90, |k (l - l')| / 2 between the chord of the vertices before and after it on a loop and the tangent there of the parabola through all three; l and l' the edges before and after, k the curvature, towards the limit normal, of such parabolas that is least in size at the vertex and at those of the two next ones through which the loop runs on, 0 where it changes sign, undefined where it runs on through neither; the larger of the directions",
    Cause::Spacing,
);

static LEAN_RING: Quantity = Quantity::new(
    "spacing_lean_ring",
    "largest spacing_lean of a neighbour",
    Cause::Spacing,
);

/// The columns.
pub fn columns(ground: &Groundwork) -> Vec<Column> {
    let context = ground.context;
    let curvatures = per_index(context.topology().vertex_count(), |v| {
        curvatures(context, v)
    });
    let lean = context.per_vertex(|v| lean(context, &curvatures, v));
    let ring = ring_largest(context, &lean);
    collected([&LEAN, &LEAN_RING], [lean, ring])
}

/// A value of each loop that runs straight through a vertex: one by its spokes of even places, one by the
/// others (an interior vertex has four spokes then, one of a border three).
type OfLoops = [f64; 2];

/// The curvature of each loop through vertex `v`; NaN where none runs on.
fn curvatures(context: &MeasureContext, v: usize) -> OfLoops {
    let mut curvatures = [f64::NAN; 2];
    for (j, ways) in loops(context, v) {
        curvatures[j % 2] = curvature(context, v, ways);
    }
    curvatures
}

/// The loops that run straight through vertex `v`, each by the place of its first spoke and by both.
fn loops<'a>(
    context: &'a MeasureContext,
    v: usize,
) -> impl Iterator<Item = (usize, [Spoke; 2])> + 'a {
    let spokes = context.spokes.of(v);
    let both = move |(j, &ahead)| {
        let k = context.spokes.opposite_place(v, j).filter(|&k| k > j)?;
        Some((j, [ahead, spokes[k]]))
    };
    spokes.iter().enumerate().filter_map(both)
}

/// By how much the limit curves of the loops through vertex `v` lean, in degrees; the larger of the loops.
fn lean(context: &MeasureContext, curvatures: &[OfLoops], v: usize) -> f64 {
    // At the next vertex of a loop; none where the loop ends there or it is not defined.
    let next = |way: Spoke| {
        let place = context.spokes.back(way)?;
        context.spokes.opposite_place(way.vertex as usize, place)?;
        Some(curvatures[way.vertex as usize][place % 2]).filter(|k| !k.is_nan())
    };
    let mut most = f64::NAN;
    for (j, ways) in loops(context, v) {
        let even = even_curvature(curvatures[v][j % 2], ways.map(next));
        let [l, m] = ways.map(|way| length(context, way));
        most = most.max((even * (l - m) / 2.0).abs());
    }
    most.to_degrees().clamp(0.0, LEAN_MAX_DEG)
}

/// What a loop's curvature at a vertex has in common with the ones beside it: the least size of all, 0 where
/// the sign changes. NaN where it is known on neither side.
fn even_curvature(own: f64, beside: [Option<f64>; 2]) -> f64 {
    let known = || beside.into_iter().flatten();
    if known().next().is_none() {
        return f64::NAN;
    }
    known().fold(own, |even, k| match even * k > 0.0 {
        true if k.abs() < even.abs() => k,
        true => even,
        false => 0.0 * even,
    })
}

/// Curvature, towards the limit normal, of the parabola through vertex `v` and the next ones either way of a
/// loop: twice the second divided difference, signed, per unit of the frame. NaN without a limit normal and
/// for an edge of no length.
fn curvature(context: &MeasureContext, v: usize, ways: [Spoke; 2]) -> f64 {
    let sample = &context.limit.vertices[v];
    if !sample.has_normal() {
        return f64::NAN;
    }
    let here = &context.positions()[v];
    let height = |way: Spoke| (context.positions()[way.vertex as usize] - here).dot(&sample.normal);
    let [l, m] = ways.map(|way| length(context, way));
    let [a, b] = ways.map(height);
    2.0 * (a / l + b / m) / (l + m)
}

fn length(context: &MeasureContext, way: Spoke) -> f64 {
    context.edges[way.edge as usize].length
}
