//! What a faultless cage is like at each place: how to walk on it, how it bends, what mirrors it.

use std::collections::{HashMap, VecDeque};

use cagewise::mesh::{MirrorPlane, Topology, Vec3};

use super::mirrors;
use crate::corpus::case::Meshed;
use crate::corpus::reference::{angle, surface_of};

/// Edges whose limit normals turn by more than this, in degrees, are too bent for a curve between
/// their ends: what is put on them lies on their chord.
const CHORD_BEND: f64 = 75.0;

/// A faultless cage, made ready for walks.
pub struct Ground {
    pub positions: Vec<Vec3>,
    pub faces: Vec<Vec<u32>>,
    pub neighbours: Vec<Vec<u32>>,
    /// Unit limit normals, zero where there is none.
    pub normals: Vec<Vec3>,
    /// Mean length of the edges at a vertex.
    pub mean_edge: Vec<f64>,
    /// Inside, manifold, with nothing sharp at it.
    pub inner: Vec<bool>,
    /// Inner, four edges, quads alone.
    pub regular: Vec<bool>,
    /// The plane that mirrors the cage, and the partner of each vertex.
    pub mirror: Option<(MirrorPlane, Vec<u32>)>,
    /// For vertices of a centre line, the direction across its plane.
    pub centre_line: Vec<Option<Vec3>>,
    /// Face and place in it of each directed edge.
    half_edges: HashMap<(u32, u32), (u32, u32)>,
    max_bend: Vec<f64>,
}

impl Ground {
    pub fn new(cage: &Meshed) -> Self {
        let mesh = &cage.mesh;
        let surface = surface_of(cage);
        let topology = surface.control().topology();
        let count = mesh.vertex_count();
        let faces: Vec<Vec<u32>> = mesh.faces().map(<[u32]>::to_vec).collect();
        let (half_edges, doubled) = half_edges(&faces);
        let positions = mesh.positions().to_vec();
        let neighbours: Vec<Vec<u32>> = (0..count)
            .map(|v| topology.neighbours(v).map(|w| w as u32).collect())
            .collect();
        let mut inner: Vec<bool> = (0..count)
            .map(|v| topology.is_interior(v) && topology.is_manifold(v))
            .collect();
        let sharp = cage.crease_edges.iter().flat_map(|(edge, _)| *edge);
        for v in sharp
            .chain(cage.crease_vertices.iter().map(|c| c.0))
            .chain(doubled)
        {
            inner[v as usize] = false;
        }
        let regular = regular(topology, &inner);
        let mean_edge = (0..count).map(|v| {
            let lengths = neighbours[v]
                .iter()
                .map(|&w| (positions[w as usize] - positions[v]).norm());
            lengths.sum::<f64>() / neighbours[v].len().max(1) as f64
        });
        let mut ground = Self {
            mean_edge: mean_edge.collect(),
            normals: (0..count)
                .map(|v| surface.vertex_limit(v).1.unwrap_or_default())
                .collect(),
            mirror: mirrors::find(&positions, &faces),
            positions,
            faces,
            neighbours,
            inner,
            regular,
            half_edges,
            max_bend: Vec::new(),
            centre_line: Vec::new(),
        };
        ground.centre_line = mirrors::centre_line(&ground, topology);
        let bend_at = |v: u32| {
            let bends = ground.neighbours[v as usize].iter();
            bends.map(|&w| ground.bend(v, w)).fold(0.0, f64::max)
        };
        ground.max_bend = (0..count as u32).map(bend_at).collect();
        ground
    }

    /// Angle, in degrees, by which the limit normal turns along an edge.
    pub fn bend(&self, v: u32, w: u32) -> f64 {
        let [a, b] = [v, w].map(|v| self.normals[v as usize]);
        angle(&a, &b)
    }

    /// The largest bend of the edges at a vertex.
    pub fn max_bend(&self, v: u32) -> f64 {
        self.max_bend[v as usize]
    }

    pub fn is_regular(&self, v: u32) -> bool {
        self.regular[v as usize]
    }

    pub fn is_inner(&self, v: u32) -> bool {
        self.inner[v as usize]
    }

    pub fn length(&self, v: u32, w: u32) -> f64 {
        (self.positions[v as usize] - self.positions[w as usize]).norm()
    }

    /// The face in which `w` comes after `v`.
    pub fn face_left(&self, v: u32, w: u32) -> Option<usize> {
        self.half_edges.get(&(v, w)).map(|h| h.0 as usize)
    }

    /// The vertex after `w` in the face in which `w` comes after `v`.
    pub fn after(&self, v: u32, w: u32) -> Option<u32> {
        let &(f, i) = self.half_edges.get(&(v, w))?;
        let face = &self.faces[f as usize];
        Some(face[(i as usize + 2) % face.len()])
    }

    /// The vertex before `v` in the same face.
    pub fn before(&self, v: u32, w: u32) -> Option<u32> {
        let &(f, i) = self.half_edges.get(&(v, w))?;
        let face = &self.faces[f as usize];
        Some(face[(i as usize + face.len() - 1) % face.len()])
    }

    /// Where a walk from `a` to the regular vertex `u` goes straight on.
    pub fn straight(&self, a: u32, u: u32) -> Option<u32> {
        if !self.is_regular(u) {
            return None;
        }
        self.after(self.after(a, u)?, u)
    }

    /// The neighbour of `u` to the left (or right) of a walk that comes from `a`.
    pub fn beside(&self, a: u32, u: u32, left: bool) -> Option<u32> {
        if left {
            self.after(a, u)
        } else {
            self.before(u, a)
        }
    }

    /// A stretch of the loop that crosses the edge from `v` to `w` at `v`: at most `count` vertices
    /// from `v` on, left of the edge or right, each with its neighbour on the side of `w`. It ends
    /// where the loop is no longer regular or comes round.
    pub fn stretch(&self, v: u32, w: u32, left: bool, count: usize) -> Vec<[u32; 2]> {
        let mut found = vec![[v, w]];
        let first = if left {
            self.before(v, w)
        } else {
            self.after(w, v)
        };
        let (mut from, mut at) = (v, first);
        while let Some(u) = at.filter(|&u| found.len() < count && u != v && self.is_regular(u)) {
            let Some(across) = self.beside(from, u, !left) else {
                break;
            };
            found.push([u, across]);
            (from, at) = (u, self.straight(from, u));
        }
        found
    }

    /// The neighbour of the regular vertex `v` opposite to `w`.
    pub fn opposite(&self, v: u32, w: u32) -> Option<u32> {
        self.straight(w, v)
    }

    /// A point of the form between two vertices, as far as their normals tell: the cubic with its
    /// ends' tangents in the tangent planes.
    pub fn between(&self, v: u32, w: u32, t: f64) -> Vec3 {
        let [p, q] = [v, w].map(|v| self.positions[v as usize]);
        let [n, m] = [v, w].map(|v| self.normals[v as usize]);
        let edge = q - p;
        let length = edge.norm();
        let in_plane = |n: Vec3| (edge - n * n.dot(&edge)).try_normalize(1e-12 * length);
        let lacking = n == Vec3::zeros() || m == Vec3::zeros() || angle(&n, &m) > CHORD_BEND;
        let (Some(a), Some(b), false) = (in_plane(n), in_plane(m), lacking) else {
            return p + edge * t;
        };
        let (s, t2) = (1.0 - t, t * t);
        p + edge * (t2 * (3.0 - 2.0 * t)) + (a * (t * s * s) - b * (t2 * s)) * length
    }

    /// The faces of a row from the one left of an edge on, at most `count`.
    pub fn row(&self, [v, w]: [u32; 2], count: usize) -> Vec<usize> {
        let mut found = Vec::new();
        let mut at = [v, w];
        while let Some(f) = self.face_left(at[0], at[1]).filter(|_| found.len() < count) {
            if found.contains(&f) {
                break;
            }
            found.push(f);
            match (self.before(at[0], at[1]), self.after(at[0], at[1])) {
                (Some(y), Some(x)) if self.faces[f].len() == 4 => at = [y, x],
                _ => break,
            }
        }
        found
    }

    /// Numbers of edges from a vertex to those within `reach` edges.
    pub fn rings(&self, v: u32, reach: usize) -> HashMap<u32, usize> {
        let mut found = HashMap::from([(v, 0)]);
        let mut queue = VecDeque::from([(v, 0)]);
        while let Some((u, ring)) = queue.pop_front() {
            if ring == reach {
                continue;
            }
            for &x in &self.neighbours[u as usize] {
                found.entry(x).or_insert_with(|| {
                    queue.push_back((x, ring + 1));
                    ring + 1
                });
            }
        }
        found
    }
}

type HalfEdges = HashMap<(u32, u32), (u32, u32)>;

/// Directed edges by their ends, and the vertices of those that occur twice.
fn half_edges(faces: &[Vec<u32>]) -> (HalfEdges, Vec<u32>) {
    let mut found = HalfEdges::new();
    let mut doubled = Vec::new();
    for (f, face) in faces.iter().enumerate() {
        for i in 0..face.len() {
            let ends = (face[i], face[(i + 1) % face.len()]);
            if found.insert(ends, (f as u32, i as u32)).is_some() {
                doubled.extend([ends.0, ends.1]);
            }
        }
    }
    (found, doubled)
}

fn regular(topology: &Topology, inner: &[bool]) -> Vec<bool> {
    let is_regular = |v: usize| {
        let mut quads = topology.corners_of(v).map(|c| topology.face_of(c));
        inner[v] && topology.valence(v) == 4 && quads.all(|f| topology.face_size(f) == 4)
    };
    (0..inner.len()).map(is_regular).collect()
}
