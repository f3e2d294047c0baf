//! A quad near a pole taken apart for integration: bicubic patches, and a tail at each pole.

use crate::mesh::Vec3;
use crate::subdivision::patch::{QuadCorner, QuadNeighbourhood};
use crate::subdivision::sharpness;
use crate::subdivision::spline::{self, PatchPoints};
use crate::subdivision::stencil::STENCIL_VALENCE_MAX;

/// Levels after which sharpness that is yet to wear off is followed no further: each doubles the
/// number of patches along the edge. What is sharper still is closed by flat quads 2^-6 of the
/// cage's edges wide.
const WEAR_LEVELS_MAX: usize = 5;

/// Levels, at least, about creases, corners and poles past the tables, whose volume is closed by
/// cones: a tail of width h adds an error of order h⁴ there.
const SHARP_LEVELS: usize = 8;

/// Parameters of a quad's corners.
const CORNERS: [[f64; 2]; 4] = [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]];

/// A side of a patch, walked from one of its corners to another.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PatchSide {
    /// Index of the patch.
    pub patch: usize,
    /// Corner it starts from.
    pub from: usize,
    /// Corner it ends at.
    pub to: usize,
}

impl PatchSide {
    /// Position and derivatives a share `t` of the way, and the way's direction in parameters.
    pub fn evaluate(&self, patches: &[PatchPoints], t: f64) -> (spline::Derivatives, [f64; 2]) {
        let (from, to) = (CORNERS[self.from], CORNERS[self.to]);
        let way = [to[0] - from[0], to[1] - from[1]];
        let [u, v] = [from[0] + way[0] * t, from[1] + way[1] * t];
        (spline::evaluate(&patches[self.patch], u, v), way)
    }
}

/// What is left of a quad at a pole, a crease's end or a corner.
#[derive(Debug, Clone, PartialEq)]
pub struct Tail {
    /// Limit positions of its corners, counter-clockwise, the pole first.
    pub corners: [Vec3; 4],
    /// Valence of the pole where nothing is sharp; 4 elsewhere.
    pub valence: usize,
    /// Tangents at the pole; zero where it has none.
    pub tangents: [Vec3; 2],
    /// The two sides away from the pole, counter-clockwise; `None` where something else than a patch
    /// lies beyond them.
    pub sides: Option<[PatchSide; 2]>,
}

/// What has become of a quad.
#[derive(Debug, Clone, Copy)]
enum Part {
    /// Index of its patch.
    Patch(usize),
    /// Index of its tail.
    Tail(usize),
    /// It has been split.
    Split,
}

/// The parts of one quad.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Pieces {
    /// Patches.
    pub patches: Vec<PatchPoints>,
    /// Tails.
    pub tails: Vec<Tail>,
    /// Each tail's control points, and which of its corners is the pole.
    pub tail_quads: Vec<(QuadNeighbourhood, usize)>,
}

impl Pieces {
    /// Forgets all parts, keeping the memory.
    pub fn clear(&mut self) {
        self.patches.clear();
        self.tails.clear();
        self.tail_quads.clear();
    }

    /// Takes a quad apart, down to `levels` levels about smooth poles that there are tables for, so
    /// that all tails at one pole are equally small, and some more about others.
    pub fn take(&mut self, quad: QuadNeighbourhood, levels: usize) {
        self.split(quad, levels, 0);
    }

    fn split(&mut self, quad: QuadNeighbourhood, levels: usize, depth: usize) -> Part {
        if let Some(points) = quad.regular_points() {
            self.patches.push(points);
            return Part::Patch(self.patches.len() - 1);
        }
        let last = if quad.corners.iter().any(wears_off) {
            WEAR_LEVELS_MAX
        } else if quad.corners.iter().all(is_smooth) {
            levels
        } else {
            levels.max(SHARP_LEVELS)
        };
        if depth >= last {
            self.add_tail(quad);
            return Part::Tail(self.tails.len() - 1);
        }
        let parts = quad
            .split()
            .map(|child| self.split(child, levels, depth + 1));
        for (k, part) in parts.iter().enumerate() {
            if let Part::Tail(i) = part {
                let (quad, pole) = &self.tail_quads[*i];
                let irregular = quad.corners.iter().filter(|c| !c.is_patch_corner());
                if *pole == k && irregular.count() == 1 {
                    self.tails[*i].sides = outer_sides(&parts, k);
                }
            }
        }
        Part::Split
    }

    fn add_tail(&mut self, quad: QuadNeighbourhood) {
        let pole = quad.corners.iter().position(|c| !c.is_patch_corner());
        let pole = pole.unwrap_or_default();
        let limit = |k: usize| {
            let corner = &quad.corners[(pole + k) % 4];
            corner.ring.limit(corner.at)
        };
        let limits = [0, 1, 2, 3].map(limit);
        let ring = &quad.corners[pole].ring;
        let smooth = ring.is_closed() && ring.sharpness.is_empty() && ring.cut.is_none();
        self.tails.push(Tail {
            corners: limits.map(|limit| limit.position),
            valence: if smooth { ring.len() } else { 4 },
            tangents: limits[0].tangents.unwrap_or_default(),
            sides: None,
        });
        self.tail_quads.push((quad, pole));
    }
}

/// The sides of child `k` away from corner `k`, as those of the patches beyond.
fn outer_sides(parts: &[Part; 4], k: usize) -> Option<[PatchSide; 2]> {
    let side = |beside: usize, from: usize, to: usize| match parts[beside % 4] {
        Part::Patch(patch) => Some(PatchSide {
            patch,
            from: from % 4,
            to: to % 4,
        }),
        _ => None,
    };
    Some([side(k + 1, k, k + 3)?, side(k + 3, k + 1, k)?])
}

/// Whether the corner is that of a patch or of a smooth pole that there are tables for.
fn is_smooth(corner: &QuadCorner) -> bool {
    let ring = &corner.ring;
    let nothing_sharp = ring.sharpness.is_empty() && ring.vertex_sharpness == 0.0;
    let kept = ring.is_closed() && ring.cut.is_none() && ring.len() <= STENCIL_VALENCE_MAX;
    (nothing_sharp && kept) || corner.is_patch_corner()
}

fn wears_off(corner: &QuadCorner) -> bool {
    let ring = &corner.ring;
    sharpness::is_semi_sharp(ring.vertex_sharpness)
        || ring.sharpness.iter().any(|&s| sharpness::is_semi_sharp(s))
}
