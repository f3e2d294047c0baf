//! What smoothing makes of an edge that is held by loops on both sides: closed forms.
//!
//! Along an edge that runs on unchanged, a cross-section of the limit surface is a uniform cubic
//! B-spline (Catmull & Clark 1978). Its control points are where the loops cross the section: `P0` on
//! the edge, `P-1` and `P1` on the support loops beside it, `P-2` and `P2` on the loops beyond. On the
//! piece from `P0` to `P1`, with t from 0 to 1, the basis gives
//!
//! - C''(t) = (1 - t) (P-1 - 2 P0 + P1) + t (P0 - 2 P1 + P2),
//! - C'(0) = (P1 - P-1) / 2, and C(0) = (P-1 + 4 P0 + P1) / 6.
//!
//! Where the flanks are flat the support loop's own second difference lies along the flank, so that
//! the section goes straight from C(1) on: all of the bend lies between the limit images of the two
//! support loops.
//!
//! For an edge held evenly (support loops at distance d on both sides, the loops beyond at d + e,
//! bend b between the flanks) the numerator of the curvature follows by multiplying out:
//! C' × C'' = d sin b (1 - t) (d + (e - d) t / 2). At t = 0 the speed is stationary, so that the
//! curvature falls from the edge on as long as e < 3 d. With wider strips beyond the support loops
//! it first rises: the tightest place then lies a little way off the edge, once on each side. At
//! a right angle it has 0.90, 0.77 and 0.63 of the radius at the edge for e = 10 d, 20 d and 40 d.
//!
//! All bends are in degrees, from 0 (flat) to 180 (folded back); lengths in any one unit.

use super::section::largest;
use crate::mesh::Vec3;

/// The widest strip beyond a support loop, in units of the distance between that loop and the
/// edge, with which the fillet of an evenly held edge is tightest at the edge itself.
pub const TIGHTEST_AT_EDGE_MAX: f64 = 3.0;

/// Distance from an evenly held edge to the limit surface, d / 3 sin(b / 2): the edge moves by
/// a sixth of the second difference, P0 - C(0) = (2 P0 - P-1 - P1) / 6, whose length is
/// 2 d sin(b / 2) / 6.
pub fn stand_off(bend_deg: f64, support: f64) -> f64 {
    support / 3.0 * half(bend_deg).sin()
}

/// Radius of curvature at an evenly held edge, d cos²(b / 2) / (2 sin(b / 2)): there
/// |C'| = d cos(b / 2) is perpendicular to C'', whose length is 2 d sin(b / 2). Infinite without
/// a bend.
pub fn radius_at_edge(bend_deg: f64, support: f64) -> f64 {
    let (sin, cos) = half(bend_deg).sin_cos();
    support * cos * cos / (2.0 * sin)
}

/// The distance of the support loops that gives an evenly held edge this radius at the edge,
/// 2 r sin(b / 2) / cos²(b / 2): [`radius_at_edge`] solved for d.
pub fn support_for_radius(bend_deg: f64, radius: f64) -> f64 {
    let (sin, cos) = half(bend_deg).sin_cos();
    2.0 * radius * sin / (cos * cos)
}

/// Distance along a flat flank from the edge to the limit image of the support loop: the limit
/// mask (1, 4, 1) / 6 over distances 0, d and d + e, which is (5 d + e) / 6. `beyond` is e, the
/// width of the strip beyond the support loop.
pub fn support_image(support: f64, beyond: f64) -> f64 {
    (5.0 * support + beyond) / 6.0
}

/// Width of the fillet of an evenly held edge: the chord between the limit images of both
/// support loops, 2 (5 d + e) / 6 cos(b / 2).
pub fn width(bend_deg: f64, support: f64, beyond: f64) -> f64 {
    2.0 * support_image(support, beyond) * half(bend_deg).cos()
}

/// The smallest radius of the fillet of an evenly held edge, wherever it lies: the section's
/// closed form searched for its largest curvature (to 1e-11). That of [`radius_at_edge`] as long as
/// the strip beyond is no wider than [`TIGHTEST_AT_EDGE_MAX`] times the distance of the loops.
///
/// With x along the chord between the flanks and y towards the inside,
/// x' = cos(b / 2) (d + (e - d) t² / 2) and y' = sin(b / 2) (2 d (t - t² / 2) + (e - d) t² / 2).
pub fn tightest_radius(bend_deg: f64, support: f64, beyond: f64) -> f64 {
    let (sin, cos) = half(bend_deg).sin_cos();
    let (d, wider) = (support, beyond - support);
    let curvature = largest(1.0, |t| {
        let half_square = t * t / 2.0;
        let x = cos * (d + wider * half_square);
        let y = sin * (2.0 * d * (t - half_square) + wider * half_square);
        let bend = 2.0 * d * sin * cos * (1.0 - t) * (d + wider * t / 2.0);
        bend / x.hypot(y).powi(3)
    });
    curvature.recip()
}

/// Curvature of the section at an edge held in any way, 8 |a × c| / |a + c|³, with `before` = a
/// from P-1 to P0 and `after` = c from P0 to P1: C'(0) = (a + c) / 2 and C''(0) = c - a, and
/// (a + c) × (c - a) = 2 a × c. Where a and c differ in length the curvature is not stationary at the
/// edge, and the fillet is tighter than this on the shorter side. NaN if a + c vanishes.
pub fn curvature_at_edge(before: &Vec3, after: &Vec3) -> f64 {
    8.0 * before.cross(after).norm() / (before + after).norm().powi(3)
}

fn half(bend_deg: f64) -> f64 {
    (bend_deg / 2.0).to_radians()
}
