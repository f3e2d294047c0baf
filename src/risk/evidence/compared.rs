//! Quantities set against how much of them there is about, and along the loops.

use super::groundwork::per_index;
use super::surroundings::{Surroundings, UNSEEN_DEG, breaking_off, standing_out};
use super::{Column, Quantity};
use crate::measure::MeasureContext;
use crate::measure::context::in_columns;
use crate::measure::medians::{ABREAST, Row};
use crate::risk::Cause;

/// What is added to lengths in edges and to logarithms of ratios before they are compared: nobody
/// sees a fiftieth of an edge.
const UNSEEN_RATIO: f32 = 0.02;

const BUSYNESS: &str = "ln((x + e) / (m + e)) of the quantity named first, m its median over rings 2 and 3, e what nobody sees";
const BREAKS_OFF: &str = "least over the straight loops of ln((x + e) / (m + e)) of the quantity named first, m its median two to four edges away either way, e what nobody sees";
const LEAVES_CALM: &str = "as breaks_off, with m the lesser of the medians two to four edges away on one way and on the other";

/// What a quantity is set against.
#[derive(Clone, Copy)]
enum Against {
    /// What there is of it about: [`standing_out`].
    Rings,
    /// What there is of it along the loops: [`breaking_off`].
    Loops,
    /// What there is of it on the calmer way of each loop: [`breaking_off`]. A fault that lies the other way
    /// on the same loop does not hide this one.
    CalmerWay,
}

/// A quantity set against something, and what comes of it.
struct Comparison {
    /// The quantity's name.
    of: &'static str,
    /// What nobody sees of it, in its unit.
    unseen: f32,
    against: Against,
    quantity: Quantity,
}

const fn comparison(
    of: &'static str,
    unseen: f32,
    speaks_for: Cause,
    against: Against,
    name: &'static str,
) -> Comparison {
    let formula = match against {
        Against::Rings => BUSYNESS,
        Against::Loops => BREAKS_OFF,
        Against::CalmerWay => LEAVES_CALM,
    };
    Comparison {
        of,
        unseen,
        against,
        quantity: Quantity::new(name, formula, speaks_for),
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
    (CalmerWay $of:literal $unseen:ident $cause:ident) => {
        comparison(
            $of,
            $unseen,
            Cause::$cause,
            Against::CalmerWay,
            concat!($of, "_leaves_calm"),
        )
    };
}

/// Number of [`COMPARISONS`].
const COMPARISONS_COUNT: usize = 19;

/// All comparisons, in the order of their columns.
static COMPARISONS: [Comparison; COMPARISONS_COUNT] = [
    against!(Rings "loop_near" UNSEEN_DEG Bump),
    against!(Loops "loop_near" UNSEEN_DEG Bump),
    against!(CalmerWay "loop_near" UNSEEN_DEG Bump),
    against!(Rings "roughness_middle" UNSEEN_DEG Bump),
    against!(Loops "roughness_middle" UNSEEN_DEG Bump),
    against!(CalmerWay "roughness_middle" UNSEEN_DEG Bump),
    against!(Rings "quad_warp" UNSEEN_DEG Warp),
    against!(Loops "quad_warp" UNSEEN_DEG Warp),
    against!(CalmerWay "quad_warp" UNSEEN_DEG Warp),
    against!(Rings "length_out_of_step" UNSEEN_RATIO Spacing),
    against!(Loops "length_out_of_step" UNSEEN_RATIO Spacing),
    against!(CalmerWay "length_out_of_step" UNSEEN_RATIO Spacing),
    against!(Loops "rung_jump" UNSEEN_RATIO Spacing),
    against!(Rings "support_jump_ring" UNSEEN_RATIO Support),
    against!(Loops "support_jump_ring" UNSEEN_RATIO Support),
    against!(CalmerWay "support_jump_ring" UNSEEN_RATIO Support),
    against!(Rings "cage_stand_off" UNSEEN_RATIO Bump),
    against!(Loops "cage_stand_off" UNSEEN_RATIO Bump),
    against!(CalmerWay "cage_stand_off" UNSEEN_RATIO Bump),
];

/// All comparisons of the quantities in `columns`, one column each. They are found vertex
/// by vertex, so that what is about a vertex is looked for once, and read of all quantities at once.
pub fn compared(
    context: &MeasureContext,
    surroundings: &Surroundings,
    columns: &[Column],
) -> impl Iterator<Item = (&'static Quantity, Vec<f32>)> {
    let quantities = quantities();
    let rows = rows(context, &quantities, columns);
    let places = COMPARISONS.each_ref().map(|one| {
        let place = quantities.iter().position(|of| *of == one.of);
        place.unwrap_or_default()
    });
    let topology = context.topology();
    let values: [Vec<f32>; COMPARISONS_COUNT] = in_columns(topology.vertex_count(), |v| {
        if topology.is_unreferenced(v) {
            return [f32::NAN; COMPARISONS_COUNT];
        }
        let about = surroundings.about(&rows, v);
        std::array::from_fn(|i| {
            let (one, k) = (&COMPARISONS[i], places[i]);
            let x = rows[v][k];
            match one.against {
                Against::Rings => standing_out(x, about.rings[k], one.unseen),
                Against::Loops => breaking_off(x, about.loops.map(|m| m[k]), one.unseen),
                Against::CalmerWay => breaking_off(x, about.calmer(k), one.unseen),
            }
        })
    });
    COMPARISONS.iter().map(|one| &one.quantity).zip(values)
}

/// Whether a quantity is compared.
pub(super) fn is_compared(quantity: &Quantity) -> bool {
    COMPARISONS.iter().any(|one| one.of == quantity.name)
}

/// The quantities that are compared, each once: no more than [`ABREAST`].
fn quantities() -> Vec<&'static str> {
    let mut quantities: Vec<&str> = Vec::with_capacity(ABREAST);
    for one in &COMPARISONS {
        if !quantities.contains(&one.of) {
            quantities.push(one.of);
        }
    }
    quantities
}

/// The values of the quantities that are compared, vertex by vertex.
fn rows(context: &MeasureContext, quantities: &[&str], columns: &[Column]) -> Vec<Row> {
    let of = |name: &&str| columns.iter().find(|c| c.quantity.name == *name);
    let columns: Vec<Option<&Column>> = quantities.iter().map(of).collect();
    per_index(context.topology().vertex_count(), |v| {
        std::array::from_fn(|k| match columns.get(k) {
            Some(Some(column)) => column.values[v] as f32,
            _ => f32::NAN,
        })
    })
}
