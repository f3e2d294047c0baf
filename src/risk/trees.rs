//! Sums of decision trees: how they are kept, and what they say.

use serde::{Deserialize, Serialize};

/// A sum of trees that looks up its quantities in a row of evidence.
///
/// All trees stand in flat arrays, one entry a node. A node's right child follows its left one.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
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
}

/// What is wrong with a forest that was read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ForestError {
    /// The arrays do not have one entry a node.
    #[error("the arrays of a forest differ in length")]
    Lengths,
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
        match (0..count).find(|&n| !sound(n)) {
            Some(n) => Err(ForestError::Node(n)),
            None => Ok(()),
        }
    }

    /// The log-odds for a row of evidence, in the order of the quantities.
    pub fn log_odds(&self, row: &[f32]) -> f64 {
        let trees = self.roots.iter().map(|&root| {
            let mut node = root as usize;
            while self.left[node] != 0 {
                node = self.next(node, row);
            }
            f64::from(self.value[node])
        });
        f64::from(self.base) + trees.sum::<f64>()
    }

    /// How much each quantity adds to the log-odds, one value a quantity of the row: along each
    /// tree's way, what the step away from a node that asks the quantity changes. With
    /// [`Forest::unknowing`] they add up to [`Forest::log_odds`] (Saabas, Interpreting random
    /// forests, 2014).
    pub fn shares(&self, row: &[f32]) -> Vec<f64> {
        let mut shares = vec![0.0; row.len()];
        for &root in &self.roots {
            let mut node = root as usize;
            while self.left[node] != 0 {
                let next = self.next(node, row);
                let change = f64::from(self.value[next]) - f64::from(self.value[node]);
                shares[usize::from(self.quantity[node])] += change;
                node = next;
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

    fn next(&self, node: usize, row: &[f32]) -> usize {
        let value = row[usize::from(self.quantity[node])];
        let left = if value.is_nan() {
            self.undefined_left[node] == 1
        } else {
            value < self.split[node]
        };
        self.left[node] as usize + usize::from(!left)
    }
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

    #[test]
    fn shares_add_up_to_the_log_odds() {
        let forest = small();
        for row in [[0.5, 9.0], [1.0, 4.0], [2.0, 5.0]] {
            let whole = forest.unknowing() + forest.shares(&row).iter().sum::<f64>();
            assert!((whole - forest.log_odds(&row)).abs() < 1e-12);
        }
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
    }
}
