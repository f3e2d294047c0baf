//! How far the limit normal strays from what the loops through a place go on with.
//!
//! What continues along a loop is meant; what breaks off is suspect. A sample's normal is compared
//! with predictions from the stations one and two steps away along each of its two loops, and the
//! closest prediction counts.

use super::Measured;
use super::about::{About, Unit};
use super::context::MeasureContext;
use super::samples::Sample;
use super::spokes::Spoke;
use crate::mesh::Vec3;

/// Deviation from the loops.
pub const LOOP_DEVIATION: About = About {
    name: "loop_deviation",
    tells: "how far the smoothed surface strays at the vertex from what its loops go on with",
    formula: "the angle between the limit normal and the closest of its predictions from one and two steps either way along both loops (linear, cubic, one-sided); the larger of the vertex's own, and of the medians over the middles of its edges and the centres of its faces",
    unit: Unit::Degrees,
    range: "from 0 (goes on as the loops do); empty where no loop passes",
    source: "this program's; what continues unchanged along a loop is meant: common practice, no published source",
    remedy: "see the leading cause of the risk",
};

/// Largest factor by which a one-sided prediction extrapolates beyond its last step.
const EXTRAPOLATION_MAX: f64 = 3.0;

/// Share of the turning that goes on over the last step to a border: there the surface's second
/// derivative across vanishes, so that turning dies out linearly and half of it is left.
const BORDER_SHARE: f64 = 0.5;

/// The samples met along a loop on one side of a place: one, two and three steps away.
pub(crate) type Stations = [Option<Sample>; 3];

/// The measure.
pub fn measure(context: &MeasureContext) -> Measured {
    let near = |sample: &Sample, a: &Stations, b: &Stations| {
        let mut closest = Closest::to(sample);
        closest.consider_all(&near_pair(a), &near_pair(b), OneSided::AtEnds);
        closest.angle_deg()
    };
    let by_sample = PerSample::new(context, near);
    let values = context.per_vertex(|v| {
        let about = context.spokes.of(v).iter();
        let edge_median = median(about.map(|s| by_sample.edges[s.edge as usize]));
        let face_median = median(context.faces_of(v).map(|f| by_sample.faces[f]));
        by_sample.vertices[v].max(edge_median).max(face_median)
    });
    Measured {
        about: &LOOP_DEVIATION,
        values,
    }
}

/// The stations one and two steps away.
pub(crate) fn near_pair(stations: &Stations) -> [Option<Sample>; 2] {
    [stations[0], stations[1]]
}

/// The stations two and three steps away.
pub(crate) fn far_pair(stations: &Stations) -> [Option<Sample>; 2] {
    [stations[1], stations[2]]
}

/// One figure per limit sample, from the stations along its loops.
pub(crate) struct PerSample<T> {
    /// One per cage vertex.
    pub vertices: Vec<T>,
    /// One per cage edge, at its middle.
    pub edges: Vec<T>,
    /// One per cage face, at its centre.
    pub faces: Vec<T>,
}

/// A figure that can be the smallest over the loops through a place.
pub(crate) trait Least: Copy + Send {
    /// Where no loop passes.
    const UNDEFINED: Self;
    /// The smaller one; what is undefined gives way.
    fn least(self, other: Self) -> Self;
}

impl Least for f64 {
    const UNDEFINED: Self = Self::NAN;
    fn least(self, other: Self) -> Self {
        self.min(other)
    }
}

impl<const N: usize> Least for [f64; N] {
    const UNDEFINED: Self = [f64::NAN; N];
    fn least(self, other: Self) -> Self {
        std::array::from_fn(|i| self[i].min(other[i]))
    }
}

impl<T: Least> PerSample<T> {
    /// The smallest of `figure` over the loops through each sample, given the stations either way.
    pub fn new(
        context: &MeasureContext,
        figure: impl Fn(&Sample, &Stations, &Stations) -> T + Sync + Send,
    ) -> Self {
        let topology = context.topology();
        Self {
            vertices: parallel(topology.vertex_count(), |v| at_vertex(context, v, &figure)),
            edges: parallel(topology.edge_count(), |e| at_edge(context, e, &figure)),
            faces: parallel(topology.face_count(), |f| at_face(context, f, &figure)),
        }
    }
}

fn parallel<T: Send>(count: usize, value: impl Fn(usize) -> T + Sync + Send) -> Vec<T> {
    use rayon::prelude::*;
    (0..count)
        .into_par_iter()
        .with_min_len(256)
        .map(value)
        .collect()
}

/// At a vertex: the loops through it. Across a border there is one side.
fn at_vertex<T: Least>(
    context: &MeasureContext,
    v: usize,
    figure: impl Fn(&Sample, &Stations, &Stations) -> T,
) -> T {
    let spokes = context.spokes.of(v);
    let sample = &context.limit.vertices[v];
    let regular = context.spokes.is_manifold(v)
        && spokes.len() == if context.spokes.is_interior(v) { 4 } else { 3 };
    if !regular {
        return T::UNDEFINED;
    }
    let at = |s: Spoke| context.limit.vertices[s.vertex as usize];
    let along = |spoke: Spoke| walk(Some(spoke), |s| context.spokes.straight_on(s), at);
    let ways =
        spokes
            .iter()
            .enumerate()
            .filter_map(|(j, &spoke)| match context.spokes.opposite(v, j) {
                Some(opposite) if opposite.edge < spoke.edge => None,
                opposite => Some((along(spoke), opposite.map_or([None; 3], along))),
            });
    ways.fold(T::UNDEFINED, |least, (a, b)| {
        least.least(figure(sample, &a, &b))
    })
}

/// The samples at the first place and at the next two.
fn walk<P: Copy>(
    first: Option<P>,
    next: impl Fn(P) -> Option<P>,
    at: impl Fn(P) -> Sample,
) -> Stations {
    let second = first.and_then(&next);
    [first, second, second.and_then(&next)].map(|p| p.map(&at))
}

/// At the middle of an edge: the loop that it belongs to, and the loops' strip that it crosses.
fn at_edge<T: Least>(
    context: &MeasureContext,
    e: usize,
    figure: impl Fn(&Sample, &Stations, &Stations) -> T,
) -> T {
    let topology = context.topology();
    let sample = &context.limit.edges[e];
    let at = |e: usize| context.limit.edges[e];
    let [a, b] = topology.edge_vertices(e).map(|v| {
        let arrived = Spoke {
            edge: e as u32,
            vertex: v as u32,
        };
        let on = |s: Spoke| context.spokes.straight_on(s);
        walk(on(arrived), on, |s| at(s.edge as usize))
    });
    let c = topology.edge_corner(e);
    let strip = |c: Option<usize>| {
        let across = |o: usize| topology.twin(o).and_then(|t| opposite_side(context, t));
        let first = c.and_then(|c| opposite_side(context, c));
        walk(first, across, |o| at(topology.edge(o)))
    };
    let across = figure(sample, &strip(Some(c)), &strip(topology.twin(c)));
    figure(sample, &a, &b).least(across)
}

/// At the centre of a quad: the two strips that cross in it.
fn at_face<T: Least>(
    context: &MeasureContext,
    f: usize,
    figure: impl Fn(&Sample, &Stations, &Stations) -> T,
) -> T {
    let topology = context.topology();
    if topology.face_size(f) != 4 {
        return T::UNDEFINED;
    }
    let sample = &context.limit.faces[f];
    let start = topology.face_corners(f).start;
    let into_quad = |c: usize| topology.twin(c).filter(|&t| is_quad(context, t));
    let strip = |c: usize| {
        let next = |t: usize| opposite_side(context, t).and_then(into_quad);
        walk(into_quad(c), next, |t| {
            context.limit.faces[topology.face_of(t)]
        })
    };
    let sides: [Stations; 4] = std::array::from_fn(|k| strip(start + k));
    figure(sample, &sides[0], &sides[2]).least(figure(sample, &sides[1], &sides[3]))
}

fn is_quad(context: &MeasureContext, c: usize) -> bool {
    let topology = context.topology();
    topology.face_size(topology.face_of(c)) == 4
}

/// The corner whose edge lies opposite to that of corner `c`, in a quad.
fn opposite_side(context: &MeasureContext, c: usize) -> Option<usize> {
    let topology = context.topology();
    is_quad(context, c).then(|| topology.next(topology.next(c)))
}

/// When one side of a loop alone may predict a normal.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum OneSided {
    /// Where the loop ends on the other side. Where it goes on both ways, one side alone would
    /// follow any wave; where it ends, the side on which it goes on tells what is meant.
    AtEnds,
    /// Everywhere: a form may begin to bend at the place.
    Always,
}

/// The prediction closest to a sample's normal so far.
pub(crate) struct Closest<'a> {
    sample: &'a Sample,
    /// Squared length of the chord between both unit vectors; NaN before the first prediction.
    chord_squared: f64,
}

impl<'a> Closest<'a> {
    /// Nothing considered yet.
    pub fn to(sample: &'a Sample) -> Self {
        Self {
            sample,
            chord_squared: f64::NAN,
        }
    }

    /// The angle to the closest prediction; NaN if there is none.
    pub fn angle_deg(&self) -> f64 {
        if self.chord_squared.is_nan() {
            return f64::NAN;
        }
        let half_chord = self.chord_squared.sqrt() / 2.0;
        2.0 * half_chord.min(1.0).asin().to_degrees()
    }

    fn consider(&mut self, prediction: Vec3) {
        let chord = self.sample.normal - prediction / prediction.norm();
        if self.sample.has_normal() {
            self.chord_squared = self.chord_squared.min(chord.norm_squared());
        }
    }

    /// Linear, cubic and one-sided predictions from two stations on each side.
    pub fn consider_all(
        &mut self,
        a: &[Option<Sample>; 2],
        b: &[Option<Sample>; 2],
        one_sided: OneSided,
    ) {
        for (side, other) in [(a, b), (b, a)] {
            if one_sided == OneSided::Always || other[1].is_none() {
                self.consider_one_sided(side, 1.0);
            }
            if other[0].is_none() {
                self.consider_one_sided(side, BORDER_SHARE);
            }
        }
        if let ([Some(a1), a2], [Some(b1), b2]) = (a, b) {
            self.consider_both_sides([a1, b1], [a2, b2]);
        }
    }

    fn consider_one_sided(&mut self, stations: &[Option<Sample>; 2], share: f64) {
        let [Some(near), Some(far)] = stations else {
            return;
        };
        let step = (near.position - self.sample.position).norm();
        let before = (far.position - near.position).norm();
        if near.has_normal() && far.has_normal() && before > 0.0 {
            let factor = (step / before).min(EXTRAPOLATION_MAX) * share;
            self.consider(near.normal + (near.normal - far.normal) * factor);
        }
    }

    fn consider_both_sides(&mut self, near: [&Sample; 2], far: [&Option<Sample>; 2]) {
        let [a1, b1] = near;
        if !a1.has_normal() || !b1.has_normal() {
            return;
        }
        let sa = (a1.position - self.sample.position).norm();
        let sb = (b1.position - self.sample.position).norm();
        self.consider(a1.normal * sb + b1.normal * sa);
        if let [Some(a2), Some(b2)] = far
            && a2.has_normal()
            && b2.has_normal()
        {
            let far_a = sa + (a2.position - a1.position).norm();
            let far_b = sb + (b2.position - b1.position).norm();
            let places = [-far_a, -sa, sb, far_b];
            let normals = [a2.normal, a1.normal, b1.normal, b2.normal];
            self.consider(cubic_at_zero(&places, &normals));
        }
    }
}

/// The cubic through four values, at 0 (Lagrange's form).
fn cubic_at_zero(places: &[f64; 4], values: &[Vec3; 4]) -> Vec3 {
    let mut sum = Vec3::zeros();
    for i in 0..4 {
        let others = (0..4).filter(|&j| j != i);
        let weight: f64 = others
            .map(|j| places[j] / (places[j] - places[i]))
            .product();
        sum += values[i] * weight;
    }
    if sum.iter().all(|x| x.is_finite()) {
        sum
    } else {
        Vec3::zeros()
    }
}

/// The median of some values, undefined ones left out; NaN if none is left.
fn median(values: impl Iterator<Item = f64>) -> f64 {
    let mut sorted: smallvec::SmallVec<[f64; 8]> = values.filter(|x| x.is_finite()).collect();
    sorted.sort_by(f64::total_cmp);
    match sorted.len() {
        0 => f64::NAN,
        n if n % 2 == 1 => sorted[n / 2],
        n => (sorted[n / 2] + sorted[n / 2 - 1]) / 2.0,
    }
}
