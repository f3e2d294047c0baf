//! The control mesh: what subdivision needs to know of a cage.

use rayon::prelude::*;

use super::level_one::TASK_LENGTH;
use super::sharpness;
use crate::mesh::{EdgeKind, PolygonMesh, Topology, Vec3};

/// How borders behave, named as in the open USD mesh schema (`interpolateBoundary`).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum BoundaryRule {
    /// Borders are sharp curves, and a border vertex with a single face is a sharp corner.
    #[default]
    EdgeAndCorner,
    /// Borders are sharp curves, smooth at every vertex.
    EdgeOnly,
}

/// Edges and vertices that are to stay sharp.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Creases {
    /// Edge index and sharpness in levels.
    pub edges: Vec<(u32, f64)>,
    /// Vertex index and sharpness in levels.
    pub vertices: Vec<(u32, f64)>,
}

/// Where the model lies: geometry is computed about its centre and at a size near 1, so that
/// neither distance from the origin nor size costs digits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Frame {
    /// Centre of the bounding box of the used vertices, in file units.
    pub centre: Vec3,
    /// File units per unit of the frame: a power of two, so that scaling rounds nothing.
    pub scale: f64,
}

impl Frame {
    /// The frame of the given points.
    pub fn around(points: impl Iterator<Item = Vec3>) -> Self {
        let nothing = (Vec3::repeat(f64::MAX), Vec3::repeat(f64::MIN));
        let (low, high) = points.fold(nothing, |(low, high), p| (low.inf(&p), high.sup(&p)));
        if low.x > high.x {
            return Self::default();
        }
        let centre = low * 0.5 + high * 0.5;
        let half_size = (high * 0.5 - low * 0.5).max();
        Self {
            centre,
            scale: power_of_two_near(half_size),
        }
    }

    /// From file coordinates to the frame's.
    pub fn inward(&self, p: Vec3) -> Vec3 {
        (p - self.centre) / self.scale
    }

    /// From the frame's coordinates to the file's.
    pub fn outward(&self, p: Vec3) -> Vec3 {
        p * self.scale + self.centre
    }
}

impl Default for Frame {
    fn default() -> Self {
        Self {
            centre: Vec3::zeros(),
            scale: 1.0,
        }
    }
}

/// The largest power of two not above `x`; 1 for a size that is 0.
fn power_of_two_near(x: f64) -> f64 {
    if x > 0.0 && x.is_finite() {
        x.log2().floor().clamp(-1000.0, 1000.0).exp2()
    } else {
        1.0
    }
}

/// A cage made ready for subdivision.
#[derive(Debug, Clone)]
pub struct ControlMesh {
    topology: Topology,
    frame: Frame,
    positions: Vec<Vec3>,
    edge_sharpness: Vec<f64>,
    vertex_sharpness: Vec<f64>,
}

impl ControlMesh {
    /// Makes a mesh ready: finds its adjacency, moves it to its own frame and settles what is
    /// sharp. Borders are infinitely sharp; so are non-manifold edges and vertices, at which no
    /// smooth surface exists.
    ///
    /// `creases` names edges by their number in `topology`, which must be that of `mesh`.
    pub fn new(
        mesh: &PolygonMesh,
        topology: Topology,
        creases: &Creases,
        boundary: BoundaryRule,
    ) -> Self {
        let used = (0..mesh.vertex_count()).filter(|&v| !topology.is_unreferenced(v));
        let (frame, edge_sharpness) = rayon::join(
            || Frame::around(used.map(|v| mesh.positions()[v])),
            || edge_sharpness(&topology, creases),
        );
        let positions = mesh
            .positions()
            .par_iter()
            .with_min_len(TASK_LENGTH)
            .map(|&p| frame.inward(p))
            .collect();
        let vertex_sharpness = vertex_sharpness(&topology, &edge_sharpness, creases, boundary);
        Self {
            topology,
            frame,
            positions,
            edge_sharpness,
            vertex_sharpness,
        }
    }

    /// The adjacency.
    pub fn topology(&self) -> &Topology {
        &self.topology
    }

    /// The frame that [`ControlMesh::positions`] are in.
    pub fn frame(&self) -> Frame {
        self.frame
    }

    /// Vertex positions, one per cage vertex, in the frame's coordinates.
    pub fn positions(&self) -> &[Vec3] {
        &self.positions
    }

    /// Sharpness of each edge in levels; infinite at borders and non-manifold edges.
    pub fn edge_sharpness(&self) -> &[f64] {
        &self.edge_sharpness
    }

    /// Sharpness of each vertex in levels; infinite at corners and non-manifold vertices.
    pub fn vertex_sharpness(&self) -> &[f64] {
        &self.vertex_sharpness
    }
}

fn edge_sharpness(topology: &Topology, creases: &Creases) -> Vec<f64> {
    let mut sharpness: Vec<f64> = (0..topology.edge_count())
        .into_par_iter()
        .with_min_len(TASK_LENGTH)
        .map(|e| match topology.edge_kind(e) {
            EdgeKind::Interior => 0.0,
            EdgeKind::Border | EdgeKind::NonManifold => f64::INFINITY,
        })
        .collect();
    for &(e, s) in &creases.edges {
        let slot = &mut sharpness[e as usize];
        *slot = slot.max(sharpness::effective(s));
    }
    sharpness
}

fn vertex_sharpness(
    topology: &Topology,
    edge_sharpness: &[f64],
    creases: &Creases,
    boundary: BoundaryRule,
) -> Vec<f64> {
    let mut sharpness: Vec<f64> = (0..topology.vertex_count())
        .into_par_iter()
        .with_min_len(TASK_LENGTH)
        .map(|v| {
            let single_face = topology.corner_count_at(v) < 2;
            let corner = boundary == BoundaryRule::EdgeAndCorner && single_face;
            let pinned = !topology.is_manifold(v) && !is_on_chain(topology, edge_sharpness, v);
            if corner || pinned { f64::INFINITY } else { 0.0 }
        })
        .collect();
    for &(v, s) in &creases.vertices {
        let slot = &mut sharpness[v as usize];
        *slot = slot.max(sharpness::effective(s));
    }
    sharpness
}

/// Whether the non-manifold vertex `v` lies inside a chain of two non-manifold edges, so that each
/// of its fans runs from one of them to the other and nothing else at it is sharp. It then moves
/// along the chain as on a crease.
fn is_on_chain(topology: &Topology, edge_sharpness: &[f64], v: usize) -> bool {
    let ends_of = |fan: &[u32]| {
        let first = topology.edge(fan[0] as usize);
        let last = topology.edge(topology.previous(fan[fan.len() - 1] as usize));
        [first.min(last), first.max(last)]
    };
    let Some(ends) = topology.fans(v).next().map(ends_of) else {
        return false;
    };
    let non_manifold = |e: usize| topology.edge_kind(e) == EdgeKind::NonManifold;
    ends[0] != ends[1]
        && ends.into_iter().all(non_manifold)
        && topology.fans(v).all(|fan| ends_of(fan) == ends)
        && topology
            .corners_of(v)
            .map(|c| topology.edge(c))
            .all(|e| ends.contains(&e) || edge_sharpness[e] == 0.0)
}
