//! How far the limit normal strays from what the loops through a place go on with.
//!
//! What continues along a loop is meant; what breaks off is suspect. A sample's normal is compared
//! with predictions from the stations one and two steps away along each of its two loops, and the
//! closest prediction counts.

use super::Measured;
use super::about::{About, Unit};
use super::context::MeasureContext;
use super::medians::median;
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
type Stations<'a> = [Option<&'a Sample>; 3];

/// The measure.
pub fn measure(context: &MeasureContext) -> Measured {
    let angles = context.loop_angles();
    let of = |angles: &[f64; KINDS]| angles[NEAR_THROUGH];
    let values = context.per_vertex(|v| {
        let about = context.spokes.of(v).iter();
        let edge_median = median(about.map(|s| of(&angles.edges[s.edge as usize])));
        let face_median = median(context.faces_of(v).map(|f| of(&angles.faces[f])));
        of(&angles.vertices[v]).max(edge_median).max(face_median)
    });
    Measured {
        about: &LOOP_DEVIATION,
        values,
    }
}

/// Kinds of [`LoopAngles`].
pub(crate) const KINDS: usize = 4;
/// From the stations one and two steps away, one side alone where the loop ends on the other: where
/// it goes on both ways, one side alone would follow any wave; where it ends, the side on which it
/// goes on tells what is meant.
pub(crate) const NEAR_THROUGH: usize = 0;
/// The same from the stations two and three steps away.
pub(crate) const FAR_THROUGH: usize = 1;
/// From the stations one and two steps away, from either side alone as well: a form may begin to
/// bend at the place.
pub(crate) const NEAR: usize = 2;
/// The same from the stations two and three steps away.
pub(crate) const FAR: usize = 3;

/// Angle up to which nobody sees anything, in degrees: there [`NEAR_THROUGH`] stands for all kinds.
const CALM_THRESHOLD: f64 = 0.25;

/// Angles, in degrees, of the limit normal at every sample to the closest of its predictions along
/// both loops through it; NaN where no loop passes.
#[derive(Debug, Clone)]
pub struct LoopAngles {
    /// One per cage vertex.
    pub(crate) vertices: Vec<[f64; KINDS]>,
    /// One per cage edge, at its middle.
    pub(crate) edges: Vec<[f64; KINDS]>,
    /// One per cage face, at its centre.
    pub(crate) faces: Vec<[f64; KINDS]>,
}

impl LoopAngles {
    /// Walks along the loops from every sample.
    pub(crate) fn new(context: &MeasureContext) -> Self {
        let topology = context.topology();
        Self {
            vertices: parallel(topology.vertex_count(), |v| at_vertex(context, v)),
            edges: parallel(topology.edge_count(), |e| at_edge(context, e)),
            faces: parallel(topology.face_count(), |f| at_face(context, f)),
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
fn at_vertex(context: &MeasureContext, v: usize) -> [f64; KINDS] {
    let spokes = context.spokes.of(v);
    let sample = &context.limit.vertices[v];
    let regular = context.spokes.is_manifold(v)
        && spokes.len() == if context.spokes.is_interior(v) { 4 } else { 3 };
    if !regular {
        return [f64::NAN; KINDS];
    }
    let at = |s: Spoke| &context.limit.vertices[s.vertex as usize];
    let along = |spoke: Spoke| walk(Some(spoke), |s| context.spokes.straight_on(s), at);
    let ways =
        spokes
            .iter()
            .enumerate()
            .filter_map(|(j, &spoke)| match context.spokes.opposite(v, j) {
                Some(opposite) if opposite.edge < spoke.edge => None,
                opposite => Some((along(spoke), opposite.map_or([None; 3], along))),
            });
    closest_angles(sample, ways)
}

/// The samples at the first place and at the next two.
fn walk<'a, P: Copy>(
    first: Option<P>,
    next: impl Fn(P) -> Option<P>,
    at: impl Fn(P) -> &'a Sample,
) -> Stations<'a> {
    let second = first.and_then(&next);
    [first, second, second.and_then(&next)].map(|p| p.map(&at))
}

/// At the middle of an edge: the loop that it belongs to, and the loops' strip that it crosses.
fn at_edge(context: &MeasureContext, e: usize) -> [f64; KINDS] {
    let topology = context.topology();
    let sample = &context.limit.edges[e];
    let at = |e: usize| &context.limit.edges[e];
    let [a, b] = topology.edge_vertices(e).map(|v| {
        let arrived = context.spokes.leading_to(topology, e, v);
        let on = |s: Spoke| context.spokes.straight_on(s);
        walk(arrived.and_then(on), on, |s| at(s.edge as usize))
    });
    let c = topology.edge_corner(e);
    let strip = |c: Option<usize>| {
        let across = |o: usize| topology.twin(o).and_then(|t| topology.across_quad(t));
        let first = c.and_then(|c| topology.across_quad(c));
        walk(first, across, |o| at(topology.edge(o)))
    };
    let across = (strip(Some(c)), strip(topology.twin(c)));
    closest_angles(sample, [(a, b), across])
}

/// At the centre of a quad: the two strips that cross in it.
fn at_face(context: &MeasureContext, f: usize) -> [f64; KINDS] {
    let topology = context.topology();
    if topology.face_size(f) != 4 {
        return [f64::NAN; KINDS];
    }
    let sample = &context.limit.faces[f];
    let start = topology.face_corners(f).start;
    let into_quad = |c: usize| topology.twin(c).filter(|&t| is_quad(context, t));
    let strip = |c: usize| {
        let next = |t: usize| topology.across_quad(t).and_then(into_quad);
        walk(into_quad(c), next, |t| {
            &context.limit.faces[topology.face_of(t)]
        })
    };
    let [a, b, c, d] = std::array::from_fn(|k| strip(start + k));
    closest_angles(sample, [(a, c), (b, d)])
}

fn is_quad(context: &MeasureContext, c: usize) -> bool {
    let topology = context.topology();
    topology.face_size(topology.face_of(c)) == 4
}

/// The angles of all kinds, from the stations on both sides along each loop through a sample.
fn closest_angles<'a>(
    sample: &Sample,
    ways: impl IntoIterator<Item = (Stations<'a>, Stations<'a>)>,
) -> [f64; KINDS] {
    let mut least = [f64::NAN; KINDS];
    if !sample.has_normal() {
        return least;
    }
    let calm = (CALM_THRESHOLD.to_radians() / 2.0).sin() * 2.0;
    for (a, b) in ways {
        let [a1, a2, a3] = a;
        let [b1, b2, b3] = b;
        let among = |a: [Option<&Sample>; 2], b: [Option<&Sample>; 2]| {
            let both_ways = among_both_ways(sample, a, b);
            both_ways.unwrap_or_else(|| Closest::to(sample).among(a, b))
        };
        let near = among([a1, a2], [b1, b2]);
        let [far_through, far] = match near[0] <= calm * calm {
            true => [near[0]; 2],
            false => among([a2, a3], [b2, b3]),
        };
        let all = [near[0], far_through, near[1], far];
        least = std::array::from_fn(|i| least[i].min(all[i]));
    }
    let degrees = |chord_squared: f64| 2.0 * (chord_squared.sqrt() / 2.0).asin().to_degrees();
    // On even ground most kinds are the same.
    let first = degrees(least[0]);
    least.map(|x| if x == least[0] { first } else { degrees(x) })
}

/// What [`Closest::among`] says, where the loop goes on both ways and all is defined: mostly. Roots
/// and quotients, which take the longest, are taken of all predictions abreast.
fn among_both_ways(
    sample: &Sample,
    [a1, a2]: [Option<&Sample>; 2],
    [b1, b2]: [Option<&Sample>; 2],
) -> Option<[f64; 2]> {
    let [a1, a2, b1, b2] = [a1?, a2?, b1?, b2?];
    if ![a1, a2, b1, b2].iter().all(|s| s.has_normal()) {
        return None;
    }
    let steps = [(sample, a1), (a1, a2), (sample, b1), (b1, b2)];
    let squared = steps.map(|(from, to)| (to.position - from.position).norm_squared());
    let [step_a, before_a, step_b, before_b] = squared.map(f64::sqrt);
    if !(before_a > 0.0 && before_b > 0.0) {
        return None;
    }
    let [factor_a, factor_b] =
        [step_a / before_a, step_b / before_b].map(|f| f.min(EXTRAPOLATION_MAX));
    let places = [-(step_a + before_a), -step_a, step_b, step_b + before_b];
    let normals = [a2.normal, a1.normal, b1.normal, b2.normal];
    let predictions = [
        a1.normal * step_b + b1.normal * step_a,
        cubic_at_zero(&places, &normals),
        a1.normal + (a1.normal - a2.normal) * factor_a,
        b1.normal + (b1.normal - b2.normal) * factor_b,
    ];
    let inverse = predictions
        .map(|p| p.norm_squared())
        .map(|x| x.sqrt().recip());
    let chords: [f64; 4] = std::array::from_fn(|k| {
        capped((sample.normal - predictions[k] * inverse[k]).norm_squared())
    });
    let through = chords[0].min(chords[1]);
    Some([through, through.min(chords[2]).min(chords[3])])
}

/// The prediction closest to a sample's normal so far.
struct Closest<'a> {
    sample: &'a Sample,
    /// Squared length of the chord between both unit vectors; NaN before the first prediction.
    chord_squared: f64,
}

impl<'a> Closest<'a> {
    fn to(sample: &'a Sample) -> Self {
        Self {
            sample,
            chord_squared: f64::NAN,
        }
    }

    fn consider(&mut self, prediction: Vec3) {
        let chord = self.sample.normal - prediction * prediction.norm().recip();
        self.chord_squared = self.chord_squared.min(capped(chord.norm_squared()));
    }

    /// Squared chords from two stations on each side: of linear and cubic predictions, and of
    /// one-sided ones at the loop's ends; and with one-sided ones everywhere.
    fn among(mut self, a: [Option<&Sample>; 2], b: [Option<&Sample>; 2]) -> [f64; 2] {
        let [a, b] = [a, b].map(|stations| Side::new(self.sample, stations));
        for (side, other) in [(&a, &b), (&b, &a)] {
            if other.far.is_none() {
                self.consider_one_sided(side, 1.0);
            }
            if other.near.is_none() {
                self.consider_one_sided(side, BORDER_SHARE);
            }
        }
        self.consider_both_sides(&a, &b);
        let through = self.chord_squared;
        self.consider_one_sided(&a, 1.0);
        self.consider_one_sided(&b, 1.0);
        [through, self.chord_squared]
    }

    fn consider_one_sided(&mut self, side: &Side, share: f64) {
        let [Some(near), Some(far)] = [side.near, side.far] else {
            return;
        };
        if near.has_normal() && far.has_normal() && side.before > 0.0 {
            let factor = (side.step / side.before).min(EXTRAPOLATION_MAX) * share;
            self.consider(near.normal + (near.normal - far.normal) * factor);
        }
    }

    fn consider_both_sides(&mut self, a: &Side, b: &Side) {
        let [Some(a1), Some(b1)] = [a.near, b.near] else {
            return;
        };
        if !a1.has_normal() || !b1.has_normal() {
            return;
        }
        self.consider(a1.normal * b.step + b1.normal * a.step);
        if let [Some(a2), Some(b2)] = [a.far, b.far]
            && a2.has_normal()
            && b2.has_normal()
        {
            let [far_a, far_b] = [a, b].map(|side| side.step + side.before);
            let places = [-far_a, -a.step, b.step, far_b];
            let normals = [a2.normal, a1.normal, b1.normal, b2.normal];
            self.consider(cubic_at_zero(&places, &normals));
        }
    }
}

/// A squared chord between unit vectors: rounding may bring opposite ones further apart than 2.
fn capped(chord_squared: f64) -> f64 {
    if chord_squared > 4.0 {
        4.0
    } else {
        chord_squared
    }
}

/// Two stations on one side of a sample.
struct Side<'a> {
    near: Option<&'a Sample>,
    far: Option<&'a Sample>,
    /// From the sample to the near one; NaN without it.
    step: f64,
    /// From the near one to the far one; NaN without both.
    before: f64,
}

impl<'a> Side<'a> {
    fn new(sample: &Sample, [near, far]: [Option<&'a Sample>; 2]) -> Self {
        let distance = |a: Option<&Sample>, b: Option<&Sample>| match (a, b) {
            (Some(a), Some(b)) => (b.position - a.position).norm(),
            _ => f64::NAN,
        };
        Self {
            near,
            far,
            step: distance(Some(sample), near),
            before: distance(near, far),
        }
    }
}

/// The cubic through four values, at 0 (Lagrange's form).
#[inline]
fn cubic_at_zero(places: &[f64; 4], values: &[Vec3; 4]) -> Vec3 {
    let mut sum = Vec3::zeros();
    let [mut above, mut below] = [[1.0; 4]; 2];
    for i in 0..4 {
        for j in (0..4).filter(|&j| j != i) {
            above[i] *= places[j];
            below[i] *= places[j] - places[i];
        }
    }
    for i in 0..4 {
        sum += values[i] * (above[i] / below[i]);
    }
    if sum.iter().all(|x| x.is_finite()) {
        sum
    } else {
        Vec3::zeros()
    }
}
