//! How a file keeps a forest.

use serde::{Deserialize, Serialize};

use super::trees::{Forest, ForestError};

/// Signs of a node: a leaf, and a split that sends undefined values left or right.
const LEAF: u8 = b'.';
const UNDEFINED_LEFT: u8 = b'<';
const UNDEFINED_RIGHT: u8 = b'>';

/// A forest whose trees stand breadth first, so that their ways need not be told: a split's children come
/// after those of all splits before it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct KeptForest {
    /// What all trees add to: a log-odds.
    base: f32,
    /// One sign a node, tree after tree.
    nodes: String,
    /// The quantity that each split asks, by its number in a row.
    quantity: Vec<u16>,
    /// Where each splits.
    split: Vec<f32>,
    /// What a tree says if its way ends at a node, one a node.
    value: Vec<f32>,
}

impl From<Forest> for KeptForest {
    /// Keeps a forest whose trees stand breadth first; of another one the ways are lost.
    fn from(forest: Forest) -> Self {
        let sign = |(&left, &undefined_left)| match (left, undefined_left) {
            (0, _) => char::from(LEAF),
            (_, 0) => char::from(UNDEFINED_RIGHT),
            _ => char::from(UNDEFINED_LEFT),
        };
        let is_split = |n: &usize| forest.left[*n] != 0;
        let splits = || (0..forest.left.len()).filter(is_split);
        Self {
            base: forest.base,
            nodes: (forest.left.iter().zip(&forest.undefined_left).map(sign)).collect(),
            quantity: splits().map(|n| forest.quantity[n]).collect(),
            split: splits().map(|n| forest.split[n]).collect(),
            value: forest.value,
        }
    }
}

impl TryFrom<KeptForest> for Forest {
    type Error = ForestError;

    fn try_from(kept: KeptForest) -> Result<Self, ForestError> {
        let mut forest = Self {
            base: kept.base,
            ..Self::default()
        };
        let mut asked = kept.quantity.iter().zip(&kept.split);
        // Where the next split's children begin, and what is behind the tree's last node so far.
        let mut end = 0;
        for (n, sign) in kept.nodes.bytes().enumerate() {
            if n == end {
                forest.roots.push(n as u32);
                end += 1;
            }
            let (left, undefined_left) = match sign {
                LEAF => (0, 0),
                UNDEFINED_LEFT => (end, 1),
                UNDEFINED_RIGHT => (end, 0),
                _ => return Err(ForestError::Signs),
            };
            let (quantity, split) = match left {
                0 => (0, 0.0),
                _ => {
                    end += 2;
                    let (&quantity, &split) = asked.next().ok_or(ForestError::Lengths)?;
                    (quantity, split)
                }
            };
            forest.left.push(left as u32);
            forest.undefined_left.push(undefined_left);
            forest.quantity.push(quantity);
            forest.split.push(split);
        }
        if end != kept.nodes.len() {
            return Err(ForestError::Signs);
        }
        let told = kept.quantity.len() == kept.split.len() && kept.value.len() == end;
        if asked.next().is_some() || !told {
            return Err(ForestError::Lengths);
        }
        forest.value = kept.value;
        Ok(forest)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;

    /// A tree of two splits, its right one the second, and one of a leaf.
    fn kept() -> KeptForest {
        KeptForest {
            base: 0.5,
            nodes: "<.>...".to_owned(),
            quantity: vec![7, 8],
            split: vec![1.0, 5.0],
            value: vec![0.25, -2.0, 2.0, 1.0, 3.0, 9.0],
        }
    }

    #[test]
    fn ways_follow_from_the_order_of_the_nodes() {
        let forest = Forest::try_from(kept()).unwrap();
        assert_eq!(forest.roots, [0, 5]);
        assert_eq!(forest.left, [1, 0, 3, 0, 0, 0]);
        assert_eq!(forest.quantity, [7, 0, 8, 0, 0, 0]);
        assert_eq!(forest.split, [1.0, 0.0, 5.0, 0.0, 0.0, 0.0]);
        assert_eq!(forest.undefined_left, [1, 0, 0, 0, 0, 0]);
        assert_eq!(KeptForest::from(forest), kept());
    }

    #[test]
    fn what_does_not_make_whole_trees_is_refused() {
        let refused = |change: fn(&mut KeptForest)| {
            let mut kept = kept();
            change(&mut kept);
            Forest::try_from(kept).unwrap_err()
        };
        assert_eq!(refused(|k| k.nodes.push('?')), ForestError::Signs);
        assert_eq!(refused(|k| k.nodes.truncate(4)), ForestError::Signs);
        assert_eq!(refused(|k| k.split.push(1.0)), ForestError::Lengths);
        assert_eq!(refused(|k| k.quantity.truncate(1)), ForestError::Lengths);
        assert_eq!(refused(|k| k.value.truncate(5)), ForestError::Lengths);
        let split_longer = |k: &mut KeptForest| {
            k.quantity.push(1);
            k.split.push(1.0);
        };
        assert_eq!(refused(split_longer), ForestError::Lengths);
    }
}
