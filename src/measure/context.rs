//! What all measures read: the surface, its limit samples, and plain geometry of the cage.

use std::sync::OnceLock;

use rayon::prelude::*;

use super::edge_figures::EdgeFigures;
use super::loop_deviation::LoopAngles;
use super::quality;
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
    /// What several measures read of each edge.
    pub edges: Vec<EdgeFigures>,
    /// Mean length of the edges at each vertex; NaN without edges.
    pub edge_length: Vec<f64>,
    /// For the whole of a mirrored half: which part of it is the half.
    pub mirror: Option<&'a MirrorMap>,
    loop_angles: OnceLock<LoopAngles>,
    quad_qualities: OnceLock<Vec<[f64; 5]>>,
}

impl<'a> MeasureContext<'a> {
    /// Samples the limit surface and gathers what the measures share.
    pub fn new(surface: &'a Surface) -> Self {
        let control = surface.control();
        let spokes = Spokes::new(control.topology());
        let topology = control.topology();
        let face_areas: Vec<Vec3> = (0..topology.face_count())
            .into_par_iter()
            .with_min_len(256)
            .map(|f| face_area(topology, control.positions(), f))
            .collect();
        let limit = LimitSamples::new(surface);
        let edges = EdgeFigures::of_all(topology, control.positions(), &face_areas, &limit);
        let mean_length = |v: usize| {
            let lengths = spokes.of(v).iter();
            let sum: f64 = lengths.map(|s| edges[s.edge as usize].length).sum();
            sum / spokes.of(v).len() as f64
        };
        let edge_length = (0..topology.vertex_count())
            .into_par_iter()
            .with_min_len(256)
            .map(mean_length)
            .collect();
        Self {
            surface,
            limit,
            fillets: Fillets::new(surface),
            face_areas,
            edges,
            edge_length,
            spokes,
            mirror: None,
            loop_angles: OnceLock::new(),
            quad_qualities: OnceLock::new(),
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

    /// The quality of every face ([`quality::quad_quality`]), NaN for those that are no quads; found
    /// at the first call.
    pub fn quad_qualities(&self) -> &[[f64; 5]] {
        self.quad_qualities.get_or_init(|| quality::of_faces(self))
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

    /// Several values per vertex that are found together, in parallel: one column each.
    /// Unreferenced vertices are not asked: they are NaN.
    pub fn together<const N: usize>(
        &self,
        values: impl Fn(usize) -> [f64; N] + Sync + Send,
    ) -> [Vec<f64>; N] {
        /// Vertices that one parallel task takes on.
        const TASK_LENGTH: usize = 1024;
        let count = self.topology().vertex_count();
        let mut columns: [Vec<f64>; N] = std::array::from_fn(|_| vec![f64::NAN; count]);
        let mut parts: Vec<[&mut [f64]; N]> = Vec::with_capacity(count.div_ceil(TASK_LENGTH));
        let mut chunks = columns.each_mut().map(|c| c.chunks_mut(TASK_LENGTH));
        for _ in 0..count.div_ceil(TASK_LENGTH) {
            parts.push(chunks.each_mut().map(|c| c.next().unwrap_or_default()));
        }
        parts.into_par_iter().enumerate().for_each(|(i, mut part)| {
            let first = i * TASK_LENGTH;
            for v in first..(first + TASK_LENGTH).min(count) {
                if !self.topology().is_unreferenced(v) {
                    for (column, x) in part.iter_mut().zip(values(v)) {
                        column[v - first] = x;
                    }
                }
            }
        });
        columns
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
    let (sine, cosine) = (a.cross(b).norm(), a.dot(b));
    if sine < SMALL_TANGENT * cosine {
        small_angle(sine / cosine).to_degrees()
    } else {
        sine.atan2(cosine).to_degrees()
    }
}

/// Tangent up to which [`small_angle`] leaves nothing out that rounding would show: its next term is
/// 2e-18 of the first.
const SMALL_TANGENT: f64 = 0.125;

/// The angle, in radians, with tangent `t` up to [`SMALL_TANGENT`], by the arctangent's power series.
#[inline]
fn small_angle(t: f64) -> f64 {
    const TERMS: usize = 9;
    let square = t * t;
    let sum = (0..TERMS).rev().fold(0.0, |sum, k| {
        let sign = if k % 2 == 0 { 1.0 } else { -1.0 };
        sign / (2 * k + 1) as f64 + sum * square
    });
    t * sum
}

/// The largest of some values; NaN if there is none or all are undefined.
pub fn largest(values: impl Iterator<Item = f64>) -> f64 {
    values.fold(f64::NAN, f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn small_angles_are_as_exact_as_large_ones() {
        for i in 0..=1000 {
            let t = SMALL_TANGENT * f64::from(i) / 1000.0;
            let exact = t.atan();
            assert!(
                (small_angle(t) - exact).abs() <= 2.0 * f64::EPSILON * exact,
                "{t}"
            );
        }
    }
}
