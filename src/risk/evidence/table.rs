//! Where the evidence is kept: as the trees read it, in single precision, quantity by quantity.

use rayon::prelude::*;

use super::Quantity;
use crate::subdivision::LargeArray;

/// Columns that are allocated together: memory touched for the first time costs more than what is
/// written into it, and less in large pieces ([`LargeArray`]).
const SLAB_COLUMNS: usize = 24;

/// Values that one parallel task takes on.
const TASK_LENGTH: usize = 8192;

/// A value that is kept in single precision.
pub(super) trait Single: Copy + Sync {
    /// The nearest value in single precision.
    fn single(self) -> f32;
}

impl Single for f32 {
    fn single(self) -> f32 {
        self
    }
}

impl Single for f64 {
    fn single(self) -> f32 {
        self as f32
    }
}

/// Columns of values, one value per vertex each.
#[derive(Debug)]
pub(super) struct Table {
    count: usize,
    quantities: Vec<&'static Quantity>,
    slabs: Vec<LargeArray<f32>>,
}

impl Table {
    /// A table without columns for `count` vertices.
    pub fn new(count: usize) -> Self {
        Self {
            count,
            quantities: Vec::new(),
            slabs: Vec::new(),
        }
    }

    /// Adds a column; what its values do not reach is undefined.
    pub fn push<T: Single>(&mut self, quantity: &'static Quantity, values: &[T]) {
        let place = self.quantities.len() % SLAB_COLUMNS;
        if place == 0 {
            self.slabs
                .push(LargeArray::zeros(SLAB_COLUMNS * self.count));
        }
        self.quantities.push(quantity);
        if let Some(slab) = self.slabs.last_mut() {
            let column = &mut slab[place * self.count..][..self.count];
            let (column, undefined) = column.split_at_mut(values.len().min(self.count));
            undefined.fill(f32::NAN);
            let tasks = column.par_chunks_mut(TASK_LENGTH);
            tasks
                .zip(values.par_chunks(TASK_LENGTH))
                .for_each(|(column, values)| {
                    for (kept, x) in column.iter_mut().zip(values) {
                        *kept = x.single();
                    }
                });
        }
    }

    /// The columns, in the order in which they were added.
    pub fn columns(&self) -> impl Iterator<Item = (&'static Quantity, &[f32])> {
        self.quantities.iter().enumerate().map(|(i, quantity)| {
            let start = i % SLAB_COLUMNS * self.count;
            let column = &self.slabs[i / SLAB_COLUMNS][start..start + self.count];
            (*quantity, column)
        })
    }

    /// Number of vertices.
    pub fn count(&self) -> usize {
        self.count
    }
}
