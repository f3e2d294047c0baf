//! The larger principal curvature at the pattern's places of a regular quad, several at a time.
//!
//! A quad with four regular vertices is one bicubic patch, and the pattern ([`super::pattern`]) has
//! sixteen places in it on a grid. Its derivatives there are tensor products of fixed weights: along
//! u for all four columns at once, then along v row by row. As in refinement one instruction takes on
//! as many places as the processor has lanes, with plain multiplications and additions, never fused
//! ones, so that the results are the same on every processor.

use std::array::from_fn;
use std::sync::LazyLock;

use pulp::{Arch, Scalar, Simd, WithSimd};

use crate::subdivision::lanes::{CurveLanes, weigh_curve};
use crate::subdivision::spline::{
    PLAIN_THRESHOLD, PatchPoints, Weights, basis, basis_derivative, basis_second_derivative,
};

/// Places of the pattern in a quad along u and along v, as [`super::pattern`] has them.
const PLACES: [f64; 4] = [0.125, 0.375, 0.625, 0.875];

/// Weights of values, first and second derivatives at the places: by kind, place and control point.
static ALONG_V: LazyLock<[[Weights; 4]; 3]> = LazyLock::new(|| {
    [
        PLACES.map(basis),
        PLACES.map(basis_derivative),
        PLACES.map(basis_second_derivative),
    ]
});

/// The same by kind, control point and place.
static ALONG_U: LazyLock<[[[f64; 4]; 4]; 3]> =
    LazyLock::new(|| ALONG_V.map(|places| from_fn(|a| from_fn(|i| places[i][a]))));

/// For each corner of a regular quad the largest |k| over the pattern's four places in its quarter,
/// in 1 / length. `None` where rounding may show at one of the places, or there is no tangent plane.
pub fn corner_maxima(arch: Arch, points: &PatchPoints) -> Option<[f64; 4]> {
    let (places, smallest) = arch.dispatch(Kernel { points });
    let is_sound = smallest > PLAIN_THRESHOLD && places.iter().flatten().all(|k| k.is_finite());
    let quarter = |u: usize, v: usize| {
        let [low, high] = [&places[2 * v], &places[2 * v + 1]];
        low[2 * u]
            .max(low[2 * u + 1])
            .max(high[2 * u])
            .max(high[2 * u + 1])
    };
    is_sound.then(|| [quarter(0, 0), quarter(1, 0), quarter(1, 1), quarter(0, 1)])
}

struct Kernel<'a> {
    points: &'a PatchPoints,
}

impl WithSimd for Kernel<'_> {
    /// The larger principal curvature's size at the places, row by row, and the smallest square of
    /// the size of a cross product of both tangents.
    type Output = ([[f64; 4]; 4], f64);

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> Self::Output {
        if S::F64_LANES > PLACES.len() {
            return self.with_simd(Scalar);
        }
        let mut places = [[0.0; 4]; 4];
        let mut smallest = simd.splat_f64s(f64::INFINITY);
        let [v0, v1, v2] = &*ALONG_V;
        for run in 0..PLACES.len() / S::F64_LANES {
            let [value, slope, bend] = along_u(simd, self.points, run);
            for (row, places) in places.iter_mut().enumerate() {
                let (largest, squared) = largest_curvature(
                    simd,
                    [
                        weigh_curve(simd, &slope, &v0[row]),
                        weigh_curve(simd, &value, &v1[row]),
                    ],
                    [
                        weigh_curve(simd, &bend, &v0[row]),
                        weigh_curve(simd, &slope, &v1[row]),
                        weigh_curve(simd, &value, &v2[row]),
                    ],
                );
                S::as_mut_simd_f64s(places).0[run] = largest;
                smallest = simd.min_f64s(smallest, squared);
            }
        }
        (places, simd.reduce_min_f64s(smallest))
    }
}

/// The curves of constant u, and their first and second derivatives by u.
#[inline(always)]
fn along_u<S: Simd>(simd: S, points: &PatchPoints, run: usize) -> [CurveLanes<S::f64s>; 3] {
    let mut curves = [[[simd.splat_f64s(0.0); 4]; 3]; 3];
    for (curve, weights) in curves.iter_mut().zip(&*ALONG_U) {
        for (a, weights) in weights.iter().enumerate() {
            let w = S::as_simd_f64s(weights).0[run];
            for k in 0..3 {
                for b in 0..4 {
                    let part = simd.mul_f64s(simd.splat_f64s(points[b][a][k]), w);
                    curve[k][b] = simd.add_f64s(curve[k][b], part);
                }
            }
        }
    }
    curves
}

/// The larger principal curvature's size, and the square of |du × dv|.
///
/// As [`super::Curvature::of`]: the shape operator in the orthonormal tangents du / |du| and across,
/// in which dv is (F / √E, A / √E) with E = du·du, F = du·dv and A = |du × dv|.
#[inline(always)]
fn largest_curvature<S: Simd>(
    simd: S,
    [du, dv]: [[S::f64s; 3]; 2],
    second: [[S::f64s; 3]; 3],
) -> (S::f64s, S::f64s) {
    let mul = |a, b| simd.mul_f64s(a, b);
    let sub = |a, b| simd.sub_f64s(a, b);
    let add = |a, b| simd.add_f64s(a, b);
    let dot = |a: &[S::f64s; 3], b: &[S::f64s; 3]| {
        add(add(mul(a[0], b[0]), mul(a[1], b[1])), mul(a[2], b[2]))
    };
    let one = simd.splat_f64s(1.0);
    let half = simd.splat_f64s(0.5);
    let cross = [
        sub(mul(du[1], dv[2]), mul(du[2], dv[1])),
        sub(mul(du[2], dv[0]), mul(du[0], dv[2])),
        sub(mul(du[0], dv[1]), mul(du[1], dv[0])),
    ];
    let squared = dot(&cross, &cross);
    let inverse_area = simd.div_f64s(one, simd.sqrt_f64s(squared));
    let e = dot(&du, &du);
    let inverse_e = simd.div_f64s(one, e);
    let slant = mul(dot(&du, &dv), inverse_e);
    let [uu, uv, vv] = second;
    let [uu, uv, vv] = [
        mul(dot(&uu, &cross), inverse_area),
        mul(dot(&uv, &cross), inverse_area),
        mul(dot(&vv, &cross), inverse_area),
    ];
    let slanted = mul(slant, uu);
    let along = mul(uu, inverse_e);
    let rest = sub(add(uv, uv), slanted);
    let across = mul(
        mul(sub(vv, mul(rest, slant)), e),
        mul(inverse_area, inverse_area),
    );
    let twist = mul(sub(uv, slanted), inverse_area);
    let mean = mul(add(along, across), half);
    let half_difference = mul(sub(along, across), half);
    let spread = add(mul(half_difference, half_difference), mul(twist, twist));
    (add(simd.abs_f64s(mean), simd.sqrt_f64s(spread)), squared)
}
