//! Bumps: vertices that stand off the form of the cage.

use super::Measured;
use super::about::{About, Unit};
use super::context::MeasureContext;
use crate::mesh::Vec3;

/// Twice-applied umbrella.
pub const BUMP: About = About {
    name: "bump",
    tells: "how far the cage vertex stands off the form of the vertices around it",
    formula: "|mean(u(w)) - u(v)| over the neighbours w, over the mean edge length at the vertex; u(v) = mean of v's neighbours - v",
    unit: Unit::Ratio,
    range: "from 0 (evenly curved)",
    source: "umbrella operator, twice applied: Kobbelt et al., Interactive Multi-Resolution Modeling on Arbitrary Meshes, 1998",
    remedy: "move the vertex back onto the form of its neighbours",
};

/// The measure.
pub fn measure(context: &MeasureContext) -> Measured {
    let umbrella = twice_around(context, context.positions());
    let values = context.per_vertex(|v| umbrella[v].norm() / context.edge_length[v]);
    Measured {
        about: &BUMP,
        values,
    }
}

/// The umbrella operator applied twice to one position per vertex.
pub(crate) fn twice_around(context: &MeasureContext, positions: &[Vec3]) -> Vec<Vec3> {
    let once = all_around(context, positions);
    all_around(context, &once)
}

fn all_around(context: &MeasureContext, values: &[Vec3]) -> Vec<Vec3> {
    use rayon::prelude::*;
    (0..values.len())
        .into_par_iter()
        .with_min_len(256)
        .map(|v| around(context, v, values))
        .collect()
}

/// Mean of the neighbours' values minus the vertex's own.
fn around(context: &MeasureContext, v: usize, values: &[Vec3]) -> Vec3 {
    let spokes = context.spokes.of(v);
    let sum: Vec3 = spokes.iter().map(|s| values[s.vertex as usize]).sum();
    if spokes.is_empty() {
        return Vec3::zeros();
    }
    sum / spokes.len() as f64 - values[v]
}
