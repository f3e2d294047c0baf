//! The main job: from a cage to its assessment.

use std::path::Path;

use crate::io::{ReadError, read_cage};
use crate::limit::Fillets;
use crate::measure::MeasureContext;
use crate::mesh::{Cage, Oddities, Topology, Vec3};
use crate::risk::Findings;
use crate::subdivision::{BoundaryRule, ControlMesh, Creases, Surface};

pub use crate::measure::body::{BodyFigures, BorderLoop};

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

/// All that was found out about a cage.
#[derive(Debug)]
pub struct Assessment {
    /// The cage's subdivision surface.
    pub surface: Surface,
    /// Mesh oddities.
    pub oddities: Oddities,
    /// Figures of the whole.
    pub body: BodyFigures,
    /// Fillets of the bent edges.
    pub fillets: Fillets,
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
    let control = ControlMesh::new(&cage.mesh, topology, &options.creases, options.boundary);
    let surface = Surface::new(control);
    let (findings, fillets, body, limit_positions, limit_normals) = {
        let context = MeasureContext::new(&surface);
        let frame = surface.control().frame();
        let used = |v: &usize| !context.topology().is_unreferenced(*v);
        let vertices = || 0..context.topology().vertex_count();
        let positions: Vec<Option<Vec3>> = vertices()
            .map(|v| Some(v).filter(used))
            .map(|v| v.map(|v| frame.outward(context.limit.vertices[v].position)))
            .collect();
        let normals: Vec<Option<Vec3>> = vertices()
            .map(|v| Some(context.limit.vertices[v]).filter(|s| s.has_normal()))
            .map(|s| s.map(|s| s.normal))
            .collect();
        let body = BodyFigures::new(&context);
        let findings = Findings::new(&context);
        (findings, context.fillets, body, positions, normals)
    };
    let control = surface.control();
    let oddities = Oddities::count(&cage.mesh, control.topology(), control.positions());
    Assessment {
        oddities,
        body,
        fillets,
        limit_positions,
        limit_normals,
        findings,
        surface,
    }
}

impl Cage {
    /// Reads a cage from an OBJ file; see [`read_cage`].
    ///
    /// # Errors
    /// As [`read_cage`].
    pub fn read(path: &Path) -> Result<Self, ReadError> {
        read_cage(path)
    }

    /// Assesses the cage. Crease edges in `options` are numbered as in [`Topology::new`] of its
    /// mesh.
    pub fn assess(&self, options: &AssessOptions) -> Assessment {
        assess(self, Topology::new(&self.mesh), options)
    }
}
