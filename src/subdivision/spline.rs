//! Uniform bicubic B-spline patches, evaluated on dyadic grids by tensor product.

use super::ring::unit_normal;
use crate::mesh::Vec3;

/// The 4 × 4 control points of a bicubic patch; `points[b][a]` with `a` along u and `b` along v.
/// The patch covers the quad of `points[1..=2][1..=2]`.
pub type PatchPoints = [[Vec3; 4]; 4];

/// Weights of four consecutive control points.
pub type Weights = [f64; 4];

/// The four cubic B-spline functions at `t` in [0, 1].
#[inline]
pub fn basis(t: f64) -> Weights {
    /// Multiplying takes a fraction of the time of dividing.
    const SIXTH: f64 = 1.0 / 6.0;
    let s = 1.0 - t;
    [
        s * s * s * SIXTH,
        ((0.5 * t - 1.0) * t * t) + 4.0 * SIXTH,
        ((0.5 * s - 1.0) * s * s) + 4.0 * SIXTH,
        t * t * t * SIXTH,
    ]
}

/// Their first derivatives.
#[inline]
pub fn basis_derivative(t: f64) -> Weights {
    let s = 1.0 - t;
    [
        -s * s * 0.5,
        (1.5 * t - 2.0) * t,
        (2.0 - 1.5 * s) * s,
        t * t * 0.5,
    ]
}

/// Their second derivatives.
#[inline]
pub fn basis_second_derivative(t: f64) -> Weights {
    let s = 1.0 - t;
    [s, 3.0 * t - 2.0, 3.0 * s - 2.0, t]
}

/// Weights on the grid of parameters `i / 2^level`, `i` from 0 to `2^level`.
#[derive(Debug, Clone)]
pub struct DyadicWeights {
    /// Control points of the `level`-fold refined spline.
    pub refined: Vec<Weights>,
    /// Limit positions.
    pub limit: Vec<Weights>,
    /// First derivatives.
    pub derivative: Vec<Weights>,
}

impl DyadicWeights {
    /// The weights for `level` halvings, by refining unit control points (Lane & Riesenfeld's
    /// midpoint rule for degree 3: even points (1, 6, 1) / 8, odd points (1, 1) / 2) and by the
    /// closed form of the basis.
    pub fn new(level: usize) -> Self {
        let side = 1usize << level;
        let parameters = || (0..=side).map(|i| i as f64 / side as f64);
        Self {
            refined: refined_weights(level),
            limit: parameters().map(basis).collect(),
            derivative: parameters().map(basis_derivative).collect(),
        }
    }
}

fn refined_weights(level: usize) -> Vec<Weights> {
    let unit = |k: usize| std::array::from_fn(|i| f64::from(u8::from(i == k)));
    let mut rows: Vec<Weights> = (0..4).map(unit).collect();
    for _ in 0..level {
        let midpoint = |i: usize| std::array::from_fn(|k| (rows[i][k] + rows[i + 1][k]) / 2.0);
        let smooth = |i: usize| {
            std::array::from_fn(|k| (rows[i - 1][k] + 6.0 * rows[i][k] + rows[i + 1][k]) / 8.0)
        };
        let mut finer = vec![midpoint(0)];
        for i in 1..rows.len() - 1 {
            finer.push(smooth(i));
            finer.push(midpoint(i));
        }
        rows = finer;
    }
    rows[1..rows.len() - 1].to_vec()
}

/// A window onto a grid of samples: `stride` entries from row to row, starting at `start`.
#[derive(Debug, Clone, Copy)]
pub struct GridWindow {
    /// Index of the window's first sample.
    pub start: usize,
    /// Distance between samples above each other.
    pub stride: usize,
}

/// Tensor product of `along_u` and `along_v` with the control points, written into `out`.
pub fn tensor(
    points: &PatchPoints,
    along_u: &[Weights],
    along_v: &[Weights],
    out: &mut [Vec3],
    window: GridWindow,
) {
    for (i, wu) in along_u.iter().enumerate() {
        let column: [Vec3; 4] = std::array::from_fn(|b| weigh(&points[b], wu));
        for (j, wv) in along_v.iter().enumerate() {
            out[window.start + j * window.stride + i] = weigh(&column, wv);
        }
    }
}

#[inline(always)]
fn weigh(points: &[Vec3; 4], w: &Weights) -> Vec3 {
    points[0] * w[0] + points[1] * w[1] + points[2] * w[2] + points[3] * w[3]
}

/// Limit positions and unit normals on the dyadic grid; a normal is `None`-like (zero) where the
/// two tangents are parallel.
pub fn limit_grid(
    points: &PatchPoints,
    weights: &DyadicWeights,
    positions: &mut [Vec3],
    normals: &mut [Vec3],
    window: GridWindow,
) {
    for i in 0..weights.limit.len() {
        let column: [Vec3; 4] = std::array::from_fn(|b| weigh(&points[b], &weights.limit[i]));
        let slope: [Vec3; 4] = std::array::from_fn(|b| weigh(&points[b], &weights.derivative[i]));
        for j in 0..weights.limit.len() {
            let at = window.start + j * window.stride + i;
            positions[at] = weigh(&column, &weights.limit[j]);
            let du = weigh(&slope, &weights.limit[j]);
            let dv = weigh(&column, &weights.derivative[j]);
            normals[at] = fast_normal(du, dv);
        }
    }
}

/// Squared length of a cross product (at model size 1) above which it has full accuracy.
pub(crate) const PLAIN_THRESHOLD: f64 = 1e-24;

/// The unit normal; where the plain cross product is too small to trust, by the careful way. Zero
/// where there is none.
#[inline(always)]
pub fn fast_normal(du: Vec3, dv: Vec3) -> Vec3 {
    let cross = du.cross(&dv);
    let squared = cross.norm_squared();
    if squared > PLAIN_THRESHOLD {
        cross * squared.sqrt().recip()
    } else {
        unit_normal(du, dv).unwrap_or_default()
    }
}

/// Position and derivatives of a patch at one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Derivatives {
    /// Position.
    pub position: Vec3,
    /// First derivatives along u and v.
    pub first: [Vec3; 2],
    /// Second derivatives: uu, uv, vv.
    pub second: [Vec3; 3],
}

impl Derivatives {
    /// The same by parameters that run `factor` times as slowly: those of a quad that the patch
    /// takes `1 / factor` of each way.
    pub fn rescaled(&self, factor: f64) -> Self {
        Self {
            position: self.position,
            first: self.first.map(|d| d * factor),
            second: self.second.map(|d| d * (factor * factor)),
        }
    }
}

/// Evaluates a patch and its first and second derivatives at (`u`, `v`) in the unit square.
///
/// The rows of control points are summed up first, each as one run of twelve numbers, so that the
/// compiler takes on several at a time.
#[inline]
pub fn evaluate(points: &PatchPoints, u: f64, v: f64) -> Derivatives {
    let [u0, u1, u2] = [basis(u), basis_derivative(u), basis_second_derivative(u)];
    let along_v = [basis(v), basis_derivative(v), basis_second_derivative(v)];
    let rows = points.each_ref().map(flat);
    let [value, slope, bend] = along_v.map(|w| sum_of_rows(&rows, &w));
    Derivatives {
        position: sum_of_points(&value, &u0),
        first: [sum_of_points(&value, &u1), sum_of_points(&slope, &u0)],
        second: [
            sum_of_points(&value, &u2),
            sum_of_points(&slope, &u1),
            sum_of_points(&bend, &u0),
        ],
    }
}

/// The curve of constant u on a patch, with what its neighbours of other u differ by: made once,
/// it is evaluated at many v.
#[derive(Debug, Clone, Copy)]
pub struct Section {
    /// Control points along v of the curve, and of its first and second derivatives by u.
    columns: [[Vec3; 4]; 3],
}

impl Section {
    /// The section of a patch at `u` in [0, 1].
    pub fn new(points: &PatchPoints, u: f64) -> Self {
        let along_u = [basis(u), basis_derivative(u), basis_second_derivative(u)];
        Self {
            columns: along_u.map(|w| points.each_ref().map(|row| weigh(row, &w))),
        }
    }

    /// The patch and its derivatives at `v` in [0, 1].
    pub fn at(&self, v: f64) -> Derivatives {
        let [v0, v1, v2] = [basis(v), basis_derivative(v), basis_second_derivative(v)];
        let [value, slope, bend] = &self.columns;
        Derivatives {
            position: weigh(value, &v0),
            first: [weigh(slope, &v0), weigh(value, &v1)],
            second: [weigh(bend, &v0), weigh(slope, &v1), weigh(value, &v2)],
        }
    }
}

/// Four points, coordinate by coordinate.
type FlatRow = [f64; 12];

#[inline(always)]
fn flat(row: &[Vec3; 4]) -> FlatRow {
    std::array::from_fn(|i| row[i / 3][i % 3])
}

#[inline(always)]
fn sum_of_rows(rows: &[FlatRow; 4], w: &Weights) -> FlatRow {
    std::array::from_fn(|i| {
        rows[0][i] * w[0] + rows[1][i] * w[1] + rows[2][i] * w[2] + rows[3][i] * w[3]
    })
}

#[inline(always)]
fn sum_of_points(row: &FlatRow, w: &Weights) -> Vec3 {
    Vec3::from_fn(|k, _| row[k] * w[0] + row[k + 3] * w[1] + row[k + 6] * w[2] + row[k + 9] * w[3])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn weights_sum_to_one_and_derivative_weights_to_zero() {
        for level in 0..6 {
            let w = DyadicWeights::new(level);
            assert_eq!(w.refined.len(), (1 << level) + 1);
            let sum = |w: &Weights| w.iter().sum::<f64>();
            assert!(w.refined.iter().all(|w| (sum(w) - 1.0).abs() < 1e-15));
            assert!(w.limit.iter().all(|w| (sum(w) - 1.0).abs() < 1e-15));
            assert!(w.derivative.iter().all(|w| sum(w).abs() < 1e-15));
        }
    }

    #[test]
    fn refined_control_points_have_the_limit_that_the_spline_has_there() {
        // The limit mask (1, 4, 1) / 6 of three neighbouring refined points is the spline itself.
        let w = DyadicWeights::new(3);
        for i in 1..8 {
            for k in 0..4 {
                let mask =
                    (w.refined[i - 1][k] + 4.0 * w.refined[i][k] + w.refined[i + 1][k]) / 6.0;
                assert!((mask - w.limit[i][k]).abs() < 1e-15);
            }
        }
    }
}
