//! What neither the loops nor the form of the neighbourhood predict.

use super::cells::over_ring_one;
use super::form::FormFit;
use super::loops::LoopPrediction;
use super::{Column, Quantity};
use crate::measure::MeasureContext;
use crate::risk::Cause;

const fn quantity(name: &'static str, formula: &'static str) -> Quantity {
    Quantity {
        name,
        formula,
        speaks_for: Cause::Bump,
        rising: true,
    }
}

// Source of all: this program's.

/// Unpredicted by either, from the near ring and from the far ones.
pub static UNPREDICTED: Quantity = quantity(
    "unpredicted",
    "in degrees, the smallest of loop_near, loop_far, form and form_far",
);
/// Unpredicted with the near ring.
pub static UNPREDICTED_NEAR: Quantity = quantity(
    "unpredicted_near",
    "in degrees, the smaller of loop_near and form",
);
/// Unpredicted without the near ring.
pub static UNPREDICTED_FAR: Quantity = quantity(
    "unpredicted_far",
    "in degrees, the smaller of loop_far and form_far",
);
/// The largest about the vertex.
pub static UNPREDICTED_ABOUT: Quantity =
    quantity("unpredicted_about", "largest unpredicted of the neighbours");
/// The mean about the vertex.
pub static UNPREDICTED_ABOUT_MEAN: Quantity = quantity(
    "unpredicted_about_mean",
    "mean unpredicted of the neighbours",
);

/// The evidence; [`UNPREDICTED`] comes first.
pub(super) fn columns(
    context: &MeasureContext,
    loops: &LoopPrediction,
    form: &FormFit,
) -> Vec<Column> {
    let near = smaller(&loops.near, &form.near);
    let far = smaller(&loops.far, &form.far);
    let both = smaller(&near, &far);
    let [about, about_mean] = over_ring_one(context, &both);
    let column = |quantity, values| Column { quantity, values };
    vec![
        column(&UNPREDICTED, both),
        column(&UNPREDICTED_NEAR, near),
        column(&UNPREDICTED_FAR, far),
        column(&UNPREDICTED_ABOUT, about),
        column(&UNPREDICTED_ABOUT_MEAN, about_mean),
    ]
}

/// The smaller of each two; what is undefined gives way.
fn smaller(a: &[f64], b: &[f64]) -> Vec<f64> {
    a.iter().zip(b).map(|(a, b)| a.min(*b)).collect()
}
