//! Faults of place: vertices moved, faces as they were.

use cagewise::mesh::Vec3;

use super::Place;
use super::edit::Edit;
use super::ground::Ground;

/// Ground is curved where limit normals turn by more than this, in degrees, along an edge.
pub const CURVED: f64 = 12.0;

/// A whole loop slid shows from less on.
const CURVED_FOR_LOOPS: f64 = 8.0;

pub fn can_push(ground: &Ground, place: &Place) -> bool {
    ground.is_inner(place.edge[0]) && ground.normals[place.edge[0] as usize] != Vec3::zeros()
}

pub fn push(ground: &Ground, edit: &mut Edit, place: &Place, size: f64) -> Vec<u32> {
    let v = place.edge[0] as usize;
    edit.positions[v] += ground.normals[v] * (ground.mean_edge[v] * size * place.sign());
    vec![v as u32]
}

pub fn can_slide(ground: &Ground, place: &Place) -> bool {
    let v = place.edge[0];
    ground.is_regular(v) && ground.max_bend(v) > CURVED
}

pub fn slide(ground: &Ground, edit: &mut Edit, place: &Place, size: f64) -> Vec<u32> {
    let [v, w] = place.edge;
    edit.positions[v as usize] = ground.between(v, w, size);
    vec![v]
}

pub fn can_fold(ground: &Ground, place: &Place) -> bool {
    ground.is_regular(place.edge[0])
}

pub fn fold(ground: &Ground, edit: &mut Edit, place: &Place, size: f64) -> Vec<u32> {
    let [p, q] = place.edge.map(|v| ground.positions[v as usize]);
    edit.positions[place.edge[0] as usize] = p + (q - p) * size;
    vec![place.edge[0]]
}

/// The stretch of a loop that is slid; now and then the whole loop.
fn slid_stretch(ground: &Ground, place: &Place) -> Vec<[u32; 2]> {
    let count = match place.open[1] {
        x if x < 0.25 => usize::MAX,
        _ => place.between(2, 3, 8),
    };
    ground.stretch(place.edge[0], place.edge[1], place.left, count)
}

pub fn can_slide_loop(ground: &Ground, place: &Place) -> bool {
    let [v, w] = place.edge;
    let bent = || ground.bend(v, w) > CURVED_FOR_LOOPS;
    ground.is_regular(v) && bent() && slid_stretch(ground, place).len() >= 3
}

pub fn slide_loop(ground: &Ground, edit: &mut Edit, place: &Place, size: f64) -> Vec<u32> {
    slide_all(ground, edit, &slid_stretch(ground, place), size)
}

fn squeezed_stretch(ground: &Ground, place: &Place) -> Vec<[u32; 2]> {
    let count = place.between(1, 2, 5);
    ground.stretch(place.edge[0], place.edge[1], place.left, count)
}

pub fn can_squeeze(ground: &Ground, place: &Place) -> bool {
    let [v, w] = place.edge;
    let bent = || ground.bend(v, w) > CURVED;
    ground.is_regular(v) && bent() && squeezed_stretch(ground, place).len() >= 2
}

pub fn squeeze(ground: &Ground, edit: &mut Edit, place: &Place, size: f64) -> Vec<u32> {
    slide_all(ground, edit, &squeezed_stretch(ground, place), size)
}

/// Slides vertices along the form towards their neighbours.
pub fn slide_all(ground: &Ground, edit: &mut Edit, stretch: &[[u32; 2]], size: f64) -> Vec<u32> {
    for &[u, across] in stretch {
        edit.positions[u as usize] = ground.between(u, across, size);
    }
    stretch.iter().map(|s| s[0]).collect()
}

pub fn can_warp(ground: &Ground, place: &Place) -> bool {
    let face = ground.face_left(place.edge[0], place.edge[1]);
    let face = face.map(|f| &ground.faces[f]);
    face.is_some_and(|f| f.len() == 4 && f.iter().all(|&v| ground.is_inner(v)))
}

pub fn warp(ground: &Ground, edit: &mut Edit, place: &Place, size: f64) -> Option<Vec<u32>> {
    let face = &ground.faces[ground.face_left(place.edge[0], place.edge[1])?];
    let at = |i: usize| ground.positions[face[i % 4] as usize];
    let normal = (at(2) - at(0)).cross(&(at(3) - at(1))).try_normalize(0.0)?;
    let side = (0..4).map(|i| (at(i + 1) - at(i)).norm()).sum::<f64>() / 4.0;
    for (i, &v) in face.iter().enumerate() {
        let up = if i % 2 == 0 { 1.0 } else { -1.0 };
        edit.positions[v as usize] += normal * (up * place.sign() * size * side);
    }
    Some(face.clone())
}

pub fn is_centre_line(ground: &Ground, place: &Place) -> bool {
    ground.centre_line[place.edge[0] as usize].is_some()
}

/// Pushes one or two vertices of the centre line off its plane.
pub fn off_plane(ground: &Ground, edit: &mut Edit, place: &Place, size: f64) -> Option<Vec<u32>> {
    let both = place.open[1] < 0.3;
    let mut sites = Vec::new();
    for &v in &place.edge[..if both { 2 } else { 1 }] {
        if let Some(across) = ground.centre_line[v as usize] {
            edit.positions[v as usize] +=
                across * (place.sign() * size * ground.mean_edge[v as usize]);
            sites.push(v);
        }
    }
    Some(sites)
}
