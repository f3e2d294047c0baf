//! The two inner loops of refinement, on several samples at a time.
//!
//! Samples lie in columns, one per coordinate ([`SampleColumns`]), so that one instruction takes on
//! as many neighbouring samples as the processor has lanes: found out when the program runs, by
//! `pulp`. Every lane does the same plain multiplications and additions in the same order, never
//! fused ones, so that the results are the same on every processor.

use std::ops::Range;

use pulp::{Arch, Scalar, Simd, WithSimd};

use super::spline::{DyadicWeights, PLAIN_THRESHOLD, PatchPoints, Weights};
use crate::mesh::Vec3;

/// Columns are padded to a multiple of this, the widest lanes in use.
const PADDING: usize = 4;

/// `count` rounded up to whole lanes.
pub fn padded(count: usize) -> usize {
    count.next_multiple_of(PADDING)
}

/// Positions and unit normals of a run of samples, one column per coordinate.
#[derive(Debug, Clone, Default)]
pub struct SampleColumns {
    /// x, y and z, in the control mesh's frame.
    pub positions: [Vec<f64>; 3],
    /// x, y and z of the unit limit normals; zero where there is none.
    pub normals: [Vec<f64>; 3],
}

impl SampleColumns {
    /// Makes room for `count` samples, padding included. What they hold is of no account.
    pub fn resize(&mut self, count: usize) {
        for column in self.positions.iter_mut().chain(&mut self.normals) {
            column.resize(padded(count), 0.0);
        }
    }

    /// Sets one sample.
    pub fn set(&mut self, at: usize, position: Vec3, normal: Vec3) {
        for k in 0..3 {
            self.positions[k][at] = position[k];
            self.normals[k][at] = normal[k];
        }
    }

    /// The position of one sample.
    #[inline]
    pub fn position(&self, at: usize) -> Vec3 {
        let [x, y, z] = &self.positions;
        Vec3::new(x[at], y[at], z[at])
    }

    /// The normal of one sample.
    #[inline]
    pub fn normal(&self, at: usize) -> Vec3 {
        let [x, y, z] = &self.normals;
        Vec3::new(x[at], y[at], z[at])
    }
}

/// Weights along u as columns, one per control point. Padding repeats the last sample, so that
/// it never looks degenerate where the samples don't.
#[derive(Debug, Clone)]
pub struct WeightColumns {
    value: [Vec<f64>; 4],
    slope: [Vec<f64>; 4],
}

impl WeightColumns {
    /// The columns of refined control points: there is no slope to ask for.
    pub fn refined(weights: &DyadicWeights) -> Self {
        Self {
            value: columns(&weights.refined),
            slope: columns(&weights.refined),
        }
    }

    /// The columns of limit positions and derivatives.
    pub fn limit(weights: &DyadicWeights) -> Self {
        Self {
            value: columns(&weights.limit),
            slope: columns(&weights.derivative),
        }
    }
}

fn columns(weights: &[Weights]) -> [Vec<f64>; 4] {
    std::array::from_fn(|a| pad(weights.iter().map(|w| w[a])))
}

/// Collects values and repeats the last one up to whole lanes.
pub fn pad(values: impl Iterator<Item = f64>) -> Vec<f64> {
    let mut column: Vec<f64> = values.collect();
    let last = column.last().copied().unwrap_or_default();
    column.resize(padded(column.len()), last);
    column
}

/// What to sample of a bicubic patch: a window onto a dyadic grid.
pub struct PatchSampler<'a> {
    /// The control points.
    pub points: &'a PatchPoints,
    /// Weights along u.
    pub along_u: &'a WeightColumns,
    /// Weights along v: of values, and of derivatives if normals are wanted.
    pub along_v: (&'a [Weights], Option<&'a [Weights]>),
    /// The columns wanted. As many more as fill the lanes are sampled too.
    pub columns: Range<usize>,
    /// The rows wanted.
    pub rows: Range<usize>,
}

impl PatchSampler<'_> {
    /// Samples the window into its place in the grid, whose rows are [`padded`].
    ///
    /// Returns whether all normals can be trusted: not where the two derivatives are parallel, or
    /// so short that rounding shows.
    pub fn sample(self, arch: Arch, out: &mut SampleColumns) -> bool {
        arch.dispatch(PatchKernel { sampler: self, out })
    }
}

struct PatchKernel<'a> {
    sampler: PatchSampler<'a>,
    out: &'a mut SampleColumns,
}

impl WithSimd for PatchKernel<'_> {
    type Output = bool;

    /// First along u: for each run of lanes the four control points of the curve across, and of its
    /// slope; then along v, down the rows.
    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> bool {
        if S::F64_LANES > PADDING {
            return self.with_simd(Scalar);
        }
        let PatchSampler {
            points,
            along_u,
            along_v: (values, derivatives),
            columns,
            rows,
        } = self.sampler;
        let mut out = ColumnLanes::<S>::new(self.out);
        let runs = along_u.value[0].len() / S::F64_LANES;
        let mut smallest = simd.splat_f64s(f64::INFINITY);
        for run in columns.start / S::F64_LANES..columns.end.div_ceil(S::F64_LANES) {
            let curve = weigh_points(simd, points, &along_u.value, run);
            let slope = weigh_points(simd, points, &along_u.slope, run);
            for row in rows.clone() {
                let at = row * runs + run;
                out.set_positions(at, weigh_curve(simd, &curve, &values[row]));
                if let Some(derivatives) = derivatives {
                    let along_u = weigh_curve(simd, &slope, &values[row]);
                    let along_v = weigh_curve(simd, &curve, &derivatives[row]);
                    let (normal, squared) = unit_normals(simd, along_u, along_v);
                    out.set_normals(at, normal);
                    smallest = simd.min_f64s(smallest, squared);
                }
            }
        }
        simd.reduce_min_f64s(smallest) > PLAIN_THRESHOLD
    }
}

/// A run of lanes of the four control points of a curve: by coordinate, then by point.
pub(crate) type CurveLanes<L> = [[L; 4]; 3];

#[inline(always)]
fn weigh_points<S: Simd>(
    simd: S,
    points: &PatchPoints,
    weights: &[Vec<f64>; 4],
    run: usize,
) -> CurveLanes<S::f64s> {
    let mut w = [simd.splat_f64s(0.0); 4];
    for a in 0..4 {
        w[a] = S::as_simd_f64s(&weights[a]).0[run];
    }
    let mut curve = [[simd.splat_f64s(0.0); 4]; 3];
    for k in 0..3 {
        for b in 0..4 {
            let row = &points[b];
            let mut sum = simd.mul_f64s(simd.splat_f64s(row[0][k]), w[0]);
            for a in 1..4 {
                sum = simd.add_f64s(sum, simd.mul_f64s(simd.splat_f64s(row[a][k]), w[a]));
            }
            curve[k][b] = sum;
        }
    }
    curve
}

/// The point of a curve that has the given weights.
#[inline(always)]
pub(crate) fn weigh_curve<S: Simd>(
    simd: S,
    curve: &CurveLanes<S::f64s>,
    w: &Weights,
) -> [S::f64s; 3] {
    let mut out = [simd.splat_f64s(0.0); 3];
    for k in 0..3 {
        let mut sum = simd.mul_f64s(curve[k][0], simd.splat_f64s(w[0]));
        for b in 1..4 {
            sum = simd.add_f64s(sum, simd.mul_f64s(curve[k][b], simd.splat_f64s(w[b])));
        }
        out[k] = sum;
    }
    out
}

/// Unit normals from two tangents, and the squared lengths of their cross products.
#[inline(always)]
fn unit_normals<S: Simd>(
    simd: S,
    [ax, ay, az]: [S::f64s; 3],
    [bx, by, bz]: [S::f64s; 3],
) -> ([S::f64s; 3], S::f64s) {
    let x = simd.sub_f64s(simd.mul_f64s(ay, bz), simd.mul_f64s(az, by));
    let y = simd.sub_f64s(simd.mul_f64s(az, bx), simd.mul_f64s(ax, bz));
    let z = simd.sub_f64s(simd.mul_f64s(ax, by), simd.mul_f64s(ay, bx));
    let squared = simd.add_f64s(
        simd.add_f64s(simd.mul_f64s(x, x), simd.mul_f64s(y, y)),
        simd.mul_f64s(z, z),
    );
    let scale = simd.div_f64s(simd.splat_f64s(1.0), simd.sqrt_f64s(squared));
    let normal = [
        simd.mul_f64s(x, scale),
        simd.mul_f64s(y, scale),
        simd.mul_f64s(z, scale),
    ];
    (normal, squared)
}

/// Adds up weighted points for many samples at once.
///
/// `weights` holds, point by point, one column of `samples` (whole lanes) for the position and,
/// if normals are asked for, one each for two tangents. Returns as [`PatchSampler::sample`].
pub fn sample_stencil(
    arch: Arch,
    points: &[Vec3],
    weights: &[f64],
    samples: usize,
    with_normals: bool,
    out: &mut SampleColumns,
) -> bool {
    arch.dispatch(StencilKernel {
        points,
        weights,
        samples,
        with_normals,
        out,
    })
}

struct StencilKernel<'a> {
    points: &'a [Vec3],
    weights: &'a [f64],
    samples: usize,
    with_normals: bool,
    out: &'a mut SampleColumns,
}

impl WithSimd for StencilKernel<'_> {
    type Output = bool;

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> bool {
        if S::F64_LANES > PADDING {
            return self.with_simd(Scalar);
        }
        let mut out = ColumnLanes::<S>::new(self.out);
        let weights = S::as_simd_f64s(self.weights).0;
        let runs = self.samples / S::F64_LANES;
        let mut smallest = simd.splat_f64s(f64::INFINITY);
        for run in 0..runs {
            if self.with_normals {
                let [position, a, b] = weigh_stencil::<S, 3>(simd, self.points, weights, runs, run);
                let (normal, squared) = unit_normals(simd, a, b);
                out.set_positions(run, position);
                out.set_normals(run, normal);
                smallest = simd.min_f64s(smallest, squared);
            } else {
                let [position] = weigh_stencil::<S, 1>(simd, self.points, weights, runs, run);
                out.set_positions(run, position);
            }
        }
        simd.reduce_min_f64s(smallest) > PLAIN_THRESHOLD
    }
}

/// The sums of `Q` quantities (position, tangents) over all points, for one run of lanes.
#[inline(always)]
fn weigh_stencil<S: Simd, const Q: usize>(
    simd: S,
    points: &[Vec3],
    weights: &[S::f64s],
    runs: usize,
    run: usize,
) -> [[S::f64s; 3]; Q] {
    let mut sums = [[simd.splat_f64s(0.0); 3]; Q];
    for (rows, point) in weights.chunks_exact(Q * runs).zip(points) {
        let mut coordinates = [simd.splat_f64s(0.0); 3];
        for k in 0..3 {
            coordinates[k] = simd.splat_f64s(point[k]);
        }
        for q in 0..Q {
            let w = rows[q * runs + run];
            for k in 0..3 {
                sums[q][k] = simd.add_f64s(sums[q][k], simd.mul_f64s(w, coordinates[k]));
            }
        }
    }
    sums
}

/// [`SampleColumns`] as lanes.
struct ColumnLanes<'a, S: Simd> {
    positions: [&'a mut [S::f64s]; 3],
    normals: [&'a mut [S::f64s]; 3],
}

impl<'a, S: Simd> ColumnLanes<'a, S> {
    #[inline(always)]
    fn new(columns: &'a mut SampleColumns) -> Self {
        let [px, py, pz] = &mut columns.positions;
        let [nx, ny, nz] = &mut columns.normals;
        Self {
            positions: [
                S::as_mut_simd_f64s(px).0,
                S::as_mut_simd_f64s(py).0,
                S::as_mut_simd_f64s(pz).0,
            ],
            normals: [
                S::as_mut_simd_f64s(nx).0,
                S::as_mut_simd_f64s(ny).0,
                S::as_mut_simd_f64s(nz).0,
            ],
        }
    }

    #[inline(always)]
    fn set_positions(&mut self, at: usize, value: [S::f64s; 3]) {
        let [x, y, z] = &mut self.positions;
        [x[at], y[at], z[at]] = value;
    }

    #[inline(always)]
    fn set_normals(&mut self, at: usize, value: [S::f64s; 3]) {
        let [x, y, z] = &mut self.normals;
        [x[at], y[at], z[at]] = value;
    }
}
