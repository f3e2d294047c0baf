//! The section of the limit surface across an edge, from the loop on one side to that on the other.

use super::patches::FacePatches;
use super::point::LimitPoint;
use crate::mesh::Vec3;
use crate::subdivision::Surface;
use crate::subdivision::ring::unit_normal;
use crate::subdivision::spline::{Derivatives, PLAIN_THRESHOLD, PatchPoints, Section};

/// Levels that irregular parts are split before they are evaluated at many places: beside poles
/// the middle of an edge lies in regular parts from two levels on; beside a semi-sharp edge once its
/// sharpness is used up.
const LEVELS: usize = 2;

/// Places at which a side is sampled first, as shares of the way from the edge to the loop beside
/// it. Close enough together near the edge that none of the peaks is missed that a strip a hundred
/// times as wide as its neighbour makes; the pieces of irregular faces join at such places.
const STEPS: [f64; 9] = [0.0, 0.0625, 0.125, 0.1875, 0.25, 0.375, 0.5, 0.75, 1.0];

/// Where a side of the section ends when the loop beside the edge is bent itself: from half-way on
/// the section is that loop's.
const SHARED_END: f64 = 0.5;

/// Where a side ends in a triangle or n-gon: towards the centre, a pole of the surface, curvature
/// may run away (Peters & Reif 2008), so that the last quarter is left out.
const CENTRE_END: f64 = 0.75;

/// Distance (as [`STEPS`]) from the end of an interval at which its slope is felt: a peak that lies
/// nearer is higher than the end by less than rounding.
const PROBE: f64 = 1e-7;

/// Evaluations that a peak is refined with at most. It is found to 1e-12 of its height where it is
/// smooth, mostly by six; at a kink of the curvature the place is one of [`STEPS`].
const REFINEMENTS_MAX: usize = 30;

/// Share of a peak's height below which a predicted gain ends its refinement.
const GAIN_TOLERANCE: f64 = 1e-13;

/// One side of the section: the strip of faces on one side of an edge, along its middle.
#[derive(Debug, Default)]
pub(super) struct Side {
    /// The whole side, where the face is a regular quad.
    patch: Option<Section>,
    /// Any other face: the quad at the corner that the edge leaves, and if the face is a quad
    /// itself the one at the far end.
    near: FacePatches,
    far: FacePatches,
    is_quad: bool,
    /// Where the side ends, as [`STEPS`].
    end: f64,
    /// Levels after which nothing of a semi-sharp edge is left; 0 for a smooth one.
    sharp_levels: usize,
}

impl Side {
    /// Takes on the face of corner `c`, seen from the edge that leaves it. `bent` tells which edges
    /// are bent.
    pub fn fill(&mut self, surface: &Surface, c: usize, bent: impl Fn(usize) -> bool) {
        let topology = surface.control().topology();
        let f = topology.face_of(c);
        let sharpness = surface.control().edge_sharpness()[topology.edge(c)];
        // An infinitely sharp edge has patches of its own.
        self.sharp_levels = if sharpness.is_finite() {
            sharpness.ceil() as usize
        } else {
            0
        };
        let levels = LEVELS.max(self.sharp_levels);
        self.patch = None;
        self.is_quad = topology.face_size(f) == 4;
        if !self.is_quad {
            self.near.fill_corner(surface, c, levels);
            self.end = CENTRE_END;
            return;
        }
        let opposite = topology.edge(topology.next(topology.next(c)));
        self.end = if bent(opposite) { SHARED_END } else { 1.0 };
        if let Some(points) = surface.regular_patch(f) {
            let turned = turned(&points, c - topology.face_corners(f).start);
            self.patch = Some(Section::new(&turned, 0.5));
        } else {
            self.near.fill_corner(surface, c, levels);
            self.far.fill_corner(surface, topology.previous(c), LEVELS);
        }
    }

    /// The derivatives at `s` from 0 (the edge) to 1 (the loop beside it); the first parameter runs
    /// along the edge where `s` is 0. `None` where there are none.
    fn derivatives(&self, s: f64) -> Option<Derivatives> {
        match &self.patch {
            Some(section) => Some(section.at(s)),
            None => self.point(s).derivatives(),
        }
    }

    /// The place at `s` in a face that is no single patch.
    fn point(&self, s: f64) -> LimitPoint {
        match self.is_quad {
            true if s > 0.5 => self.far.evaluate(0, [2.0 - 2.0 * s, 1.0]),
            true => self.near.evaluate(0, [1.0, 2.0 * s]),
            false => self.near.evaluate(0, [1.0, s]),
        }
    }

    fn position(&self, s: f64) -> Vec3 {
        match &self.patch {
            Some(section) => section.at(s).position,
            None => self.point(s).position,
        }
    }

    /// The limit image of the middle of the loop beside the edge: of the opposite side of a quad,
    /// or of the centre of another face.
    pub fn far_end(&self) -> Vec3 {
        self.position(1.0)
    }

    /// The limit image of the edge's middle.
    pub fn edge_middle(&self) -> Vec3 {
        self.position(0.0)
    }

    /// The edge's limit tangent at its middle.
    pub fn along(&self) -> Option<Vec3> {
        Some(self.derivatives(0.0)?.first[0])
    }

    /// The largest curvature across the direction `along` on this side; 0 if there is none. A
    /// semi-sharp edge's fillet halves with each level of sharpness, and is looked for at each of
    /// these sizes.
    pub fn largest_curvature(&self, along: &Vec3) -> f64 {
        let curvature = |s: f64| {
            let across = |d: Derivatives| curvature_across(&d, along);
            self.derivatives(s).and_then(across).unwrap_or(0.0)
        };
        let sizes = (0..=self.sharp_levels).map(|level| 0.5f64.powi(level as i32));
        let peaks = sizes.map(|size| largest(self.end, |s| curvature(s * size)));
        peaks.fold(0.0, f64::max)
    }
}

/// The points of a patch in the frame of corner `k` of its quad.
fn turned(points: &PatchPoints, k: usize) -> PatchPoints {
    let at = |a: usize, b: usize| match k {
        0 => points[b][a],
        1 => points[a][3 - b],
        2 => points[3 - b][3 - a],
        _ => points[3 - a][b],
    };
    std::array::from_fn(|b| std::array::from_fn(|a| at(a, b)))
}

/// Size of the normal curvature in the tangent direction perpendicular to `along`. `None` where there
/// is no tangent plane, or it is perpendicular to `along`.
///
/// Second fundamental form over first (do Carmo 1976, section 3-2) for the direction n × `along`,
/// written as x Su + y Sv, with n = Su × Sv of any length.
fn curvature_across(d: &Derivatives, along: &Vec3) -> Option<f64> {
    let [du, dv] = d.first;
    let cross = du.cross(&dv);
    let squared = cross.norm_squared();
    // Where the plain product is too small to trust, directions come by the careful way.
    let (normal, area) = if squared > PLAIN_THRESHOLD {
        let length = squared.sqrt();
        (cross * length.recip(), length)
    } else {
        let normal = unit_normal(du, dv)?;
        (normal, cross.dot(&normal))
    };
    let across = normal.cross(along);
    let inverse = area.recip();
    let x = across.cross(&dv).dot(&normal) * inverse;
    let y = du.cross(&across).dot(&normal) * inverse;
    let [uu, uv, vv] = d.second.map(|s| s.dot(&normal));
    let second = uu * (x * x) + uv * (2.0 * x * y) + vv * (y * y);
    let curvature = second.abs() / across.norm_squared();
    curvature.is_finite().then_some(curvature)
}

/// The largest value of `f` on [0, `end`].
pub(super) fn largest(end: f64, f: impl Fn(f64) -> f64) -> f64 {
    let count = STEPS.iter().filter(|&&s| s <= end).count();
    let values = STEPS.map(|s| if s <= end { f(s) } else { 0.0 });
    let mut best = 0;
    for i in 1..count {
        if values[i] > values[best] {
            best = i;
        }
    }
    let known = |i: usize| (STEPS[i], values[i]);
    let (low, high) = (best.saturating_sub(1), (best + 1).min(count - 1));
    // At either end of the side there may be a peak just inside.
    let middle = if best == low {
        STEPS[best] + PROBE
    } else if best == high {
        STEPS[best] - PROBE
    } else {
        return refined([known(low), known(best), known(high)], f);
    };
    let probed = f(middle);
    if probed > values[best] {
        refined([known(low), (middle, probed), known(high)], f)
    } else {
        values[best]
    }
}

/// The height of the peak between three places with their values, of which the middle one is the
/// highest: by the parabola through the three as long as its steps halve, else by halving the longer
/// interval (in the manner of Brent, Algorithms for Minimization without Derivatives, 1973,
/// chapter 5). The first step halves: a parabola alone may have its peak at the middle by chance.
fn refined(mut known: [(f64, f64); 3], f: impl Fn(f64) -> f64) -> f64 {
    // The last two steps; with these before the first one, it halves.
    let mut steps = [-1.0, f64::INFINITY];
    for _ in 0..REFINEMENTS_MAX {
        let [(a, fa), (m, fm), (b, fb)] = known;
        let Some((vertex, gain)) = parabola_peak(&known) else {
            return fm;
        };
        if steps[1].is_finite() && gain <= GAIN_TOLERANCE * fm {
            return fm;
        }
        let halved = if b - m > m - a {
            m + (b - m) / 2.0
        } else {
            m - (m - a) / 2.0
        };
        let is_settling = (vertex - m).abs() <= steps[0] / 2.0;
        let x = if is_settling { vertex } else { halved };
        if x == m {
            return fm;
        }
        steps = [steps[1], (x - m).abs()];
        let fx = f(x);
        known = match (fx > fm, x > m) {
            (true, true) => [(m, fm), (x, fx), (b, fb)],
            (true, false) => [(a, fa), (x, fx), (m, fm)],
            (false, true) => [(a, fa), (m, fm), (x, fx)],
            (false, false) => [(x, fx), (m, fm), (b, fb)],
        };
    }
    known[1].1
}

/// Where the parabola through three points has its peak, and how much higher than the middle point
/// that is. `None` if they lie on a line.
fn parabola_peak(known: &[(f64, f64); 3]) -> Option<(f64, f64)> {
    let [(a, fa), (m, fm), (b, fb)] = *known;
    let left = (fm - fa) / (m - a);
    let right = (fb - fm) / (b - m);
    let bend = (right - left) / (b - a);
    // Slope at the middle point.
    let slope = (left * (b - m) + right * (m - a)) / (b - a);
    let step = -slope / (2.0 * bend);
    (bend < 0.0 && step.is_finite()).then(|| (m + step, slope * step / 2.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_largest_value_is_found_at_ends_beside_ends_and_between_the_steps() {
        let peak_at = |place: f64, width: f64| {
            move |s: f64| 1.0 / (1.0 + ((s - place) / width).powi(2)) + 0.01 * s
        };
        for place in [
            0.0, 1e-4, 0.01, 0.03, 0.0625, 0.1, 0.3, 0.7, 0.93, 0.9999, 1.0,
        ] {
            let f = peak_at(place, 0.2);
            let plain = (0..=2_000_000).map(|i| f(f64::from(i) / 2e6));
            let wanted = plain.fold(0.0, f64::max);
            let found = largest(1.0, f);
            assert!((found - wanted).abs() < 1e-11, "{place}: {found} {wanted}");
        }
    }

    #[test]
    fn a_kink_at_a_step_and_a_level_stretch_end_the_search() {
        assert_eq!(largest(1.0, |s| 1.0 - (s - 0.5).abs()), 1.0);
        assert_eq!(largest(0.5, |s| 1.0 - (s - 0.5).abs()), 1.0);
        assert_eq!(largest(1.0, |_| 3.0), 3.0);
        assert_eq!(largest(0.75, |_| 0.0), 0.0);
    }
}
