//! Weights of the subdivision and limit rules: pure functions of valence and vertex kind.
//!
//! Conventions: `n` is the valence of an interior vertex, `k` the number of faces in a sector
//! between two creases (or borders). Spokes are the edges at the vertex, diagonals the far corners
//! of its quads, both counter-clockwise; diagonal `j` lies between spokes `j` and `j + 1`.

use std::borrow::Cow;
use std::f64::consts::PI;
use std::sync::LazyLock;

/// Largest valence whose limit masks are tabulated; those of larger ones are made when asked for.
const TABULATED_VALENCE_MAX: usize = 24;

/// Weights of a vertex, each of its spokes and each of its diagonals.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RingWeights {
    /// Weight of the vertex itself.
    pub center: f64,
    /// Weight of each spoke's end.
    pub spoke: f64,
    /// Weight of each diagonal.
    pub diagonal: f64,
}

/// Limit position at an interior smooth vertex of valence `n`: (n² v + 4 Σe + Σf) / (n (n + 5))
/// (Halstead, Kass & DeRose 1993, section 4).
pub fn smooth_limit_position(n: usize) -> RingWeights {
    let n = n as f64;
    let scale = 1.0 / (n * (n + 5.0));
    RingWeights {
        center: n * n * scale,
        spoke: 4.0 * scale,
        diagonal: scale,
    }
}

/// Eigenvalue of the Fourier mode of angle `t` in the one-ring of a smooth vertex:
/// (5 + cos t + cos(t/2) √(2 (9 + cos t))) / 16 (Ball & Storry, "Conditions for tangent plane
/// continuity over recursively generated B-spline surfaces", 1988; Peters & Reif, Subdivision
/// Surfaces, 2008, section 6.1). The subdominant eigenvalue of valence `n` is that of
/// `t = 2π/n`; a sector of `k` faces between creases has that of `t = π/k`.
pub fn mode_eigenvalue(t: f64) -> f64 {
    (5.0 + t.cos() + (t / 2.0).cos() * (2.0 * (9.0 + t.cos())).sqrt()) / 16.0
}

/// Subdominant eigenvalue λ of an interior smooth vertex of valence `n` (3 and more): by this
/// factor the ring about the vertex shrinks in the limit from level to level.
pub fn subdominant_eigenvalue(n: usize) -> f64 {
    mode_eigenvalue(2.0 * PI / n as f64)
}

/// Weight of a diagonal in the left eigenvector of eigenvalue `lambda`, relative to the sum of the
/// weights of the two spokes beside it: the diagonal's column of the one-ring matrix reads
/// λ w_f = w_f / 4 + (w_e + w_e') / 16.
fn diagonal_ratio(lambda: f64) -> f64 {
    1.0 / (16.0 * lambda - 4.0)
}

/// Tangents at an interior smooth vertex of valence `n`, 3 and more: for spoke `j` the weights
/// (cos, sin) of 2πj/n, for diagonal `j` those of its two spokes together times the returned
/// ratio (Halstead, Kass & DeRose 1993, section 4). The vertex itself has weight 0.
pub fn smooth_tangent_ratio(n: usize) -> f64 {
    diagonal_ratio(subdominant_eigenvalue(n))
}

/// Everything that makes the limit point and tangents of an interior smooth vertex.
#[derive(Debug, Clone, PartialEq)]
pub struct SmoothLimitMask {
    /// Weights of the limit position.
    pub position: RingWeights,
    /// Spoke by spoke: its weights in the two tangents, and those of the diagonal after it.
    pub tangents: Vec<[[f64; 2]; 2]>,
}

impl SmoothLimitMask {
    fn new(n: usize) -> Self {
        let ratio = smooth_tangent_ratio(n);
        let step = 2.0 * PI / n as f64;
        let spoke = |j: usize| {
            let (sin, cos) = ((j % n) as f64 * step).sin_cos();
            [cos, sin]
        };
        let tangents = (0..n).map(|j| {
            let (here, next) = (spoke(j), spoke(j + 1));
            [here, [0, 1].map(|t| ratio * (here[t] + next[t]))]
        });
        Self {
            position: smooth_limit_position(n),
            tangents: tangents.collect(),
        }
    }
}

/// The mask of valence `n`, from a table while `n` is small.
pub fn smooth_limit_mask(n: usize) -> Cow<'static, SmoothLimitMask> {
    static TABLE: LazyLock<Vec<SmoothLimitMask>> = LazyLock::new(|| {
        (0..=TABULATED_VALENCE_MAX)
            .map(SmoothLimitMask::new)
            .collect()
    });
    match TABLE.get(n) {
        Some(mask) => Cow::Borrowed(mask),
        None => Cow::Owned(SmoothLimitMask::new(n)),
    }
}

/// Limit position on a crease or border curve from the vertex and the two ends along the curve:
/// (1, 4, 1) / 6, the cubic B-spline.
pub const CREASE_LIMIT: RingWeights = RingWeights {
    center: 4.0 / 6.0,
    spoke: 1.0 / 6.0,
    diagonal: 0.0,
};

/// Weights of the tangent that points from a crease or border into a sector of `k` faces.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SectorTangent {
    /// Weight of the vertex.
    pub center: f64,
    /// Weight of each of the two spokes along the crease.
    pub end: f64,
    /// Angle step: spoke `j` inside the sector has weight sin(j · step).
    pub step: f64,
    /// Diagonal `j` has this times the sum of the sines of its two spokes.
    pub diagonal_ratio: f64,
}

impl SectorTangent {
    /// The left eigenvector of the sector's one-ring matrix for the eigenvalue
    /// [`mode_eigenvalue`]`(π/k)`, `k` 2 and more.
    ///
    /// Derived here, by the columns of that matrix: inside the sector the weights are those of the
    /// smooth rule's sine mode; the columns of the crease's ends and of the vertex then give two
    /// equations for their weights. With k = 2 the weights are the classical ones
    /// (eigenvalue 1/2); for k = 3 and more the eigenvalue is above 1/2.
    pub fn new(k: usize) -> Self {
        let step = PI / k as f64;
        let lambda = mode_eigenvalue(step);
        let ratio = diagonal_ratio(lambda);
        let spoke_sum = 1.0 / (step / 2.0).tan();
        let end_source = step.sin() / 16.0 + ratio * step.sin() / 4.0;
        let center_source = spoke_sum * 6.0 / 16.0 + ratio * spoke_sum / 2.0;
        // (λ - 1/2) end - center / 8 = end_source;  -end + (λ - 3/4) center = center_source
        let determinant = (lambda - 1.0) * (lambda - 0.25);
        let end = ((lambda - 0.75) * end_source + center_source / 8.0) / determinant;
        let center = ((lambda - 0.5) * center_source + end_source) / determinant;
        Self {
            center,
            end,
            step,
            diagonal_ratio: ratio,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn position_weights_sum_to_one_at_every_valence() {
        for n in 2..200 {
            let w = smooth_limit_position(n);
            let sum = w.center + n as f64 * (w.spoke + w.diagonal);
            assert_relative_eq!(sum, 1.0, max_relative = 1e-14);
        }
    }

    #[test]
    fn valence_four_gives_the_bicubic_b_spline_s_own_weights() {
        let w = smooth_limit_position(4);
        assert_relative_eq!(w.center, 16.0 / 36.0, max_relative = 1e-15);
        assert_relative_eq!(w.spoke, 4.0 / 36.0, max_relative = 1e-15);
        assert_relative_eq!(w.diagonal, 1.0 / 36.0, max_relative = 1e-15);
        assert_relative_eq!(subdominant_eigenvalue(4), 0.5, max_relative = 1e-15);
        assert_relative_eq!(smooth_tangent_ratio(4), 0.25, max_relative = 1e-15);
    }

    #[test]
    fn sector_tangent_weights_sum_to_zero() {
        for k in 2..100 {
            let w = SectorTangent::new(k);
            let sine = |j: usize| (j as f64 * w.step).sin();
            let spokes: f64 = (1..k).map(sine).sum();
            let diagonals: f64 = (0..k).map(|j| sine(j) + sine(j + 1)).sum();
            let sum = w.center + 2.0 * w.end + spokes + w.diagonal_ratio * diagonals;
            assert!(sum.abs() < 1e-12 * k as f64, "{k} faces: {sum}");
        }
    }
}
