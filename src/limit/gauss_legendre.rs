//! Gauss-Legendre rules on the unit interval, ready for bicubic patches.

use crate::subdivision::spline::{self, Weights};

/// Nodes and weights on [−1, 1] for 3 points: Abramowitz & Stegun, Handbook of Mathematical
/// Functions, 1964, table 25.4 (their closed forms √(3/5), 5/9 and 8/9).
const THREE: [(f64, f64); 3] = [
    (-0.774_596_669_241_483_4, 5.0 / 9.0),
    (0.0, 8.0 / 9.0),
    (0.774_596_669_241_483_4, 5.0 / 9.0),
];

/// The same for 5 points.
const FIVE: [(f64, f64); 5] = [
    (-0.906_179_845_938_664, 0.236_926_885_056_189_08),
    (-0.538_469_310_105_683_1, 0.478_628_670_499_366_47),
    (0.0, 0.568_888_888_888_888_9),
    (0.538_469_310_105_683_1, 0.478_628_670_499_366_47),
    (0.906_179_845_938_664, 0.236_926_885_056_189_08),
];

/// A node with what a cubic needs there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Node {
    /// Place in [0, 1].
    pub at: f64,
    /// Weight; all weights of a rule sum to 1.
    pub weight: f64,
    /// The four cubic B-spline functions.
    pub value: Weights,
    /// Their first derivatives.
    pub slope: Weights,
    /// Their second derivatives.
    pub bend: Weights,
}

/// Numbers of points that there are rules for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Points {
    /// Exact for polynomials up to degree 5.
    Three,
    /// Exact for polynomials up to degree 9.
    Five,
}

/// A rule on [0, 1].
#[derive(Debug, Clone, PartialEq)]
pub struct Rule(Vec<Node>);

impl Rule {
    /// The rule of so many points in each of `cells` equal parts of the interval (at least one).
    pub fn new(points: Points, cells: usize) -> Self {
        let base: &[(f64, f64)] = match points {
            Points::Three => &THREE,
            Points::Five => &FIVE,
        };
        let cells = cells.max(1);
        let width = 1.0 / cells as f64;
        let node = |cell: usize, &(x, w): &(f64, f64)| {
            let at = (cell as f64 + (x + 1.0) / 2.0) * width;
            Node {
                at,
                weight: w / 2.0 * width,
                value: spline::basis(at),
                slope: spline::basis_derivative(at),
                bend: spline::basis_second_derivative(at),
            }
        };
        let nodes = (0..cells).flat_map(|cell| base.iter().map(move |entry| node(cell, entry)));
        Self(nodes.collect())
    }

    /// The nodes, rising.
    pub fn nodes(&self) -> &[Node] {
        &self.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rules_integrate_powers_exactly_up_to_their_degree_and_no_further() {
        for (points, degree) in [(Points::Three, 5), (Points::Five, 9)] {
            for cells in [1, 3] {
                let rule = Rule::new(points, cells);
                let error = |k: i32| {
                    let sum: f64 = rule.nodes().iter().map(|n| n.weight * n.at.powi(k)).sum();
                    (sum - 1.0 / f64::from(k + 1)).abs()
                };
                assert!((0..=degree).all(|k| error(k) < 4e-16), "{points:?}");
                assert!(error(degree + 1) > 1e-12, "{points:?}");
            }
        }
    }
}
