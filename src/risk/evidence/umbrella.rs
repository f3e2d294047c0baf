//! How far vertices stand off, or are slid along, the form of those around them: the twice-applied
//! umbrella operator on the cage and on its limit.

use super::cells::per_vertex;
use super::{Column, Quantity};
use crate::measure::MeasureContext;
use crate::measure::bump::twice_around;
use crate::mesh::Vec3;
use crate::risk::Cause;

const fn quantity(name: &'static str, formula: &'static str, speaks_for: Cause) -> Quantity {
    Quantity {
        name,
        formula,
        speaks_for,
        rising: false,
    }
}

// Source of all: umbrella operator, twice applied: Kobbelt et al., Interactive Multi-Resolution
// Modeling on Arbitrary Meshes, 1998.

/// Off the form, of the cage.
pub static CAGE_STAND_OFF: Quantity = quantity(
    "cage_stand_off",
    "|U·N| / h: U the twice-applied umbrella of the cage's positions, N the limit normal, h the mean edge length",
    Cause::Bump,
);
/// Along the form, of the cage.
pub static CAGE_SLIDE: Quantity = quantity(
    "cage_slide",
    "as cage_stand_off, the length of U's part across N",
    Cause::Spacing,
);
/// Off the form, of the limit.
pub static LIMIT_STAND_OFF: Quantity = quantity(
    "limit_stand_off",
    "as cage_stand_off, of the limit's positions",
    Cause::Bump,
);
/// Along the form, of the limit.
pub static LIMIT_SLIDE: Quantity = quantity(
    "limit_slide",
    "as cage_slide, of the limit's positions",
    Cause::Spacing,
);

/// The evidence.
pub fn columns(context: &MeasureContext) -> Vec<Column> {
    let limit: Vec<Vec3> = context.limit.vertices.iter().map(|s| s.position).collect();
    let [cage_off, cage_along] = parts(context, context.positions());
    let [limit_off, limit_along] = parts(context, &limit);
    let column = |quantity, values| Column { quantity, values };
    vec![
        column(&CAGE_STAND_OFF, cage_off),
        column(&CAGE_SLIDE, cage_along),
        column(&LIMIT_STAND_OFF, limit_off),
        column(&LIMIT_SLIDE, limit_along),
    ]
}

/// The umbrella's parts off and along the form, in mean edge lengths.
fn parts(context: &MeasureContext, positions: &[Vec3]) -> [Vec<f64>; 2] {
    let umbrella = twice_around(context, positions);
    per_vertex(context, |v| {
        let normal = &context.limit.vertices[v].normal;
        let (u, h) = (umbrella[v], context.edge_length[v]);
        match context.limit.vertices[v].has_normal() {
            true => [u.dot(normal).abs() / h, u.cross(normal).norm() / h],
            false => [f64::NAN; 2],
        }
    })
}
