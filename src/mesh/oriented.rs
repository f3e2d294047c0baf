//! Pairing the corners of a mesh whose faces are already wound alike.

use rayon::prelude::*;

use super::buckets::Buckets;
use super::edges::EdgeTable;
use super::polygon_mesh::{NONE, PolygonMesh};
use super::topology::TASK_LENGTH;

/// Corners at one vertex up to which they are searched one by one; beyond it, sorting edges (as
/// [`EdgeTable::new`] does) is faster.
const SEARCHED_CORNERS_MAX: usize = 64;

/// The edges of a mesh, and which corners run along them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Pairing {
    /// The edges, numbered by first corner.
    pub edges: EdgeTable,
    /// The edge that leaves each corner.
    pub corner_edges: Vec<u32>,
    /// The corner that runs along the same edge the other way, where no third face uses it; else
    /// [`NONE`].
    pub corner_twins: Vec<u32>,
}

impl Pairing {
    /// Pairs corners by looking, at the far end of each corner's edge, for the one that comes back.
    /// `at_vertex` holds the corners by vertex, `targets` is [`targets`]. `None` if two corners run along one edge the same
    /// way, if an edge joins a vertex to itself, or if a vertex has too many corners to search.
    pub fn of_oriented(mesh: &PolygonMesh, at_vertex: &Buckets, targets: &[u32]) -> Option<Self> {
        let target = |c: &u32| targets[*c as usize];
        let sound = |v: usize| {
            let leaving = at_vertex.of(v);
            let alone = |(i, c)| {
                target(c) as usize != v && !leaving[..i].iter().any(|d| target(d) == target(c))
            };
            leaving.len() <= SEARCHED_CORNERS_MAX && leaving.iter().enumerate().all(alone)
        };
        let vertices = (0..mesh.vertex_count())
            .into_par_iter()
            .with_min_len(TASK_LENGTH);
        if !vertices.all(sound) {
            return None;
        }
        let twin = |c: usize| {
            let (from, to) = (mesh.corner_vertices()[c], targets[c] as usize);
            at_vertex
                .of(to)
                .iter()
                .copied()
                .find(|d| target(d) == from)
                .unwrap_or(NONE)
        };
        let corner_twins: Vec<u32> = (0..mesh.corner_count())
            .into_par_iter()
            .with_min_len(TASK_LENGTH)
            .map(twin)
            .collect();
        Some(Self::number(mesh, targets, corner_twins))
    }

    /// Numbers the edges by their first corner.
    fn number(mesh: &PolygonMesh, targets: &[u32], corner_twins: Vec<u32>) -> Self {
        let mut edges = EdgeTable::default();
        // Most edges have two corners.
        edges.reserve(mesh.corner_count() / 2);
        let mut corner_edges = Vec::with_capacity(mesh.corner_count());
        for (c, &twin) in corner_twins.iter().enumerate() {
            if (twin as usize) < c {
                corner_edges.push(corner_edges[twin as usize]);
                continue;
            }
            corner_edges.push(edges.vertices.len() as u32);
            edges.vertices.push([mesh.corner_vertices()[c], targets[c]]);
            edges.first_corners.push(c as u32);
            edges.uses.push(if twin == NONE { 1 } else { 2 });
        }
        Self {
            edges,
            corner_edges,
            corner_twins,
        }
    }
}

/// The vertex that each corner's edge runs to.
pub(super) fn targets(mesh: &PolygonMesh) -> Vec<u32> {
    let mut targets = Vec::with_capacity(mesh.corner_count());
    for face in mesh.faces().filter(|face| !face.is_empty()) {
        targets.extend_from_slice(&face[1..]);
        targets.push(face[0]);
    }
    targets
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::mesh::{Topology, Vec3};

    fn mesh_of(vertices: usize, faces: &[&[u32]]) -> PolygonMesh {
        PolygonMesh::from_faces(vec![Vec3::zeros(); vertices], faces).unwrap()
    }

    #[test]
    fn a_mesh_wound_alike_has_one_adjacency_both_ways() {
        let meshes: [(usize, &[&[u32]]); 6] = [
            (0, &[]),
            (5, &[&[0, 1, 2], &[2, 1, 3]]),
            (
                9,
                &[&[0, 1, 4, 3], &[1, 2, 5, 4], &[3, 4, 7, 6], &[4, 5, 8, 7]],
            ),
            (4, &[&[0, 1, 2], &[0, 2, 3], &[0, 3, 1], &[3, 2, 1]]),
            // A bow-tie, and two faces that share both an edge and a far vertex.
            (5, &[&[0, 1, 2], &[0, 3, 4]]),
            (6, &[&[0, 1, 2, 3], &[1, 0, 4, 3, 5]]),
        ];
        for (vertices, faces) in meshes {
            let mesh = mesh_of(vertices, faces);
            let fast = Topology::of_oriented(&mesh).unwrap();
            assert_eq!(fast.validate(), Vec::<String>::new());
            assert_eq!(fast, Topology::of_any(&mesh), "{faces:?}");
        }
    }

    #[test]
    fn other_meshes_are_left_to_the_general_way() {
        let meshes: [&[&[u32]]; 4] = [
            &[&[0, 1, 2], &[1, 2, 3]],
            &[&[0, 1, 2], &[1, 0, 3], &[0, 1, 4]],
            &[&[0, 1, 1, 2]],
            &[&[0, 1, 2], &[0, 1, 2]],
        ];
        for faces in meshes {
            let mesh = mesh_of(5, faces);
            assert_eq!(Topology::of_oriented(&mesh), None, "{faces:?}");
            assert_eq!(Topology::new(&mesh).validate(), Vec::<String>::new());
        }
    }
}
