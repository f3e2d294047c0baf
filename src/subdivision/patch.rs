//! A quad of an all-quad mesh with its one-ring, and the descent from it to regular patches.
//!
//! Corners run counter-clockwise from the quad's own (0, 0): u runs from corner 0 to corner 1, v
//! from corner 0 to corner 3. Side `k` joins corners `k` and `k + 1`. Splitting keeps that frame:
//! child `k` covers the quadrant at corner `k`, and its corner `k` is the image of that corner.

use super::ring::Ring;
use super::spline::{self, DyadicWeights, GridWindow, PatchPoints};
use crate::mesh::Vec3;

/// A corner of a quad: its ring, and which of the ring's quads this one is.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct QuadCorner {
    /// The one-ring of the corner's vertex.
    pub ring: Ring,
    /// Index of this quad among the ring's: spoke `at` leads to the next corner of the quad,
    /// spoke `at + 1` to the previous one, and diagonal `at` is the opposite corner.
    pub at: usize,
}

impl QuadCorner {
    /// Spoke index `at + step`, round the ring; `None` beyond the ends of an open ring.
    fn spoke_index(&self, step: isize) -> Option<usize> {
        wrapped(self.at, step, self.ring.spokes.len(), self.ring.is_closed())
    }

    /// The far end of the spoke `step` spokes from the one that leads to the next corner.
    fn spoke(&self, step: isize) -> Option<Vec3> {
        self.spoke_index(step).map(|j| self.ring.spokes[j])
    }

    /// The diagonal `step` quads from this one.
    fn diagonal(&self, step: isize) -> Option<Vec3> {
        let count = self.ring.diagonals.len();
        wrapped(self.at, step, count, self.ring.is_closed()).map(|j| self.ring.diagonals[j])
    }

    fn spoke_sharpness(&self, step: isize) -> f64 {
        self.spoke_index(step)
            .map_or(0.0, |j| self.ring.spoke_sharpness(j))
    }

    /// Whether the corner is that of a bicubic patch, phantom points included: see
    /// [`QuadNeighbourhood::regular_points`].
    pub fn is_patch_corner(&self) -> bool {
        let ring = &self.ring;
        if ring.is_regular() {
            return true;
        }
        let semi_sharp = ring.sharpness.iter().any(|s| *s > 0.0 && s.is_finite());
        if ring.cut.is_some() || semi_sharp {
            return false;
        }
        let sharp = ring.sharpness.iter().filter(|&&s| s > 0.0).count();
        let Some((_, faces)) = ring.sector(self.at) else {
            return false;
        };
        let corner = ring.vertex_sharpness.is_infinite() || sharp > 2;
        match faces {
            1 => corner,
            2 => sharp == 2 && ring.vertex_sharpness == 0.0,
            _ => false,
        }
    }

    fn refined(&self) -> Self {
        Self {
            ring: self.ring.refined(),
            at: self.at - self.ring.lost_in_front(),
        }
    }
}

fn wrapped(at: usize, step: isize, count: usize, closed: bool) -> Option<usize> {
    let index = at as isize + step;
    if closed {
        Some(index.rem_euclid(count as isize) as usize)
    } else {
        (0..count as isize)
            .contains(&index)
            .then_some(index as usize)
    }
}

/// A quad with the rings of its four corners.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct QuadNeighbourhood {
    /// The corners, counter-clockwise.
    pub corners: [QuadCorner; 4],
}

/// What a grid of samples is to hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Samples {
    /// Control points of the refined mesh.
    Refined,
    /// Points and unit normals of the limit surface.
    Limit,
}

/// Grids to fill, one entry per sample, rows of `stride`.
#[derive(Debug)]
pub struct Grid<'a> {
    /// Refined or limit positions.
    pub positions: &'a mut [Vec3],
    /// Unit limit normals; zero where there is none. Untouched when refined points are asked for.
    pub normals: &'a mut [Vec3],
    /// Distance between rows.
    pub stride: usize,
}

/// A part of a quad that needs no more splitting.
#[derive(Debug)]
pub enum Leaf<'a> {
    /// A bicubic patch.
    Patch {
        /// Its control points.
        points: &'a PatchPoints,
        /// Levels left below it.
        levels: usize,
        /// Its first sample.
        start: usize,
    },
    /// A quad of the last level, to be evaluated corner by corner.
    Corners {
        /// The quad.
        quad: &'a QuadNeighbourhood,
        /// Its first sample.
        start: usize,
    },
}

/// Weights of every level down to the one asked for.
#[derive(Debug, Clone)]
pub struct LevelWeights(Vec<DyadicWeights>);

impl LevelWeights {
    /// Weights for up to `level` halvings.
    pub fn new(level: usize) -> Self {
        Self((0..=level).map(DyadicWeights::new).collect())
    }

    /// Weights for `level` halvings.
    pub fn at(&self, level: usize) -> &DyadicWeights {
        &self.0[level]
    }
}

impl QuadNeighbourhood {
    /// The 16 control points of the quad's bicubic patch, if its corners are all regular.
    ///
    /// Along a border or an infinitely sharp crease the row beyond is set to 2 P0 - P1: with it the
    /// B-spline's rules reproduce the crease's (the border curve keeps its own B-spline), so that
    /// such quads are bicubic patches as well.
    pub fn regular_points(&self) -> Option<PatchPoints> {
        if !self.corners.iter().all(QuadCorner::is_patch_corner) {
            return None;
        }
        let mut points = [[Vec3::zeros(); 4]; 4];
        let mut set = |place: Place, p: Vec3| points[place.1][place.0] = p;
        let sharp = std::array::from_fn::<bool, 4, _>(|k| self.side_is_sharp(k));
        for (k, corner) in self.corners.iter().enumerate() {
            set(INNER[k], corner.ring.center);
            if !sharp[k] {
                // Across side k: the spoke before the one along it.
                set(BEYOND_SIDE[k][0], corner.spoke(-1)?);
            }
            let previous = (k + 3) % 4;
            if !sharp[previous] {
                set(BEYOND_SIDE[previous][1], corner.spoke(2)?);
            }
            if !sharp[k] && !sharp[previous] {
                set(OUTER[k], corner.diagonal(2)?);
            }
        }
        fill_phantom_points(&mut points, sharp);
        Some(points)
    }

    /// Moves corner `k` to the origin, and returns where it was: see
    /// [`PoleQuad::recentre`](super::pole_quad::PoleQuad::recentre). A quad with a cut ring, whose
    /// centres are shared, stays.
    pub fn recentre(&mut self, k: usize) -> Vec3 {
        if self.corners.iter().any(|corner| corner.ring.cut.is_some()) {
            return Vec3::zeros();
        }
        let shift = self.corners[k].ring.center;
        for Ring {
            center,
            spokes,
            diagonals,
            ..
        } in self.corners.iter_mut().map(|corner| &mut corner.ring)
        {
            let points = spokes.iter_mut().chain(diagonals).chain([center]);
            points.for_each(|p| *p -= shift);
        }
        shift
    }

    /// Splits the quad into its four children. Each child has the same frame as the parent.
    pub fn split(&self) -> [Self; 4] {
        let refined = self.corners.each_ref().map(QuadCorner::refined);
        std::array::from_fn(|k| Self::child(&refined, k))
    }

    /// Fills a grid of `2^levels + 1` samples a side, starting at `start`. Corners that are no
    /// patch corners at the last level are evaluated by their ring.
    pub fn fill(
        &self,
        levels: usize,
        weights: &LevelWeights,
        samples: Samples,
        grid: &mut Grid,
        start: usize,
    ) {
        let stride = grid.stride;
        self.descend(levels, stride, start, &mut |leaf| match leaf {
            Leaf::Patch {
                points,
                levels,
                start,
            } => fill_regular(points, weights.at(levels), samples, grid, start),
            Leaf::Corners { quad, start } => quad.fill_corners(samples, grid, start),
        });
    }

    /// Splits the quad until each part is a bicubic patch or, after `levels` levels, irregular still,
    /// and visits the parts. `start` and `stride` say where in a grid each part has its samples.
    pub fn descend(
        &self,
        levels: usize,
        stride: usize,
        start: usize,
        visit: &mut impl FnMut(Leaf),
    ) {
        if let Some(points) = self.regular_points() {
            visit(Leaf::Patch {
                points: &points,
                levels,
                start,
            });
        } else if levels == 0 {
            visit(Leaf::Corners { quad: self, start });
        } else {
            let half = 1 << (levels - 1);
            let offsets = [0, half, half * (stride + 1), half * stride];
            for (child, offset) in self.split().iter().zip(offsets) {
                child.descend(levels - 1, stride, start + offset, visit);
            }
        }
    }

    fn fill_corners(&self, samples: Samples, grid: &mut Grid, start: usize) {
        let offsets = [0, 1, grid.stride + 1, grid.stride];
        for (corner, offset) in self.corners.iter().zip(offsets) {
            let at = start + offset;
            match samples {
                Samples::Refined => grid.positions[at] = corner.ring.center,
                Samples::Limit => {
                    let limit = corner.ring.limit(corner.at);
                    grid.positions[at] = limit.position;
                    grid.normals[at] = limit.normal().unwrap_or_default();
                }
            }
        }
    }

    /// Whether side `k` is a border or an infinitely sharp crease.
    fn side_is_sharp(&self, k: usize) -> bool {
        self.corners[k].spoke_sharpness(0).is_infinite()
    }

    /// Child `k` from the refined corners: see the module's words on the frame.
    fn child(refined: &[QuadCorner; 4], k: usize) -> Self {
        let mut child = Self::default();
        child.corners[k] = refined[k].clone();
        child.corners[(k + 1) % 4] = side_corner(refined, k, true);
        child.corners[(k + 2) % 4] = face_corner(refined, k);
        child.corners[(k + 3) % 4] = side_corner(refined, (k + 3) % 4, false);
        child
    }
}

/// A place in the 4 × 4 points, as (a, b).
type Place = (usize, usize);

/// Places of the quad's own corners.
const INNER: [Place; 4] = [(1, 1), (2, 1), (2, 2), (1, 2)];

/// Places of the four outermost points.
const OUTER: [Place; 4] = [(0, 0), (3, 0), (3, 3), (0, 3)];

/// Places of the two points beyond side `k`: beside corner `k` and beside corner `k + 1`.
const BEYOND_SIDE: [[Place; 2]; 4] = [
    [(1, 0), (2, 0)],
    [(3, 1), (3, 2)],
    [(2, 3), (1, 3)],
    [(0, 2), (0, 1)],
];

/// For each place beyond side `k`: the place on the side and the one inside that it mirrors.
const MIRRORED_SIDE: [[(Place, Place); 2]; 4] = [
    [((1, 1), (1, 2)), ((2, 1), (2, 2))],
    [((2, 1), (1, 1)), ((2, 2), (1, 2))],
    [((2, 2), (2, 1)), ((1, 2), (1, 1))],
    [((1, 2), (2, 2)), ((1, 1), (2, 1))],
];

/// Fills the points beyond sharp sides by mirroring. A row beyond a sharp side ends in corners
/// that mirror whatever lies beyond the next side.
fn fill_phantom_points(points: &mut PatchPoints, sharp: [bool; 4]) {
    let mut mirror = |beyond: Place, on: Place, inside: Place| {
        points[beyond.1][beyond.0] = points[on.1][on.0] * 2.0 - points[inside.1][inside.0];
    };
    for k in (0..4).filter(|&k| sharp[k]) {
        for (beyond, (on, inside)) in BEYOND_SIDE[k].into_iter().zip(MIRRORED_SIDE[k]) {
            mirror(beyond, on, inside);
        }
    }
    for k in 0..4 {
        let previous = (k + 3) % 4;
        if sharp[k] {
            let [inside, on] = BEYOND_SIDE[previous];
            mirror(OUTER[k], on, inside);
        } else if sharp[previous] {
            let [on, inside] = BEYOND_SIDE[k];
            mirror(OUTER[k], on, inside);
        }
    }
}

/// The ring of the point that splits side `k`, seen from the child at corner `k` (`first`) or
/// from the one at corner `k + 1`.
fn side_corner(refined: &[QuadCorner; 4], k: usize, first: bool) -> QuadCorner {
    let (here, there) = (&refined[k], &refined[(k + 1) % 4]);
    let side_point = |side: usize| refined[side % 4].ring.spokes[refined[side % 4].at];
    let face_point = here.ring.diagonals[here.at];
    let mut ring = Ring {
        center: side_point(k),
        ..Ring::default()
    };
    let sharpness = here.spoke_sharpness(0);
    match (here.diagonal(-1), here.spoke(-1), there.spoke(2)) {
        (Some(opposite), Some(beside_here), Some(beside_there)) => {
            ring.spokes
                .extend([there.ring.center, face_point, here.ring.center, opposite]);
            ring.diagonals.extend([
                side_point(k + 1),
                side_point(k + 3),
                beside_here,
                beside_there,
            ]);
            if sharpness > 0.0 {
                ring.sharpness.extend([sharpness, 0.0, sharpness, 0.0]);
            }
        }
        _ => {
            ring.spokes
                .extend([there.ring.center, face_point, here.ring.center]);
            ring.diagonals
                .extend([side_point(k + 1), side_point(k + 3)]);
            ring.sharpness.extend([f64::INFINITY, 0.0, f64::INFINITY]);
        }
    }
    QuadCorner {
        ring,
        at: usize::from(first),
    }
}

/// The ring of the quad's face point, seen from the child at corner `k`.
fn face_corner(refined: &[QuadCorner; 4], k: usize) -> QuadCorner {
    let side_point = |side: usize| refined[side % 4].ring.spokes[refined[side % 4].at];
    let mut ring = Ring {
        center: refined[k].ring.diagonals[refined[k].at],
        ..Ring::default()
    };
    // Counter-clockwise from the side before corner k: spoke, corner, next side, ...
    for step in 0..4 {
        ring.spokes.push(side_point(k + 3 + step));
        ring.diagonals.push(refined[(k + step) % 4].ring.center);
    }
    QuadCorner { ring, at: 0 }
}

/// Fills a grid from a regular patch.
pub fn fill_regular(
    points: &PatchPoints,
    weights: &DyadicWeights,
    samples: Samples,
    grid: &mut Grid,
    start: usize,
) {
    let window = GridWindow {
        start,
        stride: grid.stride,
    };
    match samples {
        Samples::Refined => {
            let w = &weights.refined;
            spline::tensor(points, w, w, grid.positions, window);
        }
        Samples::Limit => {
            spline::limit_grid(points, weights, grid.positions, grid.normals, window);
        }
    }
}
