//! What is odd about a mesh, though it can be subdivided.

use std::collections::HashMap;

use super::Vec3;
use super::polygon_mesh::PolygonMesh;
use super::topology::{EdgeKind, Topology};

/// Area, over the square of the face's longest edge, below which a face counts as having none:
/// rounding of the coordinates alone makes up to about 1e-15.
const ZERO_AREA_EPSILON: f64 = 1e-12;

/// Oddities of a mesh: counts by kind, 0 where sound.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, serde::Serialize)]
pub struct Oddities {
    /// Edges that three faces or more share, or two that can't be wound alike.
    pub non_manifold_edges: usize,
    /// Vertices whose faces do not form one fan (bow-ties, and the ends of non-manifold edges).
    pub non_manifold_vertices: usize,
    /// Faces with the same vertices as an earlier face.
    pub repeated_faces: usize,
    /// Faces that name a vertex twice.
    pub faces_repeating_a_vertex: usize,
    /// Faces of no area.
    pub zero_area_faces: usize,
    /// Faces wound against their shell.
    pub reversed_faces: usize,
    /// Vertices that no face uses.
    pub unreferenced_vertices: usize,
    /// Used vertices that lie exactly on another used vertex.
    pub unwelded_vertices: usize,
}

impl Oddities {
    /// Counts the oddities of `mesh`, whose adjacency is `topology`. `positions` are its vertices
    /// in a frame near size 1, so that areas neither vanish nor overflow.
    pub fn count(mesh: &PolygonMesh, topology: &Topology, positions: &[Vec3]) -> Self {
        let vertices = 0..topology.vertex_count();
        let faces = 0..topology.face_count();
        let non_manifold = |e: &usize| topology.edge_kind(*e) == EdgeKind::NonManifold;
        Self {
            non_manifold_edges: (0..topology.edge_count()).filter(non_manifold).count(),
            non_manifold_vertices: vertices
                .clone()
                .filter(|&v| !topology.is_manifold(v))
                .count(),
            repeated_faces: repeated_faces(mesh),
            faces_repeating_a_vertex: mesh.faces().filter(|f| repeats_a_vertex(f)).count(),
            zero_area_faces: mesh.faces().filter(|f| has_no_area(f, positions)).count(),
            reversed_faces: faces.filter(|&f| topology.is_flipped(f)).count(),
            unreferenced_vertices: vertices.filter(|&v| topology.is_unreferenced(v)).count(),
            unwelded_vertices: unwelded(mesh, topology),
        }
    }
}

fn repeats_a_vertex(face: &[u32]) -> bool {
    let mut sorted = face.to_vec();
    sorted.sort_unstable();
    sorted.windows(2).any(|w| w[0] == w[1])
}

/// Faces are alike if they have the same vertices, in whatever order.
fn repeated_faces(mesh: &PolygonMesh) -> usize {
    let mut keys: Vec<(u32, usize)> = Vec::with_capacity(mesh.face_count());
    let hash = |face: &[u32]| face.iter().fold(0u32, |h, &v| h.wrapping_add(mixed(v)));
    keys.extend(mesh.faces().enumerate().map(|(f, face)| (hash(face), f)));
    keys.sort_unstable();
    let sorted = |f: usize| {
        let mut face = mesh.face(f).to_vec();
        face.sort_unstable();
        face
    };
    let same_hash = keys.chunk_by(|a, b| a.0 == b.0).filter(|run| run.len() > 1);
    same_hash
        .map(|run| {
            let mut faces: Vec<Vec<u32>> = run.iter().map(|&(_, f)| sorted(f)).collect();
            faces.sort_unstable();
            faces.windows(2).filter(|w| w[0] == w[1]).count()
        })
        .sum()
}

/// A vertex number with its bits spread, so that sums of a few rarely meet.
fn mixed(v: u32) -> u32 {
    let h = v.wrapping_mul(0x9e37_79b1);
    (h ^ (h >> 15)).wrapping_mul(0x85eb_ca77)
}

fn has_no_area(face: &[u32], positions: &[Vec3]) -> bool {
    let at = |i: usize| positions[face[i % face.len()] as usize];
    let mut area = 0.0f64;
    let mut longest = 0.0f64;
    for i in 0..face.len() {
        longest = longest.max((at(i + 1) - at(i)).norm_squared());
        area += (at(i) - at(0)).cross(&(at(i + 1) - at(0))).norm();
    }
    area <= ZERO_AREA_EPSILON * longest
}

fn unwelded(mesh: &PolygonMesh, topology: &Topology) -> usize {
    let mut seen: HashMap<[u64; 3], usize> = HashMap::with_capacity(mesh.vertex_count());
    let used = (0..mesh.vertex_count()).filter(|&v| !topology.is_unreferenced(v));
    for v in used {
        // Adding 0 makes -0 and 0 one place.
        let key = mesh.positions()[v].map(|x| (x + 0.0).to_bits()).into();
        *seen.entry(key).or_default() += 1;
    }
    seen.values().filter(|&&n| n > 1).sum()
}
