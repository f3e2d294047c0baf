//! The limit surface at any parameters of a quad, by descent.

use super::patch::QuadNeighbourhood;
use super::pole_quad::{PoleQuad, turned_patch};
use super::ring::LimitFrame;
use super::spline::{self, Derivatives};

/// Levels that the descent to a regular patch goes down at most. A place that is not regular by
/// then lies within 2^-40 of a pole, a crease's end or a corner and is taken for it: closer than
/// rounding tells apart, and derivatives are not defined there.
pub const DESCENT_LEVELS_MAX: usize = 40;

/// Where a descent ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reached {
    /// In a bicubic patch: position and derivatives by the parameters of the quad started from.
    Patch(Derivatives),
    /// At a corner that no patch reaches: a pole, a crease's end, a sharp corner.
    Vertex(LimitFrame),
}

impl Reached {
    /// The same by parameters that run `factor` times as slowly: see [`Derivatives::rescaled`].
    pub fn rescaled(self, factor: f64) -> Self {
        match self {
            Self::Patch(d) => Self::Patch(d.rescaled(factor)),
            vertex @ Self::Vertex(_) => vertex,
        }
    }
}

/// Evaluates the limit surface at (`u`, `v`) in the unit square of `quad`, with derivatives by `u`
/// and `v`, exactly: by descent to the regular patch that holds the place (Stam 1998 arrives at the
/// same values through the eigenstructure). On the line between two patches either gives the same
/// values, but for second derivatives across a crease.
pub fn evaluate(quad: &QuadNeighbourhood, u: f64, v: f64) -> Reached {
    let mut at = [u, v];
    let mut scale = 1.0;
    let mut owned: QuadNeighbourhood;
    let mut quad = quad;
    for _ in 0..DESCENT_LEVELS_MAX {
        if let Some(points) = quad.regular_points() {
            let d = spline::evaluate(&points, at[0], at[1]);
            return Reached::Patch(d).rescaled(scale);
        }
        if let Some(k) = corner_at(at).filter(|&k| !quad.corners[k].is_patch_corner()) {
            return vertex(quad, k);
        }
        if let Some((pole, k)) = PoleQuad::of(quad) {
            return at_pole(pole, k, at).rescaled(scale);
        }
        let mut children = quad.split();
        let Some((k, inner)) = quadrant(at, |k| children[k].regular_points().is_some()) else {
            break;
        };
        owned = std::mem::take(&mut children[k]);
        quad = &owned;
        at = inner;
        scale *= 2.0;
    }
    vertex(quad, nearest_corner(at))
}

/// Evaluates in a quad with its pole at corner `k`.
fn at_pole(mut pole: PoleQuad, k: usize, mut at: [f64; 2]) -> Reached {
    let mut scale = 1.0;
    let mut origin = pole.recentre();
    for _ in 0..DESCENT_LEVELS_MAX {
        let patches = pole.split();
        scale *= 2.0;
        let Some((child, inner)) = quadrant(at, |child| child != k) else {
            break;
        };
        at = inner;
        if child != k {
            let points = turned_patch(patches[(child + 3 - k) % 4], k);
            let mut d = spline::evaluate(&points, at[0], at[1]);
            d.position += origin;
            return Reached::Patch(d).rescaled(scale);
        }
        if corner_at(at) == Some(k) {
            break;
        }
        origin += pole.recentre();
    }
    match vertex(&pole.neighbourhood(k), k) {
        Reached::Vertex(mut limit) => {
            limit.position += origin;
            Reached::Vertex(limit)
        }
        patch @ Reached::Patch(_) => patch,
    }
}

fn vertex(quad: &QuadNeighbourhood, k: usize) -> Reached {
    let corner = &quad.corners[k];
    Reached::Vertex(corner.ring.limit(corner.at))
}

/// Twice the parameters of each quadrant's lower corner, in the order of a split's children.
const QUADRANTS: [[f64; 2]; 4] = [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]];

/// The quadrant that holds a place, and the place's parameters in it. Of quadrants that share the
/// place the first one `preferred` is taken, or else the first. `None` outside the unit square.
#[inline]
pub fn quadrant(at: [f64; 2], preferred: impl Fn(usize) -> bool) -> Option<(usize, [f64; 2])> {
    let [u, v] = at;
    // As good as always a place lies in one quadrant alone.
    if u != 0.5 && v != 0.5 {
        let k = [[0, 3], [1, 2]][usize::from(u > 0.5)][usize::from(v > 0.5)];
        return inner(at, k).map(|inner| (k, inner));
    }
    let holders = || (0..4).filter_map(|k| inner(at, k).map(|inner| (k, inner)));
    holders()
        .find(|holder| preferred(holder.0))
        .or_else(|| holders().next())
}

/// The parameters in quadrant `k`, where they lie in its unit square.
#[inline]
fn inner(at: [f64; 2], k: usize) -> Option<[f64; 2]> {
    let low = QUADRANTS[k];
    let inner: [f64; 2] = std::array::from_fn(|i| 2.0 * at[i] - low[i]);
    inner
        .iter()
        .all(|x| (0.0..=1.0).contains(x))
        .then_some(inner)
}

/// The corner of the unit square that a place is exactly at.
fn corner_at(at: [f64; 2]) -> Option<usize> {
    QUADRANTS.iter().position(|corner| *corner == at)
}

fn nearest_corner(at: [f64; 2]) -> usize {
    corner_at(at.map(f64::round)).unwrap_or_default()
}
