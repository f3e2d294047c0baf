//! Evidence of support loops that are missing on one side of an edge, or that end.
//!
//! That an edge is held by loops beside it is common practice, without published source; the
//! formulas are this program's.

use super::groundwork::{
    Groundwork, columns as collected, logarithm, neighbouring, per_index, per_vertex, ring_largest,
};
use super::{Column, Quantity};
use crate::measure::spokes::Spoke;
use crate::risk::Cause;

/// Bend, in degrees, that takes half of its weight from an edge beside which nothing bends: it
/// keeps the noise of flat ground out.
const BEND_FLOOR: f64 = 5.0;

static ASYMMETRY: Quantity = Quantity::new(
    "support_asymmetry",
    "over the edges at the vertex, |ln(w_L / w_R)| b / (b + b' + 5 degrees); w the mean length of the rungs on a side, b the edge's bend, b' the mean bend of the edges opposite to it in its two quads; the largest",
    Cause::Support,
);

static ASYMMETRY_RING: Quantity = Quantity::new(
    "support_asymmetry_ring",
    "largest support_asymmetry of a neighbour",
    Cause::Support,
);

/// By how much the strips beside the bent edges change their width along them.
pub static JUMP: Quantity = Quantity::new(
    "support_jump",
    "|ln(w / w')| of the rungs on one side of an edge and of the edge straight on, the larger side, weighed by the larger b / (b + b' + 5 degrees) of the two edges; the largest at the vertex",
    Cause::Support,
);

static JUMP_RING: Quantity = Quantity::new(
    "support_jump_ring",
    "largest support_jump of a neighbour",
    Cause::Support,
);

static OUT_OF_STEP: Quantity = Quantity::new(
    "support_out_of_step",
    "|ln r - (ln r' + ln r'') / 2| of the rung on one side of a loop at the vertex and at the stations before and after it, the larger side, weighed like support_jump; the largest at the vertex",
    Cause::Support,
);

static OUT_OF_STEP_RING: Quantity = Quantity::new(
    "support_out_of_step_ring",
    "largest support_out_of_step of a neighbour",
    Cause::Support,
);

static TURN: Quantity = Quantity::new(
    "support_asymmetry_jump",
    "|ln(w_L / w_R) - ln(w'_L / w'_R)| of an edge and of the edge straight on, weighed like support_jump; the largest at the vertex",
    Cause::Support,
);

/// What stands beside an edge, seen in the direction of its first corner.
#[derive(Clone, Copy)]
struct Support {
    /// Logarithm of the mean length of the rungs to the left and to the right.
    widths: [f64; 2],
    /// How much the edge stands out by its bend, from 0 to 1.
    weight: f64,
}

/// The columns.
pub fn columns(ground: &Groundwork) -> Vec<Column> {
    let context = ground.context;
    let edges = per_index(context.topology().edge_count(), |e| support(ground, e));
    let [asymmetry, jump, step, turn] = per_vertex(context, |v| at_vertex(ground, &edges, v));
    let ring = [&asymmetry, &jump, &step].map(|values| ring_largest(context, values));
    let [asymmetry_ring, jump_ring, step_ring] = ring;
    collected(
        [
            &ASYMMETRY,
            &ASYMMETRY_RING,
            &JUMP,
            &JUMP_RING,
            &OUT_OF_STEP,
            &OUT_OF_STEP_RING,
            &TURN,
        ],
        [
            asymmetry,
            asymmetry_ring,
            jump,
            jump_ring,
            step,
            step_ring,
            turn,
        ],
    )
}

/// What stands beside edge `e`. An edge of one face has no bend, and so no weight.
fn support(ground: &Groundwork, e: usize) -> Support {
    let topology = ground.context.topology();
    let left = topology.edge_corner(e);
    let Some(right) = topology.twin(left) else {
        return Support {
            widths: [f64::NAN; 2],
            weight: 0.0,
        };
    };
    let width = |c: usize| {
        let rungs = [topology.next(c), topology.previous(c)];
        logarithm(
            rungs
                .map(|r| ground.length[topology.edge(r)])
                .iter()
                .sum::<f64>()
                / 2.0,
        )
    };
    let beside = |c: usize| {
        let quad = topology.face_size(topology.face_of(c)) == 4;
        let opposite = topology.edge(topology.next(topology.next(c)));
        Some(ground.bend[opposite]).filter(|bend| quad && !bend.is_nan())
    };
    let besides = [left, right].into_iter().filter_map(beside);
    let (sum, count) = besides.fold((0.0, 0.0), |(sum, count), b| (sum + b, count + 1.0));
    let usual = if count > 0.0 { sum / count } else { 0.0 };
    let bend = ground.bend[e];
    let weight = bend / (bend + usual + BEND_FLOOR);
    Support {
        widths: [width(left), width(right)],
        weight: if weight.is_nan() { 0.0 } else { weight },
    }
}

/// Asymmetry, jump, rung out of step and jump of the asymmetry at vertex `v`.
fn at_vertex(ground: &Groundwork, edges: &[Support], v: usize) -> [f64; 4] {
    let context = ground.context;
    let [mut asymmetry, mut jump, mut step, mut turn] = [0.0f64; 4];
    for (j, &ahead) in context.spokes.of(v).iter().enumerate() {
        let here = edges[ahead.edge as usize];
        let [left, right] = here.widths;
        asymmetry = asymmetry.max((left - right).abs() * here.weight);
        // The second half of the spokes runs along the same loops.
        let Some(back) = context.spokes.opposite(v, j).filter(|_| j < 2) else {
            continue;
        };
        let other = edges[back.edge as usize];
        let weight = here.weight.max(other.weight);
        let [left, right] = widths_from(ground, edges, v, ahead);
        // Looking back, left and right change sides.
        let [other_right, other_left] = widths_from(ground, edges, v, back);
        let jumps = [left - other_left, right - other_right];
        jump = jump.max(jumps[0].abs().max(jumps[1].abs()) * weight);
        turn = turn.max((jumps[0] - jumps[1]).abs() * weight);
        step = step.max(rung_step(ground, v, j, back) * weight);
    }
    [asymmetry, jump, step, turn]
}

/// The widths beside a spoke of vertex `v`, left and right looking away from `v`.
fn widths_from(ground: &Groundwork, edges: &[Support], v: usize, spoke: Spoke) -> [f64; 2] {
    let [left, right] = edges[spoke.edge as usize].widths;
    if ground.context.topology().edge_vertices(spoke.edge as usize)[0] == v {
        [left, right]
    } else {
        [right, left]
    }
}

/// How far the rungs at vertex `v` beside the loop by its spoke `j` and `back` are out of step, the
/// larger of the two sides.
fn rung_step(ground: &Groundwork, v: usize, j: usize, back: Spoke) -> f64 {
    let context = ground.context;
    let log = |s: Option<Spoke>| s.map_or(f64::NAN, |s| ground.log_length[s.edge as usize]);
    let station = |s: Spoke| {
        let at = context.spokes.back(s);
        at.map_or([None; 2], |at| neighbouring(context, s.vertex as usize, at))
    };
    // Seen from ahead, counter-clockwise of the way back is its right.
    let [ahead_right, ahead_left] = station(context.spokes.of(v)[j]);
    let [back_left, back_right] = station(back);
    let [left, right] = neighbouring(context, v, j);
    let off = |here, ahead, behind| (log(here) - 0.5 * (log(ahead) + log(behind))).abs();
    off(left, ahead_left, back_left).max(off(right, ahead_right, back_right))
}
