//! What all measures read: the surface, its limit samples, and plain geometry of the cage.

use std::sync::OnceLock;

use pulp::{Arch, Simd, WithSimd};
use rayon::prelude::*;

use super::abreast::{PLACES, Values, Vectors};
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
pub(crate) fn in_columns<const N: usize>(
    count: usize,
    values: impl Fn(usize) -> [f64; N] + Sync + Send,
) -> [Vec<f64>; N] {
    /// Indices that one parallel task takes on.
    const TASK_LENGTH: usize = 1024;
    // Zeros come from the system as they are: their pages are first touched by the tasks.
    let mut columns: [Vec<f64>; N] = std::array::from_fn(|_| vec![0.0; count]);
    let mut parts: Vec<[&mut [f64]; N]> = Vec::with_capacity(count.div_ceil(TASK_LENGTH));
    let mut chunks = columns.each_mut().map(|c| c.chunks_mut(TASK_LENGTH));
    for _ in 0..count.div_ceil(TASK_LENGTH) {
        parts.push(chunks.each_mut().map(|c| c.next().unwrap_or_default()));
    }
    parts.into_par_iter().enumerate().for_each(|(i, mut part)| {
        let first = i * TASK_LENGTH;
        for v in first..(first + TASK_LENGTH).min(count) {
            for (column, x) in part.iter_mut().zip(values(v)) {
                column[v - first] = x;
            }
        }
    });
    columns
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

/// What [`angle_deg`] says of four pairs of vectors: small angles are found abreast.
#[inline]
pub(crate) fn angles_deg(arch: Arch, pairs: [[&Vec3; 2]; PLACES]) -> [f64; PLACES] {
    let small = arch.dispatch(SmallAngles(&pairs)).0;
    std::array::from_fn(|k| match small[k].is_nan() {
        true => angle_deg(pairs[k][0], pairs[k][1]),
        false => small[k],
    })
}

/// What [`angle_deg`] says of many pairs of vectors, in parallel.
pub(crate) fn angles_of_pairs<'a>(
    count: usize,
    pair: impl Fn(usize) -> [&'a Vec3; 2] + Sync + Send,
) -> Vec<f64> {
    let arch = Arch::new();
    by_fours(count, |four| angles_deg(arch, four.map(&pair)))
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

/// The angles in degrees between vectors whose angle is small; NaN for others.
struct SmallAngles<'a>(&'a [[&'a Vec3; 2]; PLACES]);

impl WithSimd for SmallAngles<'_> {
    type Output = Values;

    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) -> Values {
        let [p, q, r, s] = self.0;
        let [a, b] = [0, 1].map(|i| Vectors::of([p[i], q[i], r[i], s[i]]));
        let (sine, cosine) = (a.cross(b).norm(), a.dot(b));
        let tangent = sine / cosine;
        let square = tangent * tangent;
        let sum = TERMS.into_iter().fold(Values::all(0.0), |sum, term| {
            Values::all(term) + sum * square
        });
        let limit = Values::all(SMALL_TANGENT) * cosine;
        let degrees = tangent * sum * Values::all(1f64.to_degrees());
        Values(std::array::from_fn(|k| match sine.0[k] < limit.0[k] {
            true => degrees.0[k],
            false => f64::NAN,
        }))
    }
}

/// Tangent up to which [`small_angle`] leaves nothing out that rounding would show: its next term is
/// 2e-18 of the first.
const SMALL_TANGENT: f64 = 0.125;

/// The arctangent's power series, its last term first.
const TERMS: [f64; 9] = [
    1.0 / 17.0,
    -1.0 / 15.0,
    1.0 / 13.0,
    -1.0 / 11.0,
    1.0 / 9.0,
    -1.0 / 7.0,
    1.0 / 5.0,
    -1.0 / 3.0,
    1.0,
];

/// The angle, in radians, with tangent `t` up to [`SMALL_TANGENT`], by the arctangent's power series.
#[inline]
fn small_angle(t: f64) -> f64 {
    let square = t * t;
    t * TERMS.iter().fold(0.0, |sum, term| term + sum * square)
}

/// The largest of some values; NaN if there is none or all are undefined.
pub fn largest(values: impl Iterator<Item = f64>) -> f64 {
    values.fold(f64::NAN, f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn angles_found_abreast_are_those_found_alone() {
        let vector = |i: usize| {
            let turn = (i * i) as f64 * 0.013;
            Vec3::new(turn.cos(), turn.sin(), (0.1 * turn).sin()) * (i % 17) as f64
        };
        let vectors: Vec<Vec3> = (0..202).map(vector).collect();
        let pair = |i: usize| [&vectors[i], &vectors[i + 1]];
        let abreast = angles_of_pairs(201, pair);
        for (i, angle) in abreast.iter().enumerate() {
            let alone = angle_deg(pair(i)[0], pair(i)[1]);
            assert_eq!(angle.to_bits(), alone.to_bits(), "{i}");
        }
    }

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
