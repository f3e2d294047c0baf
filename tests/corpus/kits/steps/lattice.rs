//! Shells of cells of an uneven lattice: boxes, steps, plates with windows.

use std::collections::BTreeMap;

use cagewise::mesh::Vec3;

use super::{Chance, Model};
use crate::support::cages::Random;

/// Lines of a lattice along one axis: coarse ones, at which a form may begin and end, with finer
/// ones between them.
#[derive(Clone)]
pub struct Lines {
    pub stations: Vec<f64>,
    /// The coarse cell of each gap.
    pub cell: Vec<usize>,
}

/// How lines are drawn.
#[derive(Clone, Copy)]
pub struct Drawn {
    /// Coarse cells (on each side of the mirror plane, if mirrored).
    pub cells: usize,
    /// Distance of the support lines to both sides of each coarse line; none if 0.
    pub held: f64,
    /// Most lines between the supports of a cell.
    pub between: usize,
    /// Widest gap over the narrowest of those between.
    pub ratio: f64,
    pub mirrored: bool,
}

impl Lines {
    /// Lines from 0 on, or to both sides of 0 alike; cells are about one unit wide.
    pub fn drawn(random: &mut Random, how: &Drawn) -> Self {
        let (mut stations, mut cell) = (vec![0.0], Vec::new());
        let mut low = 0.0;
        for k in 0..how.cells {
            let high = low + random.between(0.7, 1.6);
            // Nothing ends at the mirror plane, which therefore needs no support.
            let from = if how.mirrored && k == 0 {
                low
            } else {
                low + how.held
            };
            let to = high - how.held;
            if from > low {
                stations.push(from);
            }
            let inner = random.whole(usize::from(how.held > 0.0), how.between) + 1;
            for t in &random.stations(inner, how.ratio)[1..inner] {
                stations.push(from + (to - from) * t);
            }
            if how.held > 0.0 {
                stations.push(to);
            }
            stations.push(high);
            cell.resize(stations.len() - 1, k);
            low = high;
        }
        if how.mirrored {
            Self { stations, cell }.reflected()
        } else {
            Self { stations, cell }
        }
    }

    /// The same lines on the other side of 0 too; cells that are each other's image share a
    /// number.
    fn reflected(self) -> Self {
        let left = self.stations[1..].iter().rev().map(|x| -x);
        let cells = self.cell.iter().rev().copied();
        Self {
            stations: left.chain(self.stations.iter().copied()).collect(),
            cell: cells.chain(self.cell.iter().copied()).collect(),
        }
    }

    /// The outermost coarse cell's number and one.
    pub fn cells(&self) -> usize {
        self.cell.iter().max().map_or(0, |k| k + 1)
    }

    /// Moves the lines so that their middle lies at 0.
    pub fn centred(mut self) -> Self {
        let middle = (self.stations[0] + self.stations[self.stations.len() - 1]) / 2.0;
        for x in &mut self.stations {
            *x -= middle;
        }
        self
    }
}

/// The shell about all cells of the lattice whose coarse cell is `inside`.
pub fn shell(lines: &[Lines; 3], inside: impl Fn([usize; 3]) -> bool) -> Model {
    let filled = |c: [Option<usize>; 3]| match c {
        [Some(i), Some(j), Some(k)] => {
            let coarse = [(0, i), (1, j), (2, k)].map(|(axis, n)| lines[axis].cell.get(n).copied());
            matches!(coarse, [Some(a), Some(b), Some(c)] if inside([a, b, c]))
        }
        _ => false,
    };
    let mut model = Model::default();
    let mut numbers = BTreeMap::<[usize; 3], u32>::new();
    let counts: [usize; 3] = std::array::from_fn(|axis| lines[axis].cell.len());
    for (i, j, k) in cells(counts) {
        if !filled([Some(i), Some(j), Some(k)]) {
            continue;
        }
        for axis in 0..3 {
            for high in [false, true] {
                let mut beside = [Some(i), Some(j), Some(k)];
                let here = [i, j, k][axis];
                beside[axis] = if high {
                    Some(here + 1)
                } else {
                    here.checked_sub(1)
                };
                if filled(beside) {
                    continue;
                }
                let face = corners([i, j, k], axis, high).map(|key| {
                    *numbers.entry(key).or_insert_with(|| {
                        model.add_point(Vec3::from_fn(|a, _| lines[a].stations[key[a]]))
                    })
                });
                model.add(face.to_vec());
            }
        }
    }
    model
}

fn cells(counts: [usize; 3]) -> impl Iterator<Item = (usize, usize, usize)> {
    let [nx, ny, nz] = counts;
    (0..nx).flat_map(move |i| (0..ny).flat_map(move |j| (0..nz).map(move |k| (i, j, k))))
}

/// The corners of one side of a cell, counter-clockwise seen from outside.
fn corners(cell: [usize; 3], axis: usize, high: bool) -> [[usize; 3]; 4] {
    let (u, v) = ((axis + 1) % 3, (axis + 2) % 3);
    let mut found = [(0, 0), (1, 0), (1, 1), (0, 1)].map(|(i, j)| {
        let mut key = cell;
        key[axis] += usize::from(high);
        key[u] += i;
        key[v] += j;
        key
    });
    if !high {
        found.reverse();
    }
    found
}
