//! Winding the faces of each shell alike.

use super::edges::EdgeTable;
use super::polygon_mesh::{NONE, PolygonMesh};
use super::topology::corner_faces;

/// Says for each face whether it must be reversed so that all faces joined by two-face edges wind
/// alike. The majority of each shell keeps its winding; a tie keeps that of the lowest face.
/// Where a shell can't be wound alike (a Möbius strip), some edge stays in conflict.
pub(super) fn unify(mesh: &PolygonMesh, edges: &EdgeTable) -> Vec<bool> {
    let across = second_corners(edges);
    let corner_faces = corner_faces(mesh);
    let mut flipped = vec![false; mesh.face_count()];
    let mut reached = vec![false; mesh.face_count()];
    let mut shell = Vec::new();
    for seed in 0..mesh.face_count() {
        if reached[seed] {
            continue;
        }
        shell.clear();
        shell.push(seed);
        reached[seed] = true;
        let mut done = 0;
        while done < shell.len() {
            let face = shell[done];
            done += 1;
            for c in mesh.face_corners(face) {
                let Some(other) = across(c) else { continue };
                let neighbour = corner_faces[other] as usize;
                if !reached[neighbour] {
                    let same_way = mesh.corner_vertices()[c] == mesh.corner_vertices()[other];
                    reached[neighbour] = true;
                    flipped[neighbour] = flipped[face] != same_way;
                    shell.push(neighbour);
                }
            }
        }
        let reversed = shell.iter().filter(|&&f| flipped[f]).count();
        if 2 * reversed > shell.len() {
            shell.iter().for_each(|&f| flipped[f] = !flipped[f]);
        }
    }
    flipped
}

/// Re-orders per-corner values of the reversed faces. The first corner of a face stays first.
/// `shift` is 0 for values that belong to the corner's vertex and 1 for those that belong to the
/// edge that leaves it.
pub(super) fn apply(
    mesh: &PolygonMesh,
    flipped: &[bool],
    values: &[u32],
    shift: usize,
) -> Vec<u32> {
    let mut wound = values.to_vec();
    for f in (0..mesh.face_count()).filter(|&f| flipped[f]) {
        let corners = mesh.face_corners(f);
        let n = corners.len();
        for j in 0..n {
            wound[corners.start + j] = values[corners.start + (2 * n - j - shift) % n];
        }
    }
    wound
}

/// For a corner, the other corner of its edge, where exactly two faces use it.
fn second_corners(edges: &EdgeTable) -> impl Fn(usize) -> Option<usize> + '_ {
    let mut second = vec![NONE; edges.vertices.len()];
    for (c, &e) in edges.corner_edges().iter().enumerate() {
        if edges.first_corners[e as usize] as usize != c {
            second[e as usize] = c as u32;
        }
    }
    move |c| {
        let e = edges.corner_edges()[c] as usize;
        let [a, b] = edges.vertices[e];
        if edges.uses[e] != 2 || a == b {
            return None;
        }
        let first = edges.first_corners[e] as usize;
        Some(if first == c {
            second[e] as usize
        } else {
            first
        })
    }
}
