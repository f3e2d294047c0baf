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

/// The corners of the quad on the place's hand, from its first vertex on, and its sides' mean.
fn warped_quad(ground: &Ground, place: &Place) -> Option<([u32; 4], f64)> {
    let [a, b] = place.face_edge();
    let face = &ground.faces[ground.face_left(a, b)?];
    if face.len() != 4 || !face.iter().all(|&v| ground.is_inner(v)) {
        return None;
    }
    let first = face.iter().position(|&v| v == place.edge[0])?;
    let quad: [u32; 4] = std::array::from_fn(|i| face[(first + i) % 4]);
    let sides = (0..4).map(|i| ground.length(quad[i], quad[(i + 1) % 4]));
    let side = sides.sum::<f64>() / 4.0;
    Some((quad, side))
}

pub fn can_warp(ground: &Ground, place: &Place) -> bool {
    warped_quad(ground, place).is_some()
}

/// Moves two opposite corners up and the other two down.
pub fn warp(ground: &Ground, edit: &mut Edit, place: &Place, size: f64) -> Option<Vec<u32>> {
    let (quad, side) = warped_quad(ground, place)?;
    let at = |i: usize| ground.positions[quad[i] as usize];
    let normal = (at(2) - at(0)).cross(&(at(3) - at(1))).try_normalize(0.0)?;
    for (i, &v) in quad.iter().enumerate() {
        let up = if i % 2 == 0 { 1.0 } else { -1.0 };
        edit.positions[v as usize] += normal * (up * place.sign() * size * side);
    }
    Some(quad.to_vec())
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
