//! The fillets that smoothing makes of the bent edges at a vertex.

use super::Measured;
use super::about::{About, Unit};
use super::context::MeasureContext;
use crate::limit::Station;

/// How tight.
pub const FILLET_RADIUS: About = About {
    name: "fillet_radius",
    tells: "how tightly smoothing rounds the bent edges at the vertex",
    formula: "the smallest over the middles of the edges at the vertex that bend by more than 30 degrees: the smallest radius of normal curvature across the edge, from the loop on one side to that on the other; d cos²(b/2) / (2 sin(b/2)) at an edge of bend b held evenly by loops at distance d, less where the strips beyond are wider than 3 d",
    unit: Unit::Length,
    range: "from 0 (an infinitely sharp crease); empty where no bent edge meets the vertex",
    source: "normal curvature: do Carmo, Differential Geometry of Curves and Surfaces, 1976, section 3-2; sections as uniform cubic B-splines: Catmull & Clark 1978",
    remedy: "for a radius r put the loops on either side 2 r sin(b/2) / cos²(b/2) from the edge; where the radius changes along a loop its support does",
};

/// How wide.
pub const FILLET_WIDTH: About = About {
    name: "fillet_width",
    tells: "how wide the rounding of the bent edges at the vertex is",
    formula: "the smallest over the middles of the bent edges at the vertex: the straight distance between the limit images of the middles of the loops on either side, or of the centre of a triangle or n-gon; 2 (5 d + e) / 6 cos(b/2) at an edge of bend b held evenly by loops at distance d, with strips of width e beyond",
    unit: Unit::Length,
    range: "from 0 (an infinitely sharp crease); empty where no bent edge meets the vertex",
    source: "limit mask (1, 4, 1) / 6 of the uniform cubic B-spline: Catmull & Clark 1978",
    remedy: "move the loops on either side, and those beyond, nearer to the edge for a narrower rounding",
};

/// How far off the edge.
pub const FILLET_STAND_OFF: About = About {
    name: "fillet_stand_off",
    tells: "how far the smoothed surface stands off the bent edges at the vertex",
    formula: "the largest over the middles of the bent edges at the vertex: the distance from the limit image of the middle to the cage edge; d / 3 sin(b/2) at an edge of bend b held evenly by loops at distance d",
    unit: Unit::Length,
    range: "from 0; empty where no bent edge meets the vertex",
    source: "limit mask (1, 4, 1) / 6 of the uniform cubic B-spline: Catmull & Clark 1978",
    remedy: "move the loops on either side nearer to the edge",
};

/// The three measures, in the order of their columns.
pub fn measure(context: &MeasureContext) -> Vec<Measured> {
    let gathered = |about, of: fn(&Station) -> f64, choose: fn(f64, f64) -> f64| {
        let mut values = vec![f64::NAN; context.topology().vertex_count()];
        for station in context.fillets.stations() {
            for v in context.topology().edge_vertices(station.edge) {
                values[v] = choose(values[v], of(station));
            }
        }
        Measured { about, values }
    };
    vec![
        gathered(&FILLET_RADIUS, |s| s.radius, f64::min),
        gathered(&FILLET_WIDTH, |s| s.width, f64::min),
        gathered(&FILLET_STAND_OFF, |s| s.stand_off, f64::max),
    ]
}
