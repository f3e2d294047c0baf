//! Measures of the cage and its limit surface: one file per measure, one value per vertex.

mod about;

pub use about::{About, Unit};

/// One measure's values over the cage.
#[derive(Debug, Clone)]
pub struct Measured {
    /// What the values are.
    pub about: &'static About,
    /// One value per cage vertex; NaN where the measure is not defined.
    pub values: Vec<f64>,
}
