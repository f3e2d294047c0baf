//! How far the limit normal strays from what the loops through a place go on with.
//!
//! What continues along a loop is meant; what breaks off is suspect. A sample's normal is compared
//! with predictions from the stations one and two steps away along each of its two loops, and the
//! closest prediction counts.

use pulp::{Arch, Simd, WithSimd};
use rayon::prelude::*;

use super::Measured;
use super::about::{About, Unit};
use super::abreast::{PLACES, Values, Vectors};
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

/// The stations either way along each of the two loops through a sample.
type Ways<'a> = [Option<[Stations<'a>; 2]>; 2];

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
        let limit = &context.limit;
        Self {
            vertices: closest_angles(&limit.vertices, |v| at_vertex(context, v)),
            edges: closest_angles(&limit.edges, |e| at_edge(context, e)),
            faces: closest_angles(&limit.faces, |f| at_face(context, f)),
        }
    }
}

/// At a vertex: the loops through it. Across a border there is one side.
fn at_vertex<'a>(context: &'a MeasureContext, v: usize) -> Ways<'a> {
    let spokes = context.spokes.of(v);
    let regular = context.spokes.is_manifold(v)
        && spokes.len() == if context.spokes.is_interior(v) { 4 } else { 3 };
    if !regular {
        return [None; 2];
    }
    let at = |s: Spoke| &context.limit.vertices[s.vertex as usize];
    let along = |spoke: Spoke| walk(Some(spoke), |s| context.spokes.straight_on(s), at);
    let mut ways =
        spokes
            .iter()
            .enumerate()
            .filter_map(|(j, &spoke)| match context.spokes.opposite(v, j) {
                Some(opposite) if opposite.edge < spoke.edge => None,
                opposite => Some([along(spoke), opposite.map_or([None; 3], along)]),
            });
    [ways.next(), ways.next()]
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
fn at_edge<'a>(context: &'a MeasureContext, e: usize) -> Ways<'a> {
    let topology = context.topology();
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
    [
        Some([a, b]),
        Some([strip(Some(c)), strip(topology.twin(c))]),
    ]
}

/// At the centre of a quad: the two strips that cross in it.
fn at_face<'a>(context: &'a MeasureContext, f: usize) -> Ways<'a> {
    let topology = context.topology();
    if topology.face_size(f) != 4 {
        return [None; 2];
    }
    let start = topology.face_corners(f).start;
    let into_quad = |c: usize| topology.twin(c).filter(|&t| is_quad(context, t));
    let strip = |c: usize| {
        let next = |t: usize| topology.across_quad(t).and_then(into_quad);
        walk(into_quad(c), next, |t| {
            &context.limit.faces[topology.face_of(t)]
        })
    };
    let [a, b, c, d] = std::array::from_fn(|k| strip(start + k));
    [Some([a, c]), Some([b, d])]
}

fn is_quad(context: &MeasureContext, c: usize) -> bool {
    let topology = context.topology();
    topology.face_size(topology.face_of(c)) == 4
}

/// The angles of all kinds at every sample, in parallel. Two samples with two loops each are taken
/// abreast.
fn closest_angles<'a>(
    samples: &'a [Sample],
    ways: impl Fn(usize) -> Ways<'a> + Sync,
) -> Vec<[f64; KINDS]> {
    let arch = Arch::new();
    let mut angles = vec![[0.0; KINDS]; samples.len()];
    let pairs = angles.par_chunks_mut(2).enumerate().with_min_len(128);
    pairs.for_each(|(pair, angles)| {
        let first = 2 * pair;
        let [a, b] = [first, samples.len().min(first + 2) - 1];
        let [ways_a, ways_b] = [a, b].map(&ways);
        let owns = [a, a, b, b].map(|i| &samples[i]);
        let all = kinds(arch, owns, [ways_a[0], ways_a[1], ways_b[0], ways_b[1]]);
        for (i, angles) in angles.iter_mut().enumerate() {
            *angles = degrees(all[2 * i], all[2 * i + 1]);
        }
    });
    angles
}

/// The angles of two loops through a sample, from the squared chords along each.
fn degrees(one: [f64; KINDS], other: [f64; KINDS]) -> [f64; KINDS] {
    let least: [f64; KINDS] = std::array::from_fn(|i| one[i].min(other[i]));
    let degrees = |chord_squared: f64| 2.0 * (chord_squared.sqrt() / 2.0).asin().to_degrees();
    // On even ground most kinds are the same.
    let first = degrees(least[0]);
    least.map(|x| if x == least[0] { first } else { degrees(x) })
}

/// The squared chords of all kinds at four samples, each along a loop; NaN without one.
fn kinds<'a>(
    arch: Arch,
    owns: [&'a Sample; PLACES],
    ways: [Option<[Stations<'a>; 2]>; PLACES],
) -> [[f64; KINDS]; PLACES] {
    let calm = (CALM_THRESHOLD.to_radians() / 2.0).sin() * 2.0;
    let ways: [_; PLACES] = std::array::from_fn(|k| ways[k].filter(|_| owns[k].has_normal()));
    let from = |first: usize| {
        let two = |way: Stations<'a>| [way[first], way[first + 1]];
        among(arch, owns, ways.map(|sides| sides.map(|s| s.map(two))))
    };
    let near = from(0);
    let is_calm = |near: &[f64; 2]| near[0] <= calm * calm;
    let far = match near.iter().all(is_calm) {
        true => near,
        false => from(1),
    };
    std::array::from_fn(|k| {
        let [near_through, near] = near[k];
        let [far_through, far] = match near_through <= calm * calm {
            true => [near_through; 2],
            false => far[k],
        };
        [near_through, far_through, near, far]
    })
}

/// Two stations on either side of a sample.
type Sides<'a> = [[Option<&'a Sample>; 2]; 2];

/// What [`Closest::among`] says of four samples. Where the loop goes on both ways and all is defined,
/// which is mostly, they are taken abreast.
fn among<'a>(
    arch: Arch,
    owns: [&'a Sample; PLACES],
    sides: [Option<Sides<'a>>; PLACES],
) -> [[f64; 2]; PLACES] {
    // Of no account where a loop does not go on.
    let stations: [[&Sample; 5]; PLACES] = std::array::from_fn(|k| {
        let [[a1, a2], [b1, b2]] = sides[k].unwrap_or_default();
        [a2, a1, Some(owns[k]), b1, b2].map(|station| station.unwrap_or(owns[k]))
    });
    let [through, all, before_a, before_b] = arch.dispatch(BothWays(&stations));
    std::array::from_fn(|k| {
        let Some([a, b]) = sides[k] else {
            return [f64::NAN; 2];
        };
        let defined = |s: &Option<&Sample>| s.is_some_and(Sample::has_normal);
        let apart = before_a.0[k] > 0.0 && before_b.0[k] > 0.0;
        match apart && a.iter().chain(&b).all(defined) {
            true => [through.0[k], all.0[k]],
            false => Closest::to(owns[k]).among(a, b),
        }
    })
}

/// The far and the near station on one side of each sample, itself, and those on the other side.
struct BothWays<'a>(&'a [[&'a Sample; 5]; PLACES]);

impl BothWays<'_> {
    #[inline(always)]
    fn positions(&self, i: usize) -> Vectors {
        let [a, b, c, d] = self.0;
        Vectors::of([a, b, c, d].map(|s| &s[i].position))
    }

    #[inline(always)]
    fn normals(&self, i: usize) -> Vectors {
        let [a, b, c, d] = self.0;
        Vectors::of([a, b, c, d].map(|s| &s[i].normal))
    }
}

impl WithSimd for BothWays<'_> {
    /// The squared chords to the closest of the predictions from both sides, and of those from one
    /// side as well; and how far apart the two stations on either side are.
    type Output = [Values; 4];

    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) -> [Values; 4] {
        let own = self.positions(2);
        let [a1, b1] = [self.positions(1), self.positions(3)];
        let [step_a, step_b] = [(a1 - own).norm(), (b1 - own).norm()];
        let before_a = (self.positions(0) - a1).norm();
        let before_b = (self.positions(4) - b1).norm();
        let zero = Values::all(0.0);
        let places = [
            zero - (step_a + before_a),
            zero - step_a,
            step_b,
            step_b + before_b,
        ];
        let own = self.normals(2);
        let [a1, b1] = [self.normals(1), self.normals(3)];
        let [a2, b2] = [self.normals(0), self.normals(4)];
        let most = Values::all(EXTRAPOLATION_MAX);
        let linear = a1 * step_b + b1 * step_a;
        let cubic = cubics_at_zero(places, [a2, a1, b1, b2]);
        let from_a = a1 + (a1 - a2) * (step_a / before_a).min(most);
        let from_b = b1 + (b1 - b2) * (step_b / before_b).min(most);
        let through = chords(own, linear).min(chords(own, cubic));
        let one_sided = chords(own, from_a).min(chords(own, from_b));
        [through, through.min(one_sided), before_a, before_b]
    }
}

/// The squared chords from unit vectors to predictions.
#[inline(always)]
fn chords(own: Vectors, prediction: Vectors) -> Values {
    let chord = own - prediction * (Values::all(1.0) / prediction.norm());
    let [a, b, c, d] = chord.dot(chord).0;
    Values([capped(a), capped(b), capped(c), capped(d)])
}

/// What [`cubic_at_zero`] says of places that rise, times the product of all differences between two of
/// them: only the direction is asked, and so there is nothing to divide by.
#[inline(always)]
fn cubics_at_zero(places: [Values; 4], values: [Vectors; 4]) -> Vectors {
    let [a, b, c, d] = places;
    let [ab, ac, ad, bc, bd, cd] = [b - a, c - a, d - a, c - b, d - b, d - c];
    let [at_a, at_b, at_c, at_d] = values;
    at_a * (b * c * d * (bc * bd * cd)) - at_b * (a * c * d * (ac * ad * cd))
        + at_c * (a * b * d * (ab * ad * bd))
        - at_d * (a * b * c * (ab * ac * bc))
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
#[inline(always)]
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cubics_found_abreast_point_where_those_found_alone_do() {
        let wave = |i: usize, k: usize| ((i * 31 + k * 17) as f64 * 0.7).sin();
        let vector = |i: usize, k: usize| Vec3::new(wave(i, k), wave(i, k + 5), wave(i, k + 9));
        for i in 0..200 {
            // From far to near and from even to very uneven steps; on one side of 0 two, on the other two.
            let step = |k: usize| 10f64.powf(3.0 * wave(i, k) - 3.0);
            let places = [-step(1) - step(2), -step(1), step(3), step(3) + step(4)];
            let normals = [0, 1, 2, 3].map(|k| vector(i, 20 * k).normalize());
            let alone = cubic_at_zero(&places, &normals).normalize();
            let all = |v: &Vec3| Vectors::of([v; PLACES]);
            let abreast = cubics_at_zero(places.map(Values::all), normals.each_ref().map(all));
            let abreast = Vec3::from(abreast.0.map(|of_all| of_all.0[PLACES - 1])).normalize();
            assert!((abreast - alone).norm() < 1e-11, "{i}: {abreast} {alone}");
        }
    }
}
