//! Draws that the kits need beyond those of the seeded generator.

use crate::support::cages::Random;

/// Draws from a seeded generator.
pub trait Chance {
    /// A number in [low, high).
    fn between(&mut self, low: f64, high: f64) -> f64;
    /// True in a share `p` of the draws.
    fn chance(&mut self, p: f64) -> bool;
    /// A whole number from `low` to `high`, both included.
    fn whole(&mut self, low: usize, high: usize) -> usize;
    /// One of the choices.
    fn pick<T: Copy>(&mut self, choices: &[T]) -> T;
    /// Stations from 0 to 1 with `gaps` gaps, the widest about `ratio` times the narrowest.
    fn stations(&mut self, gaps: usize, ratio: f64) -> Vec<f64>;
}

impl Chance for Random {
    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    fn chance(&mut self, p: f64) -> bool {
        self.unit() < p
    }

    fn whole(&mut self, low: usize, high: usize) -> usize {
        low + self.below(high - low + 1)
    }

    fn pick<T: Copy>(&mut self, choices: &[T]) -> T {
        choices[self.below(choices.len())]
    }

    fn stations(&mut self, gaps: usize, ratio: f64) -> Vec<f64> {
        let widths: Vec<f64> = (0..gaps).map(|_| ratio.powf(self.unit())).collect();
        let total: f64 = widths.iter().sum();
        let mut at = 0.0;
        let ends = widths.iter().map(|w| {
            at += w / total;
            at
        });
        std::iter::once(0.0)
            .chain(ends.collect::<Vec<_>>())
            .collect()
    }
}
