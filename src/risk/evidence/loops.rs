//! How far the limit normals of a vertex's cell stray from what the loops through them go on with:
//! from the stations next to them, and from those further off, which a fault at the place itself
//! disturbs less.

use super::cells::{largest_and_mean, per_vertex};
use super::groundwork::columns as collected;
use super::{Column, Quantity};
use crate::measure::MeasureContext;
use crate::measure::loop_deviation::{FAR, FAR_THROUGH, KINDS, NEAR, NEAR_THROUGH};
use crate::risk::Cause;

// Source of all: this program's; what continues unchanged along a loop is meant: common practice,
// no published source.

/// Largest angle to the predictions from the near stations.
pub static LOOP_NEAR: Quantity = Quantity::new(
    "loop_near",
    "largest over the cell of: least angle, in degrees, of the limit normal to its predictions (linear, cubic, one-sided) from the stations one and two edges away along either loop",
    Cause::Bump,
);
/// Mean angle to the predictions from the near stations.
pub static LOOP_NEAR_MEAN: Quantity = Quantity::new(
    "loop_near_mean",
    "as loop_near, the mean over the cell",
    Cause::Bump,
);
/// Largest angle to the predictions from the far stations.
pub static LOOP_FAR: Quantity = Quantity::new(
    "loop_far",
    "as loop_near, from the stations two and three edges away",
    Cause::Bump,
);
/// The same with predictions from one side only where the loop ends.
pub static LOOP_THROUGH: Quantity = Quantity::new(
    "loop_through",
    "as loop_near, with one-sided predictions only where the loop ends on the other side",
    Cause::Bump,
);
/// The same from the far stations.
pub static LOOP_THROUGH_FAR: Quantity = Quantity::new(
    "loop_through_far",
    "as loop_far, with one-sided predictions only where the loop ends on the other side",
    Cause::Bump,
);

/// The loops' evidence.
pub fn columns(context: &MeasureContext) -> Vec<Column> {
    let angles = context.loop_angles();
    let values = per_vertex(context, |v| {
        let spokes = context.spokes.of(v).iter();
        let cell = || {
            std::iter::once(&angles.vertices[v])
                .chain(spokes.clone().map(|s| &angles.edges[s.edge as usize]))
                .chain(context.faces_of(v).map(|f| &angles.faces[f]))
        };
        // The largest of all kinds in one go.
        let mut most = [f64::NAN; KINDS];
        for angles in cell() {
            most = std::array::from_fn(|kind| most[kind].max(angles[kind]));
        }
        let [_, near_mean] = largest_and_mean(cell().map(|angles| angles[NEAR]));
        [
            most[NEAR],
            near_mean,
            most[FAR],
            most[NEAR_THROUGH],
            most[FAR_THROUGH],
        ]
    });
    let quantities = [
        &LOOP_NEAR,
        &LOOP_NEAR_MEAN,
        &LOOP_FAR,
        &LOOP_THROUGH,
        &LOOP_THROUGH_FAR,
    ];
    collected(quantities, values)
}
