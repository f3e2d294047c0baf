//! Rings about a vertex: their subdivision matrices, and two-ring cages about a pole.

use cagewise::mesh::{PolygonMesh, Vec3};
use cagewise::subdivision::ring::Ring;
use nalgebra::{DMatrix, DVector};

/// The one-ring matrix of an interior smooth vertex of valence `n`: see [`matrix_of`].
pub fn ring_matrix(n: usize) -> DMatrix<f64> {
    matrix_of(n, n)
}

/// The matrix that takes a ring to the next level, column by column from the program's own
/// refinement of unit rings: vertex, spokes, diagonals. A ring with one diagonal fewer than spokes
/// is a border's.
pub fn matrix_of(spokes: usize, diagonals: usize) -> DMatrix<f64> {
    let size = 1 + spokes + diagonals;
    let mut matrix = DMatrix::zeros(size, size);
    for column in 0..size {
        let unit = |i: usize| Vec3::new(f64::from(u8::from(i == column)), 0.0, 0.0);
        let mut ring = Ring {
            center: unit(0),
            ..Ring::default()
        };
        ring.spokes.extend((1..=spokes).map(unit));
        ring.diagonals.extend((spokes + 1..size).map(unit));
        if diagonals < spokes {
            let end = |j: usize| j == 0 || j + 1 == spokes;
            let sharpness = (0..spokes).map(|j| if end(j) { f64::INFINITY } else { 0.0 });
            ring.sharpness.extend(sharpness);
        }
        let refined = ring.refined();
        let values = std::iter::once(&refined.center)
            .chain(&refined.spokes)
            .chain(&refined.diagonals);
        for (row, p) in values.enumerate() {
            matrix[(row, column)] = p.x;
        }
    }
    matrix
}

/// The points about a pole of valence `n`, up to `reach` quads away: sector `j` lies between spokes
/// `j` and `j + 1`, its point (a, b) is `a` quads along the first and `b` along the second. Point 0 is
/// the pole.
#[derive(Debug, Clone, Copy)]
pub struct Sectors {
    pub valence: usize,
    pub reach: usize,
}

impl Sectors {
    /// Number of points.
    pub fn count(&self) -> usize {
        1 + self.valence * self.reach * (self.reach + 1)
    }

    /// Index of a point; `a` or `b` may be -1, which lies in the sector beside.
    pub fn index(&self, j: usize, a: isize, b: isize) -> usize {
        let n = self.valence;
        match (a, b) {
            (0, 0) => 0,
            (a, -1) => self.index((j + n - 1) % n, 1, a),
            (-1, b) => self.index((j + 1) % n, b, 1),
            (0, b) => self.index((j + 1) % n, b, 0),
            (a, b) => {
                let per_sector = self.reach * (self.reach + 1);
                1 + j * per_sector + b as usize * self.reach + a as usize - 1
            }
        }
    }

    /// Sector and grid place of every point but the pole, in the order of their indices.
    pub fn places(&self) -> impl Iterator<Item = (usize, usize, usize)> {
        let Self { valence, reach } = *self;
        (0..valence)
            .flat_map(move |j| (0..=reach).flat_map(move |b| (1..=reach).map(move |a| (j, a, b))))
    }

    /// The cage over these points.
    pub fn cage(&self, positions: Vec<Vec3>) -> PolygonMesh {
        let mut faces = Vec::new();
        for j in 0..self.valence {
            for (a, b) in (0..self.reach).flat_map(|a| (0..self.reach).map(move |b| (a, b))) {
                let at = |a: usize, b: usize| self.index(j, a as isize, b as isize) as u32;
                faces.push([at(a, b), at(a + 1, b), at(a + 1, b + 1), at(a, b + 1)]);
            }
        }
        PolygonMesh::from_faces(positions, &faces).unwrap()
    }

    /// A flat layout: every sector a parallelogram grid of unit steps between spokes at equal angles.
    pub fn flat(&self) -> Vec<Vec3> {
        let on = |j: usize| {
            let (sin, cos) = (j as f64 / self.valence as f64 * std::f64::consts::TAU).sin_cos();
            Vec3::new(cos, sin, 0.0)
        };
        let point = |(j, a, b): (usize, usize, usize)| on(j) * a as f64 + on(j + 1) * b as f64;
        std::iter::once(Vec3::zeros())
            .chain(self.places().map(point))
            .collect()
    }

    /// The matrix that takes two rings to those of the next level, by the rules of 1978 written out
    /// anew: about the pole the vertex rule, elsewhere the B-spline's.
    pub fn two_ring_matrix(valence: usize) -> DMatrix<f64> {
        let sectors = Self { valence, reach: 2 };
        let size = sectors.count();
        let mut matrix = DMatrix::zeros(size, size);
        let n = valence as f64;
        matrix[(0, 0)] = 1.0 - 1.75 / n;
        for j in 0..valence {
            matrix[(0, sectors.index(j, 1, 0))] = 1.5 / (n * n);
            matrix[(0, sectors.index(j, 1, 1))] = 0.25 / (n * n);
        }
        // One way: even points are (1, 6, 1) / 8 of old ones, odd points (1, 1) / 2.
        let ways = |i: usize| -> Vec<(isize, f64)> {
            let old = (i / 2) as isize;
            match i % 2 {
                0 => vec![(old - 1, 0.125), (old, 0.75), (old + 1, 0.125)],
                _ => vec![(old, 0.5), (old + 1, 0.5)],
            }
        };
        for (row, (j, a, b)) in sectors.places().enumerate() {
            for (x, wx) in ways(a) {
                for (y, wy) in ways(b) {
                    matrix[(row + 1, sectors.index(j, x, y))] += wx * wy;
                }
            }
        }
        matrix
    }

    /// Two rings that refinement only multiplies by `eigenvalue`, from the one-ring that it does
    /// so with (pole, spokes, diagonals).
    pub fn extended(valence: usize, one_ring: &[f64], eigenvalue: f64) -> Vec<f64> {
        let sectors = Self { valence, reach: 2 };
        let matrix = Self::two_ring_matrix(valence);
        let mut known = vec![None; sectors.count()];
        known[0] = Some(one_ring[0]);
        for j in 0..valence {
            known[sectors.index(j, 1, 0)] = Some(one_ring[1 + j]);
            known[sectors.index(j, 1, 1)] = Some(one_ring[1 + valence + j]);
        }
        let open: Vec<usize> = (0..known.len()).filter(|&i| known[i].is_none()).collect();
        let size = open.len();
        let shifted = DMatrix::from_fn(size, size, |i, k| {
            let same = if i == k { eigenvalue } else { 0.0 };
            same - matrix[(open[i], open[k])]
        });
        let given = |row: usize| {
            let terms = known.iter().enumerate();
            terms
                .map(|(k, x)| x.map_or(0.0, |x| matrix[(row, k)] * x))
                .sum()
        };
        let right = DVector::from_iterator(size, open.iter().map(|&row| given(row)));
        let found = shifted.lu().solve(&right).unwrap();
        for (i, x) in open.iter().zip(found.iter()) {
            known[*i] = Some(*x);
        }
        known.into_iter().flatten().collect()
    }
}
