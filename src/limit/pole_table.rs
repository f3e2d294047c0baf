//! The parts of quads about poles by tables, as [`crate::subdivision::stencil`] has for samples.

use std::sync::OnceLock;

use pulp::Arch;

use super::pieces::{Pieces, Tail};
use crate::mesh::Vec3;
use crate::subdivision::lanes::{SampleColumns, padded, sample_stencil};
use crate::subdivision::stencil::{STENCIL_VALENCE_MAX, quad_of};

/// Points per patch.
const PATCH: usize = 16;

/// Points per tail: four corners and two tangents.
const TAIL: usize = 6;

/// The control points of all patches of one kind of level-one quad, and the corners and tangents
/// of its tails, as weights of the points about it.
#[derive(Debug)]
struct PoleTable {
    columns: usize,
    weights: Vec<f64>,
    /// The parts of some such quad: how many there are and where they lie.
    shape: Pieces,
}

/// The tables for one number of levels, each made when first asked for.
#[derive(Debug)]
pub struct PoleTables {
    levels: usize,
    tables: Vec<OnceLock<PoleTable>>,
    arch: Arch,
}

impl PoleTables {
    /// Tables for quads taken apart down to `levels` levels.
    pub fn new(levels: usize) -> Self {
        let count = (STENCIL_VALENCE_MAX + 1) * (STENCIL_VALENCE_MAX + 1);
        Self {
            levels,
            tables: (0..count).map(|_| OnceLock::new()).collect(),
            arch: Arch::new(),
        }
    }

    /// The parts of the quad of these points, in the order of `Surface::stencil_points`; without
    /// the tails' control points. Returns whether there is a table for the kind.
    pub fn take(
        &self,
        kind: (usize, usize),
        points: &[Vec3],
        columns: &mut SampleColumns,
        pieces: &mut Pieces,
    ) -> bool {
        let index = kind.0 * (STENCIL_VALENCE_MAX + 1) + kind.1;
        let Some(table) = self.tables.get(index) else {
            return false;
        };
        let table = table.get_or_init(|| PoleTable::new(kind, self.levels));
        columns.resize(table.columns);
        sample_stencil(
            self.arch,
            points,
            &table.weights,
            table.columns,
            false,
            columns,
        );
        let patches = table.shape.patches.len();
        pieces.clear();
        pieces.patches.extend((0..patches).map(|i| {
            let at = |a: usize, b: usize| columns.position(i * PATCH + b * 4 + a);
            std::array::from_fn(|b| std::array::from_fn(|a| at(a, b)))
        }));
        for (i, tail) in table.shape.tails.iter().enumerate() {
            let at = |k: usize| columns.position(patches * PATCH + i * TAIL + k);
            pieces.tails.push(Tail {
                corners: std::array::from_fn(at),
                valence: tail.valence,
                tangents: [at(4), at(5)],
                sides: tail.sides,
            });
        }
        true
    }
}

impl PoleTable {
    fn new((valence, sides): (usize, usize), levels: usize) -> Self {
        let points = 2 * (valence + sides);
        let mut columns = 0;
        let mut weights = Vec::new();
        let mut shape = Pieces::default();
        for first in (0..points).step_by(3) {
            // Coordinates don't mix: each carries a unit point of its own.
            let unit = |i: usize, k: usize| f64::from(u8::from(i == first + k));
            let units: Vec<Vec3> = (0..points)
                .map(|i| Vec3::new(unit(i, 0), unit(i, 1), unit(i, 2)))
                .collect();
            shape.clear();
            shape.take(quad_of(valence, sides, &units), levels);
            let patches = shape.patches.iter().flatten().flatten().copied();
            let tails = shape.tails.iter();
            let tails = tails.flat_map(|tail| tail.corners.into_iter().chain(tail.tangents));
            let column: Vec<Vec3> = patches.chain(tails).collect();
            columns = padded(column.len());
            weights.resize(points * columns, 0.0);
            for k in 0..3.min(points - first) {
                let out = &mut weights[(first + k) * columns..(first + k + 1) * columns];
                for (w, value) in out.iter_mut().zip(&column) {
                    *w = value[k];
                }
            }
        }
        Self {
            columns,
            weights,
            shape,
        }
    }
}
