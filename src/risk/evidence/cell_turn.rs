//! What the limit surface does within one vertex's cell: how far it turns, and against the faces.

use super::cells::{per_vertex, samples};
use super::groundwork::per_index;
use super::surroundings::{UNSEEN_DEG, standing_out};
use super::{Column, Quantity};
use crate::measure::MeasureContext;
use crate::measure::angles::angle_deg;
use crate::measure::context::largest;
use crate::measure::medians::median;
use crate::risk::Cause;

// Source of all: angles of normals, common geometry; the comparison is this program's.

/// The turn within the cell beyond the neighbours'.
pub static CELL_TURN: Quantity = Quantity::new(
    "cell_turn",
    "ln((t + 1) / (m + 1)): t the largest angle, in degrees, between the limit normal at the vertex and those in its cell, m the median t of the neighbours",
    Cause::Bump,
);
/// Faces that the limit surface leans against.
pub static FACE_LEAN: Quantity = Quantity::new(
    "face_lean",
    "largest 1 - N·n over the faces at the vertex, N the limit normal over the face's centre, n the face's",
    Cause::Fold,
);

/// The evidence.
pub fn columns(context: &MeasureContext) -> Vec<Column> {
    let leans = per_index(context.face_areas.len(), |f| lean(context, f));
    let [turn, lean] = per_vertex(context, |v| {
        let lean = largest(context.faces_of(v).map(|f| leans[f]));
        [turn(context, v), lean]
    });
    let stands_out = context.per_vertex(|v| {
        let about = context.spokes.of(v).iter().map(|s| turn[s.vertex as usize]);
        f64::from(standing_out(
            turn[v] as f32,
            median(about) as f32,
            UNSEEN_DEG,
        ))
    });
    let column = |quantity, values| Column { quantity, values };
    vec![column(&CELL_TURN, stands_out), column(&FACE_LEAN, lean)]
}

/// The largest angle within the cell to the normal at the vertex, in degrees.
fn turn(context: &MeasureContext, v: usize) -> f64 {
    let own = &context.limit.vertices[v].normal;
    let with_normal = samples(context, v).filter(|s| s.has_normal());
    let products = with_normal.map(|s| (own.dot(&s.normal), s));
    let furthest = products.min_by(|(a, _), (b, _)| a.total_cmp(b));
    furthest.map_or(f64::NAN, |(_, s)| angle_deg(own, &s.normal))
}

/// How far the limit surface leans against face `f`.
fn lean(context: &MeasureContext, f: usize) -> f64 {
    let sample = &context.limit.faces[f];
    match sample.has_normal() {
        true => 1.0 - sample.normal.dot(&context.face_normal(f)),
        false => f64::NAN,
    }
}
