//! The fillets that smoothing makes of bent edges: how tight, how wide, how far off the edge.
//!
//! A station is the section across the middle of a bent edge. Stations are gathered into edge loops:
//! chains of bent edges that go straight on through regular vertices.

use std::ops::Range;

use rayon::prelude::*;

use super::section::Side;
use crate::mesh::{Topology, Vec3, face_areas};
use crate::subdivision::Surface;

/// Bend of the cage, in degrees, above which an edge counts as an edge of the form rather than as
/// part of a curved surface (common practice, no published source).
pub const EDGE_BEND_THRESHOLD: f64 = 30.0;

/// Degrees above the threshold that count as rounding: on a form turned in twelve steps every edge
/// bends by exactly 30 degrees.
const BEND_TOLERANCE: f64 = 1e-6;

/// Edges, or stations, that one parallel task takes on at least.
const TASK_LENGTH: usize = 64;

/// Steps, as shares of the model's size, that radii are ranked in: what is alike but for rounding
/// keeps its order.
const RANK_EPSILON: f64 = 1e-9;

/// The fillet at the middle of a bent edge. Lengths are in file units, NaN where the surface has none.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Station {
    /// The edge, as numbered in the topology.
    pub edge: usize,
    /// Bend of the cage at the edge: angle between the normals of its two faces, in degrees.
    pub bend_deg: f64,
    /// The smallest radius of normal curvature in the direction perpendicular to the edge's limit
    /// tangent, over the section from the loop on one side to the loop on the other; only half-way
    /// to a loop that is bent itself, and three quarters of the way to the centre of a triangle or
    /// n-gon, where curvature may run away. Found to 1e-11 of itself. 0 at an infinitely sharp
    /// crease.
    pub radius: f64,
    /// Straight distance between the limit images of the middles of the loops on either side (of
    /// the opposite sides of the two quads). At a triangle or n-gon the image of the face's centre
    /// stands for it. 0 at an infinitely sharp crease. On flat flanks the section is straight
    /// beyond: see [`super::held`].
    pub width: f64,
    /// Distance from the limit image of the edge's middle to the cage edge; at a crease the image
    /// lies on the crease curve.
    pub stand_off: f64,
}

/// A chain of bent edges that goes straight on through regular interior vertices.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EdgeLoop {
    /// Its vertices in order, from 0; in a closed loop the first is not repeated.
    pub vertices: Vec<usize>,
    /// Whether the last vertex is joined to the first.
    pub closed: bool,
    /// Indices of its stations: the edge from each vertex to the next, in the same order.
    pub stations: Range<usize>,
}

/// The fillets of all bent edges of a cage. Border and non-manifold edges have none.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Fillets {
    stations: Vec<Station>,
    loops: Vec<EdgeLoop>,
    /// File units per unit of the control mesh's frame: the model's size.
    scale: f64,
}

impl Fillets {
    /// Finds the edges that bend by more than [`EDGE_BEND_THRESHOLD`] and evaluates the limit
    /// surface across each; in parallel. Edges that are not bent cost no more than their bend.
    pub fn new(surface: &Surface) -> Self {
        Self::bent_above(surface, EDGE_BEND_THRESHOLD)
    }

    /// The same of the edges that bend by more than `threshold_deg` degrees.
    pub fn bent_above(surface: &Surface, threshold_deg: f64) -> Self {
        let control = surface.control();
        let areas = face_areas(control.topology(), control.positions());
        Self::of_bends(surface, &Bends::new(surface, &areas, threshold_deg))
    }

    /// What [`Fillets::new`] finds, from the faces' area vectors.
    pub(crate) fn between_faces(surface: &Surface, face_areas: &[Vec3]) -> Self {
        Self::of_bends(
            surface,
            &Bends::new(surface, face_areas, EDGE_BEND_THRESHOLD),
        )
    }

    fn of_bends(surface: &Surface, bends: &Bends) -> Self {
        let (loops, corners) = chains(surface.control().topology(), bends);
        let stations = corners
            .into_par_iter()
            .with_min_len(TASK_LENGTH)
            .map_init(<[Side; 2]>::default, |sides, c| {
                station(surface, bends, c, sides)
            })
            .collect();
        Self {
            stations,
            loops,
            scale: surface.control().frame().scale,
        }
    }

    /// The fillets of part of the edges: loops are cut where they leave it.
    pub fn of_part(&self, is_part: impl Fn(usize) -> bool) -> Self {
        let mut part = Self {
            scale: self.scale,
            ..Self::default()
        };
        for edge_loop in &self.loops {
            let stations = self.stations_of(edge_loop);
            let count = stations.len();
            let kept: Vec<bool> = stations.iter().map(|s| is_part(s.edge)).collect();
            let whole = kept.iter().all(|&kept| kept);
            // A closed loop that is cut is followed from a cut on.
            let cut = kept.iter().position(|&kept| !kept).unwrap_or_default();
            let start = if edge_loop.closed { cut } else { 0 };
            let order: Vec<usize> = (0..count).map(|i| (start + i) % count).collect();
            for run in order.chunk_by(|&i, &j| kept[i] == kept[j]) {
                if !kept[run[0]] {
                    continue;
                }
                let first = part.stations.len();
                part.stations.extend(run.iter().map(|&i| stations[i]));
                let ends = if whole && edge_loop.closed { 0 } else { 1 };
                let vertex = |i: usize| edge_loop.vertices[i % edge_loop.vertices.len()];
                part.loops.push(EdgeLoop {
                    vertices: (run[0]..run[0] + run.len() + ends).map(vertex).collect(),
                    closed: whole && edge_loop.closed,
                    stations: first..part.stations.len(),
                });
            }
        }
        part
    }

    /// All stations, loop by loop.
    pub fn stations(&self) -> &[Station] {
        &self.stations
    }

    /// All loops, in the order of their lowest edges.
    pub fn loops(&self) -> &[EdgeLoop] {
        &self.loops
    }

    /// The stations of a loop, in its order.
    pub fn stations_of(&self, edge_loop: &EdgeLoop) -> &[Station] {
        &self.stations[edge_loop.stations.clone()]
    }

    /// The loops by their smallest radius, tightest first, undefined ones last; those that are
    /// alike but for rounding in their own order.
    pub fn tightest_first(&self) -> Vec<&EdgeLoop> {
        let rank = |edge_loop: &EdgeLoop| {
            let radii = self.stations_of(edge_loop).iter().map(|s| s.radius);
            let smallest = radii.filter(|r| !r.is_nan()).fold(f64::INFINITY, f64::min);
            (smallest / self.scale / RANK_EPSILON).round()
        };
        let mut ranked: Vec<(f64, &EdgeLoop)> = self.loops.iter().map(|l| (rank(l), l)).collect();
        ranked.sort_by(|a, b| a.0.total_cmp(&b.0));
        ranked.into_iter().map(|(_, edge_loop)| edge_loop).collect()
    }
}

/// The bends of all edges, and from which on one is bent.
struct Bends {
    /// One per edge, in degrees; NaN at border and non-manifold edges, where a face has no area, and
    /// where an edge is plainly not bent.
    of_edge: Vec<f64>,
    threshold_deg: f64,
}

impl Bends {
    fn new(surface: &Surface, areas: &[Vec3], threshold_deg: f64) -> Self {
        /// Part of a tangent by which one has to be smaller to be so whatever rounding does.
        const MARGIN: f64 = 1e-3;
        /// Up to this bend, in degrees, tangents tell which of two is the smaller one.
        const TANGENT_MAX: f64 = 80.0;
        let topology = surface.control().topology();
        let tangent = threshold_deg.clamp(0.0, TANGENT_MAX).to_radians().tan() * (1.0 - MARGIN);
        // Most edges are not bent: told without roots and arctangents.
        let is_plain = |a: &Vec3, b: &Vec3| {
            let (cosine, limit) = (a.dot(b), tangent * a.dot(b));
            cosine > 0.0 && a.cross(b).norm_squared() < limit * limit
        };
        let bend = |e: usize| {
            let c = topology.edge_corner(e);
            let [a, b] = [c, topology.twin(c)?].map(|c| &areas[topology.face_of(c)]);
            if is_plain(a, b) {
                return None;
            }
            let [a, b] = [a, b].map(|area| area.try_normalize(0.0));
            let (a, b) = (a?, b?);
            Some(a.cross(&b).norm().atan2(a.dot(&b)).to_degrees())
        };
        let of_edge = (0..topology.edge_count())
            .into_par_iter()
            .with_min_len(TASK_LENGTH)
            .map(|e| bend(e).unwrap_or(f64::NAN))
            .collect();
        Self {
            of_edge,
            threshold_deg,
        }
    }

    fn is_bent(&self, e: usize) -> bool {
        self.of_edge[e] > self.threshold_deg + BEND_TOLERANCE
    }
}

/// The edge straight on after the one that leaves corner `c`, as the corner that it leaves, if its
/// vertex is regular.
fn straight_on(topology: &Topology, c: usize) -> Option<usize> {
    let arrived = topology.next(c);
    let v = topology.vertex(arrived);
    let is_regular = topology.is_interior(v) && topology.valence(v) == 4;
    is_regular.then(|| topology.clockwise(arrived)).flatten()
}

/// The loops of bent edges, and the corners that their edges leave, loop by loop.
fn chains(topology: &Topology, bends: &Bends) -> (Vec<EdgeLoop>, Vec<usize>) {
    let mut seen = vec![false; topology.edge_count()];
    let mut loops = Vec::new();
    let mut corners = Vec::new();
    for e in 0..topology.edge_count() {
        if seen[e] || !bends.is_bent(e) {
            continue;
        }
        let first = corners.len();
        let closed = push_chain(topology, bends, topology.edge_corner(e), &mut corners);
        let chain = &corners[first..];
        for &c in chain {
            seen[topology.edge(c)] = true;
        }
        let mut vertices: Vec<usize> = chain.iter().map(|&c| topology.vertex(c)).collect();
        if !closed && let Some(&last) = chain.last() {
            vertices.push(topology.vertex(topology.next(last)));
        }
        loops.push(EdgeLoop {
            vertices,
            closed,
            stations: first..corners.len(),
        });
    }
    (loops, corners)
}

/// Adds the chain of bent edges that the edge leaving corner `c` belongs to, from end to end or once
/// round; tells whether it is closed.
fn push_chain(topology: &Topology, bends: &Bends, c: usize, corners: &mut Vec<usize>) -> bool {
    let on = |c: usize| straight_on(topology, c).filter(|&next| bends.is_bent(topology.edge(next)));
    let start = topology.edge(c);
    let first = corners.len();
    corners.push(c);
    let mut at = c;
    while let Some(next) = on(at) {
        if topology.edge(next) == start {
            return true;
        }
        corners.push(next);
        at = next;
    }
    // The way back from the start, turned round, comes before what was found.
    let found = corners.len();
    let mut at = topology.twin(c);
    while let Some(next) = at.and_then(on) {
        corners.extend(topology.twin(next));
        at = Some(next);
    }
    corners[found..].reverse();
    corners[first..].rotate_left(found - first);
    false
}

/// The fillet at the middle of the edge that leaves corner `c`.
fn station(surface: &Surface, bends: &Bends, c: usize, sides: &mut [Side; 2]) -> Station {
    let control = surface.control();
    let topology = control.topology();
    let edge = topology.edge(c);
    for (side, c) in sides.iter_mut().zip([Some(c), topology.twin(c)]) {
        // A bent edge has a face on either side.
        side.fill(surface, c.unwrap_or_default(), |e| bends.is_bent(e));
    }
    let ends = topology.edge_vertices(edge).map(|v| control.positions()[v]);
    let stand_off = distance_to_segment(sides[0].edge_middle(), ends);
    let (radius, width) = if control.edge_sharpness()[edge].is_infinite() {
        (0.0, 0.0)
    } else {
        let curvature = sides[0].along().map_or(0.0, |along| {
            let [a, b] = sides.each_ref().map(|side| side.largest_curvature(&along));
            a.max(b)
        });
        let [a, b] = sides.each_ref().map(Side::far_end);
        (curvature.recip(), (a - b).norm())
    };
    let length = |x: f64| {
        let length = x * control.frame().scale;
        if length.is_finite() { length } else { f64::NAN }
    };
    Station {
        edge,
        bend_deg: bends.of_edge[edge],
        radius: length(radius),
        width: length(width),
        stand_off: length(stand_off),
    }
}

fn distance_to_segment(p: Vec3, [a, b]: [Vec3; 2]) -> f64 {
    let along = b - a;
    let share = ((p - a).dot(&along) / along.norm_squared()).clamp(0.0, 1.0);
    // Of an edge without length both ends are as good.
    let share = if share.is_nan() { 0.0 } else { share };
    (a + along * share - p).norm()
}
