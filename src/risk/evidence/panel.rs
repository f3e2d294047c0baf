//! How far a vertex strays from the panel that it lies on: what its neighbourhood makes up up to
//! the next tight bend.

use super::height_field::{Frame, Point, QUADRIC, robust_fit};
use super::{Column, Quantity};
use crate::measure::MeasureContext;
use crate::measure::context::angle_deg;
use crate::risk::Cause;

/// Angle to the panel.
// Source: this program's; local height fields: Cazals & Pouget 2005.
pub static PANEL: Quantity = Quantity {
    name: "panel",
    formula: "angle, in degrees, of the limit normal to a quadric fitted robustly through the limit points and normals of the vertices within three edge steps each of which turns the limit normal by less than 25 degrees; 0 where loops and neighbours show nothing; NaN where fewer than five vertices are reached",
    speaks_for: Cause::Bump,
    rising: true,
};

/// Cosine of the turn of the limit normal, 25 degrees, at which a panel ends.
const PANEL_TURN_COSINE: f64 = 0.906_307_787_036_65;

/// Edge steps that a panel reaches.
const STEPS: usize = 3;

/// Vertices that a fit takes at most; a step that would bring more is not taken.
const POINTS_MAX: usize = 128;

/// Valence up to which a vertex of a panel is left again: from each of its neighbours, the ring
/// about a pole of very high valence would be the whole surface.
const VALENCE_MAX: usize = 32;

/// The panels' evidence, where something is `seen`.
pub fn columns(context: &MeasureContext, seen: &[bool]) -> Vec<Column> {
    let values = context.per_vertex(|v| match seen[v] {
        true => of_vertex(context, v),
        false => 0.0,
    });
    vec![Column {
        quantity: &PANEL,
        values,
    }]
}

fn of_vertex(context: &MeasureContext, v: usize) -> f64 {
    let panel = panel_about(context, v);
    let limit = |&w: &usize| &context.limit.vertices[w];
    let own = limit(&v);
    let lengths = panel.iter().map(|&w| context.edge_length[w]);
    let unit = lengths.sum::<f64>() / panel.len() as f64;
    let normals = panel.iter().map(|w| limit(w).normal);
    let Some(frame) = Frame::new(own.position, normals, unit) else {
        return f64::NAN;
    };
    let points: Vec<Point> = panel.iter().map(|w| frame.point(limit(w))).collect();
    let fit = robust_fit::<QUADRIC>(&points);
    fit.map_or(f64::NAN, |field| {
        angle_deg(&own.normal, &frame.normal_of(&field, &own.position))
    })
}

/// The vertices of the panel about `v`, with itself.
fn panel_about(context: &MeasureContext, v: usize) -> Vec<usize> {
    let normal = |v: usize| &context.limit.vertices[v].normal;
    let mut panel = vec![v];
    let mut entered = 0;
    for _ in 0..STEPS {
        let end = panel.len();
        for i in entered..end {
            let u = panel[i];
            if u != v && context.spokes.of(u).len() > VALENCE_MAX {
                continue;
            }
            for w in context.spokes.of(u).iter().map(|s| s.vertex as usize) {
                let smooth = normal(u).dot(normal(w)) > PANEL_TURN_COSINE;
                if smooth && !panel.contains(&w) {
                    panel.push(w);
                }
            }
        }
        if panel.len() > POINTS_MAX {
            panel.truncate(end);
        }
        entered = end;
    }
    panel
}
