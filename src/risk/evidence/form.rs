//! How far the limit normals of a vertex's cell stray from a smooth form fitted robustly through
//! the vertices within three rings.

use super::cells::{largest_and_mean, per_vertex, samples};
use super::height_field::{CUBIC, Frame, Point, robust_fit};
use super::rings::Rings;
use super::{Column, Quantity};
use crate::measure::MeasureContext;
use crate::measure::context::angle_deg;
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

// Source of all: this program's; local height fields: Cazals & Pouget, Estimating differential
// quantities using polynomial fitting of osculating jets, 2005.

/// Largest angle to the form.
pub static FORM: Quantity = quantity(
    "form",
    "largest angle, in degrees, over the cell of the limit normals to a cubic height field fitted robustly through the limit points and normals of the vertices within three rings; 0 where loops and neighbours show nothing",
);
/// Mean angle to the form.
pub static FORM_MEAN: Quantity = quantity("form_mean", "as form, the mean over the cell");
/// Largest angle to the form of the surroundings.
pub static FORM_FAR: Quantity = quantity("form_far", "as form, fitted through rings 2 and 3 alone");
/// Mean angle to the form of the surroundings.
pub static FORM_FAR_MEAN: Quantity =
    quantity("form_far_mean", "as form_far, the mean over the cell");

/// Deviations from the fitted forms, in degrees: one value per vertex each; 0 where nothing is
/// seen, NaN where no form can be fitted.
pub(super) struct FormFit {
    /// From the form through all three rings: the largest over the cell.
    pub near: Vec<f64>,
    /// From the form through rings 2 and 3: the largest over the cell.
    pub far: Vec<f64>,
    means: [Vec<f64>; 2],
}

impl FormFit {
    /// Fits the forms about the vertices where something is `seen`.
    pub fn new(context: &MeasureContext, rings: &Rings, seen: &[bool]) -> Self {
        let [near, near_mean, far, far_mean] = per_vertex(context, |v| match seen[v] {
            true => of_vertex(context, rings, v),
            false => [0.0; 4],
        });
        Self {
            near,
            far,
            means: [near_mean, far_mean],
        }
    }

    /// As evidence.
    pub fn into_columns(self) -> Vec<Column> {
        let column = |quantity, values| Column { quantity, values };
        let [near_mean, far_mean] = self.means;
        vec![
            column(&FORM, self.near),
            column(&FORM_MEAN, near_mean),
            column(&FORM_FAR, self.far),
            column(&FORM_FAR_MEAN, far_mean),
        ]
    }
}

/// Largest and mean angle over the cell to the near form, and to the far one.
fn of_vertex(context: &MeasureContext, rings: &Rings, v: usize) -> [f64; 4] {
    let limit = |&w: &u32| &context.limit.vertices[w as usize];
    let own = &context.limit.vertices[v];
    let about = rings.between(v, 1, 2);
    let lengths = about.iter().map(|&w| context.edge_length[w as usize]);
    let unit = lengths.sum::<f64>() / about.len() as f64;
    let all = rings.between(v, 1, 3);
    let normals = all.iter().map(|w| limit(w).normal);
    let Some(frame) = Frame::new(own.position, normals, unit) else {
        return [f64::NAN; 4];
    };
    let mut points: Vec<Point> = all.iter().map(|w| frame.point(limit(w))).collect();
    let far = robust_fit::<CUBIC>(&points[rings.between(v, 1, 1).len()..]);
    points.push(frame.point(own));
    let near = robust_fit::<CUBIC>(&points);
    let angles = |field: Option<[f64; CUBIC]>| {
        let Some(field) = field else {
            return [f64::NAN; 2];
        };
        let angle = |s: &Sample| angle_deg(&s.normal, &frame.normal_of(&field, &s.position));
        largest_and_mean(samples(context, v).map(angle))
    };
    let ([near, near_mean], [far, far_mean]) = (angles(near), angles(far));
    [near, near_mean, far, far_mean]
}
