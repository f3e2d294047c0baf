//! The extent of the limit surface along the axes, by branch and bound.
//!
//! All weights of the scheme are positive and sum to one, so that a part of the surface lies within
//! the hull of the control points about it, and a patch within that of its Bézier points. Parts
//! that can't reach further than what has been reached are dropped, the others split at their
//! middle (Lane & Riesenfeld 1980).

use rayon::prelude::*;

use crate::mesh::Vec3;
use crate::subdivision::Surface;
use crate::subdivision::evaluate::DESCENT_LEVELS_MAX;
use crate::subdivision::patch::QuadNeighbourhood;
use crate::subdivision::spline::PatchPoints;

/// How far, in the frame's units (the whole cage is about 1), an extent may fall short.
const TOLERANCE: f64 = 1e-11;

/// Differences up to this count as none: below it, rounding hides which way a patch falls.
const ROUNDING: f64 = 1e-15;

/// Halvings after which a part's corners are taken for its extreme: its bound has then met them
/// up to rounding.
const HALVINGS_MAX: usize = 60;

/// Lowest and highest coordinates of the limit surface in the control mesh's frame, each short of
/// the truth by 1e-11 at most. `None` without faces.
///
/// `start` gives points of the limit surface to begin with, such as those of the vertices.
pub fn limit_extent(surface: &Surface, start: impl Iterator<Item = Vec3>) -> Option<[Vec3; 2]> {
    let faces = surface.control().topology().face_count();
    if faces == 0 {
        return None;
    }
    let mut bounds = Vec::with_capacity(faces);
    (0..faces)
        .into_par_iter()
        .with_min_len(256)
        .map_init(Vec::new, |points, f| face_bounds(surface, f, points))
        .collect_into_vec(&mut bounds);
    let infinite = Vec3::repeat(f64::INFINITY);
    let (low, high) = start.fold((infinite, -infinite), |(low, high), p| {
        (low.inf(&p), high.sup(&p))
    });
    let reached: Vec<f64> = (0..6)
        .into_par_iter()
        .map(|way| {
            let (axis, sign) = (way / 2, if way % 2 == 0 { -1.0 } else { 1.0 });
            let best = if sign < 0.0 { -low[axis] } else { high[axis] };
            let mut search = Search { axis, sign, best };
            search.run(surface, &bounds);
            sign * search.best
        })
        .collect();
    let side = |first: usize| Vec3::new(reached[first], reached[first + 2], reached[first + 4]);
    Some([side(0), side(1)])
}

/// Lowest and highest coordinates of the points that a face lies within the hull of.
fn face_bounds(surface: &Surface, f: usize, scratch: &mut Vec<Vec3>) -> [Vec3; 2] {
    let mut bounds = [Vec3::repeat(f64::INFINITY), Vec3::repeat(f64::NEG_INFINITY)];
    let mut add = |p: &Vec3| bounds = [bounds[0].inf(p), bounds[1].sup(p)];
    if let Some(points) = surface.regular_patch(f) {
        points.iter().flatten().for_each(add);
        return bounds;
    }
    for c in surface.control().topology().face_corners(f) {
        if surface.stencil_points(c, scratch).is_some() {
            scratch.iter().for_each(&mut add);
        } else {
            quad_points(&root(surface, c), &mut add);
        }
    }
    bounds
}

fn root(surface: &Surface, c: usize) -> QuadNeighbourhood {
    surface.corner_quad(c, DESCENT_LEVELS_MAX, 0)
}

/// Visits the points that a quad lies within the hull of.
fn quad_points(quad: &QuadNeighbourhood, add: &mut impl FnMut(&Vec3)) {
    for corner in &quad.corners {
        let ring = &corner.ring;
        add(&ring.center);
        ring.spokes.iter().for_each(&mut *add);
        ring.diagonals.iter().for_each(&mut *add);
        // What was cut off bears on where the centre goes, and on nothing else.
        if let Some(cut) = &ring.cut {
            cut.centers.iter().skip(cut.level).for_each(&mut *add);
        }
    }
}

/// The search for the furthest point one way along an axis.
struct Search {
    axis: usize,
    sign: f64,
    best: f64,
}

impl Search {
    fn run(&mut self, surface: &Surface, bounds: &[[Vec3; 2]]) {
        let reach = |f: usize| {
            let [low, high] = &bounds[f];
            if self.sign < 0.0 {
                -low[self.axis]
            } else {
                high[self.axis]
            }
        };
        let hopeful = (0..bounds.len()).map(|f| (reach(f), f));
        let mut hopeful: Vec<(f64, usize)> = hopeful
            .filter(|(reach, _)| *reach > self.best + TOLERANCE)
            .collect();
        hopeful.sort_unstable_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        for (reach, f) in hopeful {
            if reach <= self.best + TOLERANCE {
                break;
            }
            match surface.regular_patch(f) {
                Some(points) => self.patch(&points),
                None => {
                    for c in surface.control().topology().face_corners(f) {
                        self.quad(&root(surface, c), DESCENT_LEVELS_MAX);
                    }
                }
            }
        }
    }

    fn height(&self, p: &Vec3) -> f64 {
        self.sign * p[self.axis]
    }

    fn quad(&mut self, quad: &QuadNeighbourhood, levels: usize) {
        let mut bound = f64::NEG_INFINITY;
        quad_points(quad, &mut |p| bound = bound.max(self.height(p)));
        if bound <= self.best + TOLERANCE {
            return;
        }
        if let Some(points) = quad.regular_points() {
            self.patch(&points);
            return;
        }
        for corner in &quad.corners {
            let limit = corner.ring.limit(corner.at).position;
            self.best = self.best.max(self.height(&limit));
        }
        if levels > 0 && bound > self.best + TOLERANCE {
            for child in &quad.split() {
                self.quad(child, levels - 1);
            }
        }
    }

    fn patch(&mut self, points: &PatchPoints) {
        let heights = points
            .each_ref()
            .map(|row| row.each_ref().map(|p| self.height(p)));
        let rows = heights.map(bezier);
        let columns = transposed(&rows).map(bezier);
        self.bezier_patch(&transposed(&columns), HALVINGS_MAX);
    }

    /// A patch whose heights rise or fall all along one parameter is highest on one of its sides: a
    /// curve, whose extremes have a closed form. Without that, surfaces that are turned about an
    /// axis would be split all along their highest circle.
    fn bezier_patch(&mut self, heights: &[[f64; 4]; 4], halvings: usize) {
        let corners = [heights[0][0], heights[0][3], heights[3][0], heights[3][3]];
        self.best = corners.into_iter().fold(self.best, f64::max);
        let bound = heights
            .iter()
            .flatten()
            .copied()
            .fold(f64::NEG_INFINITY, f64::max);
        if bound <= self.best + TOLERANCE || halvings == 0 {
            return;
        }
        let columns = transposed(heights);
        if let Some(last) = highest_end(heights) {
            self.curve(&columns[last]);
        } else if let Some(last) = highest_end(&columns) {
            self.curve(&heights[last]);
        } else {
            let halves = [0, 1].map(|side| heights.map(|row| halved(row)[side]));
            for half in halves {
                let across = transposed(&half).map(halved);
                for side in [0, 1] {
                    let quarter = across.map(|halves| halves[side]);
                    self.bezier_patch(&transposed(&quarter), halvings - 1);
                }
            }
        }
    }

    fn curve(&mut self, heights: &[f64; 4]) {
        let [a, b, c, d] = *heights;
        // The derivative's quadratic, by thirds: p (1-t)² + 2 q t (1-t) + r t².
        let [p, q, r] = [b - a, c - b, d - c];
        let at = |t: f64| {
            let s = 1.0 - t;
            s * s * (s * a + 3.0 * t * b) + t * t * (3.0 * s * c + t * d)
        };
        let root = (q * q - p * r).max(0.0).sqrt();
        // Both roots without cancellation.
        let sum = p - q + root.copysign(p - q);
        let turns = [sum / (p - 2.0 * q + r), p / sum];
        let inside = turns.into_iter().filter(|t| (0.0..=1.0).contains(t));
        self.best = inside.map(at).chain([a, d]).fold(self.best, f64::max);
    }
}

/// Whether every row is highest at the same end: 0 or 3.
fn highest_end(rows: &[[f64; 4]; 4]) -> Option<usize> {
    let steps = || {
        rows.iter()
            .flat_map(|row| (0..3).map(|k| row[k + 1] - row[k]))
    };
    if steps().all(|step| step <= ROUNDING) {
        Some(0)
    } else {
        steps().all(|step| step >= -ROUNDING).then_some(3)
    }
}

/// Bézier points of one span of a uniform cubic B-spline.
fn bezier([a, b, c, d]: [f64; 4]) -> [f64; 4] {
    [
        (a + 4.0 * b + c) / 6.0,
        (2.0 * b + c) / 3.0,
        (b + 2.0 * c) / 3.0,
        (b + 4.0 * c + d) / 6.0,
    ]
}

/// Bézier points of the two halves of a cubic.
fn halved([a, b, c, d]: [f64; 4]) -> [[f64; 4]; 2] {
    let mid = |x: f64, y: f64| (x + y) / 2.0;
    let (ab, bc, cd) = (mid(a, b), mid(b, c), mid(c, d));
    let (abc, bcd) = (mid(ab, bc), mid(bc, cd));
    let middle = mid(abc, bcd);
    [[a, ab, abc, middle], [middle, bcd, cd, d]]
}

fn transposed(rows: &[[f64; 4]; 4]) -> [[f64; 4]; 4] {
    std::array::from_fn(|i| std::array::from_fn(|j| rows[j][i]))
}
