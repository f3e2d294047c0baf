//! Whether a shell runs through itself.

use cagewise::mesh::{PolygonMesh, Vec3};

/// Shares of an edge or a triangle's side that count as touching its ends only.
const END_EPSILON: f64 = 1e-9;

/// The lowest vertex of each vertex's shell.
pub fn shells(mesh: &PolygonMesh) -> Vec<u32> {
    let mut parent: Vec<u32> = (0..mesh.vertex_count() as u32).collect();
    for face in mesh.faces() {
        for &v in &face[1..] {
            let (a, b) = (root(&parent, face[0]), root(&parent, v));
            parent[a.max(b) as usize] = a.min(b);
        }
    }
    (0..parent.len() as u32).map(|v| root(&parent, v)).collect()
}

fn root(parent: &[u32], mut v: u32) -> u32 {
    while parent[v as usize] != v {
        v = parent[v as usize];
    }
    v
}

/// An edge and a face of one shell that cross: the two ends and the face's number.
pub fn crossing(mesh: &PolygonMesh) -> Option<([u32; 2], usize)> {
    let shell = shells(mesh);
    let p = |v: u32| mesh.positions()[v as usize];
    let boxed = |vs: &[u32]| {
        vs.iter().fold((p(vs[0]), p(vs[0])), |(low, high), &v| {
            (low.inf(&p(v)), high.sup(&p(v)))
        })
    };
    let mut edges = std::collections::BTreeSet::new();
    for face in mesh.faces() {
        for k in 0..face.len() {
            let (a, b) = (face[k], face[(k + 1) % face.len()]);
            edges.insert([a.min(b), a.max(b)]);
        }
    }
    let mut edges: Vec<_> = edges.into_iter().map(|e| (e, boxed(&e))).collect();
    edges.sort_by(|(_, a), (_, b)| a.0.x.total_cmp(&b.0.x));
    let widest = edges
        .iter()
        .map(|(_, (a, b))| b.x - a.x)
        .fold(0.0, f64::max);
    for (f, face) in mesh.faces().enumerate() {
        let (low, high) = boxed(face);
        // Edges in the order of their lower ends: only a stretch of them can reach the face.
        let first = edges.partition_point(|(_, (from, _))| from.x < low.x - widest);
        for &([a, b], (from, to)) in edges[first..]
            .iter()
            .take_while(|(_, (from, _))| from.x <= high.x)
        {
            let apart = (0..3).any(|i| from[i] > high[i] || to[i] < low[i]);
            let strange = shell[a as usize] != shell[face[0] as usize];
            if apart || strange || face.contains(&a) || face.contains(&b) {
                continue;
            }
            let crosses =
                |k: usize| pierces([p(a), p(b)], [p(face[0]), p(face[k]), p(face[k + 1])]);
            if (1..face.len() - 1).any(crosses) {
                return Some(([a, b], f));
            }
        }
    }
    None
}

/// Whether a segment goes through a triangle (Möller & Trumbore 1997).
fn pierces([from, to]: [Vec3; 2], [a, b, c]: [Vec3; 3]) -> bool {
    let (ahead, u_side, v_side) = (to - from, b - a, c - a);
    let across = ahead.cross(&v_side);
    let volume = u_side.dot(&across);
    if volume.abs() <= END_EPSILON * ahead.norm() * u_side.norm() * v_side.norm() {
        return false;
    }
    let off = from - a;
    let u = off.dot(&across) / volume;
    let turned = off.cross(&u_side);
    let v = ahead.dot(&turned) / volume;
    let t = v_side.dot(&turned) / volume;
    u >= 0.0 && v >= 0.0 && u + v <= 1.0 && t > END_EPSILON && t < 1.0 - END_EPSILON
}
