//! All evidence that is read off the cage.

use super::groundwork::Groundwork;
use super::{Column, lean, poles, ripples, seams, shape, spacing, support, warp};
use crate::measure::MeasureContext;

/// The columns of all groups, in a fixed order.
pub fn cage_columns(context: &MeasureContext) -> Vec<Column> {
    let mut columns = Vec::new();
    for_each_group(context, &mut |group| columns.extend(group));
    columns
}

/// The same group by group.
pub(super) fn for_each_group(context: &MeasureContext, take: &mut impl FnMut(Vec<Column>)) {
    let ground = Groundwork::new(context);
    let groups = [
        warp::columns,
        spacing::columns,
        lean::columns,
        support::columns,
        poles::columns,
        ripples::columns,
        seams::columns,
        shape::columns,
    ];
    groups.into_iter().for_each(|group| take(group(&ground)));
}
