//! Faults of welding and winding.

use super::Place;
use super::edit::Edit;
use super::ground::Ground;

/// Seams that gape, gape by up to this part of an edge.
const GAPE: f64 = 0.01;

/// Reversed faces must be few among the faces of their cage, or the others would be the reversed
/// ones.
const ENOUGH_FACES: usize = 24;

pub fn can_unweld(ground: &Ground, place: &Place) -> bool {
    let [v, w] = place.edge;
    ground.is_regular(v) && ground.stretch(v, w, place.left, 3).len() == 3
}

/// Parts the cage along a stretch of a loop: its inner vertices come twice.
pub fn unweld(ground: &Ground, edit: &mut Edit, place: &Place, count: usize) -> Option<Vec<u32>> {
    if count == 0 {
        return Some(Vec::new());
    }
    let [v, w] = place.edge;
    let stretch = ground.stretch(v, w, place.left, count + 2);
    let gape = if place.open[1] < 0.6 {
        0.0
    } else {
        GAPE * place.open[2]
    };
    let mut sites = Vec::new();
    for &[u, across] in &stretch[1..stretch.len() - 1] {
        let copy = edit.add_vertex(ground.between(u, across, gape));
        for f in [ground.face_left(u, across)?, ground.face_left(across, u)?] {
            for corner in edit.faces[f].iter_mut().filter(|corner| **corner == u) {
                *corner = copy;
            }
        }
        sites.extend([u, copy]);
    }
    Some(sites)
}

pub fn can_reverse(ground: &Ground, place: &Place) -> bool {
    let [v, w] = place.face_edge();
    let face = ground.face_left(v, w);
    let inner = |f: usize| ground.faces[f].iter().all(|&v| ground.is_inner(v));
    ground.faces.len() >= ENOUGH_FACES && face.is_some_and(inner)
}

/// Reverses the faces of a row.
pub fn reverse(ground: &Ground, edit: &mut Edit, place: &Place, count: usize) -> Option<Vec<u32>> {
    let mut sites = Vec::new();
    for f in ground.row(place.face_edge(), count) {
        edit.faces[f].reverse();
        sites.extend(&ground.faces[f]);
    }
    Some(sites)
}
