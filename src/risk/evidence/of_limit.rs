//! All evidence that is read off the limit surface.

use super::{Column, cell_turn, loops, roughness, umbrella};
use crate::measure::MeasureContext;

/// The columns of all groups, in a fixed order.
pub fn limit_columns(context: &MeasureContext) -> Vec<Column> {
    let mut columns = Vec::new();
    for_each_group(context, &mut |group| columns.extend(group));
    columns
}

/// The same group by group.
pub(super) fn for_each_group(context: &MeasureContext, take: &mut impl FnMut(Vec<Column>)) {
    let groups = [
        loops::columns,
        roughness::columns,
        cell_turn::columns,
        umbrella::columns,
    ];
    groups.into_iter().for_each(|group| take(group(context)));
}
