//! Sums of decision trees: how they are kept, and what they say.

use serde::{Deserialize, Serialize};

use super::kept_forest::KeptForest;

/// Half the width of the ramp about a split, as a part of the split's own size.
///
/// With [`RAMP_OF_SCALE`] chosen on grown cages of a kit that is not fitted on and on faults that grow
/// at one place: wider ramps miss more, narrower ones let the outcome fall as a fault grows.
pub const RAMP_OF_SPLIT: f32 = 0.4;

/// What is added to it, as a part of the quantity's usual size.
pub const RAMP_OF_SCALE: f32 = 0.15;

/// Splits on one way through a tree at most: ways are gone by recursion.
pub const DEPTH_MAX: usize = 64;

/// A sum of trees that looks up its quantities in a row of evidence.
///
/// All trees stand in flat arrays, one entry a node. A node's right child follows its left one. Files keep
/// trees breadth first, each node's children after those of the nodes before it, and leave out what that order
/// tells.
///
/// Softened ([`Forest::soften`]) a forest is continuous: near a split it goes both ways, and mixes what
/// they say (Suárez and Lutsko, Globally optimal fuzzy decision trees, 1999, with straight ramps). A
/// surface that changes a little, or comes out a little different because it was turned, is then
/// judged a little differently, whatever the trees ask.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "KeptForest", into = "KeptForest")]
pub struct Forest {
    /// What all trees add to: a log-odds.
    pub base: f32,
    /// The first node of each tree.
    pub roots: Vec<u32>,
    /// The quantity that a node asks, by its number in a row.
    pub quantity: Vec<u16>,
    /// A value below this goes to the left child, any other to the right one.
    pub split: Vec<f32>,
    /// The left child; 0 at a leaf (no child is the first node).
    pub left: Vec<u32>,
    /// Whether undefined values (NaN) go left: 1 or 0.
    pub undefined_left: Vec<u8>,
    /// What a tree says if its way ends at the node.
    pub value: Vec<f32>,
    /// One over the width of the ramp about each node's split; none where splits are hard.
    pub(super) slope: Vec<f32>,
}

/// What is wrong with a forest that was read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ForestError {
    /// The arrays do not have one entry a node, or in a file one a split.
    #[error("the arrays of a forest differ in length")]
    Lengths,
    /// A file's nodes are not told by signs that there are, or the last tree has no end.
    #[error("the nodes of a forest are not well told")]
    Signs,
    /// A split or what is said is not a finite number.
    #[error("node {0} of a forest says nothing finite")]
    Number(usize),
    /// A tree has more than [`DEPTH_MAX`] splits on one way.
    #[error("a way through a forest has more than {DEPTH_MAX} splits")]
    Deep,
    /// A root, child or quantity is out of range, or a child does not come after its parent.
    #[error("node {0} of a forest leads out of it")]
    Node(usize),
}

impl Forest {
    /// Checks that every way through the trees ends at a leaf and asks one of `quantities`
    /// quantities.
    ///
    /// # Errors
    /// [`ForestError`] tells what does not hold.
    pub fn check(&self, quantities: usize) -> Result<(), ForestError> {
        let count = self.value.len();
        let lengths = [
            self.quantity.len(),
            self.split.len(),
            self.left.len(),
            self.undefined_left.len(),
        ];
        if lengths.iter().any(|&n| n != count) {
            return Err(ForestError::Lengths);
        }
        if self.roots.iter().any(|&root| root as usize >= count) {
            return Err(ForestError::Node(count));
        }
        let sound = |n: usize| {
            let left = self.left[n] as usize;
            let ahead = left > n && left + 1 < count;
            left == 0 || (ahead && usize::from(self.quantity[n]) < quantities)
        };
        if let Some(n) = (0..count).find(|&n| !sound(n)) {
            return Err(ForestError::Node(n));
        }
        let finite = |n: usize| self.value[n].is_finite() && self.split[n].is_finite();
        match (0..count).find(|&n| !finite(n)) {
            Some(n) => Err(ForestError::Number(n)),
            None if !self.base.is_finite() => Err(ForestError::Number(count)),
            None if self.depth() > DEPTH_MAX => Err(ForestError::Deep),
            None => Ok(()),
        }
    }

    /// Splits on the longest way to a leaf, of a forest whose children come after their parents.
    fn depth(&self) -> usize {
        let mut depths = vec![0; self.left.len()];
        for (n, &left) in self.left.iter().enumerate().filter(|(_, left)| **left != 0) {
            let child = depths[n] + 1;
            depths[left as usize..][..2].fill(child);
        }
        depths.into_iter().max().unwrap_or(0)
    }

    /// Makes ramps of the splits, from the usual sizes of the quantities (positive, in their units, one
    /// a quantity). A ramp ends where its quantity is 0 and never goes beyond: what is not there at all
    /// is told from what is there.
    pub fn soften(&mut self, scales: &[f32]) {
        let slope = |(&split, &quantity): (&f32, &u16)| {
            let scale = scales.get(usize::from(quantity)).copied();
            let half = RAMP_OF_SPLIT * split.abs() + RAMP_OF_SCALE * scale.unwrap_or(0.0);
            1.0 / (2.0 * half.min(split.abs())).max(f32::MIN_POSITIVE)
        };
        self.slope = self.split.iter().zip(&self.quantity).map(slope).collect();
    }

    /// The log-odds for a row of evidence, in the order of the quantities.
    pub fn log_odds(&self, row: &[f32]) -> f64 {
        let trees = self.roots.iter();
        let said = trees.map(|&root| f64::from(self.said(root as usize, row)));
        f64::from(self.base) + said.sum::<f64>()
    }

    /// What the part of a tree from `node` on says of a row.
    fn said(&self, node: usize, row: &[f32]) -> f32 {
        let left = self.left[node] as usize;
        if left == 0 {
            return self.value[node];
        }
        match self
            .ramp(node)
            .to_right(row[usize::from(self.quantity[node])])
        {
            0.0 => self.said(left, row),
            1.0 => self.said(left + 1, row),
            right => mixed(self.said(left, row), self.said(left + 1, row), right),
        }
    }

    /// How much each quantity adds to the log-odds, one value a quantity of the row: along each
    /// tree's ways, what the steps away from a node that asks the quantity change. With
    /// [`Forest::unknowing`] they add up to [`Forest::log_odds`] (Saabas, Interpreting random
    /// forests, 2014).
    pub fn shares(&self, row: &[f32]) -> Vec<f64> {
        let mut shares = vec![0.0; row.len()];
        // Nodes that are come to, and by how much of the row.
        let mut ways: Vec<(usize, f64)> = self.roots.iter().map(|&r| (r as usize, 1.0)).collect();
        while let Some((node, part)) = ways.pop() {
            let left = self.left[node] as usize;
            if left == 0 {
                continue;
            }
            let quantity = usize::from(self.quantity[node]);
            let right = f64::from(self.ramp(node).to_right(row[quantity]));
            for (child, share) in [(left, 1.0 - right), (left + 1, right)] {
                if share > 0.0 {
                    let change = f64::from(self.value[child]) - f64::from(self.value[node]);
                    shares[quantity] += part * share * change;
                    ways.push((child, part * share));
                }
            }
        }
        shares
    }

    /// The log-odds where nothing is asked: the base and the roots' own values.
    pub fn unknowing(&self) -> f64 {
        let roots = self
            .roots
            .iter()
            .map(|&r| f64::from(self.value[r as usize]));
        f64::from(self.base) + roots.sum::<f64>()
    }

    /// How much of a value goes to the right child of `node`.
    #[inline]
    pub(super) fn ramp(&self, node: usize) -> Ramp {
        Ramp {
            split: self.split[node],
            slope: self.slope.get(node).copied().unwrap_or(f32::INFINITY),
            undefined: f32::from(1 - self.undefined_left[node]),
        }
    }
}

/// How much of a value goes to the right child of a node.
#[derive(Debug, Clone, Copy)]
pub(super) struct Ramp {
    split: f32,
    /// One over the width; infinite without a ramp.
    slope: f32,
    /// How much of an undefined value goes to the right.
    undefined: f32,
}

impl Ramp {
    /// The part of a value that goes right, from 0 to 1.
    #[inline(always)]
    pub fn to_right(self, value: f32) -> f32 {
        let along = self.along(value);
        if value.is_nan() {
            self.undefined
        } else if along.is_nan() {
            // On a split without a ramp.
            1.0
        } else {
            along
        }
    }

    /// Whether [`Ramp::along`] tells the part of every value that is defined: there is a ramp.
    pub fn has_width(self) -> bool {
        self.slope.is_finite()
    }

    /// How far along the ramp a value is, from 0 to 1; NaN only for an undefined one or without a ramp.
    #[inline(always)]
    pub fn along(self, value: f32) -> f32 {
        ((value - self.split) * self.slope + 0.5).clamp(0.0, 1.0)
    }
}

/// What is said where a part of the row goes right: to the bit what one side says if all go there.
#[inline(always)]
pub(super) fn mixed(left: f32, right: f32, to_right: f32) -> f32 {
    (1.0 - to_right) * left + to_right * right
}

/// The probability with the given log-odds.
pub fn probability(log_odds: f64) -> f64 {
    1.0 / (1.0 + (-log_odds).exp())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Below 1 of quantity 0: -2; else by quantity 1 below 5: 1, else 3, the middle node 2.
    fn small() -> Forest {
        Forest {
            base: 0.5,
            roots: vec![0],
            quantity: vec![0, 0, 1, 0, 0],
            split: vec![1.0, 0.0, 5.0, 0.0, 0.0],
            left: vec![1, 0, 3, 0, 0],
            undefined_left: vec![1, 0, 0, 0, 0],
            value: vec![0.25, -2.0, 2.0, 1.0, 3.0],
            slope: Vec::new(),
        }
    }

    #[test]
    fn a_row_goes_left_below_the_split_and_where_undefined_values_are_sent() {
        let forest = small();
        assert_eq!(forest.check(2), Ok(()));
        assert_eq!(forest.log_odds(&[0.5, 9.0]), -1.5);
        assert_eq!(forest.log_odds(&[1.0, 4.0]), 1.5);
        assert_eq!(forest.log_odds(&[2.0, 5.0]), 3.5);
        assert_eq!(forest.log_odds(&[f32::NAN, 5.0]), -1.5);
        assert_eq!(forest.log_odds(&[2.0, f32::NAN]), 3.5);
    }

    /// With ramps from 0.45 to 1.55 of quantity 0 and from 1.5 to 8.5 of quantity 1.
    fn soft() -> Forest {
        let mut forest = small();
        forest.soften(&[1.0, 10.0]);
        forest
    }

    #[test]
    fn about_a_split_both_ways_are_mixed() {
        let forest = soft();
        assert!((forest.log_odds(&[1.0, 1.0]) - (0.5 + (-2.0 + 1.0) / 2.0)).abs() < 1e-6);
        assert!((forest.log_odds(&[3.0, 5.0]) - (0.5 + (1.0 + 3.0) / 2.0)).abs() < 1e-6);
        assert!((forest.log_odds(&[0.725, 9.0]) - (0.5 - 0.75 * 2.0 + 0.25 * 3.0)).abs() < 1e-6);
        // Off the ramps, and where a value is not defined, as without them.
        for row in [[0.4, 9.0], [2.0, 1.0], [f32::NAN, 5.0], [2.0, f32::NAN]] {
            assert_eq!(forest.log_odds(&row), small().log_odds(&row));
        }
    }

    #[test]
    fn a_ramp_does_not_go_beyond_zero() {
        let mut forest = small();
        forest.soften(&[100.0, 100.0]);
        assert_eq!(forest.log_odds(&[0.0, 0.0]), -1.5);
        assert_eq!(forest.log_odds(&[2.0, 0.0]), 1.5);
        assert_eq!(forest.log_odds(&[2.0, 10.0]), 3.5);
    }

    #[test]
    fn shares_add_up_to_the_log_odds() {
        for forest in [small(), soft()] {
            for row in [[0.5, 9.0], [1.0, 4.0], [1.1, 6.0], [2.0, 5.0]] {
                let whole = forest.unknowing() + forest.shares(&row).iter().sum::<f64>();
                assert!((whole - forest.log_odds(&row)).abs() < 1e-6);
            }
        }
    }

    #[test]
    fn a_forest_with_ways_too_long_is_refused() {
        let chain = |splits: usize| {
            let count = 2 * splits + 1;
            // Each split's right child splits on.
            let left = |n: usize| {
                if n.is_multiple_of(2) && n + 2 < count {
                    n as u32 + 1
                } else {
                    0
                }
            };
            Forest {
                base: 0.0,
                roots: vec![0],
                quantity: vec![0; count],
                split: vec![1.0; count],
                left: (0..count).map(left).collect(),
                undefined_left: vec![0; count],
                value: vec![0.0; count],
                slope: Vec::new(),
            }
        };
        assert_eq!(chain(DEPTH_MAX).check(1), Ok(()));
        assert_eq!(chain(DEPTH_MAX + 1).check(1), Err(ForestError::Deep));
    }

    #[test]
    fn a_forest_that_leads_astray_is_refused() {
        let mut loops = small();
        loops.left[2] = 1;
        assert_eq!(loops.check(2), Err(ForestError::Node(2)));
        assert_eq!(small().check(1), Err(ForestError::Node(2)));
        let mut short = small();
        short.value.pop();
        assert_eq!(short.check(2), Err(ForestError::Lengths));
        let mut infinite = small();
        infinite.split[2] = f32::INFINITY;
        assert_eq!(infinite.check(2), Err(ForestError::Number(2)));
    }
}
