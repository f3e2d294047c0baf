//! Warp and quality of the quads at a vertex.
//!
//! Aspect, taper, skew and scaled Jacobian by the definitions of the Verdict library's manual
//! (Stimpson et al., Sandia report SAND2007-1751, quadrilaterals), stated here from memory.

use rayon::prelude::*;

use super::Measured;
use super::about::{About, Unit};
use super::angles::angle_deg;
use super::context::MeasureContext;
use crate::mesh::Vec3;

/// Faces that one parallel task takes on at least.
const TASK_LENGTH: usize = 256;

/// How far a quad is from flat.
pub const WARP: About = About {
    name: "warp",
    tells: "how far the quads at the vertex are from flat",
    formula: "largest angle between the two triangles of a quad, split along either diagonal",
    unit: Unit::Degrees,
    range: "0 (flat) to 180",
    source: "angle between triangles: common geometry; warpage of quads: SAND2007-1751",
    remedy: "bring the quad's corners into one plane, or add an edge where the form turns",
};

/// Edge lengths of the quads.
pub const ASPECT: About = About {
    name: "aspect",
    tells: "how long and thin the quads at the vertex are",
    formula: "largest edge length times the quad's perimeter over four times its area, largest quad",
    unit: Unit::Ratio,
    range: "from 1 (square)",
    source: "quad aspect ratio: SAND2007-1751",
    remedy: "nothing along a support loop, where it is wanted; else more even strips",
};

/// Taper of the quads.
pub const TAPER: About = About {
    name: "taper",
    tells: "how much the quads at the vertex narrow from one side to the other",
    formula: "|X12| over the smaller of |X1|, |X2|: X1, X2 the principal axes, X12 the cross derivative of the bilinear quad; largest quad",
    unit: Unit::Ratio,
    range: "from 0 (parallelogram)",
    source: "quad taper: SAND2007-1751",
    remedy: "even the strip's width out",
};

/// Skew of the quads.
pub const SKEW: About = About {
    name: "skew",
    tells: "how far the quads at the vertex lean over",
    formula: "|cos| of the angle between the principal axes; largest quad",
    unit: Unit::Ratio,
    range: "0 (square) to 1",
    source: "quad skew: SAND2007-1751",
    remedy: "slide vertices along their loops until the quads stand upright",
};

/// Scaled Jacobian of the quads.
pub const JACOBIAN: About = About {
    name: "scaled_jacobian",
    tells: "how well shaped the worst corner of the quads at the vertex is",
    formula: "sine of the angle at each corner, signed by the quad's centre normal; smallest corner of the worst quad",
    unit: Unit::Ratio,
    range: "-1 to 1; 1 is square, 0 and less is folded or concave",
    source: "quad scaled Jacobian: SAND2007-1751",
    remedy: "open the corner up, or re-route the loop",
};

/// Area of a triangle of three corners, over half the square of the quad's longest edge, up to which
/// they lie on a line: far more than rounding leaves, far less than anyone draws.
const LINE_TOLERANCE: f64 = 1e-7;

/// Quality of one quad, in the order warp, aspect, taper, skew, scaled Jacobian; NaN where
/// undefined. The corners in order about the quad; `None` for other faces.
pub fn quad_quality(p: [Vec3; 4]) -> [f64; 5] {
    let edge: [Vec3; 4] = std::array::from_fn(|k| p[(k + 1) % 4] - p[k]);
    let normal_at: [Vec3; 4] = std::array::from_fn(|k| edge[(k + 3) % 4].cross(&edge[k]));
    let x1 = (p[1] - p[0]) + (p[2] - p[3]);
    let x2 = (p[2] - p[1]) + (p[3] - p[0]);
    let x12 = (p[0] - p[1]) + (p[2] - p[3]);
    let centre = x1.cross(&x2).try_normalize(0.0).unwrap_or_default();
    let lengths = edge.map(|e| e.norm());
    let longest = lengths.iter().copied().fold(0.0, f64::max);
    // Three corners on a line span no triangle: what rounding leaves of its normal says nothing.
    let is_flat = |k: usize| normal_at[k].norm() <= LINE_TOLERANCE * longest * longest;
    let between = |a: usize, b: usize| match is_flat(a) || is_flat(b) {
        true => 0.0,
        false => angle_deg(&normal_at[a], &normal_at[b]),
    };
    let warp = between(0, 2).max(between(1, 3));
    let perimeter: f64 = lengths.iter().sum();
    let area = x1.cross(&x2).norm() / 4.0;
    let jacobian = (0..4)
        .map(|k| normal_at[k].dot(&centre) / (lengths[k] * lengths[(k + 3) % 4]))
        .fold(f64::INFINITY, f64::min);
    let values = [
        warp,
        longest * perimeter / (4.0 * area),
        x12.norm() / x1.norm().min(x2.norm()),
        (x1.dot(&x2) / (x1.norm() * x2.norm())).abs(),
        jacobian,
    ];
    values.map(|x| if x.is_finite() { x } else { f64::NAN })
}

/// The quality of every face, in parallel; NaN for those that are no quads.
pub fn of_faces(context: &MeasureContext) -> Vec<[f64; 5]> {
    let topology = context.topology();
    (0..topology.face_count())
        .into_par_iter()
        .with_min_len(TASK_LENGTH)
        .map(|f| match topology.face_size(f) {
            4 => {
                let start = topology.face_corners(f).start;
                let at = |k: usize| context.positions()[topology.vertex(start + k)];
                quad_quality(std::array::from_fn(at))
            }
            _ => [f64::NAN; 5],
        })
        .collect()
}

/// The five measures, in the order of their columns.
pub fn measure(context: &MeasureContext) -> Vec<Measured> {
    let faces = context.quad_qualities();
    let columns = context.together(|v| {
        let mut worst = [f64::NAN; 5];
        for f in context.faces_of(v) {
            let [warp, aspect, taper, skew, jacobian] = faces[f];
            let [w, a, t, s, j] = worst;
            worst = [
                w.max(warp),
                a.max(aspect),
                t.max(taper),
                s.max(skew),
                j.min(jacobian),
            ];
        }
        worst
    });
    let abouts = [&WARP, &ASPECT, &TAPER, &SKEW, &JACOBIAN];
    let measured = abouts.into_iter().zip(columns);
    measured
        .map(|(about, values)| Measured { about, values })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn quad(points: [[f64; 3]; 4]) -> [f64; 5] {
        quad_quality(points.map(Vec3::from))
    }

    #[test]
    fn a_square_is_perfect_by_every_figure() {
        let q = quad([[0., 0., 0.], [2., 0., 0.], [2., 2., 0.], [0., 2., 0.]]);
        assert_eq!(q, [0.0, 1.0, 0.0, 0.0, 1.0]);
    }

    #[test]
    fn a_trapezium_tapers_and_a_lifted_corner_warps() {
        let trapezium = quad([[0., 0., 0.], [4., 0., 0.], [3., 2., 0.], [1., 2., 0.]]);
        // X1 = (6, 0, 0), X2 = (0, 4, 0), X12 = (-2, 0, 0)
        assert!((trapezium[2] - 0.5).abs() < 1e-15);
        let lifted = quad([[0., 0., 0.], [1., 0., 0.], [1., 1., 1.], [0., 1., 0.]]);
        // Split along one diagonal the triangles' normals are (0,0,1) and (-1,-1,1): 54.7 degrees;
        // along the other (0,-1,1) and (-1,0,1): 60 degrees.
        assert!((lifted[0] - 60.0).abs() < 1e-12);
    }
}
