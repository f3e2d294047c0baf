//! The quadratic modes of the ring of an interior smooth vertex: eigenvalues and weights.
//!
//! Conventions as in [`masks`](super::masks). Of all that a ring can hold, four modes shape the
//! surface near its vertex to second order: two tangents, which shrink by the subdominant eigenvalue
//! λ from level to level, the cup, alike in all directions, and a pair of saddles, which turn twice
//! while one goes round once. At valence 4 cup and saddles are the second derivatives of the bicubic
//! B-spline.

use std::borrow::Cow;
use std::f64::consts::PI;
use std::sync::LazyLock;

use super::masks::{RingWeights, mode_eigenvalue, subdominant_eigenvalue};

/// Largest valence whose masks are tabulated; those of larger ones are made when asked for.
const TABULATED_VALENCE_MAX: usize = 24;

/// Eigenvalue of the cup mode at an interior smooth vertex of valence `n`, 3 and more: beside 1, the
/// larger one of what is alike in all directions,
/// (4a - 1 + √((4a - 1)² + 8b - 4)) / 8 with a = 1 - 7/(4n), b = 3/(2n) (Ball & Storry 1988).
pub fn cup_eigenvalue(n: usize) -> f64 {
    let n = n as f64;
    let trace = 3.0 - 7.0 / n;
    (trace + (trace * trace + 12.0 / n - 4.0).sqrt()) / 8.0
}

/// Eigenvalue of the two saddle modes at an interior smooth vertex of valence `n`, 3 and more: that
/// of the angle 4π/n (Ball & Storry 1988). At valence 3 the saddle shares the tangents' frequency;
/// cos(2π/3) is negative there, and the closed form gives the smaller eigenvalue of their block.
pub fn saddle_eigenvalue(n: usize) -> f64 {
    mode_eigenvalue(4.0 * PI / n as f64)
}

/// Change of the cup mode's curvature from level to level towards a vertex of valence `n`: μ / λ²
/// (Peters & Reif, Subdivision Surfaces, 2008, section 6).
pub fn cup_growth(n: usize) -> f64 {
    cup_eigenvalue(n) / subdominant_eigenvalue(n).powi(2)
}

/// The same of the saddle modes.
pub fn saddle_growth(n: usize) -> f64 {
    saddle_eigenvalue(n) / subdominant_eigenvalue(n).powi(2)
}

/// Weight of a diagonal in the left eigenvector of the mode of angle `t` (`mode_eigenvalue(t)`),
/// where spoke `j` has cos(jt): it is this times cos((j + ½)t). From the diagonal's column of the
/// one-ring matrix, λ w_f = w_f / 4 + (w_e + w_e') / 16, written so that nothing cancels at t = π.
fn diagonal_share(t: f64) -> f64 {
    2.0 / (2.0 * (t / 2.0).cos() + (2.0 * (9.0 + t.cos())).sqrt())
}

/// The characteristic control ring of valence `n`: the right eigenvector of λ, one plane in which
/// spoke `j` lies at angle 2πj/n and distance 1, diagonal `j` at 2π(j + ½)/n and the distance
/// returned: 2 cos(π/n) / (4λ - 1), √2 at valence 4.
pub fn characteristic_diagonal(n: usize) -> f64 {
    2.0 * (PI / n as f64).cos() / (4.0 * subdominant_eigenvalue(n) - 1.0)
}

/// What picks the quadratic modes out of a ring: left eigenvectors of its one-ring matrix.
///
/// Normalised by what they make of a paraboloid: a ring whose points lie on the height field
/// (k₁ x² + k₂ y²) / 2 over the characteristic control ring has cup (k₁ + k₂) / 2 and saddles
/// ((k₁ - k₂) / 2, 0); turned by 45 degrees, k x y, it has saddles (0, k). At valence 4 these are
/// the second derivatives of the bicubic patch at the vertex: (uu + vv) / 2, (uu - vv) / 2 and uv.
#[derive(Debug, Clone, PartialEq)]
pub struct QuadraticMask {
    /// Weights of the cup, which sum to 0.
    pub cup: RingWeights,
    /// Spoke by spoke: its weights in both saddles, and those of the diagonal after it. The vertex
    /// itself has weight 0.
    pub saddle: Vec<[[f64; 2]; 2]>,
    /// By this the tangents of [`SmoothLimitMask`](super::masks::SmoothLimitMask) are divided to be
    /// those of the characteristic control ring: 1 long, along its first spoke and across.
    pub tangent_scale: f64,
}

impl QuadraticMask {
    fn new(n: usize) -> Self {
        let valence = n as f64;
        let [once, twice] = [2.0, 4.0].map(|k| k * PI / valence);
        let reach = characteristic_diagonal(n);
        // What the eigenvector of the saddles, of size 1 on the spokes, makes of (x² - y²) / 2.
        let share = diagonal_share(twice);
        let scale = 4.0 / (valence * (1.0 + share * reach * reach));
        let at = |steps: f64| {
            let (sin, cos) = (steps * twice).sin_cos();
            [cos, sin]
        };
        let saddle = (0..n).map(|j| {
            let (spoke, diagonal) = (at(j as f64), at(j as f64 + 0.5));
            [
                spoke.map(|w| w * scale),
                diagonal.map(|w| w * scale * share),
            ]
        });
        Self {
            cup: cup_weights(n, reach),
            saddle: saddle.collect(),
            tangent_scale: valence / 2.0 * (1.0 + diagonal_share(once) * reach),
        }
    }
}

/// The left eigenvector of the cup. On the vertex, the mean of the spokes and that of the diagonals
/// the one-ring matrix is 3 × 3; its last column, and weights that sum to 0, give
/// w_f (μ - 1/4 + 1/(4n)) = w_e (1/8 - 1/(4n)).
fn cup_weights(n: usize, reach: f64) -> RingWeights {
    let quarter = 0.25 / n as f64;
    let ratio = (0.125 - quarter) / (cup_eigenvalue(n) - 0.25 + quarter);
    let spokes = 2.0 / (1.0 + ratio * reach * reach);
    RingWeights {
        center: -spokes * (1.0 + ratio),
        spoke: spokes / n as f64,
        diagonal: spokes * ratio / n as f64,
    }
}

/// The mask of valence `n`, 3 and more, from a table while `n` is small.
pub fn quadratic_mask(n: usize) -> Cow<'static, QuadraticMask> {
    static TABLE: LazyLock<Vec<QuadraticMask>> = LazyLock::new(|| {
        (3..=TABULATED_VALENCE_MAX)
            .map(QuadraticMask::new)
            .collect()
    });
    match TABLE.get(n.wrapping_sub(3)) {
        Some(mask) => Cow::Borrowed(mask),
        None => Cow::Owned(QuadraticMask::new(n)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn valence_four_gives_the_second_derivatives_of_the_bicubic_b_spline() {
        // (1, -2, 1) along and (1, 4, 1) / 6 across; uv: (-1, 0, 1) / 2 both ways.
        let mask = quadratic_mask(4);
        assert_relative_eq!(mask.cup.center, -8.0 / 6.0, max_relative = 1e-15);
        assert_relative_eq!(mask.cup.spoke, 1.0 / 6.0, max_relative = 1e-15);
        assert_relative_eq!(mask.cup.diagonal, 1.0 / 6.0, max_relative = 1e-15);
        let [spoke, diagonal] = mask.saddle[0];
        assert_relative_eq!(spoke[0], 0.5, max_relative = 1e-15);
        assert!(spoke[1].abs() < 1e-15 && diagonal[0].abs() < 1e-15);
        assert_relative_eq!(diagonal[1], 0.25, max_relative = 1e-15);
        // The tangents of the mask are three times those by u and v.
        assert_relative_eq!(mask.tangent_scale, 3.0, max_relative = 1e-15);
        assert_relative_eq!(cup_growth(4), 1.0, max_relative = 1e-15);
        assert_relative_eq!(saddle_growth(4), 1.0, max_relative = 1e-15);
    }
}
