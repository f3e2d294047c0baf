//! All evidence that is read off the limit surface.

use super::deviation::{self, UNPREDICTED};
use super::form::FormFit;
use super::loops::{LOOP_NEAR, LoopPrediction};
use super::panel::PANEL_CELL;
use super::roughness::{self, ROUGHNESS_MIDDLE};
use super::surroundings::{Surroundings, UNSEEN_DEG};
use super::{Column, Quantity, bend_jump, cell_turn, panel, umbrella};
use crate::measure::MeasureContext;
use crate::risk::Cause;

/// Deviation from the loops and roughness, in degrees, up to which nobody sees anything, so that no
/// form is fitted.
const UNSEEN_THRESHOLD: f64 = 1.0;

const fn in_context(name: &'static str, formula: &'static str) -> Quantity {
    Quantity {
        name,
        formula,
        speaks_for: Cause::Bump,
        rising: false,
    }
}

const BUSYNESS: &str =
    "ln((x + 1) / (m + 1)) of the quantity named first, m its median over rings 2 and 3";
const BREAKS_OFF: &str = "least over the straight loops of ln((x + 1) / (m + 1)) of the quantity named first, m its median two to four edges away either way";

/// The quantities that are compared with their surroundings, and the names of what comes of it.
static COMPARED: [(&Quantity, [Quantity; 2]); 4] = [
    (
        &UNPREDICTED,
        [
            in_context("unpredicted_busyness", BUSYNESS),
            in_context("unpredicted_breaks_off", BREAKS_OFF),
        ],
    ),
    (
        &LOOP_NEAR,
        [
            in_context("loop_near_busyness", BUSYNESS),
            in_context("loop_near_breaks_off", BREAKS_OFF),
        ],
    ),
    (
        &ROUGHNESS_MIDDLE,
        [
            in_context("roughness_middle_busyness", BUSYNESS),
            in_context("roughness_middle_breaks_off", BREAKS_OFF),
        ],
    ),
    (
        &PANEL_CELL,
        [
            in_context("panel_cell_busyness", BUSYNESS),
            in_context("panel_cell_breaks_off", BREAKS_OFF),
        ],
    ),
];

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
    for (quantity, names) in &COMPARED {
        let found = columns.iter().find(|c| c.quantity.name == quantity.name);
        let compared =
            found.map(|c| surroundings.compared(context, &c.values, UNSEEN_DEG, names.each_ref()));
        columns.extend(compared.into_iter().flatten());
    }
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
