//! A forest asked about many rows of evidence: block by block, each tree once for all rows of a
//! block.
//!
//! Vertices that are numbered one after the other mostly lie beside each other and are alike, so that
//! the rows of a block go the same way at most nodes: the range of a quantity over the block tells so
//! without looking at the rows. Where they part, both ways are taken for all of them and mixed for each
//! row, without a branch that a processor would guess wrong. What is said of a row is, to the bit,
//! [`Forest::log_odds`].

use super::trees::{Forest, mixed};

/// Rows of a block: few enough to be alike, and many enough that a node's cost is shared.
pub(super) const BLOCK: usize = 64;

/// One value for each row of a block.
type Lanes = [f32; BLOCK];

/// Rows of evidence, quantity by quantity.
#[derive(Debug, Default)]
pub(super) struct Block {
    values: Vec<Lanes>,
    ranges: Vec<Range>,
}

/// What is known of the values of a quantity in a block.
#[derive(Debug, Clone, Copy)]
struct Range {
    /// NaN if any value is undefined.
    least: f32,
    /// See `least`.
    largest: f32,
    /// Whether some values are undefined and some are not.
    mixed: bool,
}

impl Range {
    fn of(values: &Lanes) -> Self {
        let undefined = values.iter().filter(|x| x.is_nan()).count();
        let [least, largest] = match undefined {
            0 => range(values),
            _ => [f32::NAN; 2],
        };
        Self {
            least,
            largest,
            mixed: undefined > 0 && undefined < BLOCK,
        }
    }
}

/// The least and the largest of defined values, several of each side by side: so they do not wait
/// for each other.
fn range(values: &Lanes) -> [f32; 2] {
    const ABREAST: usize = 16;
    let smaller = |a: f32, b: f32| if a < b { a } else { b };
    let larger = |a: f32, b: f32| if a < b { b } else { a };
    let (mut least, mut largest) = ([f32::INFINITY; ABREAST], [f32::NEG_INFINITY; ABREAST]);
    for run in values.chunks_exact(ABREAST) {
        for (k, &x) in run.iter().enumerate() {
            least[k] = smaller(least[k], x);
            largest[k] = larger(largest[k], x);
        }
    }
    [
        least.into_iter().fold(f32::INFINITY, smaller),
        largest.into_iter().fold(f32::NEG_INFINITY, larger),
    ]
}

impl Block {
    /// Takes on the rows of some vertices, at least one and no more than [`BLOCK`], from one column a
    /// quantity; a column that ends before a vertex does not define its value. What is left of the
    /// block repeats the last row, so as not to widen any range.
    pub fn fill(&mut self, columns: &[&[f64]], vertices: &[u32]) {
        self.values.clear();
        self.values.extend(columns.iter().map(|column| {
            std::array::from_fn(|i| {
                let v = vertices[i.min(vertices.len() - 1)] as usize;
                column.get(v).map_or(f32::NAN, |x| *x as f32)
            })
        }));
        self.ranges.clear();
        self.ranges.extend(self.values.iter().map(Range::of));
    }
}

impl Forest {
    /// The log-odds for every row of a block.
    pub(super) fn log_odds_of_block(&self, block: &Block) -> [f64; BLOCK] {
        let mut sums = [0.0; BLOCK];
        for &root in &self.roots {
            let mut said = [0.0; BLOCK];
            self.ask(root as usize, block, &mut said);
            for (sum, x) in sums.iter_mut().zip(said) {
                *sum += f64::from(x);
            }
        }
        sums.map(|sum| f64::from(self.base) + sum)
    }

    /// What the part of a tree from `node` on says of every row.
    fn ask(&self, node: usize, block: &Block, said: &mut Lanes) {
        let mut node = node;
        while self.left[node] != 0 {
            let left = self.left[node] as usize;
            match self.common_way(node, block) {
                Some(goes_left) => node = left + usize::from(!goes_left),
                None => {
                    let mut right_said = [0.0; BLOCK];
                    self.ask(left, block, said);
                    self.ask(left + 1, block, &mut right_said);
                    self.mix(node, block, said, &right_said);
                    return;
                }
            }
        }
        said.fill(self.value[node]);
    }

    /// Whether all rows go left at `node`, or all right; `None` where they may part.
    fn common_way(&self, node: usize, block: &Block) -> Option<bool> {
        let range = &block.ranges[usize::from(self.quantity[node])];
        let to_right = self.to_right(node);
        if range.mixed {
            None
        } else if to_right(range.largest) == 0.0 {
            Some(true)
        } else {
            (to_right(range.least) == 1.0).then_some(false)
        }
    }

    /// Mixes what the right child said into what the left one said.
    fn mix(&self, node: usize, block: &Block, said: &mut Lanes, right_said: &Lanes) {
        let values = &block.values[usize::from(self.quantity[node])];
        let to_right = self.to_right(node);
        for ((s, &r), &x) in said.iter_mut().zip(right_said).zip(values) {
            *s = mixed(*s, r, to_right(x));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Asks quantity 0 at 1, to its left quantity 1 at 5, to its right quantity 0 at 3; undefined
    /// values go left, right, and right.
    fn forest(soft: bool) -> Forest {
        let mut forest = Forest {
            base: 0.5,
            roots: vec![0],
            quantity: vec![0, 1, 0, 0, 0, 0, 0],
            split: vec![1.0, 5.0, 3.0, 0.0, 0.0, 0.0, 0.0],
            left: vec![1, 3, 5, 0, 0, 0, 0],
            undefined_left: vec![1, 0, 0, 0, 0, 0, 0],
            value: vec![0.0, 0.0, 0.0, 1.0, 2.0, 4.0, 8.0],
            slope: Vec::new(),
        };
        if soft {
            forest.soften(&[1.0, 1.0]);
        }
        forest
    }

    #[test]
    fn every_row_of_a_block_is_told_what_it_is_told_by_itself() {
        let wide: Vec<f64> = (0..BLOCK).map(|v| v as f64 / 16.0).collect();
        let narrow: Vec<f64> = (0..BLOCK).map(|v| 5.0 + v as f64 / 1e3).collect();
        let holed = |column: &[f64]| -> Vec<f64> {
            let hole = |(v, x): (usize, &f64)| if v % 3 == 0 { f64::NAN } else { *x };
            column.iter().enumerate().map(hole).collect()
        };
        let undefined = vec![f64::NAN; BLOCK];
        let columns = [&wide, &narrow, &holed(&wide), &holed(&narrow), &undefined];
        let vertices: Vec<u32> = (0..BLOCK as u32 - 5).collect();
        let mut block = Block::default();
        for a in columns {
            for b in columns {
                block.fill(&[a, b], &vertices);
                for forest in [forest(false), forest(true)] {
                    let together = forest.log_odds_of_block(&block);
                    for v in vertices.iter().map(|&v| v as usize) {
                        let alone = forest.log_odds(&[a[v] as f32, b[v] as f32]);
                        assert_eq!(together[v], alone);
                    }
                }
            }
        }
    }
}
