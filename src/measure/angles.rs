//! Angles between vectors: of one pair, and of many pairs, four abreast.

use pulp::{Arch, Simd, WithSimd};
use rayon::prelude::*;

use super::abreast::{PLACES, Values, Vectors};
use crate::mesh::Vec3;

/// Angles that one parallel task takes on at least.
const TASK_LENGTH: usize = 512;

/// Tangent up to which [`small_angles`] leaves nothing out that rounding would show: the next term
/// is 2e-18 of the first.
const SMALL_TANGENT: f64 = 0.125;

/// Angle between two vectors in degrees, accurate for small angles too; NaN if one vanishes.
pub fn angle_deg(a: &Vec3, b: &Vec3) -> f64 {
    let (sine, cosine) = (a.cross(b).norm(), a.dot(b));
    if sine < SMALL_TANGENT * cosine {
        small_angle(sine / cosine).to_degrees()
    } else {
        large_angle(a, b, sine, cosine)
    }
}

/// The angle in degrees, by its sine and cosine times both lengths; NaN if a vector vanishes.
fn large_angle(a: &Vec3, b: &Vec3, sine: f64, cosine: f64) -> f64 {
    if *a == Vec3::zeros() || *b == Vec3::zeros() {
        f64::NAN
    } else {
        sine.atan2(cosine).to_degrees()
    }
}

/// What [`angle_deg`] says of `count` pairs, in parallel.
pub(crate) fn angles_deg(count: usize, pair: impl Fn(usize) -> [Vec3; 2] + Sync) -> Vec<f64> {
    let arch = Arch::new();
    let mut angles = vec![0.0; count];
    let tasks = angles.par_chunks_mut(TASK_LENGTH).enumerate();
    tasks.for_each(|(task, angles)| {
        arch.dispatch(Task {
            first: task * TASK_LENGTH,
            pair: &pair,
            angles,
        });
    });
    angles
}

/// The angles of the pairs from `first` on.
struct Task<'a, P> {
    first: usize,
    pair: &'a P,
    angles: &'a mut [f64],
}

impl<P: Fn(usize) -> [Vec3; 2]> WithSimd for Task<'_, P> {
    type Output = ();

    /// Four abreast: mostly all of them are small.
    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) {
        for (run, angles) in self.angles.chunks_mut(PLACES).enumerate() {
            let mut pairs = [[Vec3::zeros(); 2]; PLACES];
            for (k, one) in pairs.iter_mut().enumerate().take(angles.len()) {
                *one = (self.pair)(self.first + run * PLACES + k);
            }
            let [p, q, r, s] = &pairs;
            let [a, b] = [0, 1].map(|end| Vectors::of([&p[end], &q[end], &r[end], &s[end]]));
            let (sine, cosine) = (a.cross(b).norm(), a.dot(b));
            let small = small_angles(sine / cosine);
            for (k, angle) in angles.iter_mut().enumerate() {
                *angle = match sine.0[k] < SMALL_TANGENT * cosine.0[k] {
                    true => small.0[k].to_degrees(),
                    false => large_angle(&pairs[k][0], &pairs[k][1], sine.0[k], cosine.0[k]),
                };
            }
        }
    }
}

fn small_angle(tangent: f64) -> f64 {
    small_angles(Values::all(tangent)).0[0]
}

/// The angles, in radians, with the given tangents up to [`SMALL_TANGENT`], by the arctangent's power
/// series.
#[inline(always)]
fn small_angles(tangents: Values) -> Values {
    const TERMS: usize = 9;
    let squares = tangents * tangents;
    let mut sum = Values::all(0.0);
    for k in (0..TERMS).rev() {
        let sign = if k % 2 == 0 { 1.0 } else { -1.0 };
        sum = Values::all(sign / (2 * k + 1) as f64) + sum * squares;
    }
    tangents * sum
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

    #[test]
    fn angles_abreast_are_those_of_each_pair_by_itself() {
        let turned = |degrees: f64| {
            let (sine, cosine) = degrees.to_radians().sin_cos();
            [Vec3::new(0.3, -0.1, 2.0), Vec3::new(cosine, sine, 0.5)]
        };
        let mut pairs: Vec<_> = (0..1030).map(|i| turned(f64::from(i) * 0.37)).collect();
        pairs.push([Vec3::x(), Vec3::zeros()]);
        pairs.extend((0..50).map(|i| [Vec3::x(), Vec3::new(1.0, f64::from(i) * 1e-3, 0.0)]));
        let abreast = angles_deg(pairs.len(), |i| pairs[i]);
        for ([a, b], angle) in pairs.iter().zip(abreast) {
            assert_eq!(angle.to_bits(), angle_deg(a, b).to_bits());
        }
    }
}
