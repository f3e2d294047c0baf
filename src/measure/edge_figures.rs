//! Figures of every edge that several measures read: of the cage and of the limit over it.

use rayon::prelude::*;

use super::context::angle_deg;
use super::samples::LimitSamples;
use crate::mesh::{Topology, Vec3};

/// Edges that one parallel task takes on at least.
const TASK_LENGTH: usize = 256;

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
        let figures = |e: usize| {
            let ends = topology.edge_vertices(e);
            let [a, b] = ends.map(|v| positions[v]);
            let [limit_a, limit_b] = ends.map(|v| &limit.vertices[v]);
            let first = topology.edge_corner(e);
            let area = |c: usize| &face_areas[topology.face_of(c)];
            let bend = |second| angle_deg(area(first), area(second));
            Self {
                length: (b - a).norm(),
                bend: topology.twin(first).map_or(f64::NAN, bend),
                limit_length: (limit_b.position - limit_a.position).norm(),
                limit_turn: angle_deg(&limit_a.normal, &limit_b.normal),
            }
        };
        (0..topology.edge_count())
            .into_par_iter()
            .with_min_len(TASK_LENGTH)
            .map(figures)
            .collect()
    }
}
