//! Samples about poles by tables: what the general way makes of unit points, kept by valence.
//!
//! Where nothing is sharp, the samples of a level-one quad depend linearly on the `2 n + 2 m` points
//! about it, `n` being the valence of its cage vertex and `m` the number of sides of its cage
//! face; its other two corners, on edges, are regular. So the weights are found once per pair
//! (n, m), by sending unit points through [`QuadNeighbourhood::descend`], and every quad of that
//! pair is one small matrix product, an order of magnitude faster than the descent itself.

use std::sync::OnceLock;

use pulp::Arch;

use super::lanes::{self, SampleColumns, padded};
use super::patch::{Leaf, LevelWeights, QuadCorner, QuadNeighbourhood, Samples};
use super::ring::Ring;
use super::spline::{self, GridWindow};
use crate::mesh::Vec3;

/// Valence and number of sides up to which tables are kept.
pub const STENCIL_VALENCE_MAX: usize = 12;

/// Levels below the first up to which tables are kept: with each the table grows fourfold and the
/// descent's share of the work shrinks, and past three it no longer fits the cache.
pub const STENCIL_LEVELS_MAX: usize = 3;

/// Weights of all samples of one kind of level-one quad.
#[derive(Debug)]
pub struct Stencil {
    /// Samples, rounded up to whole lanes; the last is repeated.
    pub samples: usize,
    /// Point by point, columns of `samples` weights: position and, for limit samples, two tangents.
    pub weights: Vec<f64>,
}

impl Stencil {
    /// Samples the quad of the given points. Returns whether the normals, if asked for, can be
    /// trusted: see [`lanes::sample_stencil`].
    pub fn apply(
        &self,
        arch: Arch,
        points: &[Vec3],
        with_normals: bool,
        out: &mut SampleColumns,
    ) -> bool {
        lanes::sample_stencil(arch, points, &self.weights, self.samples, with_normals, out)
    }
}

/// The tables for one level and kind of samples, each made when first asked for.
#[derive(Debug)]
pub struct Stencils {
    levels: usize,
    samples: Samples,
    tables: Vec<OnceLock<Stencil>>,
}

impl Stencils {
    /// Tables for quads split `levels` more times.
    pub fn new(levels: usize, samples: Samples) -> Self {
        let count = (STENCIL_VALENCE_MAX + 1) * (STENCIL_VALENCE_MAX + 1);
        Self {
            levels,
            samples,
            tables: (0..count).map(|_| OnceLock::new()).collect(),
        }
    }

    /// Whether tables are kept for so many levels.
    pub fn are_kept(&self) -> bool {
        self.levels <= STENCIL_LEVELS_MAX
    }

    /// The table for cage vertices of some valence in faces of some number of sides, both from 3
    /// to [`STENCIL_VALENCE_MAX`]; `None` beyond.
    pub fn get(&self, kind: (usize, usize), weights: &LevelWeights) -> Option<&Stencil> {
        let (valence, sides) = kind;
        let table = self
            .tables
            .get(valence * (STENCIL_VALENCE_MAX + 1) + sides)?;
        Some(table.get_or_init(|| self.make(valence, sides, weights)))
    }

    fn make(&self, valence: usize, sides: usize, weights: &LevelWeights) -> Stencil {
        let side = (1 << self.levels) + 1;
        let samples = padded(side * side);
        let rows = unit_rows(valence, sides, |quad| {
            let columns = self.linear_samples(&quad, weights);
            let columns = columns.into_iter().map(|mut column| {
                let last = column.last().copied().unwrap_or_default();
                column.resize(samples, last);
                column
            });
            columns.flatten().collect()
        });
        Stencil {
            samples,
            weights: rows.concat(),
        }
    }

    /// Positions and, for limit samples, two tangents of a smooth quad, row by row.
    fn linear_samples(&self, quad: &QuadNeighbourhood, weights: &LevelWeights) -> Vec<Vec<Vec3>> {
        let stride = (1 << self.levels) + 1;
        let mut out = vec![vec![Vec3::zeros(); stride * stride]; quantities(self.samples)];
        quad.descend(self.levels, stride, 0, &mut |leaf| match leaf {
            Leaf::Patch {
                points,
                levels,
                start,
            } => {
                let w = weights.at(levels);
                let (value, slope) = match self.samples {
                    Samples::Refined => (&w.refined, &w.refined),
                    Samples::Limit => (&w.limit, &w.derivative),
                };
                let ways = [(value, value), (slope, value), (value, slope)];
                for (column, (u, v)) in out.iter_mut().zip(ways) {
                    spline::tensor(points, u, v, column, GridWindow { start, stride });
                }
            }
            Leaf::Corners { quad, start } => {
                for (corner, offset) in quad.corners.iter().zip([0, 1, stride + 1, stride]) {
                    let at = start + offset;
                    if self.samples == Samples::Refined {
                        out[0][at] = corner.ring.center;
                        continue;
                    }
                    let limit = corner.ring.limit(corner.at);
                    out[0][at] = limit.position;
                    [out[1][at], out[2][at]] = limit.tangents.unwrap_or_default();
                }
            }
        });
        out
    }
}

/// Number of weights per point and sample.
fn quantities(samples: Samples) -> usize {
    match samples {
        Samples::Refined => 1,
        Samples::Limit => 3,
    }
}

/// What depends linearly on the points about a quad, as weights of these points: one row per point, in
/// the order of [`quad_of`], as long as what `values` gives, which must always be as much.
pub fn unit_rows(
    valence: usize,
    sides: usize,
    mut values: impl FnMut(QuadNeighbourhood) -> Vec<Vec3>,
) -> Vec<Vec<f64>> {
    let points = 2 * (valence + sides);
    let mut rows = Vec::with_capacity(points);
    for first in (0..points).step_by(3) {
        // Coordinates don't mix: each carries a unit point of its own.
        let unit = |i: usize, k: usize| f64::from(u8::from(i == first + k));
        let units: Vec<Vec3> = (0..points)
            .map(|i| Vec3::new(unit(i, 0), unit(i, 1), unit(i, 2)))
            .collect();
        let values = values(quad_of(valence, sides, &units));
        let coordinates = 0..3.min(points - first);
        rows.extend(coordinates.map(|k| values.iter().map(|value| value[k]).collect()));
    }
    rows
}

/// The quad whose points are given in the order of
/// [`Surface::stencil_points`](super::surface::Surface::stencil_points).
pub fn quad_of(valence: usize, sides: usize, points: &[Vec3]) -> QuadNeighbourhood {
    let (vertex, rest) = points.split_at(2 * valence + 1);
    let (face_edges, rest) = rest.split_at(sides - 2);
    let (face_vertices, beyond) = rest.split_at(sides - 1);
    let (spokes, diagonals) = vertex[1..].split_at(valence);
    let ring = |center: Vec3, spokes: &[Vec3], diagonals: &[Vec3], at: usize| QuadCorner {
        ring: Ring {
            center,
            spokes: spokes.into(),
            diagonals: diagonals.into(),
            ..Ring::default()
        },
        at,
    };
    let (own, face) = (vertex[0], diagonals[0]);
    let next_edge = face_edges[0];
    let before_edge = face_edges[sides - 3];
    let last_face_vertex = face_vertices[sides - 2];
    let after_side = [
        ring(
            spokes[0],
            &[face_vertices[0], face, own, diagonals[valence - 1]],
            &[next_edge, spokes[1], spokes[valence - 1], beyond[0]],
            1,
        ),
        ring(
            spokes[1],
            &[own, face, last_face_vertex, diagonals[1]],
            &[spokes[0], before_edge, beyond[1], spokes[2]],
            0,
        ),
    ];
    let mut face_spokes = vec![spokes[1], spokes[0]];
    face_spokes.extend(face_edges);
    let mut face_diagonals = vec![own];
    face_diagonals.extend(face_vertices);
    let [first_side, last_side] = after_side;
    QuadNeighbourhood {
        corners: [
            ring(own, spokes, diagonals, 0),
            first_side,
            ring(face, &face_spokes, &face_diagonals, 0),
            last_side,
        ],
    }
}
