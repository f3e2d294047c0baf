//! A forest asked about many rows of evidence: block by block, each tree once for all rows of a
//! block.
//!
//! Vertices that are numbered one after the other mostly lie beside each other and are alike, so that
//! the rows of a block go the same way at most nodes: the range of a quantity over the block tells so
//! without looking at the rows. Where they part, both ways are taken for all of them and mixed for each
//! row, without a branch that a processor would guess wrong and as many rows at once as it has lanes.
//! What is said of a row is, to the bit, [`Forest::log_odds`].

use pulp::{Arch, Simd, WithSimd};

use super::blocks::{BLOCK, Block, Lanes, Range};
use super::trees::{Forest, Ramp, mixed};

/// A node of a tree, with all that is asked of it side by side.
#[derive(Debug, Clone, Copy)]
struct Node {
    /// The quantity that it asks.
    quantity: u16,
    /// Its left child, which the right one follows; 0 at a leaf.
    left: u32,
    /// What the tree says if its way ends here.
    value: f32,
    /// How much of a value goes to the right.
    ramp: Ramp,
}

/// A forest laid out for being asked about blocks.
#[derive(Debug, Clone)]
pub(super) struct BlockForest {
    arch: Arch,
    base: f64,
    roots: Vec<u32>,
    nodes: Vec<Node>,
    /// Splits on the longest way to a leaf.
    depth: usize,
}

impl BlockForest {
    /// Lays a forest out.
    pub fn new(arch: Arch, forest: &Forest) -> Self {
        let node = |n: usize| Node {
            quantity: forest.quantity[n],
            left: forest.left[n],
            value: forest.value[n],
            ramp: forest.ramp(n),
        };
        Self {
            arch,
            base: f64::from(forest.base),
            roots: forest.roots.clone(),
            nodes: (0..forest.value.len()).map(node).collect(),
            depth: forest.depth(),
        }
    }

    /// What of the forest is to be asked about each of some blocks.
    pub fn pruned(&self, blocks: &[Block]) -> Pruned {
        let ranges = common_ranges(blocks);
        let mut pruned = Pruned {
            of_all: 0.0,
            nodes: Vec::with_capacity(self.roots.len()),
        };
        for &root in &self.roots {
            let node = self.parting(root as usize, &ranges);
            match self.nodes[node].left {
                0 => pruned.of_all += f64::from(self.nodes[node].value),
                _ => pruned.nodes.push(node),
            }
        }
        pruned
    }

    /// The first node from `node` on at which rows may part, or the leaf that all come to.
    fn parting(&self, mut node: usize, ranges: &[Range]) -> usize {
        loop {
            let asked = &self.nodes[node];
            match asked.left {
                0 => return node,
                left => match common_way(asked, ranges) {
                    Some(goes_left) => node = left as usize + usize::from(!goes_left),
                    None => return node,
                },
            }
        }
    }

    /// The log-odds for every row of a block, one of those that the forest was pruned for.
    ///
    /// Trees that say one thing of all rows are added apart from the others. That changes no bit where a
    /// double adds them without rounding: floats with last bits of 2^-46 and more whose sums stay below
    /// 2^6, as those of the shipped model are (`tests/fitted_model.rs` asks it both ways).
    pub fn log_odds(&self, pruned: &Pruned, block: &Block) -> [f64; BLOCK] {
        let (mut of_all, mut sums) = (pruned.of_all, [0.0; BLOCK]);
        let mut said = vec![[0.0; BLOCK]; self.depth + 1];
        for &node in &pruned.nodes {
            match self.ask(node, block, &mut said) {
                Some(x) => of_all += f64::from(x),
                None => self.arch.dispatch(Add(&mut sums, &said[0])),
            }
        }
        sums.map(|sum| self.base + (sum + of_all))
    }

    /// What the part of a tree from `node` on says of all rows, if it says the same of each; else it is
    /// written into the first of `said`, row by row. The others are for what its parts say: one more
    /// than there are splits on the way to a leaf.
    fn ask(&self, node: usize, block: &Block, said: &mut [Lanes]) -> Option<f32> {
        let node = &self.nodes[self.parting(node, &block.ranges)];
        if node.left == 0 {
            return Some(node.value);
        }
        let (left, quantity) = (node.left as usize, usize::from(node.quantity));
        // There are as many of `said` as ways are long: the early returns are never taken.
        let of_all = self.ask(left, block, said);
        let (said, others) = said.split_first_mut()?;
        let right_of_all = self.ask(left + 1, block, others);
        self.arch.dispatch(Mix {
            ramp: node.ramp,
            values: &block.values[quantity],
            defined: !block.ranges[quantity].least.is_nan(),
            said,
            of_all,
            right_said: others.first()?,
            right_of_all,
        });
        None
    }
}

/// What of a forest is to be asked about some blocks: where all their rows go the same way it is gone
/// once.
#[derive(Debug)]
pub(super) struct Pruned {
    /// What the trees say together that say the same of all rows.
    of_all: f64,
    /// For each other tree the first node at which rows may part.
    nodes: Vec<usize>,
}

/// The ranges of the quantities over some blocks.
fn common_ranges(blocks: &[Block]) -> Vec<Range> {
    let wider = |a: &Range, b: &Range| {
        let defined = !a.least.is_nan() && !b.least.is_nan();
        Range {
            least: a.least.min(b.least),
            largest: a.largest.max(b.largest),
            // Which of them are undefined is not looked at.
            mixed: !defined || a.mixed || b.mixed,
        }
    };
    let mut ranges = blocks.first().map_or(Vec::new(), |b| b.ranges.clone());
    for block in blocks.iter().skip(1) {
        for (range, other) in ranges.iter_mut().zip(&block.ranges) {
            *range = wider(range, other);
        }
    }
    ranges
}

/// Whether all rows go left at a node, or all right; `None` where they may part.
#[inline]
fn common_way(node: &Node, ranges: &[Range]) -> Option<bool> {
    let range = &ranges[usize::from(node.quantity)];
    if range.mixed {
        None
    } else if node.ramp.to_right(range.largest) == 0.0 {
        Some(true)
    } else {
        (node.ramp.to_right(range.least) == 1.0).then_some(false)
    }
}

/// Adds what a tree says to the sums of all.
struct Add<'a>(&'a mut [f64; BLOCK], &'a Lanes);

impl WithSimd for Add<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) {
        for (sum, x) in self.0.iter_mut().zip(self.1) {
            *sum += f64::from(*x);
        }
    }
}

/// Mixes what the children of a node say, into what the left one says.
struct Mix<'a> {
    ramp: Ramp,
    /// The values that the node asks.
    values: &'a Lanes,
    /// Whether none of them is undefined.
    defined: bool,
    said: &'a mut Lanes,
    /// What the left child says of all rows, if it does not tell them apart.
    of_all: Option<f32>,
    right_said: &'a Lanes,
    /// The same of the right child.
    right_of_all: Option<f32>,
}

impl WithSimd for Mix<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) {
        let Self { ramp, values, .. } = self;
        match self.defined {
            true => self.by(|i| ramp.to_right_of_defined(values[i])),
            false => self.by(|i| ramp.to_right(values[i])),
        }
    }
}

impl Mix<'_> {
    #[inline(always)]
    fn by(self, to_right: impl Fn(usize) -> f32) {
        let (said, right) = (self.said, self.right_said);
        match (self.of_all, self.right_of_all) {
            (Some(a), Some(b)) => {
                (0..BLOCK).for_each(|i| said[i] = mixed(a, b, to_right(i)));
            }
            (Some(a), None) => {
                (0..BLOCK).for_each(|i| said[i] = mixed(a, right[i], to_right(i)));
            }
            (None, Some(b)) => {
                (0..BLOCK).for_each(|i| said[i] = mixed(said[i], b, to_right(i)));
            }
            (None, None) => {
                (0..BLOCK).for_each(|i| said[i] = mixed(said[i], right[i], to_right(i)));
            }
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
        let wide: Vec<f32> = (0..BLOCK).map(|v| v as f32 / 16.0).collect();
        let narrow: Vec<f32> = (0..BLOCK).map(|v| 5.0 + v as f32 / 1e3).collect();
        let holed = |column: &[f32]| -> Vec<f32> {
            let hole = |(v, x): (usize, &f32)| if v % 3 == 0 { f32::NAN } else { *x };
            column.iter().enumerate().map(hole).collect()
        };
        let undefined = vec![f32::NAN; BLOCK];
        let columns = [&wide, &narrow, &holed(&wide), &holed(&narrow), &undefined];
        let vertices: Vec<u32> = (0..BLOCK as u32 - 5).collect();
        let mut block = Block::default();
        for a in columns {
            for b in columns {
                block.fill(Arch::new(), &[a, b], &vertices);
                for forest in [forest(false), forest(true)] {
                    let forests = BlockForest::new(Arch::new(), &forest);
                    let pruned = forests.pruned(std::slice::from_ref(&block));
                    let together = forests.log_odds(&pruned, &block);
                    for v in vertices.iter().map(|&v| v as usize) {
                        let alone = forest.log_odds(&[a[v], b[v]]);
                        assert_eq!(together[v], alone);
                    }
                }
            }
        }
    }
}
