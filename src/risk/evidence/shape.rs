//! Evidence of badly shaped quads, against what their strips show.

use super::groundwork::{Groundwork, columns as collected, per_index};
use super::{Column, Quantity};
use crate::measure::context::{angle_deg, largest};
use crate::risk::Cause;

static CORNER: Quantity = Quantity {
    name: "corner_out_of_step",
    formula: "difference, in degrees, of a quad's angle at the vertex from the corresponding angles of the next quads along a strip, the smaller of both ways and both strips; the largest at the vertex (this program's)",
    speaks_for: Cause::Warp,
};

/// The column.
pub fn columns(ground: &Groundwork) -> Vec<Column> {
    let topology = ground.context.topology();
    let corners = corners_out_of_step(ground);
    let at_vertex = |v: usize| largest(topology.corners_of(v).map(|c| corners[c]));
    collected([&CORNER], [ground.context.per_vertex(at_vertex)])
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
