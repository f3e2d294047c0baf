//! What all measures read: the surface, its limit samples, and plain geometry of the cage.

use std::sync::OnceLock;

use rayon::prelude::*;

use super::abreast::PLACES;
use super::edge_figures::EdgeFigures;
use super::loop_deviation::LoopAngles;
use super::quality;
use super::samples::LimitSamples;
use super::spokes::Spokes;
use crate::limit::Fillets;
use crate::mesh::{MirrorMap, Topology, Vec3, face_areas};
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
        let topology = control.topology();
        // The spokes are gathered by one thread.
        let (spokes, (limit, face_areas, fillets)) = rayon::join(
            || Spokes::new(topology),
            || {
                let limit = LimitSamples::new(surface);
                let face_areas = face_areas(topology, control.positions());
                let fillets = Fillets::between_faces(surface, &face_areas);
                (limit, face_areas, fillets)
            },
        );
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
            fillets,
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
        in_columns(self.topology().vertex_count(), |v| {
            if self.topology().is_unreferenced(v) {
                [f64::NAN; N]
            } else {
                values(v)
            }
        })
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

/// Several values per index that are found together, in parallel: one column each.
pub(crate) fn in_columns<T: Copy + Default + PartialEq + Send, const N: usize>(
    count: usize,
    values: impl Fn(usize) -> [T; N] + Sync + Send,
) -> [Vec<T>; N] {
    /// Indices that one parallel task takes on.
    const TASK_LENGTH: usize = 1024;
    // Zeros come from the system as they are: their pages are first touched by the tasks.
    let mut columns: [Vec<T>; N] = std::array::from_fn(|_| vec![T::default(); count]);
    let mut parts: Vec<[&mut [T]; N]> = Vec::with_capacity(count.div_ceil(TASK_LENGTH));
    let mut chunks = columns.each_mut().map(|c| c.chunks_mut(TASK_LENGTH));
    for _ in 0..count.div_ceil(TASK_LENGTH) {
        parts.push(chunks.each_mut().map(|c| c.next().unwrap_or_default()));
    }
    parts.into_par_iter().enumerate().for_each(|(i, mut part)| {
        let first = i * TASK_LENGTH;
        for v in first..(first + TASK_LENGTH).min(count) {
            let row = values(v);
            // Zeros are there already: a page of nothing else is never touched.
            if row != [T::default(); N] {
                for (column, x) in part.iter_mut().zip(row) {
                    column[v - first] = x;
                }
            }
        }
    });
    columns
}

/// One value per index, in parallel, each four found together; the last index is repeated to fill up.
pub(crate) fn by_fours<T: Send>(
    count: usize,
    values: impl Fn([usize; PLACES]) -> [T; PLACES] + Sync + Send,
) -> Vec<T> {
    /// Fours that one parallel task takes on at least.
    const TASK_LENGTH: usize = 128;
    let fours = (0..count.div_ceil(PLACES)).into_par_iter();
    let fours = fours.with_min_len(TASK_LENGTH).map(|i| {
        let indices = std::array::from_fn(|k| (PLACES * i + k).min(count - 1));
        values(indices)
    });
    let mut all = fours.collect::<Vec<_>>().into_flattened();
    all.truncate(count);
    all
}

/// The largest of some values; NaN if there is none or all are undefined.
pub fn largest(values: impl Iterator<Item = f64>) -> f64 {
    values.fold(f64::NAN, f64::max)
}
