//! Poles: interior vertices where other than four edges meet.

use super::Measured;
use super::about::{About, Unit};
use super::context::{MeasureContext, largest};
use crate::subdivision::masks;

/// Valence of the vertex.
pub const VALENCE: About = About {
    name: "valence",
    tells: "number of edges at the vertex",
    formula: "count of edges",
    unit: Unit::Count,
    range: "from 2; 4 inside a surface is regular, anything else there is a pole",
    source: "common practice, no published source",
    remedy: "poles of 3 and 5 belong on flat or evenly curved ground",
};

/// What a pole does to the curvature around it.
pub const POLE: About = About {
    name: "pole_swing",
    tells: "by how much the bend at a pole grows or dies out over the two levels that a preview shows, against the bend of its surroundings",
    formula: "|r² - 1| times the largest limit bend among the pole and its neighbours; r = μ / λ² is the change of curvature from level to level towards the pole, μ the eigenvalue of the saddle mode and λ the subdominant one of the pole's valence",
    unit: Unit::Degrees,
    range: "from 0 (no pole, or flat ground)",
    source: "eigenvalues: Ball & Storry 1988; growth of curvature: Peters & Reif, Subdivision Surfaces, 2008, section 6",
    remedy: "move the pole to flatter ground, or split it into poles of 3 and 5",
};

/// Growth ratio r = μ / λ² of the curvature's saddle mode towards an interior vertex of valence
/// `n`, 3 and more: below 1 it dies out, above 1 it grows without bound (Peters & Reif 2008). At
/// valence 3 the saddle mode shares its angle with the tangents and is the smaller eigenvalue of
/// their block.
pub fn saddle_growth(n: usize) -> f64 {
    let lambda = masks::subdominant_eigenvalue(n);
    let angle = 2.0 * std::f64::consts::PI / n as f64;
    let mu = if n == 3 {
        masks::minor_eigenvalue(angle)
    } else {
        masks::mode_eigenvalue(2.0 * angle)
    };
    mu / (lambda * lambda)
}

/// The two measures, in the order of their columns. `limit_bend` is
/// [`super::curvature::LIMIT_BEND`], one value per vertex.
pub fn measure(context: &MeasureContext, limit_bend: &[f64]) -> Vec<Measured> {
    let valence = context.per_vertex(|v| context.spokes.of(v).len() as f64);
    let swing = context.per_vertex(|v| {
        let n = context.spokes.of(v).len();
        if !context.spokes.is_interior(v) || n == 4 || n < 3 {
            return 0.0;
        }
        let around = context.spokes.of(v).iter().map(|s| s.vertex as usize);
        let bend = largest(around.chain([v]).map(|w| limit_bend[w]));
        (saddle_growth(n).powi(2) - 1.0).abs() * bend
    });
    vec![
        Measured {
            about: &VALENCE,
            values: valence,
        },
        Measured {
            about: &POLE,
            values: swing,
        },
    ]
}
