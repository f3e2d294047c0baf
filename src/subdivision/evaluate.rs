//! Position and derivatives of the limit surface at any parameters of a quad.

use super::patch::QuadNeighbourhood;
use super::spline::{self, Derivatives};

/// Levels that the descent to a regular patch goes down at most. A place that is not regular by
/// then lies within 2^-40 of a pole, a crease's end or a corner, where derivatives are not defined.
const DESCENT_LEVELS_MAX: usize = 40;

/// Evaluates the limit surface at (`u`, `v`) in the unit square of `quad`, with derivatives by `u`
/// and `v`, exactly: by descent to the regular patch that holds the place (Stam 1998 arrives at the
/// same values through the eigenstructure). `None` at a place that no regular patch reaches: a pole
/// and its like. On the line between two patches either gives the same values, but for second
/// derivatives across a crease.
pub fn evaluate(quad: &QuadNeighbourhood, u: f64, v: f64) -> Option<Derivatives> {
    descend(quad, [u, v], 0)
}

fn descend(quad: &QuadNeighbourhood, at: [f64; 2], level: usize) -> Option<Derivatives> {
    if let Some(points) = quad.regular_points() {
        return Some(spline::evaluate(&points, at[0], at[1]));
    }
    if level == DESCENT_LEVELS_MAX {
        return None;
    }
    let children = quad.split();
    let holders = QUADRANTS.iter().zip(&children).filter_map(|(low, child)| {
        let inner: [f64; 2] = std::array::from_fn(|i| 2.0 * at[i] - low[i]);
        let inside = inner.iter().all(|x| (0.0..=1.0).contains(x));
        inside.then_some((child, inner))
    });
    let mut holders: Vec<_> = holders.collect();
    holders.sort_by_key(|(child, _)| child.regular_points().is_none());
    let (child, inner) = holders.first()?;
    descend(child, *inner, level + 1).map(|d| Derivatives {
        position: d.position,
        first: d.first.map(|x| x * 2.0),
        second: d.second.map(|x| x * 4.0),
    })
}

/// Twice the parameters of each quadrant's lower corner, in the order of a split's children.
const QUADRANTS: [[f64; 2]; 4] = [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]];
