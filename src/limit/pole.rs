//! The modes of a pole: how the limit surface curves towards a vertex of other than four edges.
//!
//! Towards a pole curvature has no limit. From level to level the surface about it repeats, λ times
//! as large, with each of its modes μ times as high: what a mode curves changes by μ / λ² (Peters &
//! Reif, Subdivision Surfaces, 2008, section 6). From valence 5 on both quadratic modes grow without
//! bound, the saddle faster than the cup, so that a convex place with a little saddle in it turns
//! saddle-shaped close in (Karciauskas, Peters & Reif, "Shape characterization of subdivision
//! surfaces: case studies", 2004).

use crate::mesh::Vec3;
use crate::subdivision::masks;
use crate::subdivision::quadratic_masks::{cup_growth, quadratic_mask, saddle_growth};
use crate::subdivision::ring::{Ring, unit_normal};

/// Angle, in radians, over the ring below which it counts as flat: rounding of coordinates leaves
/// less than 1e-10 at any ring that is larger than a millionth of its model.
const FLAT_TURN: f64 = 1e-9;

/// Growth ratios closer to 1 than this count as 1: rounding of the closed forms.
const STAYS_TOLERANCE: f64 = 1e-12;

/// What curvature does towards a pole.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Towards {
    /// It dies out: the pole is a flat spot (valence 3).
    DiesOut,
    /// It has a limit (valence 4).
    Stays,
    /// It grows without bound (valence 5 and more).
    RunsAway,
}

impl Towards {
    /// What a curvature does that changes by `growth` from level to level.
    pub fn of(growth: f64) -> Self {
        if (growth - 1.0).abs() < STAYS_TOLERANCE {
            Self::Stays
        } else if growth < 1.0 {
            Self::DiesOut
        } else {
            Self::RunsAway
        }
    }
}

/// A symmetric 2 × 2 matrix: [[a, b], [b, c]].
#[derive(Debug, Clone, Copy, PartialEq)]
struct Symmetric {
    a: f64,
    b: f64,
    c: f64,
}

impl Symmetric {
    /// Its eigenvalues, larger first.
    fn eigenvalues(self) -> [f64; 2] {
        let mean = (self.a + self.c) / 2.0;
        let spread = ((self.a - self.c) / 2.0).hypot(self.b);
        [mean + spread, mean - spread]
    }

    /// The form with this matrix in the frame of two tangents, in an orthonormal frame instead:
    /// T⁻ᵀ S T⁻¹ for tangents `first` = (length, 0) and `second` = (along, across).
    fn orthonormal(self, length: f64, along: f64, across: f64) -> Self {
        let slant = along / length;
        Self {
            a: self.a / (length * length),
            b: (self.b - slant * self.a) / (length * across),
            c: (self.c - (2.0 * self.b - slant * self.a) * slant) / (across * across),
        }
    }
}

/// The quadratic modes in the ring of an interior smooth vertex, as curvatures.
///
/// They are those of the ring of level one, and normalised by paraboloids over the characteristic
/// control ring ([`QuadraticMask`](crate::subdivision::quadratic_masks::QuadraticMask)): exact
/// curvature at valence 4, where they grow by 1; elsewhere a measure of size that changes from level
/// to level by exactly the growth ratio.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PoleModes {
    /// Number of edges at the vertex.
    pub valence: usize,
    /// What each mode alone curves, in an orthonormal frame of the tangent plane.
    cup: Symmetric,
    saddle: Symmetric,
    /// Length of the longer tangent of the characteristic ring.
    reach: f64,
}

impl PoleModes {
    /// The modes of a ring; `None` at a border or anything sharp, for valences below 3, and where
    /// there is no tangent plane.
    pub fn of(ring: &Ring) -> Option<Self> {
        let smooth = ring.sharpness.is_empty() && ring.vertex_sharpness == 0.0;
        if !ring.is_closed() || !smooth || ring.cut.is_some() || ring.len() < 3 {
            return None;
        }
        let n = ring.len();
        let mask = quadratic_mask(n);
        let [first, second] = tangents(ring, mask.tangent_scale);
        let normal = unit_normal(first, second)?;
        let mut cup = 0.0;
        let mut saddle = [0.0; 2];
        for (j, [on_spoke, on_diagonal]) in mask.saddle.iter().enumerate() {
            // Convex is positive: the ring falls away from the normal.
            let spoke = -(ring.spokes[j] - ring.center).dot(&normal);
            let diagonal = -(ring.diagonals[j] - ring.center).dot(&normal);
            cup += spoke * mask.cup.spoke + diagonal * mask.cup.diagonal;
            for t in 0..2 {
                saddle[t] += spoke * on_spoke[t] + diagonal * on_diagonal[t];
            }
        }
        let length = first.norm();
        let along = second.dot(&first) / length;
        let across = first.cross(&second).norm() / length;
        let curves = |[a, b, c]: [f64; 3]| Symmetric { a, b, c }.orthonormal(length, along, across);
        Some(Self {
            valence: n,
            cup: curves([cup, 0.0, cup]),
            saddle: curves([saddle[0], saddle[1], -saddle[0]]),
            reach: length.max(second.norm()),
        })
    }

    /// Strength of the cup mode: of the principal curvatures that it has by itself, the one of
    /// larger size, in 1 / length; positive where it is convex. At valence 4, over a ring that is
    /// not stretched or slanted, the mean curvature.
    pub fn cup(&self) -> f64 {
        larger(self.cup.eigenvalues())
    }

    /// Strength of the saddle modes together: the larger size of the principal curvatures that they
    /// have by themselves, in 1 / length. At valence 4, over a ring that is not stretched or
    /// slanted, half the difference of the principal curvatures.
    pub fn saddle(&self) -> f64 {
        larger(self.saddle.eigenvalues()).abs()
    }

    /// Change of the cup's curvature from level to level towards the vertex.
    pub fn cup_growth(&self) -> f64 {
        cup_growth(self.valence)
    }

    /// Change of the saddles' curvature from level to level towards the vertex.
    pub fn saddle_growth(&self) -> f64 {
        saddle_growth(self.valence)
    }

    /// The principal curvatures of both modes together `levels` levels below the ring of level one,
    /// larger first: exact at valence 4, whatever the ring; at any other the paraboloid that the
    /// modes stand for.
    pub fn principal(&self, levels: i32) -> [f64; 2] {
        let cup = self.cup_growth().powi(levels);
        let saddle = self.saddle_growth().powi(levels);
        let both = |of: fn(&Symmetric) -> f64| cup * of(&self.cup) + saddle * of(&self.saddle);
        Symmetric {
            a: both(|s| s.a),
            b: both(|s| s.b),
            c: both(|s| s.c),
        }
        .eigenvalues()
    }

    /// Whether the ring holds so little of the quadratic modes that it is flat but for rounding.
    pub fn is_flat(&self) -> bool {
        self.cup().abs().max(self.saddle()) * self.reach < FLAT_TURN
    }

    /// Growth ratio of the leading mode, the one that curves more `levels` levels below the ring of
    /// level one; `None` on flat ground, where none leads.
    pub fn leading_growth(&self, levels: i32) -> Option<f64> {
        if self.is_flat() {
            return None;
        }
        let (cup, saddle) = (self.cup_growth(), self.saddle_growth());
        let cup_leads = self.cup().abs() * cup.powi(levels) > self.saddle() * saddle.powi(levels);
        Some(if cup_leads { cup } else { saddle })
    }

    /// What curvature does towards the vertex, by the mode that leads there in the end: of modes
    /// that the ring holds the one that grows fastest. `None` on flat ground.
    pub fn towards(&self) -> Option<Towards> {
        let held = |strength: f64| strength.abs() * self.reach >= FLAT_TURN;
        let cup = held(self.cup()).then(|| self.cup_growth());
        let saddle = held(self.saddle()).then(|| self.saddle_growth());
        let fastest = cup.into_iter().chain(saddle).reduce(f64::max)?;
        Some(Towards::of(fastest))
    }
}

/// The one of larger size.
fn larger([first, second]: [f64; 2]) -> f64 {
    if first.abs() >= second.abs() {
        first
    } else {
        second
    }
}

/// The two tangents of the characteristic control ring.
fn tangents(ring: &Ring, scale: f64) -> [Vec3; 2] {
    let mask = masks::smooth_limit_mask(ring.len());
    let mut tangents = [Vec3::zeros(); 2];
    for (j, [on_spoke, on_diagonal]) in mask.tangents.iter().enumerate() {
        let spoke = (ring.spokes[j] - ring.center) / scale;
        let diagonal = (ring.diagonals[j] - ring.center) / scale;
        for t in 0..2 {
            tangents[t] += spoke * on_spoke[t] + diagonal * on_diagonal[t];
        }
    }
    tangents
}
