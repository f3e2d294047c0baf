//! Adjacency of a polygon mesh, without positions: edges, twins and the fans about each vertex.
//!
//! A *corner* doubles as the directed edge that leaves it: corner `c` of face `f` stands for the
//! step from its vertex to the next vertex of `f`. Two corners are *twins* when they run along the
//! same edge in opposite directions and no third face uses that edge.
//!
//! The topology winds all faces of a shell alike (see [`super::winding`]), whatever the file does:
//! a reversed face is a fault of shading, not a hole in the surface. Corner `c` therefore belongs
//! to the *unified* winding; [`Topology::file_corner`] leads back to the file's.

use rayon::prelude::*;

use super::buckets::Buckets;
use super::edges::EdgeTable;
use super::fans::Fans;
use super::oriented::{self, Pairing};
use super::polygon_mesh::{NONE, PolygonMesh};
use super::winding;

/// Elements that one task of the parallel loops takes on: enough that handing out work costs
/// nothing beside it.
pub(super) const TASK_LENGTH: usize = 1024;

/// Adjacency of a polygon mesh in flat arrays. All indices count from 0.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Topology {
    vertex_count: usize,
    face_starts: Vec<u32>,
    flipped: Vec<bool>,
    corner_vertices: Vec<u32>,
    corner_faces: Vec<u32>,
    pairing: Pairing,
    /// Whether no edge is non-manifold, so that nobody needs to look.
    all_manifold_edges: bool,
    fans: Fans,
}

/// What an edge is, by the faces that use it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EdgeKind {
    /// Two faces, wound alike.
    Interior,
    /// One face: an open border.
    Border,
    /// Three faces and more, a face that repeats a vertex, or two faces that can't be wound alike.
    NonManifold,
}

impl Topology {
    /// Builds the adjacency of `mesh`, in time linear in its corners (sorting within a vertex's
    /// own edges aside).
    pub fn new(mesh: &PolygonMesh) -> Self {
        Self::of_oriented(mesh).unwrap_or_else(|| Self::of_any(mesh))
    }

    /// The adjacency of a mesh whose edges all have one face or two that are wound alike: by far
    /// the most meshes. No edge needs sorting and no face reversing. `None` for any other mesh.
    pub(super) fn of_oriented(mesh: &PolygonMesh) -> Option<Self> {
        let (at_vertex, targets) = rayon::join(
            || Buckets::new(mesh.vertex_count(), mesh.corner_vertices()),
            || oriented::targets(mesh),
        );
        let (pairing, corner_faces) = rayon::join(
            || Pairing::of_oriented(mesh, &at_vertex, &targets),
            || corner_faces(mesh),
        );
        let topology = Self {
            vertex_count: mesh.vertex_count(),
            face_starts: mesh.face_starts().to_vec(),
            flipped: vec![false; mesh.face_count()],
            corner_vertices: mesh.corner_vertices().to_vec(),
            corner_faces,
            pairing: pairing?,
            all_manifold_edges: true,
            fans: Fans::default(),
        };
        Some(topology.with_fans(at_vertex))
    }

    /// The adjacency of any mesh.
    pub(super) fn of_any(mesh: &PolygonMesh) -> Self {
        let raw = EdgeTable::new(mesh);
        let flipped = winding::unify(mesh, &raw);
        Self::of_wound(mesh, raw, flipped)
    }

    /// Builds the adjacency of a mesh whose faces are wound alike already as far as they can be:
    /// none is flipped, and faces in conflict are not joined.
    pub fn keeping_winding(mesh: &PolygonMesh) -> Self {
        Self::of_oriented(mesh).unwrap_or_else(|| {
            Self::of_wound(mesh, EdgeTable::new(mesh), vec![false; mesh.face_count()])
        })
    }

    fn of_wound(mesh: &PolygonMesh, raw: EdgeTable, flipped: Vec<bool>) -> Self {
        let corner_vertices = winding::apply(mesh, &flipped, mesh.corner_vertices(), 0);
        let raw_edges = winding::apply(mesh, &flipped, raw.corner_edges(), 1);
        let (edges, corner_edges) = raw.renumbered_by_first_use(&raw_edges, &corner_vertices, mesh);
        let pairing = Pairing {
            corner_twins: pair_twins(&edges, &corner_edges, &corner_vertices),
            corner_edges,
            edges,
        };
        let at_vertex = Buckets::new(mesh.vertex_count(), &corner_vertices);
        let mut topology = Self {
            vertex_count: mesh.vertex_count(),
            face_starts: mesh.face_starts().to_vec(),
            flipped,
            corner_vertices,
            corner_faces: corner_faces(mesh),
            pairing,
            all_manifold_edges: true,
            fans: Fans::default(),
        };
        topology.all_manifold_edges = (0..topology.edge_count())
            .into_par_iter()
            .with_min_len(TASK_LENGTH)
            .all(|e| topology.edge_kind(e) != EdgeKind::NonManifold);
        topology.with_fans(at_vertex)
    }

    fn with_fans(mut self, at_vertex: Buckets) -> Self {
        self.fans = Fans::order(&self, at_vertex);
        self
    }

    /// Number of vertices, unreferenced ones included.
    pub fn vertex_count(&self) -> usize {
        self.vertex_count
    }

    /// Number of faces.
    pub fn face_count(&self) -> usize {
        self.face_starts.len().saturating_sub(1)
    }

    /// Number of corners.
    pub fn corner_count(&self) -> usize {
        self.corner_vertices.len()
    }

    /// Number of edges. Edges are numbered in order of their first corner.
    pub fn edge_count(&self) -> usize {
        self.pairing.edges.vertices.len()
    }

    /// The corners of face `f`.
    pub fn face_corners(&self, f: usize) -> std::ops::Range<usize> {
        self.face_starts[f] as usize..self.face_starts[f + 1] as usize
    }

    /// Number of sides of face `f`.
    pub fn face_size(&self, f: usize) -> usize {
        (self.face_starts[f + 1] - self.face_starts[f]) as usize
    }

    /// Whether face `f` is wound against the most of its shell in the file.
    pub fn is_flipped(&self, f: usize) -> bool {
        self.flipped[f]
    }

    /// The face that corner `c` belongs to.
    pub fn face_of(&self, c: usize) -> usize {
        self.corner_faces[c] as usize
    }

    /// The vertex at corner `c`.
    pub fn vertex(&self, c: usize) -> usize {
        self.corner_vertices[c] as usize
    }

    /// The vertex at every corner, in the unified winding.
    pub fn corner_vertices(&self) -> &[u32] {
        &self.corner_vertices
    }

    /// The edge that leaves corner `c`.
    pub fn edge(&self, c: usize) -> usize {
        self.pairing.corner_edges[c] as usize
    }

    /// The next corner of the same face.
    pub fn next(&self, c: usize) -> usize {
        let f = self.face_of(c);
        if c + 1 == self.face_starts[f + 1] as usize {
            self.face_starts[f] as usize
        } else {
            c + 1
        }
    }

    /// The previous corner of the same face.
    pub fn previous(&self, c: usize) -> usize {
        let f = self.face_of(c);
        if c == self.face_starts[f] as usize {
            self.face_starts[f + 1] as usize - 1
        } else {
            c - 1
        }
    }

    /// The corner across from corner `c` of a quad; `None` in other faces.
    pub fn across_quad(&self, c: usize) -> Option<usize> {
        let f = self.face_of(c);
        let start = self.face_starts[f] as usize;
        (self.face_size(f) == 4).then_some(start + (c - start + 2) % 4)
    }

    /// The corner that runs along the same edge the other way, if the edge is interior.
    pub fn twin(&self, c: usize) -> Option<usize> {
        let twin = self.pairing.corner_twins[c];
        (twin != NONE).then_some(twin as usize)
    }

    /// The next corner about the same vertex, counter-clockwise seen from outside.
    pub fn counter_clockwise(&self, c: usize) -> Option<usize> {
        self.twin(self.previous(c))
    }

    /// The next corner about the same vertex, clockwise seen from outside.
    pub fn clockwise(&self, c: usize) -> Option<usize> {
        self.twin(c).map(|t| self.next(t))
    }

    /// The corner of the file's own arrays that corner `c` stands for.
    pub fn file_corner(&self, c: usize) -> usize {
        let f = self.face_of(c);
        if !self.flipped[f] {
            return c;
        }
        let start = self.face_starts[f] as usize;
        let n = self.face_size(f);
        start + (n - (c - start)) % n
    }

    /// The two vertices of edge `e`, in the direction of its first corner.
    pub fn edge_vertices(&self, e: usize) -> [usize; 2] {
        self.pairing.edges.vertices[e].map(|v| v as usize)
    }

    /// The first (lowest) corner that runs along edge `e`.
    pub fn edge_corner(&self, e: usize) -> usize {
        self.pairing.edges.first_corners[e] as usize
    }

    /// Number of faces that use edge `e`.
    pub fn edge_face_count(&self, e: usize) -> usize {
        self.pairing.edges.uses[e] as usize
    }

    /// What edge `e` is.
    pub fn edge_kind(&self, e: usize) -> EdgeKind {
        let [a, b] = self.pairing.edges.vertices[e];
        match (self.pairing.edges.uses[e], self.twin(self.edge_corner(e))) {
            (_, Some(_)) => EdgeKind::Interior,
            (1, None) if a != b => EdgeKind::Border,
            _ => EdgeKind::NonManifold,
        }
    }

    /// The edge between two vertices, if there is one.
    pub fn edge_between(&self, a: usize, b: usize) -> Option<usize> {
        let runs_along = |e: &usize| {
            let [p, q] = self.edge_vertices(*e);
            (p, q) == (a, b) || (p, q) == (b, a)
        };
        let fewer = if self.corner_count_at(a) <= self.corner_count_at(b) {
            a
        } else {
            b
        };
        self.corners_of(fewer)
            .flat_map(|c| [self.edge(c), self.edge(self.previous(c))])
            .find(runs_along)
    }

    /// The fans about vertex `v`: each a run of corners counter-clockwise, in which neighbours
    /// share an interior edge. One fan about an ordinary vertex, none about an unreferenced one.
    pub fn fans(&self, v: usize) -> impl ExactSizeIterator<Item = &[u32]> + '_ {
        self.fans.of(v)
    }

    /// Number of corners at vertex `v`, over all its fans.
    pub fn corner_count_at(&self, v: usize) -> usize {
        self.fans.corner_count(v)
    }

    /// All corners at vertex `v`, fan by fan.
    pub fn corners_of(&self, v: usize) -> impl Iterator<Item = usize> + '_ {
        self.fans(v).flatten().map(|&c| c as usize)
    }

    /// Whether the fan that starts at corner `first` closes on itself.
    pub fn fan_is_closed(&self, first: usize) -> bool {
        self.twin(first).is_some()
    }

    /// Whether the faces about vertex `v` form one fan, closed or from border to border.
    /// Unreferenced vertices count as manifold.
    pub fn is_manifold(&self, v: usize) -> bool {
        let beside_manifold_edges = |c: usize| {
            [c, self.previous(c)]
                .iter()
                .all(|&c| self.edge_kind(self.edge(c)) != EdgeKind::NonManifold)
        };
        self.fans(v).len() <= 1
            && (self.all_manifold_edges || self.corners_of(v).all(beside_manifold_edges))
    }

    /// Whether no face uses vertex `v`.
    pub fn is_unreferenced(&self, v: usize) -> bool {
        self.fans(v).len() == 0
    }

    /// Whether vertex `v` is manifold, used, and ringed by faces all round.
    pub fn is_interior(&self, v: usize) -> bool {
        self.is_manifold(v)
            && self
                .fans(v)
                .next()
                .is_some_and(|fan| self.fan_is_closed(fan[0] as usize))
    }

    /// Number of edges at vertex `v`, in its first fan.
    pub fn valence(&self, v: usize) -> usize {
        self.fans(v).next().map_or(0, |fan| {
            fan.len() + usize::from(!self.fan_is_closed(fan[0] as usize))
        })
    }

    /// The vertices joined to `v` by an edge, fan by fan, counter-clockwise; a vertex on a
    /// non-manifold edge can come more than once.
    pub fn neighbours(&self, v: usize) -> impl Iterator<Item = usize> + '_ {
        self.fans(v).flat_map(move |fan| {
            let last = fan[fan.len() - 1] as usize;
            let open_end =
                (!self.fan_is_closed(fan[0] as usize)).then(|| self.vertex(self.previous(last)));
            fan.iter()
                .map(|&c| self.vertex(self.next(c as usize)))
                .chain(open_end)
        })
    }
}

/// The face of every corner.
pub(super) fn corner_faces(mesh: &PolygonMesh) -> Vec<u32> {
    let mut faces = Vec::with_capacity(mesh.corner_count());
    for f in 0..mesh.face_count() {
        faces.resize(mesh.face_corners(f).end, f as u32);
    }
    faces
}

/// Pairs the two corners of every edge that exactly two corners use in opposite directions.
fn pair_twins(edges: &EdgeTable, corner_edges: &[u32], corner_vertices: &[u32]) -> Vec<u32> {
    let mut twins = vec![NONE; corner_edges.len()];
    for (c, &e) in corner_edges.iter().enumerate() {
        let first = edges.first_corners[e as usize] as usize;
        let [a, b] = edges.vertices[e as usize];
        if edges.uses[e as usize] == 2 && first != c && a != b && corner_vertices[c] == b {
            twins[c] = first as u32;
            twins[first] = c as u32;
        }
    }
    twins
}
