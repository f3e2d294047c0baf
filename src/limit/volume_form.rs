//! The volume under a quad about a pole, exactly, as a form of its control points.
//!
//! The signed volume between the origin and a piece of surface is ∫ P · (Pu × Pv) / 3. P depends
//! linearly on the `2 n + 2 m` points of a level-one quad (see
//! [`crate::subdivision::stencil`]), so that the volume is a sum of determinants of three points
//! each, with weights that depend on the valence n and the number of sides m alone. Of a bicubic
//! patch they follow from products of B-spline functions. A quad of valence n among quads is three
//! patches and its own copy one level down, whose points are A times its own: the weights solve
//! T = T₀ + T∘A, and as products of three different eigenvalues of A fall at least with λ², the
//! series converges; it is summed by doubling. (Hakenberg, Reif, Schaefer & Warren, Volume enclosed
//! by subdivision surfaces, 2014, solve the same equation for these and other schemes.)

use std::sync::OnceLock;

use super::gauss_legendre::{Points, Rule};
use crate::mesh::Vec3;
use crate::subdivision::patch::QuadNeighbourhood;
use crate::subdivision::stencil::{STENCIL_VALENCE_MAX, quad_of};

/// Doublings of the series: 2^7 levels, after which the rest is below λ^256 of the whole, λ < 0.66.
const DOUBLINGS: usize = 7;

/// The weights of all sets of three points.
#[derive(Debug, Clone, PartialEq)]
pub struct VolumeForm {
    points: usize,
    /// For each point i the weights of the pairs j < k of points after it, in the pairs' order.
    weights: Vec<f64>,
}

/// Memory for cross products.
#[derive(Debug, Clone, Default)]
pub struct Crosses([Vec<f64>; 3]);

impl VolumeForm {
    /// Signed volume between the origin and the quad of these points, in the order of
    /// `Surface::stencil_points`.
    pub fn volume(&self, points: &[Vec3], crosses: &mut Crosses) -> f64 {
        debug_assert_eq!(points.len(), self.points);
        crosses.fill(points);
        let mut weights = self.weights.as_slice();
        let pairs = crosses.0[0].len();
        let mut sum = 0.0;
        for (i, p) in points.iter().enumerate() {
            let after = points.len() - 1 - i;
            let count = after * after.saturating_sub(1) / 2;
            let (own, rest) = weights.split_at(count);
            weights = rest;
            let column = |k: usize| dot(own, &crosses.0[k][pairs - count..]);
            sum += p.dot(&Vec3::new(column(0), column(1), column(2)));
        }
        sum
    }
}

impl Crosses {
    /// The cross products of all pairs j < k, by j and then k.
    fn fill(&mut self, points: &[Vec3]) {
        let [x, y, z] = &mut self.0;
        for column in [&mut *x, &mut *y, &mut *z] {
            column.clear();
        }
        for (j, a) in points.iter().enumerate() {
            for b in &points[j + 1..] {
                let cross = a.cross(b);
                x.push(cross.x);
                y.push(cross.y);
                z.push(cross.z);
            }
        }
    }
}

/// Sums products in four columns, so that they need not wait for each other.
fn dot(a: &[f64], b: &[f64]) -> f64 {
    let mut sums = [0.0; 4];
    let (blocks, others) = (a.chunks_exact(4), b.chunks_exact(4));
    let rest: f64 = blocks
        .remainder()
        .iter()
        .zip(others.remainder())
        .map(|(x, y)| x * y)
        .sum();
    for (x, y) in blocks.zip(others) {
        for k in 0..4 {
            sums[k] += x[k] * y[k];
        }
    }
    (sums[0] + sums[1]) + (sums[2] + sums[3]) + rest
}

/// The forms by valence and number of sides, each made when first asked for.
#[derive(Debug)]
pub struct VolumeForms {
    patch: Tensor,
    among_quads: Vec<OnceLock<Tensor>>,
    forms: Vec<OnceLock<VolumeForm>>,
}

impl VolumeForms {
    /// No forms yet.
    pub fn new() -> Self {
        let kinds = STENCIL_VALENCE_MAX + 1;
        Self {
            patch: Tensor::of_patch(),
            among_quads: (0..kinds).map(|_| OnceLock::new()).collect(),
            forms: (0..kinds * kinds).map(|_| OnceLock::new()).collect(),
        }
    }

    /// The form for cage vertices of some valence in faces of some number of sides, both from 3 to
    /// [`STENCIL_VALENCE_MAX`]; `None` beyond.
    pub fn get(&self, (valence, sides): (usize, usize)) -> Option<&VolumeForm> {
        let kept = 3..=STENCIL_VALENCE_MAX;
        if !kept.contains(&valence) || !kept.contains(&sides) {
            return None;
        }
        let form = &self.forms[valence * (STENCIL_VALENCE_MAX + 1) + sides];
        Some(form.get_or_init(|| {
            if sides == 4 {
                self.among_quads(valence).packed()
            } else {
                self.level(valence, sides, true).0.packed()
            }
        }))
    }

    fn among_quads(&self, valence: usize) -> &Tensor {
        self.among_quads[valence].get_or_init(|| {
            let (mut sum, mut step) = self.level(valence, 4, false);
            if valence == 4 {
                // All four parts were patches: nothing is left below.
                return sum;
            }
            for _ in 0..DOUBLINGS {
                sum = sum.plus(&sum.of_points(&step)).antisymmetric();
                step = step.times(&step);
            }
            sum
        })
    }

    /// The form of what one split makes patches of, and how the points of the quad at the cage vertex
    /// follow from its own; with `whole`, the parts at both poles are added.
    fn level(&self, valence: usize, sides: usize, whole: bool) -> (Tensor, Matrix) {
        let count = 2 * (valence + sides);
        let mut children: [Matrix; 4] = Default::default();
        let mut kinds = [(0, 0); 4];
        for first in (0..count).step_by(3) {
            // Coordinates don't mix: each carries a unit point of its own.
            let unit = |i: usize, k: usize| f64::from(u8::from(i == first + k));
            let units: Vec<Vec3> = (0..count)
                .map(|i| Vec3::new(unit(i, 0), unit(i, 1), unit(i, 2)))
                .collect();
            let split = quad_of(valence, sides, &units).split();
            for (k, child) in split.iter().enumerate() {
                let points = match child.regular_points() {
                    Some(points) => points.concat(),
                    None => {
                        let Some((kind, points)) = smooth_points(child, k) else {
                            continue;
                        };
                        kinds[k] = kind;
                        points
                    }
                };
                children[k].set_columns(count, first, &points);
            }
        }
        let mut sum = Tensor::zeros(count);
        for (k, child) in children.iter().enumerate() {
            if kinds[k] == (0, 0) {
                sum = sum.plus(&self.patch.of_points(child));
            } else if whole {
                sum = sum.plus(&self.among_quads(kinds[k].0).of_points(child));
            }
        }
        let [own, ..] = children;
        (sum.antisymmetric(), own)
    }
}

/// Valence, number of sides and points, in the order of `Surface::stencil_points`, of a quad whose
/// corner `k` is a pole with nothing sharp and whose corners beside it are regular. `None` if it is
/// not such a quad, or past the tables.
pub fn smooth_points(quad: &QuadNeighbourhood, k: usize) -> Option<((usize, usize), Vec<Vec3>)> {
    let corner = |step: usize| &quad.corners[(k + step) % 4];
    let smooth = |step: usize| {
        let ring = &corner(step).ring;
        let nothing_sharp = ring.sharpness.is_empty() && ring.vertex_sharpness == 0.0;
        (ring.is_closed() && nothing_sharp && ring.cut.is_none()).then_some(ring)
    };
    let (pole, face) = (smooth(0)?, smooth(2)?);
    let (n, m) = (pole.len(), face.len());
    let kept = 3..=STENCIL_VALENCE_MAX;
    let beside_regular = corner(1).ring.is_regular() && corner(3).ring.is_regular();
    if !beside_regular || !kept.contains(&n) || !kept.contains(&m) {
        return None;
    }
    let mut points = vec![pole.center];
    points.extend((0..n).map(|j| pole.spokes[(corner(0).at + j) % n]));
    points.extend((0..n).map(|j| pole.diagonals[(corner(0).at + j) % n]));
    points.extend((2..m).map(|j| face.spokes[(corner(2).at + j) % m]));
    points.extend((1..m).map(|j| face.diagonals[(corner(2).at + j) % m]));
    for step in [1, 3] {
        let beside = corner(step);
        points.push(beside.ring.diagonals[(beside.at + 2) % 4]);
    }
    Some(((n, m), points))
}

/// How some points follow from others: rows of weights.
#[derive(Debug, Clone, Default)]
struct Matrix(Vec<Vec<f64>>);

impl Matrix {
    /// Takes on columns `first` to `first + 2` of `columns` from what became of unit points.
    fn set_columns(&mut self, columns: usize, first: usize, points: &[Vec3]) {
        self.0.resize(points.len(), vec![0.0; columns]);
        for (row, p) in self.0.iter_mut().zip(points) {
            for (w, x) in row[first..].iter_mut().zip(p.iter()) {
                *w = *x;
            }
        }
    }

    fn times(&self, other: &Self) -> Self {
        let columns = other.0.first().map_or(0, Vec::len);
        let row = |row: &Vec<f64>| {
            let mut out = vec![0.0; columns];
            for (w, from) in row.iter().zip(&other.0) {
                add_scaled(&mut out, *w, from);
            }
            out
        };
        Self(self.0.iter().map(row).collect())
    }
}

fn add_scaled(out: &mut [f64], w: f64, from: &[f64]) {
    for (x, y) in out.iter_mut().zip(from) {
        *x += w * y;
    }
}

/// Weights of p_i · (p_j × p_k) for all i, j, k, with k running fastest.
#[derive(Debug, Clone)]
struct Tensor {
    points: usize,
    weights: Vec<f64>,
}

impl Tensor {
    fn zeros(points: usize) -> Self {
        let weights = vec![0.0; points * points * points];
        Self { points, weights }
    }

    /// ∫ P · (Pu × Pv) / 3 over a bicubic patch, rows of points after each other: along either
    /// way the integrals of three B-spline functions, one of them derived, of degree 8.
    fn of_patch() -> Self {
        let rule = Rule::new(Points::Five, 1);
        let integral = |which: [usize; 3], derived: usize| -> f64 {
            let product = |node: &super::gauss_legendre::Node| {
                (0..3).fold(node.weight, |product, k| {
                    let functions = if k == derived {
                        &node.slope
                    } else {
                        &node.value
                    };
                    product * functions[which[k]]
                })
            };
            rule.nodes().iter().map(product).sum()
        };
        let mut tensor = Self::zeros(16);
        for (at, w) in tensor.weights.iter_mut().enumerate() {
            let [i, j, k] = [at / 256, at / 16 % 16, at % 16];
            let along_u = integral([i % 4, j % 4, k % 4], 1);
            let along_v = integral([i / 4, j / 4, k / 4], 2);
            *w = along_u * along_v / 3.0;
        }
        tensor.antisymmetric()
    }

    fn plus(&self, other: &Self) -> Self {
        let pairs = self.weights.iter().zip(&other.weights);
        Self {
            points: self.points,
            weights: pairs.map(|(a, b)| a + b).collect(),
        }
    }

    /// The form of the points that `matrix` makes these points from. Contracts the first index and
    /// turns the indices round, three times.
    fn of_points(&self, matrix: &Matrix) -> Self {
        let columns = matrix.0.first().map_or(0, Vec::len);
        let mut weights = self.weights.clone();
        for _ in 0..3 {
            let rest = weights.len() / self.points;
            let mut next = vec![0.0; rest * columns];
            for (row, block) in matrix.0.iter().zip(weights.chunks_exact(rest)) {
                for (at, w) in block.iter().enumerate() {
                    add_scaled(&mut next[at * columns..(at + 1) * columns], *w, row);
                }
            }
            weights = next;
        }
        Self {
            points: columns,
            weights,
        }
    }

    fn at(&self, [i, j, k]: [usize; 3]) -> f64 {
        self.weights[(i * self.points + j) * self.points + k]
    }

    /// Sum with signs over the orders of three points.
    fn signed_sum(&self, [i, j, k]: [usize; 3]) -> f64 {
        let even = self.at([i, j, k]) + self.at([j, k, i]) + self.at([k, i, j]);
        let odd = self.at([i, k, j]) + self.at([k, j, i]) + self.at([j, i, k]);
        even - odd
    }

    /// The same form with weights that change sign with the order, which determinants do too.
    fn antisymmetric(&self) -> Self {
        let n = self.points;
        let mut out = Self::zeros(n);
        for (at, w) in out.weights.iter_mut().enumerate() {
            *w = self.signed_sum([at / (n * n), at / n % n, at % n]) / 6.0;
        }
        out
    }

    fn packed(&self) -> VolumeForm {
        let n = self.points;
        let mut weights = Vec::new();
        for i in 0..n {
            for j in i + 1..n {
                weights.extend((j + 1..n).map(|k| self.signed_sum([i, j, k])));
            }
        }
        VolumeForm { points: n, weights }
    }
}
