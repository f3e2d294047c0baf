//! Figures of every edge that several measures read: of the cage and of the limit over it.

use pulp::Arch;

use super::angles::angles_deg;
use super::context::by_fours;
use super::samples::LimitSamples;
use crate::mesh::{Topology, Vec3};

/// Stands for the faces of an edge that does not have two: it has no angle to anything.
const NO_AREA: Vec3 = Vec3::new(0.0, 0.0, 0.0);

/// What is known of an edge. Lengths are in the control mesh's frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EdgeFigures {
    /// Length in the cage.
    pub length: f64,
    /// Angle between the cage's faces on both sides, in degrees from 0 (flat) to 180 (folded back);
    /// NaN where there are not two, or one has no area.
    pub bend: f64,
    /// Distance of the limit positions of both ends.
    pub limit_length: f64,
    /// Angle between the limit normals of both ends, in degrees; NaN where one has none.
    pub limit_turn: f64,
}

impl EdgeFigures {
    /// The figures of all edges, in parallel. `face_areas` are the faces' area vectors, `positions`
    /// the cage's.
    pub fn of_all(
        topology: &Topology,
        positions: &[Vec3],
        face_areas: &[Vec3],
        limit: &LimitSamples,
    ) -> Vec<Self> {
        let arch = Arch::new();
        by_fours(topology.edge_count(), |edges| {
            let ends = edges.map(|e| topology.edge_vertices(e));
            let bends = edges.map(|e| {
                let first = topology.edge_corner(e);
                let area = |c: usize| &face_areas[topology.face_of(c)];
                let second = topology.twin(first);
                second.map_or([&NO_AREA; 2], |second| [first, second].map(area))
            });
            let turns = ends.map(|ends| ends.map(|v| &limit.vertices[v].normal));
            let [bends, turns] = [bends, turns].map(|pairs| angles_deg(arch, pairs));
            std::array::from_fn(|k| {
                let [a, b] = ends[k].map(|v| positions[v]);
                let [limit_a, limit_b] = ends[k].map(|v| &limit.vertices[v].position);
                Self {
                    length: (b - a).norm(),
                    bend: bends[k],
                    limit_length: (limit_b - limit_a).norm(),
                    limit_turn: turns[k],
                }
            })
        })
    }
}
