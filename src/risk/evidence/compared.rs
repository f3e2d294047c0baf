//! Quantities set against how much of them there is about, along the loops, and in the mirror.

use rayon::prelude::*;

use super::surroundings::{Surroundings, UNSEEN_DEG, busyness, loop_consistency};
use super::symmetry::{Symmetry, mirror_excess};
use super::{Column, Quantity};
use crate::measure::MeasureContext;
use crate::risk::Cause;

/// What is added to lengths in edges and to logarithms of ratios before they are compared: nobody
/// sees a fiftieth of an edge.
const UNSEEN_RATIO: f64 = 0.02;

const BUSYNESS: &str = "ln((x + e) / (m + e)) of the quantity named first, m its median over rings 2 and 3, e what nobody sees";
const BREAKS_OFF: &str = "least over the straight loops of ln((x + e) / (m + e)) of the quantity named first, m its median two to four edges away either way, e what nobody sees";
const MIRROR: &str = "largest over the shell's mirror planes of ln((x + e) / (x' + e)) of the quantity named first, x' that of the mirror image, e what nobody sees";

/// What a quantity is set against.
#[derive(Clone, Copy)]
enum Against {
    /// What there is of it about: [`busyness`].
    Rings,
    /// What there is of it along the loops: [`loop_consistency`].
    Loops,
    /// What there is of it at the mirror image: [`mirror_excess`].
    Mirror,
}

/// A quantity set against something, and what comes of it.
struct Comparison {
    /// The quantity's name.
    of: &'static str,
    /// What nobody sees of it, in its unit.
    unseen: f64,
    against: Against,
    quantity: Quantity,
}

const fn comparison(
    of: &'static str,
    unseen: f64,
    speaks_for: Cause,
    against: Against,
    name: &'static str,
) -> Comparison {
    let formula = match against {
        Against::Rings => BUSYNESS,
        Against::Loops => BREAKS_OFF,
        Against::Mirror => MIRROR,
    };
    Comparison {
        of,
        unseen,
        against,
        quantity: Quantity {
            name,
            formula,
            speaks_for,
        },
    }
}

macro_rules! against {
    (Rings $of:literal $unseen:ident $cause:ident) => {
        comparison(
            $of,
            $unseen,
            Cause::$cause,
            Against::Rings,
            concat!($of, "_busyness"),
        )
    };
    (Loops $of:literal $unseen:ident $cause:ident) => {
        comparison(
            $of,
            $unseen,
            Cause::$cause,
            Against::Loops,
            concat!($of, "_breaks_off"),
        )
    };
    (Mirror $of:literal $unseen:ident $cause:ident) => {
        comparison(
            $of,
            $unseen,
            Cause::$cause,
            Against::Mirror,
            concat!($of, "_mirror_excess"),
        )
    };
}

/// All comparisons, in the order of their columns.
static COMPARISONS: [Comparison; 19] = [
    against!(Rings "loop_near" UNSEEN_DEG Bump),
    against!(Loops "loop_near" UNSEEN_DEG Bump),
    against!(Mirror "loop_near" UNSEEN_DEG Bump),
    against!(Rings "roughness_middle" UNSEEN_DEG Bump),
    against!(Loops "roughness_middle" UNSEEN_DEG Bump),
    against!(Mirror "roughness_middle" UNSEEN_DEG Bump),
    against!(Rings "quad_warp" UNSEEN_DEG Warp),
    against!(Loops "quad_warp" UNSEEN_DEG Warp),
    against!(Mirror "quad_warp" UNSEEN_DEG Warp),
    against!(Rings "length_out_of_step" UNSEEN_RATIO Spacing),
    against!(Loops "length_out_of_step" UNSEEN_RATIO Spacing),
    against!(Mirror "length_out_of_step" UNSEEN_RATIO Spacing),
    against!(Loops "rung_jump" UNSEEN_RATIO Spacing),
    against!(Rings "support_jump_ring" UNSEEN_RATIO Support),
    against!(Loops "support_jump_ring" UNSEEN_RATIO Support),
    against!(Mirror "support_jump_ring" UNSEEN_RATIO Support),
    against!(Rings "cage_stand_off" UNSEEN_RATIO Bump),
    against!(Loops "cage_stand_off" UNSEEN_RATIO Bump),
    against!(Mirror "cage_stand_off" UNSEEN_RATIO Bump),
];

/// The comparisons of those quantities that are among `columns`, one column each.
pub fn compared(
    context: &MeasureContext,
    surroundings: &Surroundings,
    symmetry: &Symmetry,
    columns: &[Column],
) -> Vec<Column> {
    let Surroundings { rings, stations } = surroundings;
    let made = |one: &'static Comparison| {
        let found = columns.iter().find(|c| c.quantity.name == one.of)?;
        let (values, unseen) = (&found.values, one.unseen);
        let values = match one.against {
            Against::Rings => busyness(context, rings, values, unseen),
            Against::Loops => loop_consistency(context, stations, values, unseen),
            Against::Mirror => mirror_excess(symmetry, values, unseen),
        };
        let quantity = &one.quantity;
        Some(Column { quantity, values })
    };
    COMPARISONS.par_iter().filter_map(made).collect()
}
