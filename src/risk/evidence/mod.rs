//! Evidence: the quantities that the fitted model reads, one value per vertex each.
//!
//! All are free of scale, unchanged by turning, mirroring, renumbering and turning inside out, and
//! none is a raw angle of the cage or a bend of the surface: what is meant bends too.

pub mod bend_jump;
pub mod cage;
pub mod cell_turn;
mod cells;
pub mod compared;
pub mod deviation;
pub mod form;
pub mod groundwork;
mod height_field;
pub mod loops;
pub mod of_limit;
pub mod panel;
mod kd_tree;
mod mirror_planes;
pub mod poles;
pub mod rings;
pub mod roughness;
pub mod seams;
pub mod shape;
pub mod spacing;
pub mod support;
pub mod surroundings;
pub mod umbrella;
pub mod symmetry;
pub mod warp;

use surroundings::Surroundings;
use symmetry::Symmetry;

use super::Cause;
use crate::measure::bump::BUMP;
use crate::measure::facets::FACET;
use crate::measure::folds::FOLD;
use crate::measure::form_deviation::DEVIATION;
use crate::measure::loop_deviation::LOOP_DEVIATION;
use crate::measure::pinching::{COMPRESSION, PINCH};
use crate::measure::poles::POLE;
use crate::measure::shrinkage::SHRINKAGE_RATIO;
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

/// Measures that are evidence as they are: (measure, the quantity made of it).
static MEASURED: [(&About, Quantity); 9] = [
    measured(&DEVIATION, "deviation", Cause::Bump, true),
    measured(&LOOP_DEVIATION, "loop_deviation", Cause::Bump, true),
    measured(&POLE, "pole_swing", Cause::Pole, false),
    measured(&PINCH, "pinch", Cause::Pinching, false),
    measured(&COMPRESSION, "compression", Cause::Pinching, false),
    measured(&FACET, "facet", Cause::Facet, false),
    measured(&FOLD, "fold", Cause::Fold, false),
    measured(&SHRINKAGE_RATIO, "shrinkage_ratio", Cause::Shrinkage, false),
    measured(&BUMP, "bump", Cause::Bump, false),
];

const fn measured(
    about: &'static About,
    name: &'static str,
    speaks_for: Cause,
    rising: bool,
) -> (&'static About, Quantity) {
    let quantity = Quantity {
        name,
        formula: "the measure of that name",
        speaks_for,
        rising,
    };
    (about, quantity)
}

fn from_measures(measures: &Measures) -> impl Iterator<Item = Column> {
    MEASURED.iter().map(|(about, quantity)| Column {
        quantity,
        values: measures.of(about).to_vec(),
    })
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
        let surroundings = Surroundings::new(context);
        let symmetry = Symmetry::new(context);
        let mut columns = of_limit::limit_columns_in(context, &surroundings);
        columns.extend(cage::columns(context, &symmetry));
        columns.extend(from_measures(measures));
        let compared = compared::compared(context, &surroundings, &symmetry, &columns);
        columns.extend(compared);
        columns.retain(|c| !DROPPED.contains(&c.quantity.name));
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

    /// The values of one quantity, one per vertex; none if there is no quantity of that name.
    pub fn of(&self, name: &str) -> &[f64] {
        let found = self.columns.iter().find(|c| c.quantity.name == name);
        found.map_or(&[], |c| &c.values)
    }

    /// The cause that the quantity of a name speaks for; `None` if there is no such quantity.
    pub fn speaks_for(&self, name: &str) -> Option<Cause> {
        let found = self.columns.iter().find(|c| c.quantity.name == name);
        found.map(|c| c.quantity.speaks_for)
    }

    /// The values of the quantities with the given names; of one that there is not, none.
    pub fn named(&self, names: &[String]) -> Vec<&[f64]> {
        names.iter().map(|name| self.of(name)).collect()
    }
}

const DROPPED: [&str; 56] = [
    "unpredicted",
    "unpredicted_near",
    "unpredicted_far",
    "unpredicted_about",
    "unpredicted_about_mean",
    "loop_near",
    "loop_far_mean",
    "form",
    "form_mean",
    "form_far",
    "form_far_mean",
    "panel",
    "panel_cell",
    "bend_jump_least",
    "bend_jump",
    "folded",
    "cage_slide",
    "limit_slide",
    "pole_on_uneven_bend",
    "triangle_share",
    "ngon_share",
    "triangle_share_ring",
    "ngon_share_ring",
    "sides_most",
    "strip_ends",
    "strip_ends_ring",
    "on_border",
    "gap_to_other_border",
    "off_border_plane",
    "off_centre_line",
    "crease_at_centre_line",
    "taper_out_of_step",
    "skew_out_of_step",
    "jacobian_loss",
    "jacobian_loss_excess",
    "shrinkage_per_edge",
    "shrinkage_times_ring",
    "shrinkage_times_second_ring",
    "mirror_planes",
    "mirror_off",
    "pole_swing",
    "pinch",
    "compression",
    "facet",
    "shrinkage_ratio",
    "unpredicted_busyness",
    "unpredicted_breaks_off",
    "unpredicted_mirror_excess",
    "panel_cell_busyness",
    "panel_cell_breaks_off",
    "panel_cell_mirror_excess",
    "rung_jump_busyness",
    "rung_jump_mirror_excess",
    "corner_out_of_step_busyness",
    "corner_out_of_step_breaks_off",
    "corner_out_of_step_mirror_excess",
];
