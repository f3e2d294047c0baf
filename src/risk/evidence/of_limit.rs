//! All evidence that is read off the limit surface.

use super::deviation;
use super::form::FormFit;
use super::loops::LoopPrediction;
use super::surroundings::Surroundings;
use super::{Column, bend_jump, cell_turn, panel, roughness, umbrella};
use crate::measure::MeasureContext;

/// Deviation from the loops and roughness, in degrees, up to which nobody sees anything, so that no
/// form is fitted.
const UNSEEN_THRESHOLD: f64 = 1.0;

/// All evidence off the limit surface, one column per quantity, in the order of the files' names.
pub fn limit_columns(context: &MeasureContext) -> Vec<Column> {
    limit_columns_in(context, &Surroundings::new(context))
}

/// The same, with surroundings gathered before.
pub fn limit_columns_in(context: &MeasureContext, surroundings: &Surroundings) -> Vec<Column> {
    let rough = roughness::columns(context);
    let loops = LoopPrediction::new(context);
    let seen = seen(&loops.near, &rough[0].values);
    let form = FormFit::new(context, &surroundings.rings, &seen);
    let mut columns = deviation::columns(context, &loops, &form);
    columns.extend(loops.into_columns());
    columns.extend(form.into_columns());
    columns.extend(panel::columns(context, &seen));
    columns.extend(rough);
    columns.extend(bend_jump::columns(context));
    columns.extend(cell_turn::columns(context));
    columns.extend(umbrella::columns(context));
    columns
}

/// Whether anybody could see something at each vertex, by the loops or, where none passes, by the
/// roughness.
fn seen(by_loops: &[f64], roughness: &[f64]) -> Vec<bool> {
    let pairs = by_loops.iter().zip(roughness);
    pairs
        .map(|(&x, &rough)| if x.is_nan() { rough } else { x } > UNSEEN_THRESHOLD)
        .collect()
}
