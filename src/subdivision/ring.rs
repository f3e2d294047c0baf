//! The one-ring of a vertex in an all-quad mesh: its refinement and its limit.
//!
//! The ring of a vertex at one level determines its ring at the next, so that a vertex can be
//! followed down to the limit without the rest of the mesh.

use std::borrow::Cow;
use std::sync::Arc;

use smallvec::SmallVec;

use super::level_one::blend_edge_point;
use super::masks::{self, SectorTangent, SmoothLimitMask};
use super::sharpness::{self, VertexBlend, VertexRule};
use crate::mesh::Vec3;

/// Spokes that fit into a ring without a heap allocation.
const INLINE_SPOKES: usize = 6;

/// Largest number of halvings that a dart's ring is followed for; the angle between successive
/// tangents falls by a constant factor (below 0.95 up to valence 50), so that this many bring it
/// under rounding.
const DART_LEVELS_MAX: usize = 1200;

/// Angle, in radians, under which the tangents of two successive levels count as settled.
const DART_TANGENT_EPSILON: f64 = 1e-15;

/// Length of a cross product, relative to its factors' lengths, below which two tangents count as
/// parallel: rounding alone makes about 1e-16 of their lengths.
const PARALLEL_EPSILON: f64 = 1e-12;

/// A vertex with the quads about it.
///
/// A closed ring has as many diagonals as spokes; an open one (at a border, or about one of the
/// fans of a non-manifold vertex) has one fewer, and its first and last spoke are borders.
/// Diagonal `j` lies between spokes `j` and `j + 1`, counter-clockwise seen from outside.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Ring {
    /// The vertex.
    pub center: Vec3,
    /// Far ends of the edges at the vertex.
    pub spokes: SmallVec<[Vec3; INLINE_SPOKES]>,
    /// Far corners of the quads at the vertex.
    pub diagonals: SmallVec<[Vec3; INLINE_SPOKES]>,
    /// Sharpness of each spoke in levels; empty if none is sharp (a border spoke is infinitely).
    pub sharpness: SmallVec<[f64; INLINE_SPOKES]>,
    /// Sharpness of the vertex in levels.
    pub vertex_sharpness: f64,
    /// For a cut ring: what the spokes that were left out amount to.
    pub cut: Option<Cut>,
}

/// What is known of a ring of which only a window of spokes is kept.
///
/// About a vertex of very high valence every quad would otherwise carry the whole ring, which
/// takes time quadratic in the valence. A window loses one spoke at each cut end per level.
#[derive(Debug, Clone, PartialEq)]
pub struct Cut {
    /// Positions of the vertex from this level on, found once from the whole ring. Beyond the last
    /// one the vertex is taken to stay.
    pub centers: Arc<[Vec3]>,
    /// Index of this level's position in `centers`.
    pub level: usize,
    /// Whether spokes are missing before the first one kept.
    pub before: bool,
    /// Whether spokes are missing after the last one kept.
    pub after: bool,
}

/// Limit point of a vertex and the tangent plane there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LimitFrame {
    /// Limit position.
    pub position: Vec3,
    /// Two tangents, of no particular length, whose cross product points outward; `None` where
    /// the limit surface has no tangent plane (interior vertices of valence 2, a sharp vertex
    /// without sharp edges, where it ends in a cone).
    pub tangents: Option<[Vec3; 2]>,
}

impl LimitFrame {
    /// The unit normal, where there is a tangent plane.
    pub fn normal(&self) -> Option<Vec3> {
        self.tangents.and_then(|[a, b]| unit_normal(a, b))
    }
}

/// The unit normal of two tangents, or `None` if they are parallel or vanish.
pub fn unit_normal(a: Vec3, b: Vec3) -> Option<Vec3> {
    let (la, lb) = (a.norm(), b.norm());
    let (a, b) = (a / la, b / lb);
    let cross = a.cross(&b);
    let length = cross.norm();
    (length > PARALLEL_EPSILON).then(|| cross / length)
}

impl Ring {
    /// Whether faces lie all round the vertex.
    pub fn is_closed(&self) -> bool {
        self.spokes.len() == self.diagonals.len()
    }

    /// Number of spokes kept.
    pub fn len(&self) -> usize {
        self.spokes.len()
    }

    /// Whether the ring has no spokes (an unreferenced vertex).
    pub fn is_empty(&self) -> bool {
        self.spokes.is_empty()
    }

    /// Whether the vertex is that of a regular bicubic patch: four quads and nothing sharp.
    pub fn is_regular(&self) -> bool {
        self.spokes.len() == 4
            && self.is_closed()
            && self.sharpness.is_empty()
            && self.vertex_sharpness == 0.0
            && self.cut.is_none()
    }

    /// Sharpness of spoke `j`.
    pub fn spoke_sharpness(&self, j: usize) -> f64 {
        self.sharpness.get(j).copied().unwrap_or(0.0)
    }

    /// The point of quad `j`: the mean of its four corners.
    pub fn face_point(&self, j: usize) -> Vec3 {
        let next = if j + 1 == self.spokes.len() { 0 } else { j + 1 };
        (self.center + self.spokes[j] + self.diagonals[j] + self.spokes[next]) * 0.25
    }

    /// The ring of the same vertex one level further down. At the cut ends of a cut ring one
    /// spoke is lost; [`Ring::lost_in_front`] says whether indices shift.
    pub fn refined(&self) -> Self {
        let mut child = Self {
            center: self.vertex_point(),
            vertex_sharpness: sharpness::child(self.vertex_sharpness),
            cut: self.cut.as_ref().map(Cut::refined),
            ..Self::default()
        };
        let first = self.lost_in_front();
        let last = self.spokes.len() - usize::from(self.cut.as_ref().is_some_and(|c| c.after));
        let faces = self.diagonals.len();
        child
            .diagonals
            .extend((0..faces).map(|j| self.face_point(j)));
        child
            .spokes
            .extend((first..last).map(|j| self.edge_point(j, &child.diagonals)));
        if !self.sharpness.is_empty() {
            let worn = (first..last).map(|j| sharpness::child(self.sharpness[j]));
            child.sharpness.extend(worn);
            if child.sharpness.iter().all(|&s| s == 0.0) {
                child.sharpness.clear();
            }
        }
        if !self.is_closed() {
            child.diagonals.truncate(last - 1);
            child.diagonals.drain(..first);
        }
        child
    }

    /// Number of spokes (0 or 1) that refining takes away in front of the first one kept.
    pub fn lost_in_front(&self) -> usize {
        usize::from(self.cut.as_ref().is_some_and(|c| c.before))
    }

    /// Where the vertex lies after `levels` further levels.
    pub fn center_after(&self, levels: usize) -> Vec3 {
        if self.vertex_sharpness.is_infinite() || self.is_empty() {
            return self.center;
        }
        let smooth = self.sharpness.is_empty() && self.vertex_sharpness == 0.0;
        if smooth && self.cut.is_none() && self.is_closed() {
            return self.smooth_center_after(levels);
        }
        let mut ring = self.clone();
        for _ in 0..levels {
            ring = ring.refined();
        }
        ring.center
    }

    /// The smooth rule keeps no more of the ring in mind than the sums over spokes and diagonals.
    fn smooth_center_after(&self, levels: usize) -> Vec3 {
        let valence = self.spokes.len();
        let n = valence as f64;
        let mut center = self.center;
        let mut spokes: Vec3 = self.spokes.iter().sum();
        let mut diagonals: Vec3 = self.diagonals.iter().sum();
        for _ in 0..levels {
            let faces = (center * n + spokes * 2.0 + diagonals) * 0.25;
            let moved = smooth_vertex_point(center, spokes, diagonals, valence);
            spokes = (center * n + spokes + faces * 2.0) * 0.25;
            diagonals = faces;
            center = moved;
        }
        center
    }

    /// The limit point of the vertex, and its tangent plane seen from quad `sector`: on a crease
    /// or at a corner each sector between sharp edges has its own.
    ///
    /// While some sharpness is yet to wear off, the ring is refined first. Sectors and their
    /// tangents: on a crease or border the first tangent runs along it and the second into the
    /// sector ([`SectorTangent`]); at a corner they run along the two sharp edges of the sector.
    /// For sectors of five faces and more (crease) or two and more (corner) the surface has no
    /// single tangent plane at the vertex; what is returned is then the one met on the way along
    /// the crease, and the plane of the two sharp edges.
    ///
    /// A cut ring has a position only.
    pub fn limit(&self, sector: usize) -> LimitFrame {
        if self.is_empty() || self.cut.is_some() {
            let last = self.cut.as_ref().and_then(|cut| cut.centers.last());
            return LimitFrame {
                position: last.copied().unwrap_or(self.center),
                tangents: None,
            };
        }
        let semi_sharp = |s: f64| sharpness::is_semi_sharp(s);
        if semi_sharp(self.vertex_sharpness) || self.sharpness.iter().any(|&s| semi_sharp(s)) {
            return self.refined().limit(sector);
        }
        let sharp = self.sharpness.iter().filter(|&&s| s > 0.0).count();
        match (VertexRule::new(sharp, self.vertex_sharpness), sharp) {
            (VertexRule::Smooth, 0) => self.smooth_limit(),
            (VertexRule::Smooth, _) => self.dart_limit(),
            (VertexRule::Crease, _) => self.crease_limit(sector),
            (VertexRule::Corner, _) => self.corner_limit(sector),
        }
    }

    /// The run of quads between the sharp spokes on either side of quad `sector`: its first spoke
    /// and its number of quads. `None` if no spoke is sharp.
    pub fn sector(&self, sector: usize) -> Option<(usize, usize)> {
        let n = self.spokes.len();
        let sharp = |j: usize| self.spoke_sharpness(j) > 0.0;
        let before = (0..n).find(|&i| sharp((sector + n - i) % n))?;
        let after = (1..=n).find(|&i| sharp((sector + i) % n))?;
        Some(((sector + n - before) % n, before + after))
    }

    fn vertex_point(&self) -> Vec3 {
        if let Some(cut) = &self.cut {
            return cut.next_center().unwrap_or(self.center);
        }
        if self.vertex_sharpness > 1.0 {
            return self.center;
        }
        if self.sharpness.is_empty() && self.vertex_sharpness == 0.0 {
            return self.smooth_vertex_point();
        }
        let blend = VertexBlend::new(self.sharpness.iter().copied(), self.vertex_sharpness);
        let by_rule = |rule: VertexRule, sharp_from: f64| match rule {
            VertexRule::Corner => self.center,
            VertexRule::Smooth => self.smooth_vertex_point(),
            VertexRule::Crease => {
                let is_end = |j: &usize| self.spoke_sharpness(*j) > sharp_from;
                let ends = (0..self.spokes.len()).filter(is_end);
                let sum: Vec3 = ends.map(|j| self.spokes[j]).sum();
                self.center * 0.75 + sum * 0.125
            }
        };
        let parent = by_rule(blend.parent, 0.0);
        if blend.parent_weight >= 1.0 {
            return parent;
        }
        by_rule(blend.child, 1.0).lerp(&parent, blend.parent_weight)
    }

    fn smooth_vertex_point(&self) -> Vec3 {
        let n = self.spokes.len();
        let spokes: Vec3 = self.spokes.iter().sum();
        let diagonals: Vec3 = self.diagonals.iter().sum();
        smooth_vertex_point(self.center, spokes, diagonals, n)
    }

    fn edge_point(&self, j: usize, face_points: &[Vec3]) -> Vec3 {
        let midpoint = (self.center + self.spokes[j]) * 0.5;
        let s = self.spoke_sharpness(j);
        if s >= 1.0 {
            return midpoint;
        }
        let before = if j == 0 { face_points.len() } else { j } - 1;
        let smooth = midpoint * 0.5 + (face_points[before] + face_points[j]) * 0.25;
        blend_edge_point(smooth, midpoint, s)
    }

    fn smooth_limit(&self) -> LimitFrame {
        let mask = masks::smooth_limit_mask(self.spokes.len());
        let ring = self.spokes.iter().copied();
        smooth_limit(mask, self.center, ring.zip(self.diagonals.iter().copied()))
    }

    /// The sine tangent of the smooth rule, angles counted from spoke `first`.
    fn sine_tangent(&self, first: usize) -> Vec3 {
        let n = self.spokes.len();
        let ratio = masks::smooth_tangent_ratio(n);
        let step = 2.0 * std::f64::consts::PI / n as f64;
        let weighed = (0..n).map(|i| {
            let j = (first + i) % n;
            let [sine, next] = [i, i + 1].map(|i| (i as f64 * step).sin());
            let spoke = self.spokes[j] - self.center;
            let diagonal = self.diagonals[j] - self.center;
            spoke * sine + diagonal * (ratio * (sine + next))
        });
        weighed.sum()
    }

    fn crease_limit(&self, sector: usize) -> LimitFrame {
        let Some((first, faces)) = self.sector(sector) else {
            return self.smooth_limit();
        };
        let n = self.spokes.len();
        let spoke = |j: usize| self.spokes[(first + j) % n] - self.center;
        let diagonal = |j: usize| self.diagonals[(first + j) % n] - self.center;
        let ends = [spoke(0), spoke(faces)];
        let position = self.center + (ends[0] + ends[1]) * masks::CREASE_LIMIT.spoke;
        let along = ends[0] - ends[1];
        let across = if faces == 1 {
            single_face_across(ends, diagonal(0))
        } else {
            let w = SectorTangent::new(faces);
            let sine = |j: usize| (j as f64 * w.step).sin();
            let inner: Vec3 = (1..faces).map(|j| spoke(j) * sine(j)).sum();
            let outer: Vec3 = (0..faces)
                .map(|j| diagonal(j) * (sine(j) + sine(j + 1)))
                .sum();
            (ends[0] + ends[1]) * w.end + inner + outer * w.diagonal_ratio
        };
        LimitFrame {
            position,
            tangents: Some([along, across]),
        }
    }

    fn corner_limit(&self, sector: usize) -> LimitFrame {
        let n = self.spokes.len();
        let tangents = self
            .sector(sector)
            .map(|(first, faces)| [first, first + faces].map(|j| self.spokes[j % n] - self.center));
        LimitFrame {
            position: self.center,
            tangents,
        }
    }

    /// The limit of a dart. Its one-ring matrix is even and odd about the crease's edge. The odd part
    /// has the smooth rule's sine mask for its tangent. The even part has no closed form worth
    /// having: the ring made even is followed down, moved to its centre and doubled at each level so
    /// that no digits are lost, until the crease's spoke points along the other tangent.
    fn dart_limit(&self) -> LimitFrame {
        let crease = (0..self.len())
            .find(|&j| self.spoke_sharpness(j) > 0.0)
            .unwrap_or_default();
        let mut ring = self.made_even(crease);
        let mut position = Vec3::zeros();
        let mut scale = 1.0;
        let mut along = Vec3::zeros();
        for level in 0..DART_LEVELS_MAX {
            position += ring.center * scale;
            let shift = ring.center;
            let doubled = |p: &mut Vec3| *p = (*p - shift) * 2.0;
            ring.spokes.iter_mut().for_each(doubled);
            ring.diagonals.iter_mut().for_each(doubled);
            ring.center = Vec3::zeros();
            scale *= 0.5;
            let Some(now) = ring.spokes[crease].try_normalize(0.0) else {
                break;
            };
            let turned = (now - along).norm();
            along = now;
            if turned < DART_TANGENT_EPSILON && level > f64::MANTISSA_DIGITS as usize {
                break;
            }
            ring = ring.refined();
        }
        let across = (self.len() > 2).then(|| self.sine_tangent(crease));
        LimitFrame {
            position,
            tangents: across.map(|across| [along, across]),
        }
    }

    /// The mean of the ring and its mirror image about spoke `axis`.
    fn made_even(&self, axis: usize) -> Self {
        let n = self.len();
        let mut even = self.clone();
        for j in 0..n {
            let mirrored = (2 * axis + n - j) % n;
            even.spokes[j] = (self.spokes[j] + self.spokes[mirrored]) * 0.5;
            let mirrored = (2 * axis + 2 * n - j - 1) % n;
            even.diagonals[j] = (self.diagonals[j] + self.diagonals[mirrored]) * 0.5;
        }
        even
    }
}

/// The limit of an interior smooth vertex from its spokes, each with the diagonal after it.
pub(super) fn smooth_limit(
    mask: Cow<SmoothLimitMask>,
    center: Vec3,
    ring: impl Iterator<Item = (Vec3, Vec3)>,
) -> LimitFrame {
    let mut sums = [Vec3::zeros(); 2];
    let mut tangents = [Vec3::zeros(); 2];
    for ((spoke, diagonal), [on_spoke, on_diagonal]) in ring.zip(&mask.tangents) {
        sums[0] += spoke;
        sums[1] += diagonal;
        let (spoke, diagonal) = (spoke - center, diagonal - center);
        for t in 0..2 {
            tangents[t] += spoke * on_spoke[t] + diagonal * on_diagonal[t];
        }
    }
    let w = mask.position;
    LimitFrame {
        position: center * w.center + sums[0] * w.spoke + sums[1] * w.diagonal,
        tangents: (mask.tangents.len() > 2).then_some(tangents),
    }
}

impl Cut {
    fn next_center(&self) -> Option<Vec3> {
        self.centers.get(self.level + 1).copied()
    }

    fn refined(&self) -> Self {
        Self {
            level: self.level + 1,
            ..self.clone()
        }
    }
}

/// The vertex point of valence `n` from the sums over spokes and diagonals. With the face points
/// written out, the rule of 1978 reads v + (6 (Σe - n v) + Σf - n v) / (4 n²).
fn smooth_vertex_point(center: Vec3, spokes: Vec3, diagonals: Vec3, n: usize) -> Vec3 {
    let n = n as f64;
    center * (1.0 - 1.75 / n) + (spokes * 6.0 + diagonals) * (0.25 / (n * n))
}

/// The tangent into a crease sector of a single face, whose two edges run along one smooth curve.
/// There the surface meets the curve tangentially: what bends the curve points into the face, and
/// only where the curve is straight does the far corner tell (both have the eigenvalue 1/4, and
/// the curve's part grows with the level).
fn single_face_across(ends: [Vec3; 2], diagonal: Vec3) -> Vec3 {
    let bend = ends[0] + ends[1];
    let length = ends[0].norm() + ends[1].norm();
    if bend.norm() > PARALLEL_EPSILON * length {
        bend
    } else {
        diagonal
    }
}
