//! How far a vertex strays from the panel that it lies on: what its neighbourhood makes up up to
//! the next tight bend.

use super::cells::per_vertex;
use super::height_field::{Frame, Point, QUADRIC, robust_fit};
use super::{Column, Quantity};
use crate::measure::MeasureContext;
use crate::measure::context::{angle_deg, largest};
use crate::measure::samples::Sample;
use crate::measure::spokes::Spoke;
use crate::risk::Cause;

/// Angle to the panel.
// Source: this program's; local height fields: Cazals & Pouget 2005.
pub static PANEL: Quantity = Quantity {
    name: "panel",
    formula: "angle, in degrees, of the limit normal to a quadric fitted robustly through the limit points and normals of the vertices within three edge steps each of which turns the limit normal by less than 25 degrees; 0 where loops and neighbours show nothing; NaN where fewer than five vertices are reached",
    speaks_for: Cause::Bump,
    rising: true,
};

/// Largest angle to the panel about the vertex.
// Source: as above.
pub static PANEL_CELL: Quantity = Quantity {
    name: "panel_cell",
    formula: "as panel, the largest over the vertex and the middles of its edges to vertices of the panel",
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
    let [own, cell] = per_vertex(context, |v| match seen[v] {
        true => of_vertex(context, v),
        false => [0.0; 2],
    });
    let column = |quantity, values| Column { quantity, values };
    vec![column(&PANEL, own), column(&PANEL_CELL, cell)]
}

/// The angle at the vertex, and the largest of those over the panel's part of its cell.
fn of_vertex(context: &MeasureContext, v: usize) -> [f64; 2] {
    let panel = panel_about(context, v);
    let limit = |&w: &usize| &context.limit.vertices[w];
    let own = limit(&v);
    let lengths = panel.iter().map(|&w| context.edge_length[w]);
    let unit = lengths.sum::<f64>() / panel.len() as f64;
    let normals = panel.iter().map(|w| limit(w).normal);
    let Some(frame) = Frame::new(own.position, normals, unit) else {
        return [f64::NAN; 2];
    };
    let points: Vec<Point> = panel.iter().map(|w| frame.point(limit(w))).collect();
    let Some(field) = robust_fit::<QUADRIC>(&points) else {
        return [f64::NAN; 2];
    };
    let angle = |s: &Sample| angle_deg(&s.normal, &frame.normal_of(&field, &s.position));
    let on_panel = |s: &&Spoke| {
        let there = limit(&(s.vertex as usize));
        own.normal.dot(&there.normal) > PANEL_TURN_COSINE
    };
    let about = context.spokes.of(v).iter().filter(on_panel);
    let middles = about.map(|s| angle(&context.limit.edges[s.edge as usize]));
    [angle(own), largest(middles).max(angle(own))]
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
