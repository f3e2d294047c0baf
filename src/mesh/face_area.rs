//! Area vectors of polygons.

use super::{Topology, Vec3};

/// Area vector of face `f` (its length is the area, its direction the normal, in the unified
/// winding), planar or not: half the sum of cross products about its first vertex.
pub fn face_area(topology: &Topology, positions: &[Vec3], f: usize) -> Vec3 {
    let corners = topology.face_corners(f);
    let at = |c: usize| positions[topology.vertex(c)];
    let origin = at(corners.start);
    let fan = corners.start + 1..corners.end.saturating_sub(1).max(corners.start + 1);
    fan.map(|c| (at(c) - origin).cross(&(at(c + 1) - origin)))
        .sum::<Vec3>()
        * 0.5
}
