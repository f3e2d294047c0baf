//! How far vertices stand off the form of those around them: the twice-applied umbrella operator on
//! the cage and on its limit.

use super::groundwork::columns as collected;
use super::{Column, Quantity};
use crate::measure::MeasureContext;
use crate::measure::bump::twice_around;
use crate::mesh::Vec3;
use crate::risk::Cause;

// Source of all: umbrella operator, twice applied: Kobbelt et al., Interactive Multi-Resolution
// Modeling on Arbitrary Meshes, 1998.

/// Off the form, of the cage.
pub static CAGE_STAND_OFF: Quantity = Quantity::new(
    "cage_stand_off",
    "|U·N| / h: U the twice-applied umbrella of the cage's positions, N the limit normal, h the mean edge length",
    Cause::Bump,
);
/// Off the form, of the limit.
pub static LIMIT_STAND_OFF: Quantity = Quantity::new(
    "limit_stand_off",
    "as cage_stand_off, of the limit's positions",
    Cause::Bump,
);
/// The evidence.
pub fn columns(context: &MeasureContext) -> Vec<Column> {
    let limit: Vec<Vec3> = context.limit.vertices.iter().map(|s| s.position).collect();
    let quantities = [&CAGE_STAND_OFF, &LIMIT_STAND_OFF];
    collected(
        quantities,
        [context.positions(), &limit].map(|p| stand_off(context, p)),
    )
}

/// The umbrella's part off the form, in mean edge lengths.
fn stand_off(context: &MeasureContext, positions: &[Vec3]) -> Vec<f64> {
    let umbrella = twice_around(context, positions);
    context.per_vertex(|v| {
        let own = &context.limit.vertices[v];
        match own.has_normal() {
            true => umbrella[v].dot(&own.normal).abs() / context.edge_length[v],
            false => f64::NAN,
        }
    })
}
