//! Robust fits of polynomial height fields to limit points and normals.
//!
//! Local height fields: Cazals & Pouget, Estimating differential quantities using polynomial
//! fitting of osculating jets, 2005. Reweighting: Holland & Welsch, Robust regression using
//! iteratively reweighted least-squares, 1977; the weight is the square of Geman & McClure's.

use nalgebra::{SMatrix, SVector};

use crate::measure::samples::Sample;
use crate::mesh::Vec3;

/// Terms of a quadratic height field.
pub(super) const QUADRIC: usize = 6;

/// Terms of a cubic height field.
pub(super) const CUBIC: usize = 10;

/// Points that a fit needs at least: with three equations each they outnumber the terms.
const POINTS_MIN: usize = 5;

/// Part of the total weight that is added to the diagonal, so that directions which the points
/// leave open stay near 0 and rounding is magnified a million times at most.
const RIDGE: f64 = 1e-6;

/// Share of the ridge that each coefficient takes: with these the penalty is the same whichever way
/// the axes of the tangent plane point.
const RIDGE_SHARES: [f64; CUBIC] = {
    let third = 1.0 / 3.0;
    [1.0, 1.0, 1.0, 1.0, 0.5, 1.0, 1.0, third, third, 1.0]
};

/// Least cosine of a normal to the frame's axis for its slope to count.
const SLOPE_COSINE_MIN: f64 = 0.2;

/// Least length of the sum of unit normals for it to point anywhere.
const AXIS_LENGTH_MIN: f64 = 1e-3;

/// Distance, in mean edge lengths, at which a point counts 1/e of one at the middle.
const REACH: f64 = 3.0;

/// Residual at which a point counts a quarter: the tangent of 4 degrees.
const RESIDUAL_SCALE: f64 = 0.069_926_811_943_510_41;

/// Fits, each weighted by the residuals of the one before.
const PASSES: usize = 5;

/// A place's own frame: tangent plane, mean normal, and unit of length.
pub(super) struct Frame {
    origin: Vec3,
    axes: [Vec3; 3],
    unit: f64,
}

impl Frame {
    /// A frame at `origin` whose third axis is the mean of the `normals`; `None` if they cancel.
    pub fn new(origin: Vec3, normals: impl Iterator<Item = Vec3>, unit: f64) -> Option<Self> {
        let axis = normals.sum::<Vec3>().try_normalize(AXIS_LENGTH_MIN)?;
        let x = Vec3::ith(axis.iamin(), 1.0).cross(&axis).normalize();
        Some(Self {
            origin,
            axes: [x, axis.cross(&x), axis],
            unit,
        })
    }

    fn place(&self, position: &Vec3) -> [f64; 3] {
        let offset = (position - self.origin) / self.unit;
        self.axes.map(|a| a.dot(&offset))
    }

    /// A sample in the frame.
    pub fn point(&self, sample: &Sample) -> Point {
        let place = self.place(&sample.position);
        let [nx, ny, nz] = self.axes.map(|a| a.dot(&sample.normal));
        let distance_squared: f64 = place.iter().map(|x| x * x).sum();
        Point {
            place,
            slopes: (nz > SLOPE_COSINE_MIN).then(|| [-nx / nz, -ny / nz]),
            nearness: (-distance_squared / (REACH * REACH)).exp(),
        }
    }

    /// The normal of a height field at the place over or under `position`.
    pub fn normal_of<const N: usize>(&self, field: &[f64; N], position: &Vec3) -> Vec3 {
        let [_, p, q] = heights_and_slopes(field, &terms(&self.place(position)));
        self.axes[2] - self.axes[0] * p - self.axes[1] * q
    }
}

/// A sample in a frame.
#[derive(Clone, Copy)]
pub(super) struct Point {
    /// Place in the tangent plane and height over it, in the frame's unit.
    place: [f64; 3],
    /// Slopes along both axes, if the normal is not too steep.
    slopes: Option<[f64; 2]>,
    /// Weight by distance from the frame's origin.
    nearness: f64,
}

/// Values of the terms and of their derivatives along both axes: 1, x, y, x², xy, y², x³, ...
fn terms<const N: usize>(place: &[f64; 3]) -> [[f64; N]; 3] {
    let [x, y, _] = *place;
    let (xx, xy, yy) = (x * x, x * y, y * y);
    let all = [
        [1.0, x, y, xx, xy, yy, x * xx, x * xy, x * yy, y * yy],
        [0.0, 1.0, 0.0, 2.0 * x, y, 0.0, 3.0 * xx, 2.0 * xy, yy, 0.0],
        [0.0, 0.0, 1.0, 0.0, x, 2.0 * y, 0.0, xx, 2.0 * xy, 3.0 * yy],
    ];
    all.map(|row: [f64; CUBIC]| std::array::from_fn(|i| row[i]))
}

fn heights_and_slopes<const N: usize>(field: &[f64; N], terms: &[[f64; N]; 3]) -> [f64; 3] {
    terms.map(|row| row.iter().zip(field).map(|(a, b)| a * b).sum())
}

/// A height field of `N` terms ([`QUADRIC`] or [`CUBIC`]) through points: weighted least squares
/// over one height and two slope equations a point, in several passes in which what stands out
/// counts less. `None` for too few points.
pub(super) fn robust_fit<const N: usize>(points: &[Point]) -> Option<[f64; N]> {
    if points.len() < POINTS_MIN {
        return None;
    }
    let rows: Vec<[[f64; N]; 3]> = points.iter().map(|p| terms(&p.place)).collect();
    let mut weights: Vec<f64> = points.iter().map(|p| p.nearness).collect();
    let mut field = least_squares(points, &rows, &weights)?;
    for _ in 1..PASSES {
        for ((p, rows), weight) in points.iter().zip(&rows).zip(&mut weights) {
            *weight = p.nearness * trust(p, heights_and_slopes(&field, rows));
        }
        field = least_squares(points, &rows, &weights)?;
    }
    Some(field)
}

/// How far a point is believed whose height and slopes the field gives as `found`.
fn trust(p: &Point, found: [f64; 3]) -> f64 {
    let mut squared = (found[0] - p.place[2]).powi(2);
    if let Some([px, py]) = p.slopes {
        squared += (found[1] - px).powi(2) + (found[2] - py).powi(2);
    }
    (1.0 + squared / (RESIDUAL_SCALE * RESIDUAL_SCALE)).powi(-2)
}

fn least_squares<const N: usize>(
    points: &[Point],
    rows: &[[[f64; N]; 3]],
    weights: &[f64],
) -> Option<[f64; N]> {
    let mut matrix = [[0.0; N]; N];
    let mut right = [0.0; N];
    let mut add = |row: &[f64; N], wanted: f64, weight: f64| {
        for i in 0..N {
            let w = row[i] * weight;
            right[i] += w * wanted;
            for j in 0..N {
                matrix[i][j] += w * row[j];
            }
        }
    };
    for ((p, rows), &weight) in points.iter().zip(rows).zip(weights) {
        add(&rows[0], p.place[2], weight);
        if let Some(slopes) = p.slopes {
            add(&rows[1], slopes[0], weight);
            add(&rows[2], slopes[1], weight);
        }
    }
    let ridge = matrix[0][0] * RIDGE;
    for i in 0..N {
        matrix[i][i] += ridge * RIDGE_SHARES[i];
    }
    let matrix = SMatrix::<f64, N, N>::from_fn(|i, j| matrix[i][j]);
    let solved = matrix.cholesky()?.solve(&SVector::from(right));
    Some(solved.into())
}
