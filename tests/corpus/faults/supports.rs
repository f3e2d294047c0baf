//! A support loop that is missing along a part of its edge.

use super::Place;
use super::edit::Edit;
use super::ground::Ground;
use super::moves::slide_all;

/// A loop supports an edge when it lies closer to it than this part of the way to the next loop.
const CLOSE: f64 = 0.6;

/// And when the limit normal turns by more than this, in degrees, from the loop to the edge.
const TIGHT: f64 = 15.0;

/// Size from which on the loop is merged into the next.
pub const GONE: f64 = 1.0;

/// Whether the place lies on a support loop, facing away from the edge that it supports.
pub fn is_support(ground: &Ground, place: &Place) -> bool {
    let [v, w] = place.edge;
    let supports = |v: u32, w: u32| {
        ground.opposite(v, w).is_some_and(|edge| {
            ground.is_inner(w)
                && ground.length(v, edge) < CLOSE * ground.length(v, w)
                && ground.bend(v, edge) > TIGHT
        })
    };
    let stretch = stretch(ground, place);
    supports(v, w) && stretch.len() >= 2 && stretch.iter().all(|s| supports(s[0], s[1]))
}

fn stretch(ground: &Ground, place: &Place) -> Vec<[u32; 2]> {
    let count = place.between(1, 2, 7);
    ground.stretch(place.edge[0], place.edge[1], place.left, count)
}

/// Slides a stretch of the loop away from its edge; in the end it is merged into the next loop.
pub fn take_away(ground: &Ground, edit: &mut Edit, place: &Place, size: f64) -> Vec<u32> {
    let stretch = stretch(ground, place);
    if size < GONE {
        return slide_all(ground, edit, &stretch, size);
    }
    for &[u, across] in &stretch {
        edit.merge(u, across);
    }
    let edge = |&[u, across]: &[u32; 2]| ground.opposite(u, across);
    let edges = stretch.iter().filter_map(edge);
    edges.chain(stretch.iter().map(|s| s[1])).collect()
}
