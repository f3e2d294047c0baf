//! Angles between vectors, one by one and four abreast.

use pulp::{Arch, Simd, WithSimd};

use super::abreast::{PLACES, Values, Vectors};
use super::context::by_fours;
use crate::mesh::Vec3;

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
