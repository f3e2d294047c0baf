//! The limit surface at the points that the measures read: over every cage vertex, edge middle and
//! face centre.

use rayon::prelude::*;

use crate::mesh::Vec3;
use crate::subdivision::Surface;
use crate::subdivision::ring::LimitFrame;

/// Samples that one parallel task takes on at least.
const TASK_LENGTH: usize = 256;

/// A point of the limit surface.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sample {
    /// Limit position, in the control mesh's frame.
    pub position: Vec3,
    /// Unit limit normal; zero where the surface has none or several.
    pub normal: Vec3,
}

impl Sample {
    fn new(position: Vec3, normal: Option<Vec3>) -> Self {
        Self {
            position,
            normal: normal.unwrap_or_default(),
        }
    }

    fn of(limit: LimitFrame) -> Self {
        Self::new(limit.position, limit.normal())
    }

    /// Whether there is a normal.
    pub fn has_normal(&self) -> bool {
        self.normal != Vec3::zeros()
    }
}

/// Limit samples over the elements of a cage.
#[derive(Debug, Clone)]
pub struct LimitSamples {
    /// One per cage vertex.
    pub vertices: Vec<Sample>,
    /// One per cage edge: the image of its middle.
    pub edges: Vec<Sample>,
    /// One per cage face: the image of its centre.
    pub faces: Vec<Sample>,
}

impl LimitSamples {
    /// Samples the limit surface exactly, by the limit masks of the points of level one.
    pub fn new(surface: &Surface) -> Self {
        let topology = surface.control().topology();
        let vertices = sampled(topology.vertex_count(), |v| {
            let (position, normal) = surface.vertex_limit(v);
            Sample::new(position, normal)
        });
        let edges = sampled(topology.edge_count(), |e| {
            if let Some(limit) = surface.smooth_edge_limit(e) {
                return Sample::of(limit);
            }
            let ring = surface.edge_ring(e);
            let crease = ring.is_closed() && ring.sharpness.iter().any(|s| s.is_infinite());
            let limit = ring.limit(0);
            let normal = if crease { None } else { limit.normal() };
            Sample::new(limit.position, normal)
        });
        let faces = sampled(topology.face_count(), |f| Sample::of(surface.face_limit(f)));
        Self {
            vertices,
            edges,
            faces,
        }
    }
}

fn sampled(count: usize, sample: impl Fn(usize) -> Sample + Sync + Send) -> Vec<Sample> {
    (0..count)
        .into_par_iter()
        .with_min_len(TASK_LENGTH)
        .map(sample)
        .collect()
}
