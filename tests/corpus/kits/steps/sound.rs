//! Cheap checks that a grown cage is what a modeller would hand over.

use cagewise::mesh::{PolygonMesh, Topology, Vec3};

use super::overlap::crossing;

/// Smallest scaled Jacobian of a quad that is neither folded nor next to it.
pub const LEAST_JACOBIAN: f64 = 0.1;

/// Largest angle in degrees between the normals of two faces at an edge: more is a fold.
pub const MOST_BEND: f64 = 125.0;

/// What is wrong with a cage, or nothing.
pub fn complaint(mesh: &PolygonMesh) -> Option<String> {
    let topology = Topology::new(mesh);
    if let Some(first) = topology.validate().first() {
        return Some(first.clone());
    }
    if (0..mesh.face_count()).any(|f| topology.is_flipped(f)) {
        return Some("wound inconsistently".into());
    }
    if let Some(v) = (0..mesh.vertex_count()).find(|&v| !topology.is_manifold(v)) {
        return Some(format!("vertex {v} is not manifold"));
    }
    let normals: Vec<Vec3> = mesh.faces().map(|f| face_normal(mesh, f)).collect();
    if let Some(f) = normals.iter().position(|n| n.norm() < 0.5) {
        return Some(format!("face {f} has no area"));
    }
    for (f, face) in mesh.faces().enumerate() {
        let jacobian = scaled_jacobian(mesh, face);
        if face.len() == 4 && jacobian < LEAST_JACOBIAN {
            return Some(format!("quad {f} has a scaled Jacobian of {jacobian:.3}"));
        }
    }
    if let Some(([a, b], f)) = crossing(mesh) {
        return Some(format!("edge {a}-{b} runs through face {f}"));
    }
    (0..topology.corner_count()).find_map(|c| {
        let (f, g) = (topology.face_of(c), topology.face_of(topology.twin(c)?));
        let bend = normals[f].angle(&normals[g]).to_degrees();
        (bend > MOST_BEND).then(|| format!("faces {f} and {g} fold by {bend:.0} degrees"))
    })
}

fn face_normal(mesh: &PolygonMesh, face: &[u32]) -> Vec3 {
    let p = |k: usize| mesh.positions()[face[k % face.len()] as usize];
    let sum: Vec3 = (1..face.len() - 1)
        .map(|k| (p(k) - p(0)).cross(&(p(k + 1) - p(0))))
        .sum();
    sum.try_normalize(0.0).unwrap_or_default()
}

/// The smallest sine of a corner's angle, signed by the face's normal; 0 if a side has no
/// length.
pub fn scaled_jacobian(mesh: &PolygonMesh, face: &[u32]) -> f64 {
    let n = face.len();
    let p = |k: usize| mesh.positions()[face[k % n] as usize];
    let normal = face_normal(mesh, face);
    (0..n)
        .map(|k| {
            let (out, back) = (p(k + 1) - p(k), p(k + n - 1) - p(k));
            let lengths = out.norm() * back.norm();
            if lengths > 0.0 {
                out.cross(&back).dot(&normal) / lengths
            } else {
                0.0
            }
        })
        .fold(f64::INFINITY, f64::min)
}
