//! What the evidence read off the cage shares: figures per edge and face, and ways over the cage.

use rayon::prelude::*;
use smallvec::SmallVec;

use super::{Column, Quantity};
use crate::measure::MeasureContext;
use crate::measure::context::in_columns;
use crate::measure::spokes::Spoke;
use crate::mesh::{NONE, Topology, Vec3};

/// Elements that one parallel task takes on at least.
pub(super) const TASK_LENGTH: usize = 512;

/// Stations either way that a value is compared with along a strip or loop.
pub(super) const STATIONS: usize = 2;

/// Part of the edges beside it that an edge counts for at least: nobody sees a fiftieth of an edge.
const LENGTH_MIN: f64 = 0.02;

/// Edges at a vertex through which loops run.
const REGULAR_VALENCE: usize = 4;

/// Cosines of the angle between an edge and the reverse of those beside it from which on its loop begins
/// to come back along it, and does: a loop may turn by 120 degrees on purpose.
const AGAINST: [f64; 2] = [0.5, 0.9];

/// The same of the angle between those beside it: in a narrow groove they run against each other.
const ONWARDS: [f64; 2] = [0.0, 0.5];

/// Faces of a strip on either side of a quad.
type NextQuads = [u32; 2 * STATIONS];

/// A few values, without allocating.
pub(super) type Few = SmallVec<[f64; 16]>;

/// Figures per edge and face.
pub struct Groundwork<'a> {
    /// What they are read off.
    pub context: &'a MeasureContext<'a>,
    /// Length of each edge, in the frame; of one along which its loop comes back next to nothing.
    pub length: Vec<f64>,
    /// Its logarithm; NaN for one of no length.
    pub log_length: Vec<f64>,
    /// Angle between the two faces of each edge in degrees; NaN where there are not two.
    pub bend: Vec<f64>,
    /// Warp, aspect, taper, skew and scaled Jacobian of each face; NaN where it is no quad.
    pub quality: &'a [[f64; 5]],
    /// The next quads of the two strips of each face, [`NONE`] where there are fewer.
    strips: Vec<[NextQuads; 2]>,
}

impl<'a> Groundwork<'a> {
    /// Takes the figures.
    pub fn new(context: &'a MeasureContext<'a>) -> Self {
        let topology = context.topology();
        let edges = &context.edges;
        let [length, bend, log_length] = in_columns(edges.len(), |e| {
            let length = along_its_loop(context, e);
            [length, edges[e].bend, logarithm(length)]
        });
        Self {
            context,
            length,
            log_length,
            bend,
            quality: context.quad_qualities(),
            strips: per_index(topology.face_count(), |f| strips(topology, f)),
        }
    }

    /// For each quad how far its value is out of step with the strips that it belongs to:
    /// `compared(value, median)` with the median of the next quads of a strip, each figure the
    /// smaller one of both strips. NaN for other faces and without next quads.
    pub(super) fn out_of_strip<const N: usize>(
        &self,
        values: &[f64],
        compared: impl Fn(f64, f64) -> [f64; N] + Sync + Send,
    ) -> Vec<[f64; N]> {
        per_index(values.len(), |f| {
            let [a, b] = self.strips[f].map(|strip| {
                let at = |next: u32| values.get(next as usize).copied();
                let median = median_of_four(strip.map(|next| at(next).unwrap_or(f64::NAN)));
                if median.is_nan() || values[f].is_nan() {
                    [f64::NAN; N]
                } else {
                    compared(values[f], median)
                }
            });
            std::array::from_fn(|k| a[k].min(b[k]))
        })
    }
}

/// The length of edge `e`; at least [`LENGTH_MIN`] of the shorter one of the edges before and after it
/// along its loop, and just that where the loop comes back along it: the farther a vertex is pushed past
/// the next one, the longer the edge between them, but the loop gets no farther by it.
fn along_its_loop(context: &MeasureContext, e: usize) -> f64 {
    let (topology, spokes) = (context.topology(), &context.spokes);
    let length = context.edges[e].length;
    let [a, b] = topology.edge_vertices(e);
    if spokes.of(a).len().max(spokes.of(b).len()) > REGULAR_VALENCE {
        return length;
    }
    let ways = spokes.leading_to(topology, e, b).and_then(|there| {
        let back = spokes.of(b)[spokes.back(there)?];
        Some([spokes.straight_on(there)?, spokes.straight_on(back)?])
    });
    let Some([after, before]) = ways else {
        return length;
    };
    let at = |v: usize| context.positions()[v];
    let along = at(b) - at(a);
    let after = at(after.vertex as usize) - at(b);
    let before = at(a) - at(before.vertex as usize);
    let least = LENGTH_MIN * after.norm().min(before.norm());
    let back = coming_back(&along, &after, &before);
    length.max(least) * (1.0 - back) + least * back
}

/// How far a loop comes back along an edge between two others, from 0 to 1: by how much the edge is
/// against both of them and these run the same way. Without a sudden change, so that turning a form
/// whose loops turn by right angles changes nothing.
fn coming_back(along: &Vec3, after: &Vec3, before: &Vec3) -> f64 {
    let cosine = |a: &Vec3, b: &Vec3| a.dot(b) / (a.norm() * b.norm());
    let against = -cosine(along, after).max(cosine(along, before));
    let onwards = cosine(after, before);
    let ramp = |x: f64, [low, high]: [f64; 2]| ((x - low) / (high - low)).clamp(0.0, 1.0);
    let back = ramp(against, AGAINST) * ramp(onwards, ONWARDS);
    // An edge of no length runs no way.
    if back.is_nan() { 0.0 } else { back }
}

/// The next quads of the two strips that quad `f` belongs to; none for other faces.
fn strips(topology: &Topology, f: usize) -> [NextQuads; 2] {
    let mut strips = [[NONE; 2 * STATIONS]; 2];
    if topology.face_size(f) == 4 {
        let start = topology.face_corners(f).start;
        for (k, strip) in strips.iter_mut().enumerate() {
            let ways = [start + k, start + k + 2];
            let next = ways.into_iter().flat_map(|c| quads_across(topology, c));
            for (slot, c) in strip.iter_mut().zip(next) {
                *slot = topology.face_of(c) as u32;
            }
        }
    }
    strips
}

/// One value per index, in parallel.
pub(super) fn per_index<T: Send>(count: usize, value: impl Fn(usize) -> T + Sync + Send) -> Vec<T> {
    let indices = (0..count).into_par_iter().with_min_len(TASK_LENGTH);
    indices.map(value).collect()
}

/// Several values per vertex, taken together. Unreferenced vertices are NaN.
pub(super) fn per_vertex<const N: usize>(
    context: &MeasureContext,
    values: impl Fn(usize) -> [f64; N] + Sync + Send,
) -> [Vec<f64>; N] {
    context.together(values)
}

/// Columns of the given quantities and values, in their order.
pub(super) fn columns<const N: usize>(
    quantities: [&'static Quantity; N],
    values: [Vec<f64>; N],
) -> Vec<Column> {
    let pairs = quantities.into_iter().zip(values);
    pairs
        .map(|(quantity, values)| Column { quantity, values })
        .collect()
}

/// Mean and largest of the values of the vertices joined to `v` by an edge; NaN where none is
/// defined.
pub(super) fn over_ring(context: &MeasureContext, values: &[f64], v: usize) -> [f64; 2] {
    let around = context
        .spokes
        .of(v)
        .iter()
        .map(|s| values[s.vertex as usize]);
    let (mut sum, mut count, mut largest) = (0.0, 0.0, f64::NAN);
    for x in around.filter(|x| !x.is_nan()) {
        sum += x;
        count += 1.0;
        largest = x.max(largest);
    }
    [sum / count, largest]
}

/// The largest of the values of the vertices joined to each vertex by an edge.
pub(super) fn ring_largest(context: &MeasureContext, values: &[f64]) -> Vec<f64> {
    context.per_vertex(|v| over_ring(context, values, v)[1])
}

/// The [`median`] of as many values as there are stations along a loop or strip.
#[inline]
pub(super) fn median_of_four(values: [f64; 2 * STATIONS]) -> f64 {
    if values.iter().any(|x| x.is_nan()) {
        return median(values.into_iter());
    }
    // Without a sort's branches.
    let [a, b, c, d] = values;
    let [low, high] = [a.min(b).max(c.min(d)), a.max(b).min(c.max(d))];
    0.5 * (low + high)
}

/// The middle one of the defined values, the mean of the two middle ones of an even number; NaN
/// without any.
pub(super) fn median(values: impl Iterator<Item = f64>) -> f64 {
    let mut sorted: Few = values.filter(|x| !x.is_nan()).collect();
    if sorted.is_empty() {
        return f64::NAN;
    }
    sorted.sort_unstable_by(f64::total_cmp);
    let n = sorted.len();
    0.5 * (sorted[(n - 1) / 2] + sorted[n / 2])
}

/// ln(x); NaN where there is none.
pub(super) fn logarithm(x: f64) -> f64 {
    if x > 0.0 { x.ln() } else { f64::NAN }
}

/// The quads that one comes through going straight across the edge of corner `c`, away from its
/// face: [`STATIONS`] at most, each by the corner whose edge it is entered across. The strip ends at
/// a border and before a face that is no quad.
fn quads_across(topology: &Topology, c: usize) -> impl Iterator<Item = usize> + '_ {
    let mut leaving = c;
    let step = move || {
        let entered = topology.twin(leaving)?;
        leaving = topology.across_quad(entered)?;
        Some(entered)
    };
    std::iter::from_fn(step).take(STATIONS)
}

/// The spokes next to spoke `j` of vertex `v`: counter-clockwise and clockwise of it.
pub(super) fn neighbouring(context: &MeasureContext, v: usize, j: usize) -> [Option<Spoke>; 2] {
    let spokes = context.spokes.of(v);
    if !context.spokes.is_manifold(v) {
        return [None; 2];
    }
    if context.spokes.is_interior(v) {
        let n = spokes.len();
        return [Some(spokes[(j + 1) % n]), Some(spokes[(j + n - 1) % n])];
    }
    let before = j.checked_sub(1).map(|k| spokes[k]);
    [spokes.get(j + 1).copied(), before]
}
