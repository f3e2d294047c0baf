//! Adjacency of a polygon mesh, without positions: edges, twins and the fans about each vertex.
//!
//! A *corner* doubles as the directed edge that leaves it: corner `c` of face `f` stands for the
//! step from its vertex to the next vertex of `f`. Two corners are *twins* when they run along the
//! same edge in opposite directions and no third face uses that edge.
//!
//! The topology winds all faces of a shell alike (see [`super::winding`]), whatever the file does:
//! a reversed face is a fault of shading, not a hole in the surface. Corner `c` therefore belongs
//! to the *unified* winding; [`Topology::file_corner`] leads back to the file's.

use super::edges::EdgeTable;
use super::polygon_mesh::{NONE, PolygonMesh};
use super::winding;

/// Adjacency of a polygon mesh in flat arrays. All indices count from 0.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Topology {
    vertex_count: usize,
    face_starts: Vec<u32>,
    flipped: Vec<bool>,
    corner_vertices: Vec<u32>,
    corner_faces: Vec<u32>,
    corner_edges: Vec<u32>,
    corner_twins: Vec<u32>,
    edges: EdgeTable,
    fan_starts: Vec<u32>,
    fan_corners: Vec<u32>,
    vertex_fans: Vec<u32>,
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
        let edges = EdgeTable::new(mesh);
        let flipped = winding::unify(mesh, &edges);
        Self::of_wound(mesh, edges, flipped)
    }

    /// Builds the adjacency of a mesh whose faces are wound alike already as far as they can be:
    /// none is flipped, and faces in conflict are not joined.
    pub fn keeping_winding(mesh: &PolygonMesh) -> Self {
        Self::of_wound(mesh, EdgeTable::new(mesh), vec![false; mesh.face_count()])
    }

    fn of_wound(mesh: &PolygonMesh, raw: EdgeTable, flipped: Vec<bool>) -> Self {
        let corner_vertices = winding::apply(mesh, &flipped, mesh.corner_vertices(), 0);
        let raw_edges = winding::apply(mesh, &flipped, raw.corner_edges(), 1);
        let (edges, corner_edges) = raw.renumbered_by_first_use(&raw_edges, &corner_vertices, mesh);
        let corner_faces = (0..mesh.face_count())
            .flat_map(|f| std::iter::repeat_n(f as u32, mesh.face_corners(f).len()))
            .collect();
        let corner_twins = pair_twins(&edges, &corner_edges, &corner_vertices);
        let mut topology = Self {
            vertex_count: mesh.vertex_count(),
            face_starts: mesh.face_starts().to_vec(),
            flipped,
            corner_vertices,
            corner_faces,
            corner_edges,
            corner_twins,
            edges,
            fan_starts: Vec::new(),
            fan_corners: Vec::new(),
            vertex_fans: Vec::new(),
        };
        topology.order_fans();
        topology
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
        self.edges.vertices.len()
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
        self.corner_edges[c] as usize
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

    /// The corner that runs along the same edge the other way, if the edge is interior.
    pub fn twin(&self, c: usize) -> Option<usize> {
        let twin = self.corner_twins[c];
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
        self.edges.vertices[e].map(|v| v as usize)
    }

    /// The first (lowest) corner that runs along edge `e`.
    pub fn edge_corner(&self, e: usize) -> usize {
        self.edges.first_corners[e] as usize
    }

    /// Number of faces that use edge `e`.
    pub fn edge_face_count(&self, e: usize) -> usize {
        self.edges.uses[e] as usize
    }

    /// What edge `e` is.
    pub fn edge_kind(&self, e: usize) -> EdgeKind {
        let [a, b] = self.edges.vertices[e];
        match (self.edges.uses[e], self.twin(self.edge_corner(e))) {
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
        (self.vertex_fans[v] as usize..self.vertex_fans[v + 1] as usize).map(|fan| {
            &self.fan_corners[self.fan_starts[fan] as usize..self.fan_starts[fan + 1] as usize]
        })
    }

    /// Number of corners at vertex `v`, over all its fans.
    pub fn corner_count_at(&self, v: usize) -> usize {
        let [first, last] = [v, v + 1].map(|v| self.vertex_fans[v] as usize);
        (self.fan_starts[last] - self.fan_starts[first]) as usize
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
        self.fans(v).len() <= 1
            && self.corners_of(v).all(|c| {
                let arriving = self.edge(self.previous(c));
                [self.edge(c), arriving]
                    .iter()
                    .all(|&e| self.edge_kind(e) != EdgeKind::NonManifold)
            })
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

    /// Sorts the corners about each vertex into fans.
    fn order_fans(&mut self) {
        let starts = bucket_starts(self.vertex_count, &self.corner_vertices);
        let mut fill = starts.clone();
        let mut at_vertex = vec![0u32; self.corner_count()];
        for (c, &v) in self.corner_vertices.iter().enumerate() {
            at_vertex[fill[v as usize] as usize] = c as u32;
            fill[v as usize] += 1;
        }
        let mut seen = vec![false; self.corner_count()];
        let mut fan_starts = vec![0u32];
        let mut fan_corners = Vec::with_capacity(self.corner_count());
        let mut vertex_fans = vec![0u32];
        for v in 0..self.vertex_count {
            let corners = &at_vertex[starts[v] as usize..starts[v + 1] as usize];
            for &c in corners {
                if seen[c as usize] {
                    continue;
                }
                let first = self.fan_start(c as usize);
                let mut at = Some(first);
                while let Some(c) = at.filter(|&c| !seen[c]) {
                    seen[c] = true;
                    fan_corners.push(c as u32);
                    at = self.counter_clockwise(c);
                }
                fan_starts.push(fan_corners.len() as u32);
            }
            vertex_fans.push(fan_starts.len() as u32 - 1);
        }
        self.fan_starts = fan_starts;
        self.fan_corners = fan_corners;
        self.vertex_fans = vertex_fans;
    }

    /// The corner furthest clockwise from `c`; `c` itself if the fan is closed.
    fn fan_start(&self, c: usize) -> usize {
        let mut first = c;
        while let Some(before) = self.clockwise(first) {
            if before == c {
                return c;
            }
            first = before;
        }
        first
    }

    /// Lists every broken invariant of the adjacency; empty when it is sound. For tests.
    pub fn validate(&self) -> Vec<String> {
        let mut faults = Vec::new();
        for c in 0..self.corner_count() {
            if self.previous(self.next(c)) != c {
                faults.push(format!("corner {c}: previous(next) leads elsewhere"));
            }
            if let Some(t) = self.twin(c) {
                let paired = self.twin(t) == Some(c)
                    && self.vertex(t) == self.vertex(self.next(c))
                    && self.vertex(self.next(t)) == self.vertex(c)
                    && self.edge(t) == self.edge(c);
                if !paired {
                    faults.push(format!("corners {c} and {t} are no true twins"));
                }
            }
            let ends = self.edge_vertices(self.edge(c));
            let own = [self.vertex(c), self.vertex(self.next(c))];
            if ends != own && ends != [own[1], own[0]] {
                faults.push(format!("corner {c} does not run along its edge"));
            }
        }
        let mut in_fan = vec![0usize; self.corner_count()];
        for v in 0..self.vertex_count {
            for fan in self.fans(v) {
                for (i, &c) in fan.iter().enumerate() {
                    in_fan[c as usize] += 1;
                    let follows =
                        i == 0 || self.counter_clockwise(fan[i - 1] as usize) == Some(c as usize);
                    if self.vertex(c as usize) != v || !follows {
                        faults.push(format!("vertex {v}: corner {c} is misplaced in its fan"));
                    }
                }
            }
        }
        if in_fan.iter().any(|&n| n != 1) {
            faults.push("some corner is not in exactly one fan".into());
        }
        faults
    }
}

/// Start of each value's bucket when `values` (all below `count`) are sorted; `count + 1` entries.
pub(super) fn bucket_starts(count: usize, values: &[u32]) -> Vec<u32> {
    let mut starts = vec![0u32; count + 1];
    for &v in values {
        starts[v as usize + 1] += 1;
    }
    for i in 0..count {
        starts[i + 1] += starts[i];
    }
    starts
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
