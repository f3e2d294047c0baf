//! Faults of make-up: edges put in, taken out, turned and collapsed. What is new lies on the form.

use std::collections::HashMap;

use super::Place;
use super::edit::Edit;
use super::ground::Ground;
use super::moves::CURVED;

/// A place is tight where the limit normal turns by more than this, in degrees, along an edge.
const TIGHT: f64 = 20.0;

/// Triangles do little harm on ground that bends less than this.
const CURVED_FOR_TRIANGLES: f64 = 22.0;

/// The corners of a quad, from the place's edge on, if all lie inside.
fn inner_quad(ground: &Ground, [v, w]: [u32; 2]) -> Option<[u32; 4]> {
    let face = &ground.faces[ground.face_left(v, w)?];
    let is_inner = face.len() == 4 && face.iter().all(|&v| ground.is_inner(v));
    is_inner.then(|| Some([v, w, ground.after(v, w)?, ground.before(v, w)?]))?
}

fn most_bent(ground: &Ground, quad: &[u32; 4]) -> f64 {
    (0..4)
        .map(|i| ground.bend(quad[i], quad[(i + 1) % 4]))
        .fold(0.0, f64::max)
}

pub fn can_split(ground: &Ground, place: &Place) -> bool {
    inner_quad(ground, place.edge)
        .is_some_and(|quad| most_bent(ground, &quad) > CURVED_FOR_TRIANGLES)
}

/// Splits quads of a row along a diagonal, or parts a triangle off them.
pub fn split(ground: &Ground, edit: &mut Edit, place: &Place, count: usize) -> Option<Vec<u32>> {
    let mut sites = Vec::new();
    let mut edge = place.face_edge();
    for _ in 0..count {
        let Some(quad) = inner_quad(ground, edge) else {
            break;
        };
        let [v, w, x, y] = quad;
        let f = ground.face_left(v, w)?;
        sites.extend(quad);
        if place.open[1] < 0.5 {
            let [a, b] = if place.left { [v, x] } else { [w, y] };
            edit.part(f, a, b)?;
        } else {
            // The far corner of the triangle is put into the edge ahead of the row's side.
            let [a, b, far] = if place.left { [w, x, v] } else { [v, y, w] };
            let middle = edit.add_vertex(ground.between(a, b, 0.5));
            let other = [ground.face_left(a, b)?, ground.face_left(b, a)?];
            for f in other {
                edit.insert(f, a, b, middle)?;
            }
            edit.part(f, far, middle)?;
            sites.push(middle);
        }
        edge = [y, x];
    }
    Some(sites)
}

fn two_quads(ground: &Ground, [v, w]: [u32; 2]) -> bool {
    let quad = |v, w| {
        ground
            .face_left(v, w)
            .is_some_and(|f| ground.faces[f].len() == 4)
    };
    ground.is_regular(v) && ground.is_regular(w) && quad(v, w) && quad(w, v)
}

pub fn can_dissolve(ground: &Ground, place: &Place) -> bool {
    let [v, w] = place.edge;
    two_quads(ground, place.edge) && ground.max_bend(v).max(ground.max_bend(w)) > CURVED
}

/// Dissolves the rungs of a row, one after the other.
pub fn dissolve(ground: &Ground, edit: &mut Edit, place: &Place, count: usize) -> Option<Vec<u32>> {
    let [mut v, mut w] = place.face_edge();
    let kept = ground.face_left(w, v)?;
    for _ in 0..count {
        let next = ground.face_left(v, w)?;
        if !two_quads(ground, [v, w]) || edit.faces[next].is_empty() || next == kept {
            break;
        }
        edit.dissolve(kept, next, v, w)?;
        [v, w] = [ground.before(v, w)?, ground.after(v, w)?];
    }
    match count {
        0 => Some(Vec::new()),
        _ => Some(edit.faces[kept].clone()),
    }
}

pub fn can_cap(ground: &Ground, place: &Place) -> bool {
    let [v, w] = place.edge;
    ground.max_bend(v) > CURVED && ground.is_regular(v) && ground.is_regular(w)
}

/// Takes one or two vertices out with their faces, and closes the hole by one face or by a fan.
pub fn cap(ground: &Ground, edit: &mut Edit, place: &Place, count: usize) -> Option<Vec<u32>> {
    let gone = &place.edge[..count.min(2)];
    let mut faces: Vec<usize> = gone
        .iter()
        .flat_map(|&v| {
            let around = ground.neighbours[v as usize].iter();
            around.filter_map(move |&w| ground.face_left(v, w))
        })
        .collect();
    faces.sort_unstable();
    faces.dedup();
    let Some(rim) = rim(ground, &faces) else {
        return (count == 0).then(Vec::new);
    };
    for f in faces {
        edit.faces[f].clear();
    }
    let mut sites = rim.clone();
    if place.open[1] < 0.5 {
        edit.faces.push(rim);
        return Some(sites);
    }
    let [v, w] = place.edge;
    if gone.len() == 2 {
        edit.positions[v as usize] = ground.between(v, w, 0.5);
    }
    for i in 0..rim.len() {
        edit.faces.push(vec![rim[i], rim[(i + 1) % rim.len()], v]);
    }
    sites.push(v);
    Some(sites)
}

/// The closed walk round some faces.
fn rim(ground: &Ground, faces: &[usize]) -> Option<Vec<u32>> {
    let mut next = HashMap::new();
    for &f in faces {
        let face = &ground.faces[f];
        for i in 0..face.len() {
            let [a, b] = [face[i], face[(i + 1) % face.len()]];
            if !ground.face_left(b, a).is_some_and(|g| faces.contains(&g)) {
                next.insert(a, b);
            }
        }
    }
    let first = *next.keys().min()?;
    let mut walk = vec![first];
    loop {
        let at = *next.get(walk.last()?)?;
        if at == first {
            break;
        }
        walk.push(at);
        if walk.len() > next.len() {
            return None;
        }
    }
    (walk.len() == next.len()).then_some(walk)
}

/// The corners of the quad at `v` on a hand of its edge to `w`: `v`, a neighbour, the far corner, the
/// other neighbour.
fn quad_at(ground: &Ground, v: u32, w: u32, left: bool) -> Option<[u32; 4]> {
    if left {
        return inner_quad(ground, [v, w]);
    }
    let [w, v, beside, far] = inner_quad(ground, [w, v])?;
    Some([v, beside, far, w])
}

pub fn can_collapse(ground: &Ground, place: &Place) -> bool {
    let [v, w] = place.edge;
    let regular = |w: u32| {
        let quad = quad_at(ground, v, w, place.left);
        quad.is_some_and(|q| q.iter().all(|&v| ground.is_regular(v)))
    };
    ground.is_regular(v)
        && ground.max_bend(v) > CURVED
        && regular(w)
        && ground.opposite(v, w).is_some_and(regular)
}

/// Collapses one quad at a vertex, or two opposite ones, corner to corner: its valence becomes 6 or
/// 8.
pub fn collapse(ground: &Ground, edit: &mut Edit, place: &Place, count: usize) -> Option<Vec<u32>> {
    let [v, w] = place.edge;
    let mut sites = Vec::new();
    for other in [w, ground.opposite(v, w)?].into_iter().take(count) {
        let quad = quad_at(ground, v, other, place.left)?;
        edit.merge(quad[2], v);
        sites.extend([quad[0], quad[1], quad[3]]);
        if count == 1 {
            edit.positions[v as usize] = ground.between(v, quad[2], 0.5);
        }
    }
    Some(sites)
}

pub fn can_turn(ground: &Ground, place: &Place) -> bool {
    let [v, w] = place.edge;
    two_quads(ground, place.edge) && ground.max_bend(v).max(ground.max_bend(w)) > TIGHT
}

/// Turns an edge between two quads: its ends lose an edge, two others get one.
pub fn turn(ground: &Ground, edit: &mut Edit, place: &Place, count: usize) -> Option<Vec<u32>> {
    if count == 0 {
        return Some(Vec::new());
    }
    let [v, w] = place.edge;
    let (f, g) = (ground.face_left(v, w)?, ground.face_left(w, v)?);
    let ends = if place.left {
        [ground.after(v, w)?, ground.after(w, v)?]
    } else {
        [ground.before(v, w)?, ground.before(w, v)?]
    };
    edit.dissolve(f, g, v, w)?;
    let sites = edit.faces[f].clone();
    edit.part(f, ends[0], ends[1])?;
    Some(sites)
}

pub fn can_end_loop(ground: &Ground, place: &Place) -> bool {
    let [v, w] = place.face_edge();
    let back = inner_quad(ground, [w, v]);
    let Some(quad) = inner_quad(ground, [v, w]) else {
        return false;
    };
    let beyond = inner_quad(ground, [quad[3], quad[2]]);
    back.is_some() && beyond.is_some() && ground.bend(v, w) > CURVED
}

/// Puts a loop in through some quads of a row, which ends inside the quads before and after them: in
/// a face of five sides, or in a triangle beside a quad. The sites are the corners of these faces: the
/// quads between are halved as by any loop more.
pub fn end_loop(ground: &Ground, edit: &mut Edit, place: &Place, count: usize) -> Option<Vec<u32>> {
    if count == 0 {
        return Some(Vec::new());
    }
    let rungs = rungs(ground, place.face_edge(), count);
    let share = 0.5 + if place.left { 0.4 } else { -0.4 } * (place.open[1] - 0.5);
    let middles: Vec<u32> = rungs
        .iter()
        .map(|&[v, w]| edit.add_vertex(ground.between(v, w, share)))
        .collect();
    for (&[v, w], &middle) in rungs.iter().zip(&middles) {
        for f in [ground.face_left(v, w)?, ground.face_left(w, v)?] {
            edit.insert(f, v, w, middle)?;
        }
    }
    for (rung, pair) in rungs.iter().zip(middles.windows(2)) {
        edit.part(ground.face_left(rung[0], rung[1])?, pair[0], pair[1])?;
    }
    let last = rungs.len() - 1;
    let [v, w] = rungs[0];
    let [x, y] = rungs[last];
    let ends = [([w, v], middles[0]), ([x, y], middles[last])];
    let mut sites = Vec::new();
    for ([a, b], middle) in ends {
        let f = ground.face_left(a, b)?;
        sites.extend(&ground.faces[f]);
        if place.open[2] < 0.5 {
            let far = if place.left {
                ground.after(a, b)?
            } else {
                ground.before(a, b)?
            };
            edit.part(f, middle, far)?;
        }
    }
    sites.extend([middles[0], middles[last]]);
    Some(sites)
}

/// The rungs of a row of quads from an edge on, as many more as there are quads to pass.
fn rungs(ground: &Ground, edge: [u32; 2], count: usize) -> Vec<[u32; 2]> {
    let mut found = vec![edge];
    let mut at = edge;
    while found.len() <= count {
        let Some([_, _, x, y]) = inner_quad(ground, at) else {
            break;
        };
        at = [y, x];
        let comes_round = found.iter().any(|r| r.contains(&x) || r.contains(&y));
        let beyond = inner_quad(ground, at);
        let meets = |q: &[u32; 4]| q.iter().any(|v| edge.contains(v));
        if comes_round || beyond.is_none_or(|q| meets(&q)) {
            break;
        }
        found.push(at);
    }
    found
}
