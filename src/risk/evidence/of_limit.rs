//! All evidence that is read off the limit surface.

use super::{Column, cell_turn, loops, roughness, umbrella};
use crate::measure::MeasureContext;

/// The columns of all groups, in a fixed order.
pub fn limit_columns(context: &MeasureContext) -> Vec<Column> {
    let groups = [
        loops::columns,
        roughness::columns,
        cell_turn::columns,
        umbrella::columns,
    ];
    groups
        .into_iter()
        .flat_map(|group| group(context))
        .collect()
}
