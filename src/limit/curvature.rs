//! Curvature from the derivatives of a surface.

use crate::mesh::Vec3;
use crate::subdivision::spline::{Derivatives, fast_normal};

/// How a surface curves at one place: principal curvatures and their directions.
///
/// Curvatures are positive where the surface is convex seen from the side that the normal points
/// to: a sphere of radius r with outward normals has 1/r twice, a hollow −1/r twice.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Curvature {
    /// The principal curvatures, larger first, in 1 / length.
    pub principal: [f64; 2],
    /// Unit tangents in whose directions the surface has these curvatures; perpendicular, with
    /// `directions[0] × directions[1]` the normal. Where both curvatures are equal any pair would
    /// do: one along and one across u is given.
    pub directions: [Vec3; 2],
}

impl Curvature {
    /// The curvature at a place with these derivatives. `None` where the surface has no tangent
    /// plane, or derivatives that are not finite.
    ///
    /// First and second fundamental form as in do Carmo, Differential Geometry of Curves and
    /// Surfaces, 1976, section 3-3, with the second form's sign turned (see [`Curvature`]); both are
    /// taken to an orthonormal pair of tangents first, so that the shape operator is a symmetric
    /// matrix whose eigenvalues keep all digits where they are equal.
    pub fn of(d: &Derivatives) -> Option<Self> {
        let shape = ShapeOperator::of(d)?;
        let (half, spread) = shape.spread();
        let [cos, sin] = half_angle(half / spread, shape.twist / spread);
        let direction = shape.tangents[0] * cos + shape.tangents[1] * sin;
        Some(Self {
            principal: shape.principal()?,
            directions: [direction, shape.normal.cross(&direction)],
        })
    }

    /// The principal curvatures alone, larger first; `None` as for [`Curvature::of`].
    pub fn principal_of(d: &Derivatives) -> Option<[f64; 2]> {
        ShapeOperator::of(d)?.principal()
    }

    /// The Gaussian curvature: the product of both, in 1 / length².
    pub fn gauss(&self) -> f64 {
        self.principal[0] * self.principal[1]
    }

    /// The mean curvature: half the sum of both, in 1 / length.
    pub fn mean(&self) -> f64 {
        (self.principal[0] + self.principal[1]) / 2.0
    }

    /// The principal curvature of larger size, without its sign.
    pub fn largest(&self) -> f64 {
        self.principal[0].abs().max(self.principal[1].abs())
    }

    /// The normal curvature along a tangent `t` of any length (Euler's formula); NaN for a vector
    /// of length 0.
    pub fn along(&self, t: &Vec3) -> f64 {
        let [x, y] = self.directions.map(|d| d.dot(t));
        let [k1, k2] = self.principal;
        (k1 * x * x + k2 * y * y) / (x * x + y * y)
    }
}

/// The shape operator in an orthonormal pair of tangents: the symmetric matrix of normal
/// curvatures.
struct ShapeOperator {
    normal: Vec3,
    tangents: [Vec3; 2],
    /// Normal curvatures along the two tangents.
    along: [f64; 2],
    /// The matrix's other entry.
    twist: f64,
}

impl ShapeOperator {
    #[inline]
    fn of(d: &Derivatives) -> Option<Self> {
        let [du, dv] = d.first;
        let normal = fast_normal(du, dv);
        if normal == Vec3::zeros() {
            return None;
        }
        let length = du.norm();
        let first = du / length;
        let second = normal.cross(&first);
        // dv = along · first + across · second
        let (along, across) = (dv.dot(&first), dv.dot(&second));
        let slant = along / length;
        let [uu, uv, vv] = d.second.map(|s| -s.dot(&normal));
        let c = (vv - (2.0 * uv - slant * uu) * slant) / (across * across);
        Some(Self {
            normal,
            tangents: [first, second],
            along: [uu / (length * length), c],
            twist: (uv - slant * uu) / (length * across),
        })
    }

    /// Half the difference of the normal curvatures along the two tangents, and of the principal ones.
    fn spread(&self) -> (f64, f64) {
        let half = (self.along[0] - self.along[1]) / 2.0;
        (half, (half * half + self.twist * self.twist).sqrt())
    }

    fn principal(&self) -> Option<[f64; 2]> {
        let mean = (self.along[0] + self.along[1]) / 2.0;
        let (_, spread) = self.spread();
        (mean.is_finite() && spread.is_finite()).then_some([mean + spread, mean - spread])
    }
}

/// Cosine and sine of half the angle that has the given ones; of angle 0 where they are not
/// defined.
fn half_angle(cos: f64, sin: f64) -> [f64; 2] {
    if cos.is_nan() {
        [1.0, 0.0]
    } else if cos >= 0.0 {
        let half = ((1.0 + cos) / 2.0).sqrt();
        [half, sin / (2.0 * half)]
    } else {
        let half = ((1.0 - cos) / 2.0).sqrt();
        [sin / (2.0 * half), half]
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use approx::assert_relative_eq;

    use super::*;

    /// A graph (u, v, h(u, v)) in skewed and stretched parameters: x = 2u + v, y = 3v.
    fn graph(slopes: [f64; 2], second: [f64; 3]) -> Derivatives {
        let [hx, hy] = slopes;
        let [hxx, hxy, hyy] = second;
        let lifted = |x: f64, y: f64| Vec3::new(x, y, hx * x + hy * y);
        let form = |a: [f64; 2], b: [f64; 2]| {
            let h = hxx * a[0] * b[0] + hxy * (a[0] * b[1] + a[1] * b[0]) + hyy * a[1] * b[1];
            Vec3::new(0.0, 0.0, h)
        };
        let [u, v] = [[2.0, 0.0], [1.0, 3.0]];
        Derivatives {
            position: Vec3::zeros(),
            first: [lifted(u[0], u[1]), lifted(v[0], v[1])],
            second: [form(u, u), form(u, v), form(v, v)],
        }
    }

    #[test]
    fn a_graph_has_the_curvatures_of_its_closed_form_whatever_its_parameters() {
        // Gaussian and mean curvature of a graph: do Carmo 1976, section 3-3, example 5.
        let (p, q) = (0.3, -0.8);
        let [r, s, t] = [1.5, 0.4, -0.7];
        let c = Curvature::of(&graph([p, q], [r, s, t])).unwrap();
        let w: f64 = 1.0 + p * p + q * q;
        assert_relative_eq!(c.gauss(), (r * t - s * s) / (w * w), max_relative = 1e-14);
        let mean = ((1.0 + p * p) * t - 2.0 * p * q * s + (1.0 + q * q) * r) / (2.0 * w.powf(1.5));
        // The graph's normal points up, and a bowl is hollow seen from above.
        assert_relative_eq!(c.mean(), -mean, max_relative = 1e-14);
        assert!(c.principal[0] > c.principal[1]);
    }

    #[test]
    fn principal_directions_are_those_in_which_the_surface_has_its_curvatures() {
        let flat = graph([0.0, 0.0], [2.0, 0.0, -5.0]);
        let c = Curvature::of(&flat).unwrap();
        assert_relative_eq!(c.principal[0], 5.0, max_relative = 1e-14);
        assert_relative_eq!(c.directions[0].y.abs(), 1.0, max_relative = 1e-14);
        assert_relative_eq!(
            c.along(&Vec3::new(0.0, 7.0, 0.0)),
            5.0,
            max_relative = 1e-14
        );
        assert_relative_eq!(
            c.along(&Vec3::new(1.0, 1.0, 0.0)),
            1.5,
            max_relative = 1e-13
        );
        assert_relative_eq!(
            c.directions[0].cross(&c.directions[1]),
            Vec3::z(),
            max_relative = 1e-14
        );
    }

    #[test]
    fn equal_curvatures_keep_all_their_digits() {
        let bowl = graph([0.0, 0.0], [-1.0, 0.0, -1.0]);
        let c = Curvature::of(&bowl).unwrap();
        assert_relative_eq!(c.principal[0], 1.0, max_relative = 1e-15);
        assert_relative_eq!(c.principal[1], 1.0, max_relative = 1e-15);
    }

    #[test]
    fn without_a_tangent_plane_there_is_no_curvature() {
        let mut d = graph([0.1, 0.2], [1.0, 0.0, 1.0]);
        d.first[1] = d.first[0] * -2.0;
        assert_eq!(Curvature::of(&d), None);
    }
}
