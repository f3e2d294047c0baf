//! A forest asked about many rows of evidence: block by block, each tree once for all rows of a
//! block.
//!
//! Vertices that are numbered one after the other mostly lie beside each other and are alike, so that
//! the rows of a block go the same way at most nodes: the range of a quantity over the block tells so
//! without looking at the rows. What is left of the trees becomes a list of steps. A step takes
//! both ways of a node and mixes them for each row, without a branch that a processor would guess
//! wrong, and as many rows at once as it has lanes; after the last of a tree what it says is added up. What is said of a row is, to the bit, [`Forest::log_odds`].

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
        }
    }

    /// The log-odds for every row of a block.
    ///
    /// Trees that say one thing of all rows are added apart from the others. That changes no bit where a
    /// double adds them without rounding: floats with last bits of 2^-46 and more whose sums stay below
    /// 2^6, as the leaves of the shipped model are (`tests/fitted_model.rs` asks it both ways).
    pub fn log_odds(&self, block: &Block) -> [f64; BLOCK] {
        let (mut of_all, mut steps, mut height) = (0.0, Vec::new(), 0);
        for &root in &self.roots {
            match self.steps_from(root as usize, block, &mut steps) {
                Said::OfAll(x) => of_all += f64::from(x),
                Said::ByRow(needed) => {
                    height = height.max(needed);
                    steps.push(Step::Add);
                }
            }
        }
        let mut sums = [0.0; BLOCK];
        self.arch.dispatch(Run {
            steps: &steps,
            block,
            stack: &mut vec![[0.0; BLOCK]; height],
            sums: &mut sums,
        });
        sums.map(|sum| self.base + (sum + of_all))
    }

    /// What the part of a tree from `node` on says of all rows, if it says the same of each; else the
    /// steps that find it row by row are put at the end of `steps`.
    fn steps_from(&self, node: usize, block: &Block, steps: &mut Vec<Step>) -> Said {
        let node = &self.nodes[self.parting(node, &block.ranges)];
        if node.left == 0 {
            return Said::OfAll(node.value);
        }
        let left = self.steps_from(node.left as usize, block, steps);
        let right = self.steps_from(node.left as usize + 1, block, steps);
        let mix = Mix {
            quantity: node.quantity,
            plain: node.ramp.has_width()
                && !block.ranges[usize::from(node.quantity)].least.is_nan(),
            ramp: node.ramp,
        };
        let (step, height) = match (left, right) {
            (Said::OfAll(a), Said::OfAll(b)) => (Step::Told(mix, [a, b]), 1),
            (Said::ByRow(height), Said::OfAll(b)) => (Step::LeftAsked(mix, b), height),
            (Said::OfAll(a), Said::ByRow(height)) => (Step::RightAsked(mix, a), height),
            (Said::ByRow(a), Said::ByRow(b)) => (Step::BothAsked(mix), a.max(b + 1)),
        };
        steps.push(step);
        Said::ByRow(height)
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

/// What a part of a tree says.
enum Said {
    /// The same of all rows.
    OfAll(f32),
    /// Something of each, found by steps that need so many places of the stack.
    ByRow(usize),
}

/// How the two ways of a node are mixed.
#[derive(Debug, Clone, Copy)]
struct Mix {
    /// The quantity that it asks.
    quantity: u16,
    /// Whether the quantity is defined in every row of the block, and there is a ramp.
    plain: bool,
    ramp: Ramp,
}

/// What is done for all rows of a block at once, upon a stack of what parts of a tree say of them.
#[derive(Debug, Clone, Copy)]
enum Step {
    /// Mixes what two children say of all rows, and puts it on the stack.
    Told(Mix, [f32; 2]),
    /// Mixes what the left child said, the top of the stack, with what the right one says of all.
    LeftAsked(Mix, f32),
    /// Mixes what the left child says of all with what the right one said, the top of the stack.
    RightAsked(Mix, f32),
    /// Mixes what both children said, the right one's on top, and leaves one place less.
    BothAsked(Mix),
    /// Takes what a whole tree says off the stack and adds it to the sums.
    Add,
}

/// Takes the steps.
struct Run<'a> {
    steps: &'a [Step],
    block: &'a Block<'a>,
    /// As high as the steps need it.
    stack: &'a mut [Lanes],
    sums: &'a mut [f64; BLOCK],
}

impl WithSimd for Run<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) {
        let Self {
            steps,
            block,
            stack,
            sums,
        } = self;
        let mut height = 0;
        for step in steps {
            match step {
                Step::Told(mix, [a, b]) => {
                    let said = &mut stack[height];
                    height += 1;
                    mix.for_rows(block, |i, right| said[i] = mixed(*a, *b, right));
                }
                Step::LeftAsked(mix, b) => {
                    let said = &mut stack[height - 1];
                    mix.for_rows(block, |i, right| said[i] = mixed(said[i], *b, right));
                }
                Step::RightAsked(mix, a) => {
                    let said = &mut stack[height - 1];
                    mix.for_rows(block, |i, right| said[i] = mixed(*a, said[i], right));
                }
                Step::BothAsked(mix) => {
                    height -= 1;
                    let (left, right_said) = stack.split_at_mut(height);
                    let (said, right_said) = (&mut left[height - 1], &right_said[0]);
                    mix.for_rows(block, |i, right| {
                        said[i] = mixed(said[i], right_said[i], right);
                    });
                }
                Step::Add => {
                    height -= 1;
                    for (sum, x) in sums.iter_mut().zip(&stack[height]) {
                        *sum += f64::from(*x);
                    }
                }
            }
        }
    }
}

impl Mix {
    /// Visits each row with the part of it that goes right.
    #[inline(always)]
    fn for_rows(&self, block: &Block, mut visit: impl FnMut(usize, f32)) {
        let values: &Lanes = &block.values[usize::from(self.quantity)];
        match self.plain {
            true => (0..BLOCK).for_each(|i| visit(i, self.ramp.along(values[i]))),
            false => (0..BLOCK).for_each(|i| visit(i, self.ramp.to_right(values[i]))),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Adds a tree: of each split (quantity, threshold) the numbers of its two children among the splits; a
    /// number beyond them is a leaf.
    fn grow(forest: &mut Forest, splits: &[(u16, f32)], children: &[[usize; 2]]) {
        let first = forest.left.len();
        forest.roots.push(first as u32);
        let mut numbers = vec![first; splits.len()];
        let push = |forest: &mut Forest, split: Option<(u16, f32)>| {
            let (quantity, at) = split.unwrap_or_default();
            forest.quantity.push(quantity);
            forest.split.push(at);
            forest.left.push(0);
            forest
                .undefined_left
                .push(u8::from(forest.left.len().is_multiple_of(2)));
            forest.value.push((forest.left.len() as f32).powi(2));
        };
        push(forest, splits.first().copied());
        for (i, children) in children.iter().enumerate() {
            forest.left[numbers[i]] = forest.left.len() as u32;
            for &child in children {
                if let Some(number) = numbers.get_mut(child) {
                    *number = forest.left.len();
                }
                push(forest, splits.get(child).copied());
            }
        }
    }

    /// Three trees: one that parts on the left alone, one that parts on the right alone, and a full one of
    /// three levels, of which both sides of both sides part.
    fn forest(soft: bool) -> Forest {
        const LEAF: usize = usize::MAX;
        let mut forest = Forest {
            base: 0.5,
            ..Forest::default()
        };
        grow(&mut forest, &[(0, 9.0), (1, 5.1)], &[[1, LEAF], [LEAF; 2]]);
        grow(&mut forest, &[(1, 5.2), (0, 3.0)], &[[LEAF, 1], [LEAF; 2]]);
        let full = [
            (0, 7.0),
            (1, 5.05),
            (1, 5.3),
            (0, 2.0),
            (0, 4.0),
            (0, 11.0),
            (0, 13.0),
        ];
        let children = [
            [1, 2],
            [3, 4],
            [5, 6],
            [LEAF; 2],
            [LEAF; 2],
            [LEAF; 2],
            [LEAF; 2],
        ];
        grow(&mut forest, &full, &children);
        assert_eq!(forest.check(2), Ok(()));
        if soft {
            forest.soften(&[1.0, 1.0]);
        }
        forest
    }

    #[test]
    fn every_row_of_a_block_is_told_what_it_is_told_by_itself() {
        // Longer than a block, which then need not begin at the first vertex.
        const COUNT: usize = BLOCK + 100;
        let wide: Vec<f32> = (0..COUNT).map(|v| v as f32 / 32.0).collect();
        let narrow: Vec<f32> = (0..COUNT).map(|v| 5.0 + v as f32 / 1e3).collect();
        let holed = |column: &[f32]| -> Vec<f32> {
            let hole = |(v, x): (usize, &f32)| if v % 3 == 0 { f32::NAN } else { *x };
            column.iter().enumerate().map(hole).collect()
        };
        let undefined = vec![f32::NAN; COUNT];
        let columns = [&wide, &narrow, &holed(&wide), &holed(&narrow), &undefined];
        let part: Vec<u32> = (0..BLOCK as u32 - 5).collect();
        let whole: Vec<u32> = (37..37 + BLOCK as u32).collect();
        let mut block = Block::default();
        for (a, b) in columns.iter().flat_map(|a| columns.map(|b| (a, b))) {
            for vertices in [&part, &whole] {
                block.fill(Arch::new(), &[a, b], vertices);
                for forest in [forest(false), forest(true)] {
                    let forests = BlockForest::new(Arch::new(), &forest);
                    let together = forests.log_odds(&block);
                    for (told, v) in together.iter().zip(vertices) {
                        let alone = forest.log_odds(&[a[*v as usize], b[*v as usize]]);
                        assert_eq!(*told, alone);
                    }
                }
            }
        }
    }
}
