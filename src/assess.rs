//! The main job: from a cage to its assessment.

use thiserror::Error;

use crate::mesh::{Cage, Topology, Vec3};
use crate::risk::Findings;
use crate::subdivision::{BoundaryRule, Creases, Surface};

/// Faces that a refined mesh may have unless the user allows more: about 1.5 GB of arrays.
pub const DEFAULT_FACE_BUDGET: u64 = 16_000_000;

/// How a cage is to be assessed.
#[derive(Debug, Clone, PartialEq)]
pub struct AssessOptions {
    /// Edges and vertices that stay sharp, by number in the cage's topology.
    pub creases: Creases,
    /// How borders behave.
    pub boundary: BoundaryRule,
}

impl Default for AssessOptions {
    fn default() -> Self {
        Self {
            creases: Creases::default(),
            boundary: BoundaryRule::EdgeAndCorner,
        }
    }
}

/// Why a cage can't be assessed or refined.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum AssessError {
    /// The refined mesh would be larger than allowed.
    #[error(
        "level {level} would have {faces} faces, more than the budget of {budget}; \
         ask for a lower level or raise --max-faces"
    )]
    OverBudget {
        /// The level asked for.
        level: usize,
        /// Faces that it would have.
        faces: u64,
        /// Faces that are allowed.
        budget: u64,
    },
}

/// What is odd about a cage as a mesh, though it can be assessed: counts by kind, 0 where sound.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, serde::Serialize)]
pub struct Oddities {
    /// Edges that three faces or more share, or two that can't be wound alike.
    pub non_manifold_edges: usize,
    /// Vertices whose faces do not form one fan.
    pub non_manifold_vertices: usize,
    /// Faces with the same vertices as an earlier face.
    pub repeated_faces: usize,
    /// Faces that name a vertex twice.
    pub faces_repeating_a_vertex: usize,
    /// Faces of no area.
    pub zero_area_faces: usize,
    /// Faces wound against their shell.
    pub reversed_faces: usize,
    /// Vertices that no face uses.
    pub unreferenced_vertices: usize,
    /// Vertices that lie exactly on another vertex without being joined to it.
    pub unwelded_vertices: usize,
}

/// An open border: a closed walk along border edges.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct BorderLoop {
    /// Number of edges. Only an even loop can be filled with quads alone (common practice, no
    /// published source).
    pub edges: usize,
    /// One vertex of the loop, from 0 (files and messages count from 1).
    pub first_vertex: usize,
}

/// Figures of the whole body.
#[derive(Debug, Clone, PartialEq)]
pub struct BodyFigures {
    /// Numbers of triangles, quads and faces of more sides.
    pub triangles: usize,
    /// See `triangles`.
    pub quads: usize,
    /// See `triangles`.
    pub ngons: usize,
    /// Number of interior vertices by valence, for valences other than 4, rising.
    pub poles: Vec<(usize, usize)>,
    /// Shells: sets of faces joined by vertices.
    pub shells: usize,
    /// Open borders.
    pub borders: Vec<BorderLoop>,
    /// Extents of the cage along x, y and z, in file units.
    pub cage_extent: Vec3,
    /// Extents of the limit surface, in file units.
    pub limit_extent: Vec3,
    /// Volumes inside cage and limit surface in cubic file units; `None` with open borders.
    pub volumes: Option<(f64, f64)>,
}

/// All that was found out about a cage.
#[derive(Debug)]
pub struct Assessment {
    /// The cage's subdivision surface.
    pub surface: Surface,
    /// Mesh oddities.
    pub oddities: Oddities,
    /// Figures of the whole.
    pub body: BodyFigures,
    /// Limit position of each vertex, in file units; `None` for unreferenced vertices.
    pub limit_positions: Vec<Option<Vec3>>,
    /// Unit limit normal of each vertex, where there is exactly one.
    pub limit_normals: Vec<Option<Vec3>>,
    /// Measures, risks and places.
    pub findings: Findings,
}

impl Assessment {
    /// The highest risk of any vertex; 0 for a cage without vertices.
    pub fn highest_risk(&self) -> f64 {
        self.findings
            .risks
            .total
            .iter()
            .copied()
            .fold(0.0, f64::max)
    }
}

/// Assesses a cage. `topology` must be that of `cage.mesh`.
pub fn assess(cage: &Cage, topology: Topology, options: &AssessOptions) -> Assessment {
    let _ = (cage, topology, options);
    todo!("written together with the measures")
}
