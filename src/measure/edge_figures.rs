//! Figures of every edge that several measures read: of the cage and of the limit over it.

use rayon::prelude::*;

use super::context::angles_of_pairs;
use super::samples::LimitSamples;
use crate::mesh::{Topology, Vec3};

/// Edges that one parallel task takes on at least.
const TASK_LENGTH: usize = 256;

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
        let bends = angles_of_pairs(topology.edge_count(), |e| {
            let first = topology.edge_corner(e);
            let area = |c: usize| &face_areas[topology.face_of(c)];
            topology
                .twin(first)
                .map_or([&NO_AREA; 2], |second| [first, second].map(area))
        });
        let turns = angles_of_pairs(topology.edge_count(), |e| {
            topology.edge_vertices(e).map(|v| &limit.vertices[v].normal)
        });
        let figures = |e: usize| {
            let ends = topology.edge_vertices(e);
            let [a, b] = ends.map(|v| positions[v]);
            let [limit_a, limit_b] = ends.map(|v| &limit.vertices[v].position);
            Self {
                length: (b - a).norm(),
                bend: bends[e],
                limit_length: (limit_b - limit_a).norm(),
                limit_turn: turns[e],
            }
        };
        (0..topology.edge_count())
            .into_par_iter()
            .with_min_len(TASK_LENGTH)
            .map(figures)
            .collect()
    }
}
