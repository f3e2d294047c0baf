//! All evidence that is read off the cage.

use super::groundwork::Groundwork;
use super::{Column, poles, seams, shape, spacing, support, warp};
use crate::measure::MeasureContext;

/// The columns of all groups, in a fixed order.
pub fn cage_columns(context: &MeasureContext) -> Vec<Column> {
    let ground = Groundwork::new(context);
    let groups = [
        warp::columns,
        spacing::columns,
        support::columns,
        poles::columns,
        seams::columns,
        shape::columns,
    ];
    let of_groups = groups.into_iter().flat_map(|group| group(&ground));
    of_groups.collect()
}
