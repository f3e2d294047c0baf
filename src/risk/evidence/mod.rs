//! Evidence: the quantities that the fitted model reads, one value per vertex each.
//!
//! All are free of scale, unchanged by turning, mirroring, renumbering and turning inside out, and
//! none is a raw angle of the cage or a bend of the surface: what is meant bends too.

pub mod bend_jump;
pub mod cell_turn;
mod cells;
pub mod deviation;
pub mod form;
mod height_field;
pub mod loops;
pub mod of_limit;
pub mod panel;
pub mod rings;
pub mod roughness;
pub mod surroundings;
pub mod umbrella;

use super::Cause;
use crate::measure::{MeasureContext, Measures};

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

/// All evidence about a cage's vertices.
#[derive(Debug, Clone)]
pub struct Evidence {
    columns: Vec<Column>,
    count: usize,
}

impl Evidence {
    /// Gathers all evidence.
    pub fn new(context: &MeasureContext, measures: &Measures) -> Self {
        let columns: Vec<Column> = Vec::new();
        Self {
            columns,
            count: context.topology().vertex_count(),
        }
    }

    /// The columns, in the order in which a fit numbers them.
    pub fn columns(&self) -> &[Column] {
        &self.columns
    }

    /// Number of vertices, the length of every column.
    pub fn vertex_count(&self) -> usize {
        self.count
    }

    /// The values of the quantities with the given names; of one that there is not, none.
    pub fn named(&self, names: &[String]) -> Vec<&[f64]> {
        let find = |name: &String| self.columns.iter().find(|c| c.quantity.name == name);
        let columns = names.iter().map(find);
        columns.map(|c| c.map_or(&[][..], |c| &c.values)).collect()
    }
}
