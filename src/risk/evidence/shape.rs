//! Evidence of badly shaped quads, against what their strips show.

use super::groundwork::{Groundwork, columns as collected, per_index};
use super::{Column, Quantity};
use crate::measure::angles::angle_deg;
use crate::measure::context::largest;
use crate::mesh::Topology;
use crate::risk::Cause;

static CORNER: Quantity = Quantity::new(
    "corner_out_of_step",
    "difference, in degrees, of a quad's angle at the vertex from the corresponding angles of the next quads along a strip, the smaller of both ways and both strips; the largest at the vertex (this program's)",
    Cause::Warp,
);

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
    let angle = by_quad(topology, |corners| angles(ground, corners));
    by_quad(topology, |corners| steps(topology, &angle, corners))
}

/// Values of the four corners of each quad, in parallel; NaN at other faces' corners.
fn by_quad(topology: &Topology, values: impl Fn([usize; 4]) -> [f64; 4] + Sync) -> Vec<f64> {
    let of_faces = per_index(topology.face_count(), |f| match topology.face_size(f) {
        4 => values(corners_from(topology.face_corners(f).start, 0)),
        _ => [f64::NAN; 4],
    });
    if (0..topology.face_count()).all(|f| topology.face_size(f) == 4) {
        return of_faces.into_flattened();
    }
    per_index(topology.corner_count(), |c| {
        let f = topology.face_of(c);
        let place = c - topology.face_corners(f).start;
        of_faces[f].get(place).copied().unwrap_or(f64::NAN)
    })
}

/// The corners of the quad whose first one is `start`, from its corner number `first` on.
fn corners_from(start: usize, first: usize) -> [usize; 4] {
    std::array::from_fn(|k| start + (first + k) % 4)
}

/// The angles of a quad, in degrees.
fn angles(ground: &Groundwork, corners: [usize; 4]) -> [f64; 4] {
    let topology = ground.context.topology();
    let at = corners.map(|c| ground.context.positions()[topology.vertex(c)]);
    std::array::from_fn(|k| angle_deg(&(at[(k + 1) % 4] - at[k]), &(at[(k + 3) % 4] - at[k])))
}

/// How far each angle of a quad is off the corresponding ones of the next quads, the least.
fn steps(topology: &Topology, angle: &[f64], corners: [usize; 4]) -> [f64; 4] {
    // The quad beyond each edge: its corners from the one that runs along the edge on.
    let beyond = corners.map(|c| {
        let twin = topology.twin(c)?;
        let beyond = topology.face_corners(topology.face_of(twin));
        (beyond.len() == 4).then(|| corners_from(beyond.start, twin - beyond.start))
    });
    std::array::from_fn(|k| {
        let own = angle[corners[k]];
        // Which corner stands where this one would if the quad were moved there.
        let corresponding = [(1, 1), (3, 3), (2, 0), (0, 2)];
        let steps = corresponding.map(|(edge, turns)| match beyond[(k + edge) % 4] {
            Some(other) => (own - angle[other[turns]]).abs(),
            None => f64::NAN,
        });
        steps.into_iter().fold(f64::NAN, f64::min)
    })
}
