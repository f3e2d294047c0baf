//! Area vectors of polygons.

use rayon::prelude::*;

use super::{Topology, Vec3};

/// Faces that one parallel task takes on at least.
const TASK_LENGTH: usize = 256;

/// The area vector of each face, as [`face_area`] has it.
pub(crate) fn face_areas(topology: &Topology, positions: &[Vec3]) -> Vec<Vec3> {
    (0..topology.face_count())
        .into_par_iter()
        .with_min_len(TASK_LENGTH)
        .map(|f| face_area(topology, positions, f))
        .collect()
}

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
