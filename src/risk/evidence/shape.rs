//! Evidence of badly shaped quads and of shrinkage, against what their surroundings show.

use super::groundwork::{
    Groundwork, columns as collected, median, per_index, per_vertex, second_ring,
};
use super::{Column, Quantity};
use crate::measure::MeasureContext;
use crate::measure::context::{angle_deg, largest};
use crate::risk::Cause;

/// Part of an edge length added to both sides of a comparison: nobody sees less.
const SHRINKAGE_FLOOR: f64 = 0.01;

static CORNER: Quantity = Quantity {
    name: "corner_out_of_step",
    formula: "difference, in degrees, of a quad's angle at the vertex from the corresponding angles of the next quads along a strip, the smaller of both ways and both strips; the largest at the vertex (this program's)",
    speaks_for: Cause::Warp,
    rising: true,
};

static TAPER: Quantity = Quantity {
    name: "taper_out_of_step",
    formula: "difference of a quad's taper (SAND2007-1751) from the median of the two next quads either way of a strip, the smaller of both strips; the largest at the vertex",
    speaks_for: Cause::Spacing,
    rising: true,
};

static SKEW: Quantity = Quantity {
    name: "skew_out_of_step",
    formula: "difference of a quad's skew (SAND2007-1751) from the median of the two next quads either way of a strip, the smaller of both strips; the largest at the vertex",
    speaks_for: Cause::Warp,
    rising: true,
};

static JACOBIAN: Quantity = Quantity {
    name: "jacobian_loss",
    formula: "1 - the smallest scaled Jacobian (SAND2007-1751) of the quads at the vertex",
    speaks_for: Cause::Warp,
    rising: false,
};

static JACOBIAN_EXCESS: Quantity = Quantity {
    name: "jacobian_loss_excess",
    formula: "jacobian_loss less its median over the second ring",
    speaks_for: Cause::Warp,
    rising: true,
};

static SHRINKAGE: Quantity = Quantity {
    name: "shrinkage_per_edge",
    formula: "|v - limit(v)| over the mean edge length at the vertex (limit position: Halstead, Kass & DeRose 1993)",
    speaks_for: Cause::Shrinkage,
    rising: false,
};

static SHRINKAGE_RING: Quantity = Quantity {
    name: "shrinkage_times_ring",
    formula: "ln((s + 0.01) / (m + 0.01)), s shrinkage_per_edge, m its median over the neighbours (this program's)",
    speaks_for: Cause::Shrinkage,
    rising: true,
};

static SHRINKAGE_SECOND: Quantity = Quantity {
    name: "shrinkage_times_second_ring",
    formula: "the same against its median over the second ring (this program's)",
    speaks_for: Cause::Shrinkage,
    rising: true,
};

/// The columns.
pub fn columns(ground: &Groundwork) -> Vec<Column> {
    let context = ground.context;
    let corners = corners_out_of_step(ground);
    let quality = |k: usize| -> Vec<f64> { ground.quality.iter().map(|q| q[k]).collect() };
    let [taper, skew] = [2, 3].map(|k| ground.out_of_strip(&quality(k), |x, m| (x - m).abs()));
    let [corner, taper, skew, jacobian] = per_vertex(context, |v| {
        let faces = || context.faces_of(v);
        let corner = largest(context.topology().corners_of(v).map(|c| corners[c]));
        let at = |values: &[f64]| largest(faces().map(|f| values[f]));
        let jacobian = largest(faces().map(|f| 1.0 - ground.quality[f][4]));
        [corner, at(&taper), at(&skew), jacobian]
    });
    let shrinkage = context.per_vertex(|v| {
        let drawn = context.positions()[v] - context.limit.vertices[v].position;
        drawn.norm() / context.edge_length[v]
    });
    let [jacobian_excess, ring, second] =
        per_vertex(context, |v| excesses(context, &jacobian, &shrinkage, v));
    collected(
        [
            &CORNER,
            &TAPER,
            &SKEW,
            &JACOBIAN,
            &JACOBIAN_EXCESS,
            &SHRINKAGE,
            &SHRINKAGE_RING,
            &SHRINKAGE_SECOND,
        ],
        [
            corner,
            taper,
            skew,
            jacobian,
            jacobian_excess,
            shrinkage,
            ring,
            second,
        ],
    )
}

/// How far vertex `v` exceeds its surroundings: by its Jacobian's loss the second ring, by its
/// shrinkage the first and the second.
fn excesses(context: &MeasureContext, jacobian: &[f64], shrinkage: &[f64], v: usize) -> [f64; 3] {
    let second = second_ring(context, v);
    let over_second = |values: &[f64]| median(second.iter().map(|&w| values[w as usize]));
    let first = context.spokes.of(v).iter();
    let around = median(first.map(|s| shrinkage[s.vertex as usize]));
    let times = |m: f64| ((shrinkage[v] + SHRINKAGE_FLOOR) / (m + SHRINKAGE_FLOOR)).ln();
    [
        jacobian[v] - over_second(jacobian),
        times(around),
        times(over_second(shrinkage)),
    ]
}

/// For each corner of a quad how far its angle is off the corresponding ones of the next quads; NaN
/// elsewhere.
fn corners_out_of_step(ground: &Groundwork) -> Vec<f64> {
    let topology = ground.context.topology();
    let is_quad = |c: usize| topology.face_size(topology.face_of(c)) == 4;
    let angle = per_index(topology.corner_count(), |c| {
        if !is_quad(c) {
            return f64::NAN;
        }
        let at = |c: usize| ground.context.positions()[topology.vertex(c)];
        let from = at(c);
        angle_deg(
            &(at(topology.next(c)) - from),
            &(at(topology.previous(c)) - from),
        )
    });
    per_index(topology.corner_count(), |c| {
        let [next, previous] = [topology.next(c), topology.previous(c)];
        let far = topology.next(next);
        let beyond = |edge: usize, turns: usize| {
            let twin = topology.twin(edge).filter(|&t| is_quad(t));
            twin.map_or(f64::NAN, |t| {
                let corner = (0..turns).fold(t, |c, _| topology.next(c));
                (angle[c] - angle[corner]).abs()
            })
        };
        if !is_quad(c) {
            return f64::NAN;
        }
        // The quad beyond an edge, and which of its corners, counted from the one that runs along
        // the edge, stands where this one would if the quad were moved there.
        let steps = [
            beyond(next, 1),
            beyond(previous, 3),
            beyond(far, 0),
            beyond(c, 2),
        ];
        steps.into_iter().fold(f64::NAN, f64::min)
    })
}
