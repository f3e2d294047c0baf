//! Numbers of the vertices and faces of a refined mesh.
//!
//! Cage vertices keep their numbers. Then come the inner vertices of each cage edge, in the
//! direction of its first corner, and then those of each cage face: row by row for a quad; for
//! any other face its centre, and then for each corner the rows of its corner quad. Faces follow
//! the cage's, each split row by row, other than quads corner by corner. So everything that a run
//! of cage faces gives birth to is a run as well, and parents follow by division.

use std::ops::Range;

use crate::mesh::Topology;

/// Numbers of a mesh refined `level` times, 1 and more.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Numbering {
    level: usize,
    vertex_count: usize,
    edge_count: usize,
    /// First inner vertex of each face, counted from the first face's; one entry more than faces.
    inner_starts: Vec<usize>,
    /// First child of each face; one entry more than there are faces.
    child_starts: Vec<usize>,
}

impl Numbering {
    /// Numbers the refinement of a mesh of the given adjacency, `level` 1 and more.
    pub fn new(topology: &Topology, level: usize) -> Self {
        let mut inner_starts = Vec::with_capacity(topology.face_count() + 1);
        let mut child_starts = Vec::with_capacity(topology.face_count() + 1);
        inner_starts.push(0);
        child_starts.push(0);
        for f in 0..topology.face_count() {
            let size = topology.face_size(f);
            inner_starts.push(inner_starts[f] + inner_vertex_count(size, level));
            child_starts.push(child_starts[f] + child_count(size, level));
        }
        Self {
            level,
            vertex_count: topology.vertex_count(),
            edge_count: topology.edge_count(),
            inner_starts,
            child_starts,
        }
    }

    /// Number of segments that each cage edge is split into: `2^level`.
    pub fn side(&self) -> usize {
        1 << self.level
    }

    /// Number of vertices of the refined mesh.
    pub fn refined_vertex_count(&self) -> usize {
        self.first_inner() + self.inner_starts[self.inner_starts.len() - 1]
    }

    /// Number of faces of the refined mesh.
    pub fn refined_face_count(&self) -> usize {
        self.child_starts[self.child_starts.len() - 1]
    }

    /// The refined vertices inside cage edge `e`, `2^level - 1` of them.
    pub fn edge_vertices(&self, e: usize) -> Range<usize> {
        let inner = self.side() - 1;
        let start = self.vertex_count + e * inner;
        start..start + inner
    }

    /// The refined vertices inside cage face `f`.
    pub fn face_vertices(&self, f: usize) -> Range<usize> {
        self.first_inner() + self.inner_starts[f]..self.first_inner() + self.inner_starts[f + 1]
    }

    /// The refined faces of cage face `f`.
    pub fn children(&self, f: usize) -> Range<usize> {
        self.child_starts[f]..self.child_starts[f + 1]
    }

    fn first_inner(&self) -> usize {
        self.vertex_count + self.edge_count * (self.side() - 1)
    }
}

/// Number of vertices strictly inside a face of `size` sides after `level` (1 and more) levels.
pub fn inner_vertex_count(size: usize, level: usize) -> usize {
    let half = 1usize << (level - 1);
    1 + size * (half - 1) * half
}

/// Number of faces that a face of `size` sides is split into by `level` levels, 1 and more.
pub fn child_count(size: usize, level: usize) -> usize {
    size << (2 * (level - 1))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_quad_has_the_inner_vertices_of_a_square_grid() {
        for level in 1..8 {
            let inner = (1usize << level) - 1;
            assert_eq!(inner_vertex_count(4, level), inner * inner);
            assert_eq!(child_count(4, level), 1 << (2 * level));
        }
    }
}
