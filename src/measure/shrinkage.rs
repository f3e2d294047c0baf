//! Shrinkage: how far smoothing pulls the surface away from the cage's vertices.

use super::Measured;
use super::about::{About, Unit};
use super::context::MeasureContext;

/// Distance from a vertex to its limit point.
pub const SHRINKAGE: About = About {
    name: "shrinkage",
    tells: "how far the vertex moves when the cage is smoothed for good",
    formula: "|v - limit(v)|",
    unit: Unit::Length,
    range: "from 0 (the surface passes through the vertex)",
    source: "limit position: Halstead, Kass & DeRose 1993",
    remedy: "add support loops where the form must keep its size, or move the vertex outward by as much",
};

/// The same over the edge length.
pub const SHRINKAGE_RATIO: About = About {
    name: "shrinkage_ratio",
    tells: "shrinkage measured in edge lengths",
    formula: "|v - limit(v)| over the mean edge length at the vertex",
    unit: Unit::Ratio,
    range: "from 0; about bend/6 on an evenly bent strip (bend in radians)",
    source: "limit position: Halstead, Kass & DeRose 1993",
    remedy: "add support loops where the form must keep its size, or move the vertex outward by as much",
};

/// The two measures, in the order of their columns.
pub fn measure(context: &MeasureContext) -> Vec<Measured> {
    let distance = context
        .per_vertex(|v| (context.positions()[v] - context.limit.vertices[v].position).norm());
    let ratio = (0..distance.len())
        .map(|v| distance[v] / context.edge_length[v])
        .collect();
    let scale = context.scale();
    vec![
        Measured {
            about: &SHRINKAGE,
            values: distance.iter().map(|d| d * scale).collect(),
        },
        Measured {
            about: &SHRINKAGE_RATIO,
            values: ratio,
        },
    ]
}
