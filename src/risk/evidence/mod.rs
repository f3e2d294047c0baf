//! Evidence: the quantities that the fitted model reads, one value per vertex each.
//!
//! All are free of scale, unchanged by turning, mirroring, renumbering and turning inside out, and
//! none is a raw angle of the cage or a bend of the surface: what is meant bends too.

pub mod cage;
pub mod groundwork;
mod kd_tree;
mod mirror_planes;
pub mod poles;
pub mod seams;
pub mod shape;
pub mod spacing;
pub mod support;
pub mod symmetry;
pub mod warp;

use super::Cause;

/// What a quantity of evidence is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Quantity {
    /// Its name, in the fitted model's file.
    pub name: &'static str,
    /// What it is and how it is computed, in one line.
    pub formula: &'static str,
    /// The cause that it speaks for; [`Cause::Bump`] for what only tells that something is wrong.
    pub speaks_for: Cause,
    /// Whether more of it can never lower the risk.
    pub rising: bool,
}

/// A quantity over the cage: one value per vertex, NaN where it is not defined.
#[derive(Debug, Clone)]
pub struct Column {
    /// What it is.
    pub quantity: &'static Quantity,
    /// One value per vertex.
    pub values: Vec<f64>,
}
