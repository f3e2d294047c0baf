//! Evidence: the quantities that the fitted model reads, one value per vertex each.
//!
//! All are free of scale, unchanged by turning, mirroring, renumbering and turning inside out, and
//! none is a raw angle of the cage or a bend of the surface: what is meant bends too.

pub mod cage;
pub mod cell_turn;
mod cells;
pub mod compared;
pub mod groundwork;
mod kd_tree;
pub mod lean;
pub mod loops;
mod mirror_planes;
pub mod mirror_strays;
pub mod of_limit;
mod partners;
pub mod poles;
pub mod reflections;
pub mod rings;
pub mod ripples;
pub mod roughness;
pub mod seams;
pub mod shape;
pub mod spacing;
pub mod support;
pub mod surroundings;
pub mod symmetry;
mod table;
pub mod umbrella;
pub mod warp;

use loops::LOOP_NEAR;
use surroundings::Surroundings;
use symmetry::Symmetry;
use table::Table;

use super::Cause;
use crate::measure::bump::BUMP;
use crate::measure::folds::FOLD;
use crate::measure::form_deviation::DEVIATION;
use crate::measure::loop_deviation::LOOP_DEVIATION;
use crate::measure::{About, MeasureContext, Measures};

/// What a quantity of evidence is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Quantity {
    /// Its name, in the fitted model's file.
    pub name: &'static str,
    /// What it is and how it is computed, in one line.
    pub formula: &'static str,
    /// The cause that it speaks for; [`Cause::Bump`] for what only tells that something is wrong.
    pub speaks_for: Cause,
}

impl Quantity {
    /// A quantity from its parts.
    pub const fn new(name: &'static str, formula: &'static str, speaks_for: Cause) -> Self {
        Self {
            name,
            formula,
            speaks_for,
        }
    }
}

/// A quantity over the cage: one value per vertex, NaN where it is not defined.
#[derive(Debug, Clone)]
pub struct Column {
    /// What it is.
    pub quantity: &'static Quantity,
    /// One value per vertex.
    pub values: Vec<f64>,
}

/// Measures that are evidence as they are: (measure, the quantity made of it).
static MEASURED: [(&About, Quantity); 4] = [
    measured(&DEVIATION, "deviation", Cause::Bump),
    measured(&LOOP_DEVIATION, "loop_deviation", Cause::Bump),
    measured(&FOLD, "fold", Cause::Fold),
    measured(&BUMP, "bump", Cause::Bump),
];

const fn measured(
    about: &'static About,
    name: &'static str,
    speaks_for: Cause,
) -> (&'static About, Quantity) {
    let quantity = Quantity::new(name, "the measure of that name", speaks_for);
    (about, quantity)
}

/// All evidence about a cage's vertices.
#[derive(Debug)]
pub struct Evidence {
    table: Table,
}

impl Evidence {
    /// Gathers all evidence.
    pub fn new(context: &MeasureContext, measures: &Measures) -> Self {
        // What is looked for about the vertices is found by one thread in part.
        let (about, (mut table, compared)) = rayon::join(
            || {
                let surroundings = Surroundings::new(context);
                let symmetry = Symmetry::new(context, &surroundings.rings);
                (surroundings, symmetry)
            },
            || gathered(context),
        );
        for (measure, quantity) in &MEASURED {
            table.push(quantity, measures.of(measure));
        }
        let (surroundings, symmetry) = about;
        let strays = mirror_strays::columns(context, &symmetry);
        let compared = compared::compared(context, &surroundings, &compared);
        for column in strays {
            table.push(column.quantity, &column.values);
        }
        for (quantity, values) in compared {
            table.push(quantity, &values);
        }
        Self { table }
    }

    /// The quantities and their values, one per vertex, in the order in which a fit numbers them.
    pub fn columns(&self) -> impl Iterator<Item = (&'static Quantity, &[f32])> {
        self.table.columns()
    }

    /// Number of vertices, the length of every column.
    pub fn vertex_count(&self) -> usize {
        self.table.count()
    }

    /// The values of one quantity, one per vertex; none if there is no quantity of that name.
    pub fn of(&self, name: &str) -> &[f32] {
        let found = self.columns().find(|(quantity, _)| quantity.name == name);
        found.map_or(&[], |(_, values)| values)
    }

    /// The cause that the quantity of a name speaks for; `None` if there is no such quantity.
    pub fn speaks_for(&self, name: &str) -> Option<Cause> {
        let found = self.columns().find(|(quantity, _)| quantity.name == name);
        found.map(|(quantity, _)| quantity.speaks_for)
    }

    /// The values of the quantities with the given names; of one that there is not, none.
    pub fn named(&self, names: &[String]) -> Vec<&[f32]> {
        names.iter().map(|name| self.of(name)).collect()
    }
}

/// The evidence read off the limit and off the cage, and of it the columns that are to be
/// compared. Groups are put away one by one, so that the next finds their memory free.
fn gathered(context: &MeasureContext) -> (Table, Vec<Column>) {
    let mut table = Table::new(context.topology().vertex_count());
    let mut compared = Vec::new();
    let mut put_away = |group: Vec<Column>| {
        for column in group {
            // It is only there to be compared.
            if column.quantity.name != LOOP_NEAR.name {
                table.push(column.quantity, &column.values);
            }
            if compared::is_compared(column.quantity) {
                compared.push(column);
            }
        }
    };
    of_limit::for_each_group(context, &mut put_away);
    cage::for_each_group(context, &mut put_away);
    (table, compared)
}
