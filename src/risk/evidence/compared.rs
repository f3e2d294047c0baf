//! Quantities set against how much of them there is about, along the loops, and in the mirror.

use rayon::prelude::*;

use super::surroundings::{Surroundings, UNSEEN_DEG};
use super::symmetry::{Symmetry, mirror_excess};
use super::{Column, Quantity};
use crate::measure::MeasureContext;
use crate::risk::Cause;

/// What is added to lengths in edges and to logarithms of ratios before they are compared: nobody
/// sees a fiftieth of an edge.
const UNSEEN_RATIO: f64 = 0.02;

const BUSYNESS: &str =
    "ln((x + e) / (m + e)) of the quantity named first, m its median over rings 2 and 3, e what nobody sees";
const BREAKS_OFF: &str = "least over the straight loops of ln((x + e) / (m + e)) of the quantity named first, m its median two to four edges away either way, e what nobody sees";
const MIRROR: &str = "largest over the shell's mirror planes of ln((x + e) / (x' + e)) of the quantity named first, x' that of the mirror image, e what nobody sees";

/// A quantity that is compared, what nobody sees of it in its unit, and what comes of it.
struct Compared {
    name: &'static str,
    unseen: f64,
    busyness: Quantity,
    breaks_off: Quantity,
    mirror: Quantity,
}

macro_rules! compared {
    ($name:literal, $unseen:expr, $cause:ident) => {
        Compared {
            name: $name,
            unseen: $unseen,
            busyness: quantity(concat!($name, "_busyness"), BUSYNESS, Cause::$cause),
            breaks_off: quantity(concat!($name, "_breaks_off"), BREAKS_OFF, Cause::$cause),
            mirror: quantity(concat!($name, "_mirror_excess"), MIRROR, Cause::$cause),
        }
    };
}

const fn quantity(name: &'static str, formula: &'static str, speaks_for: Cause) -> Quantity {
    Quantity {
        name,
        formula,
        speaks_for,
        rising: false,
    }
}

static COMPARED: [Compared; 10] = [
    compared!("unpredicted", UNSEEN_DEG, Bump),
    compared!("loop_near", UNSEEN_DEG, Bump),
    compared!("roughness_middle", UNSEEN_DEG, Bump),
    compared!("panel_cell", UNSEEN_DEG, Bump),
    compared!("quad_warp", UNSEEN_DEG, Warp),
    compared!("length_out_of_step", UNSEEN_RATIO, Spacing),
    compared!("rung_jump", UNSEEN_RATIO, Spacing),
    compared!("support_jump_ring", UNSEEN_RATIO, Support),
    compared!("cage_stand_off", UNSEEN_RATIO, Bump),
    compared!("corner_out_of_step", UNSEEN_DEG, Spacing),
];

/// Three columns for each quantity that is compared and that is among `columns`.
pub fn compared(
    context: &MeasureContext,
    surroundings: &Surroundings,
    symmetry: &Symmetry,
    columns: &[Column],
) -> Vec<Column> {
    let of_one = |one: &'static Compared| {
        let found = columns.iter().find(|c| c.quantity.name == one.name)?;
        let names = [&one.busyness, &one.breaks_off];
        let mut made =
            Vec::from(surroundings.compared(context, &found.values, one.unseen, names));
        made.push(Column {
            quantity: &one.mirror,
            values: mirror_excess(symmetry, &found.values, one.unseen),
        });
        Some(made)
    };
    COMPARED
        .par_iter()
        .filter_map(of_one)
        .flatten_iter()
        .collect()
}
