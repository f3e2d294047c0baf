//! A quad with one pole: the most frequent of irregular quads, split in a fraction of the time that
//! the general way takes.
//!
//! Where nothing is sharp and three corners are regular, the quad's surface depends on the pole's
//! ring and seven points beyond it (Stam 1998, figure 6). Three of its four children are bicubic
//! patches, the fourth is of the same kind again.

use smallvec::SmallVec;

use super::patch::{QuadCorner, QuadNeighbourhood};
use super::ring::Ring;
use super::spline::PatchPoints;
use crate::mesh::Vec3;

/// Valence up to which a pole's ring needs no memory of its own.
const INLINE_VALENCE: usize = 12;

/// A quad whose only irregular corner is a pole with nothing sharp.
///
/// In the grid below a runs along u and b along v, counted from the pole's corner: the quad lies
/// between (1, 1), the pole, and (2, 2). Of the points about the pole, (2, 1), (1, 2), (0, 1) and
/// (1, 0) are spokes 0, 1, 2 and the last, (2, 2), (0, 2) and (2, 0) diagonals 0, 1 and the last.
/// (0, 0) stands for all the others and is not looked at.
#[derive(Debug, Clone, PartialEq)]
pub struct PoleQuad {
    center: Vec3,
    spokes: SmallVec<[Vec3; INLINE_VALENCE]>,
    diagonals: SmallVec<[Vec3; INLINE_VALENCE]>,
    /// The points beyond the ring: [`BEYOND`] tells where.
    beyond: [Vec3; 7],
}

/// Places in the grid, as (a, b), of the points beyond the ring.
const BEYOND: [(usize, usize); 7] = [(3, 0), (3, 1), (3, 2), (3, 3), (2, 3), (1, 3), (0, 3)];

/// The grid of [`PoleQuad`], `grid[b][a]`.
type Grid = [[Vec3; 4]; 4];

impl PoleQuad {
    /// The pole's quad, and the corner at which the pole lies; `None` for a quad of another kind.
    pub fn of(quad: &QuadNeighbourhood) -> Option<(Self, usize)> {
        let irregular = |k: &usize| !quad.corners[*k].ring.is_regular();
        let mut poles = (0..4).filter(irregular);
        let (k, None) = (poles.next()?, poles.next()) else {
            return None;
        };
        let QuadCorner { ring, at } = &quad.corners[k];
        let smooth = ring.sharpness.is_empty() && ring.vertex_sharpness == 0.0;
        let n = ring.spokes.len();
        if !smooth || !ring.is_closed() || ring.cut.is_some() || n < 3 {
            return None;
        }
        let turned = |points: &[Vec3]| {
            points[*at..]
                .iter()
                .chain(&points[..*at])
                .copied()
                .collect()
        };
        // About a regular corner, counted from the spoke that leads on round the quad.
        let corner = |step: usize| &quad.corners[(k + step) % 4];
        let spoke = |step: usize, j: usize| {
            let corner = corner(step);
            corner.ring.spokes[(corner.at + j) % 4]
        };
        let diagonal = |step: usize, j: usize| {
            let corner = corner(step);
            corner.ring.diagonals[(corner.at + j) % 4]
        };
        let pole = Self {
            center: ring.center,
            spokes: turned(&ring.spokes),
            diagonals: turned(&ring.diagonals),
            beyond: [
                diagonal(1, 2),
                spoke(1, 3),
                spoke(2, 2),
                diagonal(2, 2),
                spoke(2, 3),
                spoke(3, 2),
                diagonal(3, 2),
            ],
        };
        Some((pole, k))
    }

    fn grid(&self) -> Grid {
        let mut grid = [[Vec3::zeros(); 4]; 4];
        for ((a, b), p) in BEYOND.into_iter().zip(self.beyond) {
            grid[b][a] = p;
        }
        self.put_ring(&mut grid, (1, 1));
        grid
    }

    /// Puts the centre to a place of a grid, and the ring about it.
    fn put_ring<const N: usize>(&self, grid: &mut [[Vec3; N]; N], (a, b): (usize, usize)) {
        let last = self.spokes.len() - 1;
        grid[b][a] = self.center;
        grid[b][a + 1] = self.spokes[0];
        grid[b + 1][a] = self.spokes[1];
        grid[b][a - 1] = self.spokes[2];
        grid[b - 1][a] = self.spokes[last];
        grid[b + 1][a + 1] = self.diagonals[0];
        grid[b + 1][a - 1] = self.diagonals[1];
        grid[b - 1][a + 1] = self.diagonals[last];
    }

    /// Splits the quad: it becomes its child at the pole, and the patches of the other three, in
    /// order round the quad, are returned; all in the pole's frame, see [`turned_patch`].
    pub fn split(&mut self) -> [PatchPoints; 3] {
        let coarse = self.grid();
        self.refine_ring();
        // The refined grid: (2, 2) is the pole, and coarse point (a, b) is at (2 a, 2 b).
        let mut fine = [[Vec3::zeros(); 6]; 6];
        self.put_ring(&mut fine, (2, 2));
        for (a, b) in REGULAR_FINE {
            fine[b][a] = refined(&coarse, a, b);
        }
        self.beyond = BEYOND.map(|(a, b)| fine[b + 1][a + 1]);
        let window = |a: usize, b: usize| {
            std::array::from_fn(|j| std::array::from_fn(|i| fine[b + j][a + i]))
        };
        [window(2, 1), window(2, 2), window(1, 2)]
    }

    /// Moves the pole to the origin, and returns where it was. Seen from there coordinates shrink
    /// with the quad from level to level, and so does what rounding takes from them: otherwise
    /// second differences would drown in it.
    pub fn recentre(&mut self) -> Vec3 {
        let shift = std::mem::take(&mut self.center);
        let points = self.spokes.iter_mut().chain(&mut self.diagonals);
        points.chain(&mut self.beyond).for_each(|p| *p -= shift);
        shift
    }

    fn refine_ring(&mut self) {
        let ring = Ring {
            center: self.center,
            spokes: SmallVec::from_slice(&self.spokes),
            diagonals: SmallVec::from_slice(&self.diagonals),
            ..Ring::default()
        };
        let refined = ring.refined();
        self.center = refined.center;
        self.spokes.copy_from_slice(&refined.spokes);
        self.diagonals.copy_from_slice(&refined.diagonals);
    }

    /// The quad in the general form, its pole at corner `k`.
    pub fn neighbourhood(&self, k: usize) -> QuadNeighbourhood {
        let grid = self.grid();
        let regular = |a: usize, b: usize, at: usize| {
            let around = |(da, db): (isize, isize)| {
                grid[b.wrapping_add_signed(db)][a.wrapping_add_signed(da)]
            };
            QuadCorner {
                ring: Ring {
                    center: grid[b][a],
                    spokes: [(1, 0), (0, 1), (-1, 0), (0, -1)]
                        .map(around)
                        .as_slice()
                        .into(),
                    diagonals: [(1, 1), (-1, 1), (-1, -1), (1, -1)]
                        .map(around)
                        .as_slice()
                        .into(),
                    ..Ring::default()
                },
                at,
            }
        };
        let pole = QuadCorner {
            ring: Ring {
                center: self.center,
                spokes: SmallVec::from_slice(&self.spokes),
                diagonals: SmallVec::from_slice(&self.diagonals),
                ..Ring::default()
            },
            at: 0,
        };
        let mut corners = [pole, regular(2, 1, 1), regular(2, 2, 2), regular(1, 2, 3)];
        corners.rotate_right(k);
        QuadNeighbourhood { corners }
    }
}

/// Places in the refined grid whose points follow by the regular rules.
const REGULAR_FINE: [(usize, usize); 16] = [
    (4, 1),
    (5, 1),
    (4, 2),
    (5, 2),
    (4, 3),
    (5, 3),
    (4, 4),
    (5, 4),
    (5, 5),
    (4, 5),
    (3, 5),
    (3, 4),
    (2, 5),
    (2, 4),
    (1, 5),
    (1, 4),
];

/// The refined point (a, b) of a regular grid: the tensor product of the midpoint rule for cubic
/// B-splines, (1, 6, 1) / 8 at old points and (1, 1) / 2 between them (Lane & Riesenfeld 1980).
fn refined(coarse: &Grid, a: usize, b: usize) -> Vec3 {
    let row = |b: usize| {
        let row = &coarse[b];
        let i = a / 2;
        if a.is_multiple_of(2) {
            (row[i - 1] + row[i + 1]) * 0.125 + row[i] * 0.75
        } else {
            (row[i] + row[i + 1]) * 0.5
        }
    };
    let j = b / 2;
    if b.is_multiple_of(2) {
        (row(j - 1) + row(j + 1)) * 0.125 + row(j) * 0.75
    } else {
        (row(j) + row(j + 1)) * 0.5
    }
}

/// A patch given in the frame of a pole at corner `k`, in the frame of the quad itself.
pub fn turned_patch(points: PatchPoints, k: usize) -> PatchPoints {
    let place = |a: usize, b: usize| match k % 4 {
        0 => (a, b),
        1 => (b, 3 - a),
        2 => (3 - a, 3 - b),
        _ => (3 - b, a),
    };
    std::array::from_fn(|b| {
        std::array::from_fn(|a| {
            let (a, b) = place(a, b);
            points[b][a]
        })
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;

    /// Unrelated numbers between -1 and 1.
    fn point(i: usize) -> Vec3 {
        let x = |k: f64| ((i as f64 + 1.0) * k).sin();
        Vec3::new(x(12.9898), x(78.233), x(37.719))
    }

    fn pole_quad(n: usize) -> PoleQuad {
        PoleQuad {
            center: point(0),
            spokes: (1..=n).map(point).collect(),
            diagonals: (n + 1..=2 * n).map(point).collect(),
            beyond: std::array::from_fn(|i| point(2 * n + 1 + i)),
        }
    }

    #[test]
    fn a_pole_s_quad_is_found_again_in_its_general_form() {
        for n in [3, 5, 6, 9, 17] {
            for k in 0..4 {
                let quad = pole_quad(n);
                assert_eq!(PoleQuad::of(&quad.neighbourhood(k)), Some((quad, k)));
            }
        }
    }

    #[test]
    fn splitting_gives_what_the_general_split_gives() {
        for n in [3, 5, 6, 9, 17] {
            for k in 0..4 {
                let mut quad = pole_quad(n);
                let general = quad.neighbourhood(k).split();
                let patches = quad.split();
                for (j, points) in patches.into_iter().enumerate() {
                    let wanted = general[(k + j + 1) % 4].regular_points().unwrap();
                    let turned = turned_patch(points, k);
                    for (p, q) in turned.iter().flatten().zip(wanted.iter().flatten()) {
                        assert!((p - q).norm() < 1e-14, "valence {n}, child {j}");
                    }
                }
                let (child, at) = PoleQuad::of(&general[k]).unwrap();
                assert_eq!(at, k);
                let pairs = quad.beyond.iter().zip(&child.beyond);
                let ring = quad.spokes.iter().zip(&child.spokes);
                for (p, q) in pairs.chain(ring).chain([(&quad.center, &child.center)]) {
                    assert!((p - q).norm() < 1e-14, "valence {n}");
                }
            }
        }
    }
}
