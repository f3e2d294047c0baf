//! Finding the edges of a polygon mesh.

use super::buckets::bucket_starts;
use super::polygon_mesh::{NONE, PolygonMesh};

/// The edges of a mesh, each with the corners that run along it.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(super) struct EdgeTable {
    /// The two vertices of each edge, in the direction of its first corner.
    pub vertices: Vec<[u32; 2]>,
    /// The lowest corner that runs along each edge.
    pub first_corners: Vec<u32>,
    /// Number of corners that run along each edge.
    pub uses: Vec<u32>,
    corner_edges: Vec<u32>,
}

impl EdgeTable {
    /// Finds the edges: corners are bucketed by the lower vertex of their edge, and each bucket
    /// (short but about poles) is sorted by the higher one.
    pub fn new(mesh: &PolygonMesh) -> Self {
        let spans = corner_spans(mesh, mesh.corner_vertices());
        let low: Vec<u32> = spans.iter().map(|s| s[0].min(s[1])).collect();
        let starts = bucket_starts(mesh.vertex_count(), &low);
        let mut fill = starts.clone();
        let mut buckets = vec![(0u32, 0u32); spans.len()];
        for (c, span) in spans.iter().enumerate() {
            let slot = &mut fill[low[c] as usize];
            buckets[*slot as usize] = (span[0].max(span[1]), c as u32);
            *slot += 1;
        }
        let mut table = Self {
            corner_edges: vec![NONE; spans.len()],
            ..Self::default()
        };
        for v in 0..mesh.vertex_count() {
            let bucket = &mut buckets[starts[v] as usize..starts[v + 1] as usize];
            bucket.sort_unstable();
            for run in bucket.chunk_by(|a, b| a.0 == b.0) {
                table.push(run, &spans);
            }
        }
        table
    }

    /// The edge that leaves each corner.
    pub fn corner_edges(&self) -> &[u32] {
        &self.corner_edges
    }

    /// The same edges numbered by their first corner once the faces are wound alike:
    /// `wound_edges` and `wound_vertices` are the corner arrays in the unified winding.
    pub fn renumbered_by_first_use(
        self,
        wound_edges: &[u32],
        wound_vertices: &[u32],
        mesh: &PolygonMesh,
    ) -> (Self, Vec<u32>) {
        let spans = corner_spans(mesh, wound_vertices);
        let mut new_number = vec![NONE; self.vertices.len()];
        let mut table = Self::default();
        let mut corner_edges = Vec::with_capacity(wound_edges.len());
        for (c, &old) in wound_edges.iter().enumerate() {
            let number = &mut new_number[old as usize];
            if *number == NONE {
                *number = table.vertices.len() as u32;
                table.vertices.push(spans[c]);
                table.first_corners.push(c as u32);
                table.uses.push(self.uses[old as usize]);
            }
            corner_edges.push(*number);
        }
        (table, corner_edges)
    }

    /// Makes room for `count` edges.
    pub fn reserve(&mut self, count: usize) {
        self.vertices.reserve(count);
        self.first_corners.reserve(count);
        self.uses.reserve(count);
    }

    fn push(&mut self, run: &[(u32, u32)], spans: &[[u32; 2]]) {
        let e = self.vertices.len() as u32;
        for &(_, c) in run {
            self.corner_edges[c as usize] = e;
        }
        let first = run[0].1;
        self.vertices.push(spans[first as usize]);
        self.first_corners.push(first);
        self.uses.push(run.len() as u32);
    }
}

/// The vertices that each corner's edge runs from and to.
fn corner_spans(mesh: &PolygonMesh, corner_vertices: &[u32]) -> Vec<[u32; 2]> {
    let mut spans = Vec::with_capacity(corner_vertices.len());
    for f in 0..mesh.face_count() {
        let face = &corner_vertices[mesh.face_corners(f)];
        let following = face.iter().cycle().skip(1);
        spans.extend(face.iter().zip(following).map(|(&a, &b)| [a, b]));
    }
    spans
}
