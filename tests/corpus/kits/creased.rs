//! Edges of a grown form kept tight by creases, as in models whose makers use those instead of, or on
//! top of, support loops.

use std::collections::HashMap;

use cagewise::mesh::{PolygonMesh, Vec3};

use super::steps::Chance;
use crate::support::cages::Random;

/// Bends, in degrees, from which on edges are creased: drawn between these.
const BENDS: [f64; 2] = [35.0, 70.0];

/// Sharpnesses that all creases of a form have; the last is sharp for ever.
const SHARPNESSES: [f64; 4] = [2.0, 3.0, f64::INFINITY, f64::INFINITY];

/// The inner edges of a mesh that bend by more than an angle that is drawn, with one sharpness.
pub fn tight_edges(mesh: &PolygonMesh, random: &mut Random) -> Vec<([u32; 2], f64)> {
    let least = BENDS[0] + (BENDS[1] - BENDS[0]) * random.unit();
    let sharpness = SHARPNESSES[random.below(SHARPNESSES.len())];
    let normals: Vec<Vec3> = mesh.faces().map(|face| normal(mesh, face)).collect();
    let mut faces_at = HashMap::<[u32; 2], Vec<usize>>::new();
    for (f, face) in mesh.faces().enumerate() {
        for i in 0..face.len() {
            let (a, b) = (face[i], face[(i + 1) % face.len()]);
            faces_at.entry([a.min(b), a.max(b)]).or_default().push(f);
        }
    }
    let bend = |faces: &[usize]| match faces {
        [a, b] => normals[*a].angle(&normals[*b]).to_degrees(),
        _ => 0.0,
    };
    let tight = faces_at.iter().filter(|(_, faces)| bend(faces) > least);
    let mut edges: Vec<([u32; 2], f64)> = tight.map(|(edge, _)| (*edge, sharpness)).collect();
    edges.sort_by_key(|e| e.0);
    edges
}

/// The area vector of a face.
fn normal(mesh: &PolygonMesh, face: &[u32]) -> Vec3 {
    let at = |i: usize| mesh.positions()[face[i % face.len()] as usize];
    (0..face.len()).map(|i| at(i).cross(&at(i + 1))).sum()
}

/// Whether a form is to be creased.
pub fn is_creased(random: &mut Random) -> bool {
    random.chance(0.2)
}
