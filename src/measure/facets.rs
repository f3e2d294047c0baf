//! Facets: triangles and n-gons, weighed by the curvature they sit on.

use rayon::prelude::*;

use super::Measured;
use super::about::{About, Unit};
use super::context::{MeasureContext, largest};

/// Triangles and n-gons on curved ground.
pub const FACET: About = About {
    name: "facet_bend",
    tells: "how much the surface bends where a triangle or n-gon touches the vertex",
    formula: "the largest limit bend over the corners of the triangles (times 1) and n-gons (times 1.5) at the vertex",
    unit: Unit::Degrees,
    range: "from 0 (no triangle or n-gon, or flat ground)",
    source: "quads smooth best, triangles unpredictably, faces of more sides more so, on flat ground none does harm: common practice, no published source; the weight 1.5 is this program's",
    remedy: "turn the face into quads: run a loop through it, or move it to flat ground; for a cap, add a loop just inside its rim",
};

/// Weight of a triangle.
const TRIANGLE_WEIGHT: f64 = 1.0;

/// Weight of a face of five sides or more.
const NGON_WEIGHT: f64 = 1.5;

/// The measure. `limit_bend` is [`super::curvature::LIMIT_BEND`], one value per vertex.
pub fn measure(context: &MeasureContext, limit_bend: &[f64]) -> Measured {
    let topology = context.topology();
    let faces: Vec<f64> = (0..topology.face_count())
        .into_par_iter()
        .with_min_len(256)
        .map(|f| {
            let weight = match topology.face_size(f) {
                4 => return 0.0,
                0..=3 => TRIANGLE_WEIGHT,
                _ => NGON_WEIGHT,
            };
            let corners = topology.face_corners(f);
            weight * largest(corners.map(|c| limit_bend[topology.vertex(c)]))
        })
        .collect();
    Measured {
        about: &FACET,
        values: context.per_vertex(|v| largest(context.faces_of(v).map(|f| faces[f]))),
    }
}
