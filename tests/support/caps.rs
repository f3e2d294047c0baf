//! Caps that close round bodies, and how far the limit ripples round them.

use cagewise::mesh::PolygonMesh;
use cagewise::subdivision::{Samples, refine};

use super::cages::closed_round;
use super::surface_of;

/// How an end is closed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Cap {
    /// By a fan of triangles.
    Fan,
    /// By one face.
    Face,
}

/// A tube of radius 1 and height 2 whose ends are closed by caps: right at the rims, or behind loops
/// that hold them. Also gives the vertices of the outermost rings of quads, the apexes of fans last.
pub fn closed_tube(sides: usize, cap: Cap, held: bool) -> (PolygonMesh, [Vec<u32>; 2]) {
    /// How far loops stay off the rims that they hold.
    const NEAR: f64 = 0.06;
    let outline: &[[f64; 2]] = match held {
        false => &[[1.0, -1.0], [1.0, -0.4], [1.0, 0.4], [1.0, 1.0]],
        true => &[
            [1.0 - NEAR, -1.0],
            [1.0, -1.0],
            [1.0, NEAR - 1.0],
            [1.0, -0.4],
            [1.0, 0.4],
            [1.0, 1.0 - NEAR],
            [1.0, 1.0],
            [1.0 - NEAR, 1.0],
        ],
    };
    let apexes = [-1.0, 1.0].map(|z| (cap == Cap::Fan).then_some(z));
    closed_round(outline, sides, apexes)
}

/// The largest angle, in degrees, by which limit normals of a form of radius 1 that turns about z lean to
/// the side; places near the axis are left out, where sides are hard to tell.
pub fn ripples(mesh: &PolygonMesh) -> f64 {
    let refined = refine(&surface_of(mesh), 2, Samples::Limit);
    let limit = refined
        .positions
        .iter()
        .zip(refined.normals.iter().flatten());
    let leans = limit.filter(|(p, _)| p[0].hypot(p[1]) > 0.5).map(|(p, n)| {
        let side = (p[0] * n[1] - p[1] * n[0]) / p[0].hypot(p[1]);
        side.abs().min(1.0).asin().to_degrees()
    });
    leans.fold(0.0, f64::max)
}
