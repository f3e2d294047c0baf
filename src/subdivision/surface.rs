//! The subdivision surface of a cage: every vertex's ring, every face's patches.

use std::sync::Arc;

use rayon::prelude::*;

use super::control::ControlMesh;
use super::level_one::LevelOne;
use super::masks;
use super::patch::{QuadCorner, QuadNeighbourhood};
use super::ring::{Cut, LimitFrame, Ring, smooth_limit};
use super::sharpness;
use super::spline::PatchPoints;
use super::stencil::STENCIL_VALENCE_MAX;
use crate::mesh::{EdgeKind, Vec3};

/// Valence (or number of sides) up to which a quad always carries the whole ring of its corners;
/// beyond it, only as many spokes as the levels left can reach.
const WHOLE_RING_MAX: usize = 24;

/// Levels that the centre of a large ring is followed for. From level to level it comes closer to
/// its limit by a factor below 0.66, so that after these it moves by less than rounding.
const CENTER_LEVELS: usize = 80;

/// Sharp edges at one vertex up to which its sectors' normals are compared; each comparison takes
/// time linear in the valence.
const SECTORS_COMPARED_MAX: usize = 64;

/// Sine of the angle up to which the normals of a vertex's sectors count as one normal.
const SAME_NORMAL_TOLERANCE: f64 = 1e-9;

/// The subdivision surface of a control mesh.
#[derive(Debug, Clone)]
pub struct Surface {
    control: ControlMesh,
    level_one: LevelOne,
    kinds: Vec<VertexKind>,
    large_vertices: LargeRings,
    large_faces: LargeRings,
}

impl Surface {
    /// Prepares the surface: its points of level one, and which vertices are regular.
    pub fn new(control: ControlMesh) -> Self {
        let level_one = LevelOne::new(&control);
        let kinds = (0..control.topology().vertex_count())
            .into_par_iter()
            .with_min_len(1024)
            .map(|v| VertexKind::new(&control, v))
            .collect();
        let mut surface = Self {
            control,
            level_one,
            kinds,
            large_vertices: LargeRings::default(),
            large_faces: LargeRings::default(),
        };
        let topology = surface.control.topology();
        let vertices =
            (0..topology.vertex_count()).filter(|&v| topology.corner_count_at(v) > WHOLE_RING_MAX);
        let faces = (0..topology.face_count()).filter(|&f| topology.face_size(f) > WHOLE_RING_MAX);
        let large_vertices = LargeRings::find(vertices, |v| surface.vertex_ring(v));
        let large_faces = LargeRings::find(faces, |f| surface.face_ring(f));
        surface.large_vertices = large_vertices;
        surface.large_faces = large_faces;
        surface
    }

    /// The control mesh.
    pub fn control(&self) -> &ControlMesh {
        &self.control
    }

    /// The points of level one, in the control mesh's frame.
    pub fn level_one(&self) -> &LevelOne {
        &self.level_one
    }

    /// Whether vertex `v` is ringed by four quads with nothing sharp.
    pub fn is_regular(&self, v: usize) -> bool {
        self.kinds[v] == VertexKind::REGULAR
    }

    /// Whether edge `e` is infinitely sharp between faces, so that each of its sides has a normal of
    /// its own.
    pub fn is_creased(&self, e: usize) -> bool {
        let border = self.control.topology().edge_kind(e) == EdgeKind::Border;
        self.control.edge_sharpness()[e].is_infinite() && !border
    }

    /// The bicubic patch of face `f`, if it is a quad with four regular vertices.
    pub fn regular_patch(&self, f: usize) -> Option<PatchPoints> {
        let topology = self.control.topology();
        let corners = topology.face_corners(f);
        let regular =
            corners.len() == 4 && corners.clone().all(|c| self.is_regular(topology.vertex(c)));
        if !regular {
            return None;
        }
        let at = |c: usize| self.control.positions()[topology.vertex(c)];
        let mut points = [[Vec3::zeros(); 4]; 4];
        let mut set = |(a, b): (usize, usize), p: Vec3| points[b][a] = p;
        for (c, place) in corners.zip(CORNER_PLACES) {
            // The edge at the corner that the quad beside this one has, and the quad beyond it.
            let across = topology.twin(topology.next(topology.twin(c)?))?;
            let outermost = topology.previous(across);
            set(place[0], at(c));
            set(place[1], at(topology.previous(outermost)));
            set(place[2], at(outermost));
            set(place[3], at(across));
        }
        Some(points)
    }

    /// Gathers the points of level one about corner `c` for its [`Stencil`](super::stencil::Stencil):
    /// the cage vertex; its edge points and face points, counter-clockwise from `c`; of the face
    /// of `c`, the edge points from the next corner's on and the vertices from the next one on, as
    /// far as they are not yet named; and the edge points beyond the far ends of the edges that
    /// leave and reach `c`. Returns valence and number of sides; `None` if something at the
    /// vertex is sharp or open or past the tables.
    pub(crate) fn stencil_points(
        &self,
        c: usize,
        points: &mut Vec<Vec3>,
    ) -> Option<(usize, usize)> {
        let topology = self.control.topology();
        let v = topology.vertex(c);
        let valence = self.kinds[v].smooth_valence()?;
        let f = topology.face_of(c);
        let sides = topology.face_size(f);
        if !(3..=STENCIL_VALENCE_MAX).contains(&sides) {
            return None;
        }
        let LevelOne {
            vertex_points,
            edge_points,
            face_points,
        } = &self.level_one;
        let edge_point = |c: usize| edge_points[topology.edge(c)];
        let fan = topology.fans(v).next()?;
        let at = fan.iter().position(|&other| other as usize == c)?;
        let around = || fan[at..].iter().chain(&fan[..at]).map(|&c| c as usize);
        points.clear();
        points.push(vertex_points[v]);
        points.extend(around().map(edge_point));
        points.extend(around().map(|c| face_points[topology.face_of(c)]));
        let corners = topology.face_corners(f);
        let following = || (c + 1..corners.end).chain(corners.start..c);
        points.extend(following().take(sides - 2).map(edge_point));
        points.extend(following().map(|c| vertex_points[topology.vertex(c)]));
        let [leaving, reaching] = [c, topology.previous(c)].map(|c| topology.twin(c));
        points.push(edge_point(topology.previous(leaving?)));
        points.push(edge_point(topology.next(reaching?)));
        Some((valence, sides))
    }

    /// The quad of level one at corner `c`, with as much of its rings as `levels` further levels
    /// need. Its frame has the cage vertex at quad corner `turn`.
    pub fn corner_quad(&self, c: usize, levels: usize, turn: usize) -> QuadNeighbourhood {
        let mut quad = QuadNeighbourhood::default();
        let before = self.control.topology().previous(c);
        quad.corners[turn % 4] = self.vertex_corner(c, levels + 1);
        quad.corners[(turn + 1) % 4] = self.edge_corner(c, 1);
        quad.corners[(turn + 2) % 4] = self.face_corner(c, levels + 1);
        quad.corners[(turn + 3) % 4] = self.edge_corner(before, 0);
        quad
    }

    /// The whole ring of level one about vertex `v`: its first fan, which is the whole of it unless
    /// the vertex is non-manifold. Empty for an unreferenced vertex.
    pub fn vertex_ring(&self, v: usize) -> Ring {
        match self.control.topology().fans(v).next() {
            Some(fan) => self.vertex_corner(fan[0] as usize, usize::MAX).ring,
            None => Ring {
                center: self.level_one.vertex_points[v],
                ..Ring::default()
            },
        }
    }

    /// The limit point of vertex `v`, in the control mesh's frame, and its unit normal where it has
    /// exactly one: not on a crease or corner between sectors that face different ways, not at a
    /// non-manifold vertex, not where the surface has no tangent plane.
    pub fn vertex_limit(&self, v: usize) -> (Vec3, Option<Vec3>) {
        if let Some(limit) = self.smooth_limit(v) {
            return (limit.position, limit.normal());
        }
        let ring = self.vertex_ring(v);
        let first = ring.limit(0);
        if !self.control.topology().is_manifold(v) {
            return (first.position, None);
        }
        (first.position, self.single_normal(&ring, &first))
    }

    /// The limit of an interior vertex with nothing sharp, straight from the points of level one.
    fn smooth_limit(&self, v: usize) -> Option<LimitFrame> {
        let valence = self.kinds[v].smooth_valence()?;
        let topology = self.control.topology();
        let fan = topology.fans(v).next()?;
        let ring = fan.iter().map(|&c| {
            let (edge, face) = (topology.edge(c as usize), topology.face_of(c as usize));
            let LevelOne {
                edge_points,
                face_points,
                ..
            } = &self.level_one;
            (edge_points[edge], face_points[face])
        });
        let mask = masks::smooth_limit_mask(valence);
        Some(smooth_limit(mask, self.level_one.vertex_points[v], ring))
    }

    /// The limit of the middle of an edge between two faces with nothing sharp, straight from the
    /// points of level one; `None` for any other edge.
    pub(crate) fn smooth_edge_limit(&self, e: usize) -> Option<LimitFrame> {
        let topology = self.control.topology();
        let c = topology.edge_corner(e);
        let twin = topology.twin(c)?;
        if sharpness::child(self.control.edge_sharpness()[e]) > 0.0 {
            return None;
        }
        let LevelOne {
            vertex_points,
            edge_points,
            face_points,
        } = &self.level_one;
        let side = |c: usize| {
            let (next, before) = (topology.next(c), topology.previous(c));
            [
                (
                    vertex_points[topology.vertex(next)],
                    edge_points[topology.edge(next)],
                ),
                (
                    face_points[topology.face_of(c)],
                    edge_points[topology.edge(before)],
                ),
            ]
        };
        let [[a, b], [c, d]] = [side(c), side(twin)];
        let mask = masks::smooth_limit_mask(4);
        Some(smooth_limit(mask, edge_points[e], [a, b, c, d].into_iter()))
    }

    /// The limit of the centre of a face, straight from the points of level one.
    pub(crate) fn face_limit(&self, f: usize) -> LimitFrame {
        let topology = self.control.topology();
        let ring = topology.face_corners(f).map(|c| {
            let before = topology.edge(topology.previous(c));
            (
                self.level_one.edge_points[before],
                self.level_one.vertex_points[topology.vertex(c)],
            )
        });
        let mask = masks::smooth_limit_mask(topology.face_size(f));
        smooth_limit(mask, self.level_one.face_points[f], ring)
    }

    fn single_normal(&self, ring: &Ring, first: &LimitFrame) -> Option<Vec3> {
        let normal = first.normal()?;
        let sharp = ring.sharpness.iter().filter(|s| s.is_infinite()).count();
        if sharp < 2 {
            return Some(normal);
        }
        if sharp > SECTORS_COMPARED_MAX {
            return None;
        }
        let agrees = |j: usize| {
            let other = ring.limit(j).normal()?;
            (other.cross(&normal).norm() < SAME_NORMAL_TOLERANCE && other.dot(&normal) > 0.0)
                .then_some(())
        };
        let mut sectors = (0..ring.diagonals.len()).filter(|&j| ring.spoke_sharpness(j) > 0.0);
        sectors.all(|j| agrees(j).is_some()).then_some(normal)
    }

    /// The ring about the vertex at corner `c`, or a window of `reach` spokes either way.
    fn vertex_corner(&self, c: usize, reach: usize) -> QuadCorner {
        let topology = self.control.topology();
        let v = topology.vertex(c);
        let vertex_sharpness = sharpness::child(self.control.vertex_sharpness()[v]);
        let whole = topology.corner_count_at(v) <= WHOLE_RING_MAX.max(reach.saturating_mul(2));
        let span = FanSpan::new(self, c, if whole { usize::MAX } else { reach });
        let mut ring = Ring {
            center: self.level_one.vertex_points[v],
            vertex_sharpness,
            ..Ring::default()
        };
        let mut any_sharp = false;
        let mut push_spoke = |ring: &mut Ring, e: usize| {
            ring.spokes.push(self.level_one.edge_points[e]);
            let s = sharpness::child(self.control.edge_sharpness()[e]);
            any_sharp |= s > 0.0;
            ring.sharpness.push(s);
        };
        let mut at = span.first;
        for step in 0..span.count {
            push_spoke(&mut ring, topology.edge(at));
            ring.diagonals
                .push(self.level_one.face_points[topology.face_of(at)]);
            if step + 1 < span.count {
                at = topology.counter_clockwise(at).unwrap_or(at);
            }
        }
        if !span.closed {
            push_spoke(&mut ring, topology.edge(topology.previous(at)));
        }
        if !any_sharp {
            ring.sharpness.clear();
        }
        if span.cut_before || span.cut_after {
            ring.cut = self.large_vertices.get(v).map(|centers| Cut {
                centers: Arc::clone(centers),
                level: 0,
                before: span.cut_before,
                after: span.cut_after,
            });
        }
        QuadCorner {
            ring,
            at: span.before,
        }
    }

    /// The ring of level one about the point on edge `e`.
    pub fn edge_ring(&self, e: usize) -> Ring {
        self.edge_corner(self.control.topology().edge_corner(e), 0)
            .ring
    }

    /// The ring of the point on the edge that leaves corner `c`; `at` as in [`QuadCorner`].
    fn edge_corner(&self, c: usize, at: usize) -> QuadCorner {
        let topology = self.control.topology();
        let LevelOne {
            vertex_points,
            edge_points,
            face_points,
        } = &self.level_one;
        let (next, before) = (topology.next(c), topology.previous(c));
        let edge_point = |c: usize| edge_points[topology.edge(c)];
        let mut ring = Ring {
            center: edge_point(c),
            ..Ring::default()
        };
        ring.spokes.extend([
            vertex_points[topology.vertex(next)],
            face_points[topology.face_of(c)],
            vertex_points[topology.vertex(c)],
        ]);
        ring.diagonals
            .extend([edge_point(next), edge_point(before)]);
        let s = sharpness::child(self.control.edge_sharpness()[topology.edge(c)]);
        if let Some(twin) = topology.twin(c) {
            ring.spokes.push(face_points[topology.face_of(twin)]);
            let beside = [topology.next(twin), topology.previous(twin)];
            ring.diagonals.extend(beside.map(edge_point));
            if s > 0.0 {
                ring.sharpness.extend([s, 0.0, s, 0.0]);
            }
        } else {
            ring.sharpness.extend([s, 0.0, s]);
        }
        QuadCorner { ring, at }
    }

    /// The ring of the face point of corner `c`'s face, seen from the quad at `c`.
    fn face_corner(&self, c: usize, reach: usize) -> QuadCorner {
        let topology = self.control.topology();
        let f = topology.face_of(c);
        let corners = topology.face_corners(f);
        let (start, n) = (corners.start, corners.len());
        let whole = n <= WHOLE_RING_MAX.max(reach.saturating_mul(2));
        let (before, count) = if whole {
            (0, n)
        } else {
            (reach, 2 * reach + 1)
        };
        let mut ring = Ring {
            center: self.level_one.face_points[f],
            ..Ring::default()
        };
        let corner = |step: usize| start + (c - start + n - before + step) % n;
        let edge_before =
            |c: usize| self.level_one.edge_points[topology.edge(topology.previous(c))];
        for step in 0..count {
            ring.spokes.push(edge_before(corner(step)));
            ring.diagonals
                .push(self.level_one.vertex_points[topology.vertex(corner(step))]);
        }
        if !whole {
            ring.spokes.push(edge_before(corner(count)));
            ring.cut = self.large_faces.get(f).map(|centers| Cut {
                centers: Arc::clone(centers),
                level: 0,
                before: true,
                after: true,
            });
        }
        QuadCorner { ring, at: before }
    }

    /// The whole ring of level one about the face point of face `f`.
    pub fn face_ring(&self, f: usize) -> Ring {
        let start = self.control.topology().face_corners(f).start;
        self.face_corner(start, usize::MAX).ring
    }
}

/// Positions of the centres of large rings, level by level from level one, sorted by index.
#[derive(Debug, Clone, Default)]
struct LargeRings(Vec<(usize, Arc<[Vec3]>)>);

impl LargeRings {
    fn find(indices: impl Iterator<Item = usize>, ring: impl Fn(usize) -> Ring) -> Self {
        Self(indices.map(|i| (i, centers(ring(i)))).collect())
    }

    fn get(&self, index: usize) -> Option<&Arc<[Vec3]>> {
        let place = self.0.binary_search_by_key(&index, |entry| entry.0).ok()?;
        Some(&self.0[place].1)
    }
}

fn centers(mut ring: Ring) -> Arc<[Vec3]> {
    let mut centers = vec![ring.center];
    for _ in 0..CENTER_LEVELS {
        ring = ring.refined();
        centers.push(ring.center);
    }
    centers.into()
}

/// The places of the 4 × 4 points that each corner of a quad gives: its own, and the three of the
/// quad opposite to this one about the corner, in that quad's order.
const CORNER_PLACES: [[(usize, usize); 4]; 4] = [
    [(1, 1), (0, 1), (0, 0), (1, 0)],
    [(2, 1), (2, 0), (3, 0), (3, 1)],
    [(2, 2), (3, 2), (3, 3), (2, 3)],
    [(1, 2), (1, 3), (0, 3), (0, 2)],
];

/// The corners about a vertex that a ring is gathered from.
struct FanSpan {
    first: usize,
    count: usize,
    /// Corners from `first` to the one asked about.
    before: usize,
    closed: bool,
    cut_before: bool,
    cut_after: bool,
}

impl FanSpan {
    fn new(surface: &Surface, c: usize, reach: usize) -> Self {
        let topology = surface.control.topology();
        let mut span = Self {
            first: c,
            count: 1,
            before: 0,
            closed: false,
            cut_before: false,
            cut_after: false,
        };
        let mut last = c;
        while let Some(after) = topology.counter_clockwise(last) {
            if after == c {
                span.closed = true;
                return span;
            }
            if span.count > reach {
                span.cut_after = true;
                break;
            }
            last = after;
            span.count += 1;
        }
        while let Some(earlier) = topology.clockwise(span.first) {
            if span.before == reach {
                span.cut_before = true;
                break;
            }
            span.first = earlier;
            span.before += 1;
            span.count += 1;
        }
        span
    }
}

/// What a vertex is to the fast ways: its valence where it is interior with nothing sharp and of
/// a valence that tables are kept for; apart from these, regular vertices, whose faces are all
/// quads.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct VertexKind(u8);

impl VertexKind {
    const GENERAL: Self = Self(0);
    const REGULAR: Self = Self(u8::MAX);

    fn new(control: &ControlMesh, v: usize) -> Self {
        let topology = control.topology();
        let valence = topology.valence(v);
        let smooth = (3..=STENCIL_VALENCE_MAX).contains(&valence)
            && control.vertex_sharpness()[v] == 0.0
            && topology.is_interior(v)
            && topology
                .corners_of(v)
                .all(|c| control.edge_sharpness()[topology.edge(c)] == 0.0);
        let is_quad = |c: usize| topology.face_size(topology.face_of(c)) == 4;
        if !smooth {
            Self::GENERAL
        } else if valence == 4 && topology.corners_of(v).all(is_quad) {
            Self::REGULAR
        } else {
            Self(valence as u8)
        }
    }

    fn smooth_valence(self) -> Option<usize> {
        match self {
            Self::GENERAL => None,
            Self::REGULAR => Some(4),
            Self(valence) => Some(valence as usize),
        }
    }
}
