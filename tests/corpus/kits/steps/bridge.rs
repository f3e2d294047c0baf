//! Walls between two patches: holes through, and bars across.

use cagewise::mesh::Vec3;

use super::model::Model;
use super::patch::Patch;
use super::raise::clear;

/// Takes both patches out and joins their rims by a wall with rings at the given shares of the way
/// (none: one strip). Rims of different lengths are left alone, and it says so.
pub fn bridge(model: &mut Model, from: &Patch, to: &Patch, shares: &[f64]) -> bool {
    let (a, mut b) = (from.rim_vertices(), to.rim_vertices());
    if a.len() != b.len() {
        return false;
    }
    b.reverse();
    let n = a.len();
    let p = |v: u32| model.points[v as usize];
    let apart = |shift: usize| -> f64 {
        (0..n)
            .map(|k| (p(a[k]) - p(b[(k + shift) % n])).norm_squared())
            .sum()
    };
    let shift = (0..n)
        .min_by(|&i, &j| apart(i).total_cmp(&apart(j)))
        .unwrap();
    b.rotate_left(shift);
    clear(model, from);
    clear(model, to);
    let mut last = a.clone();
    for &share in shares {
        let between = |k: usize| -> Vec3 {
            let (start, end) = (model.points[a[k] as usize], model.points[b[k] as usize]);
            start + (end - start) * share
        };
        let places: Vec<Vec3> = (0..n).map(between).collect();
        let ring: Vec<u32> = places.into_iter().map(|q| model.add_point(q)).collect();
        wall(model, &last, &ring);
        last = ring;
    }
    wall(model, &last, &b);
    true
}

fn wall(model: &mut Model, from: &[u32], to: &[u32]) {
    for k in 0..from.len() {
        let next = (k + 1) % from.len();
        model.add_worked(vec![from[k], from[next], to[next], to[k]]);
    }
}
