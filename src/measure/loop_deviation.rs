//! How far the limit normal strays from what the loops through a place go on with.
//!
//! What continues along a loop is meant; what breaks off is suspect. A sample's normal is compared
//! with predictions from the stations one and two steps away along each of its two loops, and the
//! closest prediction counts.

use super::Measured;
use super::about::{About, Unit};
use super::context::{MeasureContext, angle_deg};
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

/// The samples met along a loop on one side of a place: one and two steps away.
type Stations = [Option<Sample>; 2];

/// The measure.
pub fn measure(context: &MeasureContext) -> Measured {
    let vertices = context.per_vertex(|v| vertex_deviation(context, v));
    let topology = context.topology();
    let edges: Vec<f64> = parallel(topology.edge_count(), |e| edge_deviation(context, e));
    let faces: Vec<f64> = parallel(topology.face_count(), |f| face_deviation(context, f));
    let values = context.per_vertex(|v| {
        let about = context.spokes.of(v).iter();
        let edge_median = median(about.map(|s| edges[s.edge as usize]));
        let face_median = median(context.faces_of(v).map(|f| faces[f]));
        vertices[v].max(edge_median).max(face_median)
    });
    Measured {
        about: &LOOP_DEVIATION,
        values,
    }
}

fn parallel(count: usize, value: impl Fn(usize) -> f64 + Sync + Send) -> Vec<f64> {
    use rayon::prelude::*;
    (0..count)
        .into_par_iter()
        .with_min_len(256)
        .map(value)
        .collect()
}

/// The smallest deviation over the loops through a vertex. Across a border there is one side.
fn vertex_deviation(context: &MeasureContext, v: usize) -> f64 {
    let spokes = context.spokes.of(v);
    let sample = &context.limit.vertices[v];
    let regular = context.spokes.is_manifold(v)
        && spokes.len() == if context.spokes.is_interior(v) { 4 } else { 3 };
    if !regular {
        return f64::NAN;
    }
    let along = |spoke: Spoke| vertex_stations(context, spoke);
    let ways =
        spokes
            .iter()
            .enumerate()
            .filter_map(|(j, &spoke)| match context.spokes.opposite(v, j) {
                Some(opposite) if opposite.edge < spoke.edge => None,
                opposite => Some((along(spoke), opposite.map_or([None; 2], along))),
            });
    ways.fold(f64::NAN, |least, (a, b)| {
        least.min(deviation(sample, &a, &b))
    })
}

fn vertex_stations(context: &MeasureContext, spoke: Spoke) -> Stations {
    let at = |s: Spoke| context.limit.vertices[s.vertex as usize];
    [Some(at(spoke)), context.spokes.straight_on(spoke).map(at)]
}

/// At the middle of an edge: the loop that it belongs to, and the loops' strip that it crosses.
fn edge_deviation(context: &MeasureContext, e: usize) -> f64 {
    let topology = context.topology();
    let sample = &context.limit.edges[e];
    let at = |e: u32| context.limit.edges[e as usize];
    let [a, b] = topology.edge_vertices(e).map(|v| {
        let arrived = Spoke {
            edge: e as u32,
            vertex: v as u32,
        };
        let first = context.spokes.straight_on(arrived);
        let second = first.and_then(|s| context.spokes.straight_on(s));
        [first.map(|s| at(s.edge)), second.map(|s| at(s.edge))]
    });
    let c = topology.edge_corner(e);
    let strip = |c: Option<usize>| {
        let first = c.and_then(|c| opposite_side(context, c));
        let second = first
            .and_then(|o| topology.twin(o))
            .and_then(|t| opposite_side(context, t));
        [first, second].map(|o| o.map(|o| at(topology.edge(o) as u32)))
    };
    let across = deviation(sample, &strip(Some(c)), &strip(topology.twin(c)));
    deviation(sample, &a, &b).min(across)
}

/// At the centre of a quad: the two strips that cross in it.
fn face_deviation(context: &MeasureContext, f: usize) -> f64 {
    let topology = context.topology();
    if topology.face_size(f) != 4 {
        return f64::NAN;
    }
    let sample = &context.limit.faces[f];
    let start = topology.face_corners(f).start;
    let strip = |c: usize| {
        let first = topology.twin(c).filter(|&t| is_quad(context, t));
        let second = first
            .and_then(|t| opposite_side(context, t))
            .and_then(|o| topology.twin(o))
            .filter(|&t| is_quad(context, t));
        [first, second].map(|t| t.map(|t| context.limit.faces[topology.face_of(t)]))
    };
    let sides: [Stations; 4] = std::array::from_fn(|k| strip(start + k));
    deviation(sample, &sides[0], &sides[2]).min(deviation(sample, &sides[1], &sides[3]))
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

/// The smallest angle between a sample's normal and its predictions from both sides; NaN if there
/// is no prediction.
fn deviation(sample: &Sample, a: &Stations, b: &Stations) -> f64 {
    let mut least = f64::NAN;
    let mut consider = |prediction: Vec3| least = least.min(angle_deg(&sample.normal, &prediction));
    let one_sided = |stations: &Stations, share: f64| {
        let [Some(near), Some(far)] = stations else {
            return None;
        };
        let step = (near.position - sample.position).norm();
        let before = (far.position - near.position).norm();
        let usable = near.has_normal() && far.has_normal() && before > 0.0;
        let factor = (step / before).min(EXTRAPOLATION_MAX) * share;
        usable.then(|| near.normal + (near.normal - far.normal) * factor)
    };
    // Where the loop goes on both ways, one side alone would follow any wave; where it ends, the
    // side on which it goes on tells what is meant.
    for (side, other) in [(a, b), (b, a)] {
        if other[1].is_none() {
            one_sided(side, 1.0).into_iter().for_each(&mut consider);
        }
        if other[0].is_none() {
            one_sided(side, BORDER_SHARE)
                .into_iter()
                .for_each(&mut consider);
        }
    }
    if let ([Some(a1), a2], [Some(b1), b2]) = (a, b) {
        if !a1.has_normal() || !b1.has_normal() {
            return least;
        }
        let sa = (a1.position - sample.position).norm();
        let sb = (b1.position - sample.position).norm();
        consider(a1.normal * sb + b1.normal * sa);
        if let (Some(a2), Some(b2)) = (a2, b2)
            && a2.has_normal()
            && b2.has_normal()
        {
            let far_a = sa + (a2.position - a1.position).norm();
            let far_b = sb + (b2.position - b1.position).norm();
            let places = [-far_a, -sa, sb, far_b];
            let normals = [a2.normal, a1.normal, b1.normal, b2.normal];
            consider(cubic_at_zero(&places, &normals));
        }
    }
    least
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
pub(super) fn median(values: impl Iterator<Item = f64>) -> f64 {
    let mut sorted: smallvec::SmallVec<[f64; 8]> = values.filter(|x| x.is_finite()).collect();
    sorted.sort_by(f64::total_cmp);
    match sorted.len() {
        0 => f64::NAN,
        n if n % 2 == 1 => sorted[n / 2],
        n => (sorted[n / 2] + sorted[n / 2 - 1]) / 2.0,
    }
}
