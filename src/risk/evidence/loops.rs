//! How far the limit normals of a vertex's cell stray from what the loops through them go on with:
//! from the stations next to them, and from those further off, which a fault at the place itself
//! disturbs less.

use super::cells::{largest_and_mean, per_vertex};
use super::{Column, Quantity};
use crate::measure::MeasureContext;
use crate::measure::loop_deviation::{FAR, FAR_THROUGH, NEAR, NEAR_THROUGH};
use crate::risk::Cause;

const fn quantity(name: &'static str, formula: &'static str) -> Quantity {
    Quantity {
        name,
        formula,
        speaks_for: Cause::Bump,
        rising: true,
    }
}

// Source of all: this program's; what continues unchanged along a loop is meant: common practice,
// no published source.

/// Largest angle to the predictions from the near stations.
pub static LOOP_NEAR: Quantity = quantity(
    "loop_near",
    "largest over the cell of: least angle, in degrees, of the limit normal to its predictions (linear, cubic, one-sided) from the stations one and two edges away along either loop",
);
/// Mean angle to the predictions from the near stations.
pub static LOOP_NEAR_MEAN: Quantity =
    quantity("loop_near_mean", "as loop_near, the mean over the cell");
/// Largest angle to the predictions from the far stations.
pub static LOOP_FAR: Quantity = quantity(
    "loop_far",
    "as loop_near, from the stations two and three edges away",
);
/// Mean angle to the predictions from the far stations.
pub static LOOP_FAR_MEAN: Quantity =
    quantity("loop_far_mean", "as loop_far, the mean over the cell");
/// The same with predictions from one side only where the loop ends.
pub static LOOP_THROUGH: Quantity = quantity(
    "loop_through",
    "as loop_near, with one-sided predictions only where the loop ends on the other side",
);
/// The same from the far stations.
pub static LOOP_THROUGH_FAR: Quantity = quantity(
    "loop_through_far",
    "as loop_far, with one-sided predictions only where the loop ends on the other side",
);

/// Deviations from the loops, in degrees: one value per vertex each, NaN where no loop passes
/// through the cell.
pub(super) struct LoopPrediction {
    /// From the near stations.
    pub near: Vec<f64>,
    /// From the far stations.
    pub far: Vec<f64>,
    columns: Vec<Column>,
}

impl LoopPrediction {
    /// Walks all loops.
    pub fn new(context: &MeasureContext) -> Self {
        let angles = context.loop_angles();
        let [near, near_mean, far, far_mean, through, through_far] = per_vertex(context, |v| {
            let spokes = context.spokes.of(v).iter();
            let cell = || {
                std::iter::once(&angles.vertices[v])
                    .chain(spokes.clone().map(|s| &angles.edges[s.edge as usize]))
                    .chain(context.faces_of(v).map(|f| &angles.faces[f]))
            };
            let over_cell = |kind: usize| largest_and_mean(cell().map(|angles| angles[kind]));
            let ([near, near_mean], [far, far_mean]) = (over_cell(NEAR), over_cell(FAR));
            let through = [over_cell(NEAR_THROUGH)[0], over_cell(FAR_THROUGH)[0]];
            [near, near_mean, far, far_mean, through[0], through[1]]
        });
        let column = |quantity, values| Column { quantity, values };
        Self {
            columns: vec![
                column(&LOOP_NEAR, near.clone()),
                column(&LOOP_NEAR_MEAN, near_mean),
                column(&LOOP_FAR, far.clone()),
                column(&LOOP_FAR_MEAN, far_mean),
                column(&LOOP_THROUGH, through),
                column(&LOOP_THROUGH_FAR, through_far),
            ],
            near,
            far,
        }
    }

    /// As evidence.
    pub fn into_columns(self) -> Vec<Column> {
        self.columns
    }
}

/// The loops' evidence.
pub fn columns(context: &MeasureContext) -> Vec<Column> {
    LoopPrediction::new(context).into_columns()
}
