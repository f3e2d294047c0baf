//! Evidence of warped quads.

use super::groundwork::{Groundwork, columns as collected, over_ring, per_vertex};
use super::{Column, Quantity};
use crate::measure::context::largest;
use crate::risk::Cause;

/// Angle added to both sides of a comparison, in degrees: nobody sees less.
pub(super) const ANGLE_FLOOR: f64 = 1.0;

static WARP: Quantity = Quantity::new(
    "quad_warp",
    "largest angle, in degrees, between the two triangles of a quad at the vertex, split along either diagonal (warpage: SAND2007-1751)",
    Cause::Warp,
);

static RING_MEAN: Quantity = Quantity::new(
    "quad_warp_ring_mean",
    "mean of quad_warp over the neighbours (this program's)",
    Cause::Warp,
);

static RING_LARGEST: Quantity = Quantity::new(
    "quad_warp_ring_largest",
    "largest quad_warp of a neighbour (this program's)",
    Cause::Warp,
);

static OUT_OF_STEP: Quantity = Quantity::new(
    "quad_warp_out_of_step",
    "excess of a quad's warp, in degrees, over the median of the two next quads either way of a strip, the smaller excess of its two strips; largest quad at the vertex (this program's)",
    Cause::Warp,
);

static TIMES_STRIP: Quantity = Quantity::new(
    "quad_warp_times_strip",
    "ln((w + e) / (m + e)) of the same warp and median, e = 1 degree, the smaller of the two strips; largest quad at the vertex (this program's)",
    Cause::Warp,
);

/// The columns.
pub fn columns(ground: &Groundwork) -> Vec<Column> {
    let context = ground.context;
    let warp: Vec<f64> = ground.quality.iter().map(|q| q[0]).collect();
    let steps = ground.out_of_strip(&warp, |w, m| {
        [(w - m).max(0.0), (w + ANGLE_FLOOR) / (m + ANGLE_FLOOR)]
    });
    let [here, excess, times] = per_vertex(context, |v| {
        let faces = || context.faces_of(v);
        let here = largest(faces().map(|f| warp[f]));
        let [excess, times] = [0, 1].map(|k| largest(faces().map(|f| steps[f][k])));
        [here, excess, times.ln()]
    });
    let [mean, most] = per_vertex(context, |v| over_ring(context, &here, v));
    collected(
        [&WARP, &RING_MEAN, &RING_LARGEST, &OUT_OF_STEP, &TIMES_STRIP],
        [here, mean, most, excess, times],
    )
}
