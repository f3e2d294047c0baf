//! How far the limit normals of a vertex's cell stray from what the loops through them go on with:
//! from the stations next to them, and from those further off, which a fault at the place itself
//! disturbs less.

use super::cells::{largest_and_mean, per_vertex};
use super::{Column, Quantity};
use crate::measure::MeasureContext;
use crate::measure::loop_deviation::{Closest, OneSided, PerSample, Stations, far_pair, near_pair};
use crate::measure::samples::Sample;
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
        let by_sample = PerSample::new(context, figures);
        let [near, near_mean, far, far_mean, through, through_far] = per_vertex(context, |v| {
            let spokes = context.spokes.of(v).iter();
            let cell = || {
                std::iter::once(&by_sample.vertices[v])
                    .chain(spokes.clone().map(|s| &by_sample.edges[s.edge as usize]))
                    .chain(context.faces_of(v).map(|f| &by_sample.faces[f]))
            };
            let over_cell = |i: usize| largest_and_mean(cell().map(|figures| figures[i]));
            let ([near, near_mean], [far, far_mean]) = (over_cell(0), over_cell(1));
            let through = [over_cell(2)[0], over_cell(3)[0]];
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

/// Angles to the closest prediction along one loop: near, far, and both with one side alone only
/// at the loop's ends.
fn figures(sample: &Sample, a: &Stations, b: &Stations) -> [f64; 4] {
    let pairs = [[near_pair(a), near_pair(b)], [far_pair(a), far_pair(b)]];
    let angle = |i: usize, one_sided: OneSided| {
        let mut closest = Closest::to(sample);
        let [a, b] = &pairs[i];
        closest.consider_all(a, b, one_sided);
        closest.angle_deg()
    };
    [
        angle(0, OneSided::Always),
        angle(1, OneSided::Always),
        angle(0, OneSided::AtEnds),
        angle(1, OneSided::AtEnds),
    ]
}
