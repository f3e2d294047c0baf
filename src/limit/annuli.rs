//! The limit surface on the annuli about a vertex that refinement shows: exact curvature ring by ring.
//!
//! In the quads of level one about a vertex, annulus m is what lies between 2^-m and 2^-(m + 1) of
//! their parameters: max(u, v) from one to the other, (0, 0) being the vertex. Refinement to level L
//! shows annuli 0 to L. Each is read where max(u, v) is half-way, on every spoke and on every
//! diagonal, hence in twice as many directions as there are spokes.

use std::sync::OnceLock;

use super::curvature::Curvature;
use crate::mesh::Vec3;
use crate::subdivision::Surface;
use crate::subdivision::evaluate::{DESCENT_LEVELS_MAX, Reached, evaluate};
use crate::subdivision::patch::QuadNeighbourhood;
use crate::subdivision::spline::Derivatives;
use crate::subdivision::stencil::{STENCIL_VALENCE_MAX, quad_of};

/// The level whose annuli are read fast: that of the preview unless another is asked for.
pub const TABULATED_LEVEL: usize = 2;

/// Directions per quad: along its first spoke and along its diagonal.
const DIRECTIONS: usize = 2;

/// Places per quad that tables hold.
const PLACES: usize = (TABULATED_LEVEL + 1) * DIRECTIONS;

/// Quantities per place: position, two first and three second derivatives.
const QUANTITIES: usize = 6;

/// The parameters of a quad at which annulus `m` is read.
fn places(m: usize) -> [[f64; 2]; DIRECTIONS] {
    let middle = 0.75 * 0.5f64.powi(m as i32);
    [[middle, 0.0], [middle, middle]]
}

/// The annuli about an interior vertex with nothing sharp, read from the limit surface; in the
/// control mesh's frame.
#[derive(Debug, Clone, Default)]
pub struct Annuli {
    directions: usize,
    /// Annulus by annulus, from the outermost; direction by direction.
    samples: Vec<Option<Derivatives>>,
    points: Vec<Vec3>,
}

impl Annuli {
    /// The annuli that refinement to `level` shows about vertex `v`; none at a border or a
    /// non-manifold vertex.
    pub fn new(surface: &Surface, v: usize, level: usize) -> Self {
        let mut annuli = Self::default();
        annuli.fill(surface, v, level);
        annuli
    }

    /// Takes on another vertex, keeping the memory. To [`TABULATED_LEVEL`], up to valence and sides
    /// of 12, by tables; else by descent, an order of magnitude slower.
    pub fn fill(&mut self, surface: &Surface, v: usize, level: usize) {
        self.samples.clear();
        self.directions = 0;
        let topology = surface.control().topology();
        let Some(fan) = topology.fans(v).next().filter(|_| topology.is_interior(v)) else {
            return;
        };
        self.directions = DIRECTIONS * fan.len();
        self.samples.resize((level + 1) * self.directions, None);
        for (j, &c) in fan.iter().enumerate() {
            self.read_quad(surface, c as usize, level, j);
        }
    }

    fn read_quad(&mut self, surface: &Surface, c: usize, level: usize, j: usize) {
        let directions = self.directions;
        let slot =
            |place: usize| place / DIRECTIONS * directions + DIRECTIONS * j + place % DIRECTIONS;
        if level == TABULATED_LEVEL
            && let Some(kind) = surface.stencil_points(c, &mut self.points)
            && let Some(table) = Table::of(kind)
        {
            for (place, d) in table.apply(&self.points).into_iter().enumerate() {
                self.samples[slot(place)] = Some(d);
            }
            return;
        }
        let quad = surface.corner_quad(c, level + DESCENT_LEVELS_MAX, 0);
        for (place, at) in (0..=level).flat_map(places).enumerate() {
            self.samples[slot(place)] = inside(&quad, at);
        }
    }

    /// Number of annuli: one more than the level.
    pub fn count(&self) -> usize {
        self.samples.len().checked_div(self.directions).unwrap_or(0)
    }

    /// Number of directions in which each is read: twice the valence, counter-clockwise, spokes
    /// before the diagonals after them.
    pub fn directions(&self) -> usize {
        self.directions
    }

    /// The limit surface on annulus `m` in direction `i`, derivatives by the parameters of a quad of
    /// level one; `None` beyond what there is.
    pub fn sample(&self, m: usize, i: usize) -> Option<&Derivatives> {
        let index = m * self.directions + i;
        let sample = self.samples.get(index).filter(|_| i < self.directions);
        sample?.as_ref()
    }

    /// The curvature there.
    pub fn curvature(&self, m: usize, i: usize) -> Option<Curvature> {
        Curvature::of(self.sample(m, i)?)
    }

    /// The smallest and the largest principal curvature on annulus `m`; `None` where there is none.
    pub fn range(&self, m: usize) -> Option<[f64; 2]> {
        let curvatures = (0..self.directions).filter_map(|i| self.curvature(m, i));
        let ranges = curvatures.map(|k| [k.principal[1], k.principal[0]]);
        ranges.reduce(joined)
    }

    /// The smallest and the largest principal curvature on all annuli.
    pub fn whole_range(&self) -> Option<[f64; 2]> {
        let ranges = (0..self.count()).filter_map(|m| self.range(m));
        ranges.reduce(joined)
    }
}

fn joined(a: [f64; 2], b: [f64; 2]) -> [f64; 2] {
    [a[0].min(b[0]), a[1].max(b[1])]
}

fn inside(quad: &QuadNeighbourhood, [u, v]: [f64; 2]) -> Option<Derivatives> {
    match evaluate(quad, u, v) {
        Reached::Patch(d) => Some(d),
        Reached::Vertex(_) => None,
    }
}

/// Weights of all places of one kind of level-one quad: what evaluation makes of unit points, as in
/// [`stencil`](crate::subdivision::stencil).
struct Table {
    /// One row per point, in the order of `Surface::stencil_points`.
    rows: Vec<[f64; PLACES * QUANTITIES]>,
}

impl Table {
    /// The table for cage vertices of some valence in faces of some number of sides; `None` beyond
    /// [`STENCIL_VALENCE_MAX`].
    fn of((valence, sides): (usize, usize)) -> Option<&'static Self> {
        const SIDE: usize = STENCIL_VALENCE_MAX + 1;
        static TABLES: [OnceLock<Table>; SIDE * SIDE] = [const { OnceLock::new() }; SIDE * SIDE];
        if valence >= SIDE || sides >= SIDE {
            return None;
        }
        let table = &TABLES[valence * SIDE + sides];
        Some(table.get_or_init(|| Self::new(valence, sides)))
    }

    fn new(valence: usize, sides: usize) -> Self {
        let points = 2 * (valence + sides);
        let row = |point: usize| {
            let unit = |i: usize| Vec3::new(f64::from(u8::from(i == point)), 0.0, 0.0);
            let units: Vec<Vec3> = (0..points).map(unit).collect();
            let quad = quad_of(valence, sides, &units);
            let mut row = [0.0; PLACES * QUANTITIES];
            let places = (0..=TABULATED_LEVEL).flat_map(places);
            for (out, at) in row.chunks_exact_mut(QUANTITIES).zip(places) {
                if let Some(d) = inside(&quad, at) {
                    let ([u, v], [uu, uv, vv]) = (d.first, d.second);
                    out.copy_from_slice(&[d.position, u, v, uu, uv, vv].map(|w| w.x));
                }
            }
            row
        };
        Self {
            rows: (0..points).map(row).collect(),
        }
    }

    fn apply(&self, points: &[Vec3]) -> [Derivatives; PLACES] {
        let mut sums = [[0.0; PLACES * QUANTITIES]; 3];
        for (row, p) in self.rows.iter().zip(points) {
            for (sums, x) in sums.iter_mut().zip(p.iter()) {
                for (sum, w) in sums.iter_mut().zip(row) {
                    *sum += w * x;
                }
            }
        }
        std::array::from_fn(|place| {
            let of = |q: usize| {
                let at = place * QUANTITIES + q;
                Vec3::new(sums[0][at], sums[1][at], sums[2][at])
            };
            Derivatives {
                position: of(0),
                first: [of(1), of(2)],
                second: [of(3), of(4), of(5)],
            }
        })
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;
    use crate::mesh::{PolygonMesh, Topology};
    use crate::subdivision::{BoundaryRule, ControlMesh, Creases};
    use approx::assert_relative_eq;

    /// A wheel of `n` faces about a vertex, quads or triangles, raised unevenly.
    fn wheel(n: usize, quads: bool) -> Surface {
        let turn = |i: usize| i as f64 / (2 * n) as f64 * std::f64::consts::TAU;
        let rim = |i: usize| {
            let (sin, cos) = turn(i).sin_cos();
            Vec3::new(
                1.3 * cos + 0.2 * sin,
                sin,
                0.3 * (2.0 * turn(i)).sin() - 0.4,
            )
        };
        let mut positions = vec![Vec3::zeros()];
        positions.extend((0..2 * n).map(rim));
        let at = |i: usize| (1 + i % (2 * n)) as u32;
        let face = |j: usize| match quads {
            true => vec![0, at(2 * j), at(2 * j + 1), at(2 * j + 2)],
            false => vec![0, at(2 * j), at(2 * j + 2)],
        };
        let mut faces: Vec<Vec<u32>> = (0..n).map(face).collect();
        if !quads {
            faces.extend((0..n).map(|j| vec![at(2 * j), at(2 * j + 1), at(2 * j + 2)]));
        }
        let mesh = PolygonMesh::from_faces(positions, &faces).unwrap();
        let topology = Topology::new(&mesh);
        let (creases, rule) = (Creases::default(), BoundaryRule::default());
        Surface::new(ControlMesh::new(&mesh, topology, &creases, rule))
    }

    #[test]
    fn tables_give_what_the_descent_gives() {
        for (n, quads) in [(3, true), (3, false), (5, true), (6, false), (12, true)] {
            let surface = wheel(n, quads);
            // One level more goes by descent.
            let fast = Annuli::new(&surface, 0, TABULATED_LEVEL);
            let slow = Annuli::new(&surface, 0, TABULATED_LEVEL + 1);
            assert_eq!((fast.count(), fast.directions()), (3, 2 * n));
            for (m, i) in (0..3).flat_map(|m| (0..2 * n).map(move |i| (m, i))) {
                let (a, b) = (fast.sample(m, i).unwrap(), slow.sample(m, i).unwrap());
                assert_relative_eq!(a.position, b.position, epsilon = 1e-13);
                for (a, b) in a.first.iter().zip(&b.first) {
                    assert_relative_eq!(a, b, epsilon = 1e-12);
                }
                for (a, b) in a.second.iter().zip(&b.second) {
                    assert_relative_eq!(a, b, epsilon = 1e-11);
                }
            }
        }
    }
}
