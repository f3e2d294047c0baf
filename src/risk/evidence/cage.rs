//! All evidence that is read off the cage.

use super::groundwork::Groundwork;
use super::symmetry::{self, Symmetry};
use super::{Column, poles, seams, shape, spacing, support, warp};
use crate::measure::MeasureContext;

/// The columns of all groups, in a fixed order.
pub fn cage_columns(context: &MeasureContext) -> Vec<Column> {
    columns(context, &Symmetry::new(context))
}

/// The same, with the symmetry that was found before.
pub fn columns(context: &MeasureContext, symmetry: &Symmetry) -> Vec<Column> {
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
    let of_symmetry = symmetry::columns(&ground, symmetry);
    of_groups.chain(of_symmetry).collect()
}
