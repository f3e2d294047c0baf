//! What belongs to the cell of a cage vertex: the limit samples over itself, the middles of its
//! edges and the centres of its faces.

use crate::measure::MeasureContext;
use crate::measure::context::largest;
use crate::measure::samples::Sample;

/// The limit samples of the cell of vertex `v`.
pub(super) fn samples<'a>(
    context: &'a MeasureContext,
    v: usize,
) -> impl Iterator<Item = &'a Sample> + 'a {
    let limit = &context.limit;
    let edges = context.spokes.of(v).iter();
    std::iter::once(&limit.vertices[v])
        .chain(edges.map(|s| &limit.edges[s.edge as usize]))
        .chain(context.faces_of(v).map(|f| &limit.faces[f]))
}

/// The largest and the mean of some values, undefined ones left out; NaN if none is left.
#[inline]
pub(super) fn largest_and_mean(values: impl Iterator<Item = f64>) -> [f64; 2] {
    let (mut most, mut sum, mut count) = (f64::NAN, 0.0, 0usize);
    for x in values.filter(|x| x.is_finite()) {
        most = most.max(x);
        sum += x;
        count += 1;
    }
    [most, sum / count as f64]
}

/// The largest value and the mean over the neighbours of each vertex.
pub(super) fn over_ring_one(context: &MeasureContext, values: &[f64]) -> [Vec<f64>; 2] {
    context.together(|v| {
        let about = context.spokes.of(v).iter();
        let about = about.map(|s| values[s.vertex as usize]);
        [largest(about.clone()), largest_and_mean(about)[1]]
    })
}

/// Several values per vertex, in parallel; NaN at unreferenced vertices.
pub(super) fn per_vertex<const N: usize>(
    context: &MeasureContext,
    value: impl Fn(usize) -> [f64; N] + Sync + Send,
) -> [Vec<f64>; N] {
    context.together(value)
}
