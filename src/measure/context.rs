//! What all measures read: the surface, its limit samples, and plain geometry of the cage.

use std::sync::OnceLock;

use rayon::prelude::*;

use super::loop_deviation::LoopAngles;
use super::samples::LimitSamples;
use super::spokes::Spokes;
use crate::limit::Fillets;
use crate::mesh::{MirrorMap, Topology, Vec3, face_area};
use crate::subdivision::Surface;

/// Everything that the measures read. Lengths are in the control mesh's frame; multiply by
/// [`MeasureContext::scale`] for file units.
#[derive(Debug)]
pub struct MeasureContext<'a> {
    /// The subdivision surface.
    pub surface: &'a Surface,
    /// Limit samples over vertices, edges and faces.
    pub limit: LimitSamples,
    /// Fillets of the bent edges.
    pub fillets: Fillets,
    /// Edges about each vertex.
    pub spokes: Spokes,
    /// Area vector (unit normal times area) of each face, in the unified winding.
    pub face_areas: Vec<Vec3>,
    /// Mean length of the edges at each vertex; NaN without edges.
    pub edge_length: Vec<f64>,
    /// For the whole of a mirrored half: which part of it is the half.
    pub mirror: Option<&'a MirrorMap>,
    loop_angles: OnceLock<LoopAngles>,
}

impl<'a> MeasureContext<'a> {
    /// Samples the limit surface and gathers what the measures share.
    pub fn new(surface: &'a Surface) -> Self {
        let control = surface.control();
        let spokes = Spokes::new(control.topology());
        let face_areas = (0..control.topology().face_count())
            .into_par_iter()
            .with_min_len(256)
            .map(|f| face_area(control.topology(), control.positions(), f))
            .collect();
        let mean_length = |v: usize| {
            let from = control.positions()[v];
            let lengths = spokes.of(v).iter();
            let sum: f64 = lengths
                .map(|s| (control.positions()[s.vertex as usize] - from).norm())
                .sum();
            sum / spokes.of(v).len() as f64
        };
        let edge_length = (0..control.topology().vertex_count())
            .map(mean_length)
            .collect();
        Self {
            surface,
            limit: LimitSamples::new(surface),
            fillets: Fillets::new(surface),
            face_areas,
            edge_length,
            spokes,
            mirror: None,
            loop_angles: OnceLock::new(),
        }
    }

    /// The same for the whole of a mirrored half, told apart by `map`.
    pub fn mirrored(surface: &'a Surface, map: &'a MirrorMap) -> Self {
        Self {
            mirror: Some(map),
            ..Self::new(surface)
        }
    }

    /// What the limit normals stray from the loops; found at the first call.
    pub fn loop_angles(&self) -> &LoopAngles {
        self.loop_angles.get_or_init(|| LoopAngles::new(self))
    }

    /// The adjacency.
    pub fn topology(&self) -> &Topology {
        self.surface.control().topology()
    }

    /// Cage positions, in the frame.
    pub fn positions(&self) -> &[Vec3] {
        self.surface.control().positions()
    }

    /// File units per unit of the frame.
    pub fn scale(&self) -> f64 {
        self.surface.control().frame().scale
    }

    /// One value per vertex, in parallel. Unreferenced vertices are not asked: they are NaN.
    pub fn per_vertex(&self, value: impl Fn(usize) -> f64 + Sync + Send) -> Vec<f64> {
        (0..self.topology().vertex_count())
            .into_par_iter()
            .with_min_len(64)
            .map(|v| {
                if self.topology().is_unreferenced(v) {
                    f64::NAN
                } else {
                    value(v)
                }
            })
            .collect()
    }

    /// The unit normal of face `f`, in the unified winding; zero for a face of no area.
    pub fn face_normal(&self, f: usize) -> Vec3 {
        self.face_areas[f].try_normalize(0.0).unwrap_or_default()
    }

    /// The faces at vertex `v`.
    pub fn faces_of(&self, v: usize) -> impl Iterator<Item = usize> + '_ {
        let topology = self.topology();
        topology.corners_of(v).map(|c| topology.face_of(c))
    }
}

/// Angle between two vectors in degrees, accurate for small angles too; NaN if one vanishes.
pub fn angle_deg(a: &Vec3, b: &Vec3) -> f64 {
    if *a == Vec3::zeros() || *b == Vec3::zeros() {
        return f64::NAN;
    }
    a.cross(b).norm().atan2(a.dot(b)).to_degrees()
}

/// The largest of some values; NaN if there is none or all are undefined.
pub fn largest(values: impl Iterator<Item = f64>) -> f64 {
    values.fold(f64::NAN, f64::max)
}
