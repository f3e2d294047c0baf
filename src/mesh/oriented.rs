//! Finding the edges of a mesh whose faces are already wound alike.

use rayon::prelude::*;

use super::edges::EdgeTable;
use super::polygon_mesh::{NONE, PolygonMesh};
use super::topology::{TASK_LENGTH, bucket_starts, buckets};

/// Corners at one vertex up to which they are searched one by one; beyond it, sorting edges (as
/// [`EdgeTable::new`] does) is faster.
const SEARCHED_CORNERS_MAX: usize = 64;

/// The edges of a mesh in which every edge has one corner at most either way.
pub(super) struct OrientedEdges {
    /// The edges, numbered by first corner.
    pub table: EdgeTable,
    /// The edge that leaves each corner.
    pub corner_edges: Vec<u32>,
    /// The corner that runs along the same edge the other way, or [`NONE`].
    pub corner_twins: Vec<u32>,
}

impl OrientedEdges {
    /// Finds the edges, or `None` if two corners run along one edge the same way, if an edge joins a
    /// vertex to itself, or if a vertex has too many corners to search.
    pub fn new(mesh: &PolygonMesh) -> Option<Self> {
        let starts = bucket_starts(mesh.vertex_count(), mesh.corner_vertices());
        let crowded = |w: &[u32]| (w[1] - w[0]) as usize > SEARCHED_CORNERS_MAX;
        if starts.windows(2).any(crowded) {
            return None;
        }
        let targets = targets(mesh);
        let leaving = Leaving {
            corners: buckets(&starts, mesh.corner_vertices()),
            starts,
            targets: &targets,
        };
        let twin = |c: usize| {
            let (from, to) = (mesh.corner_vertices()[c], targets[c]);
            let alone = from != to && leaving.count(from, to) == 1;
            alone.then(|| leaving.find(to, from).unwrap_or(NONE))
        };
        let corner_twins: Option<Vec<u32>> = (0..mesh.corner_count())
            .into_par_iter()
            .with_min_len(TASK_LENGTH)
            .map(twin)
            .collect();
        Some(Self::number(mesh, &targets, corner_twins?))
    }

    /// Numbers the edges by their first corner.
    fn number(mesh: &PolygonMesh, targets: &[u32], corner_twins: Vec<u32>) -> Self {
        let mut table = EdgeTable::default();
        table.reserve(mesh.corner_count());
        let mut corner_edges = Vec::with_capacity(mesh.corner_count());
        for (c, &twin) in corner_twins.iter().enumerate() {
            if (twin as usize) < c {
                corner_edges.push(corner_edges[twin as usize]);
                continue;
            }
            corner_edges.push(table.vertices.len() as u32);
            table.vertices.push([mesh.corner_vertices()[c], targets[c]]);
            table.first_corners.push(c as u32);
            table.uses.push(if twin == NONE { 1 } else { 2 });
        }
        table.shrink_to_fit();
        Self {
            table,
            corner_edges,
            corner_twins,
        }
    }
}

/// The corners that leave each vertex.
struct Leaving<'a> {
    starts: Vec<u32>,
    corners: Vec<u32>,
    targets: &'a [u32],
}

impl Leaving<'_> {
    fn to(&self, from: u32, to: u32) -> impl Iterator<Item = u32> + '_ {
        let [start, end] = [from, from + 1].map(|v| self.starts[v as usize] as usize);
        let corners = self.corners[start..end].iter().copied();
        corners.filter(move |&c| self.targets[c as usize] == to)
    }

    fn count(&self, from: u32, to: u32) -> usize {
        self.to(from, to).count()
    }

    fn find(&self, from: u32, to: u32) -> Option<u32> {
        self.to(from, to).next()
    }
}

/// The vertex that each corner's edge runs to.
fn targets(mesh: &PolygonMesh) -> Vec<u32> {
    let mut targets = Vec::with_capacity(mesh.corner_count());
    for face in mesh.faces().filter(|face| !face.is_empty()) {
        targets.extend_from_slice(&face[1..]);
        targets.push(face[0]);
    }
    targets
}
