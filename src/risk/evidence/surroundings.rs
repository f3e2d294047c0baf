//! How far a quantity stands out from how much of it there is about: whatever is as large all
//! around, or all along a loop, is how the place is built.

use super::rings::Rings;
use super::{Column, Quantity};
use crate::measure::MeasureContext;
use crate::measure::spokes::Spoke;

/// What is added to quantities in degrees before they are compared, in degrees: nobody sees less,
/// so that noise on even ground does not stand out.
pub const UNSEEN_DEG: f64 = 1.0;

/// Where a loop's stations begin and end, in edges from the vertex.
const STATIONS: std::ops::RangeInclusive<usize> = 2..=4;

/// How far `values`, one per vertex, stand out from their surroundings: ln((x + e) / (m + e)) with m
/// the median over rings 2 and 3 and e = `unseen`, in the values' unit. One value per vertex; NaN
/// where x is not defined or no value is about.
pub fn busyness(context: &MeasureContext, rings: &Rings, values: &[f64], unseen: f64) -> Vec<f64> {
    context.per_vertex(|v| {
        let about = rings.between(v, 2, 3).iter().map(|&w| values[w as usize]);
        standing_out(values[v], median(about), unseen)
    })
}

/// How far `values`, one per vertex, break off along the loops: the smallest over the straight
/// loops through the vertex of ln((x + e) / (m + e)), with m the median over the stations 2 to 4
/// edges away either way and e = `unseen`. One value per vertex; NaN where no loop runs straight
/// through or x is not defined.
pub fn loop_consistency(context: &MeasureContext, values: &[f64], unseen: f64) -> Vec<f64> {
    context.per_vertex(|v| {
        let along = |a: Spoke, b: Spoke| {
            let both = stations(context, a).chain(stations(context, b));
            standing_out(values[v], median(both.map(|w| values[w])), unseen)
        };
        straight_loops(context, v)
            .map(|(a, b)| along(a, b))
            .fold(f64::NAN, f64::min)
    })
}

/// The loops that run straight through a vertex, each by its two ways.
pub(super) fn straight_loops<'a>(
    context: &'a MeasureContext,
    v: usize,
) -> impl Iterator<Item = (Spoke, Spoke)> + 'a {
    let spokes = context.spokes.of(v).iter().enumerate();
    spokes.filter_map(move |(j, &spoke)| {
        let opposite = context.spokes.opposite(v, j)?;
        (spoke.edge < opposite.edge).then_some((spoke, opposite))
    })
}

/// The vertices along a loop from its first step on.
pub(super) fn straight_along<'a>(
    context: &'a MeasureContext,
    first: Spoke,
) -> impl Iterator<Item = Spoke> + 'a {
    std::iter::successors(Some(first), |&s| context.spokes.straight_on(s))
}

fn stations<'a>(context: &'a MeasureContext, first: Spoke) -> impl Iterator<Item = usize> + 'a {
    let (skipped, taken) = (STATIONS.start() - 1, STATIONS.end() - STATIONS.start() + 1);
    let along = straight_along(context, first).skip(skipped).take(taken);
    along.map(|s| s.vertex as usize)
}

/// ln((x + e) / (about + e)).
pub(super) fn standing_out(x: f64, about: f64, unseen: f64) -> f64 {
    ((x + unseen) / (about + unseen)).ln()
}

/// The median of some values, undefined ones left out; NaN if none is left.
pub(super) fn median(values: impl Iterator<Item = f64>) -> f64 {
    let mut sorted: smallvec::SmallVec<[f64; 32]> = values.filter(|x| x.is_finite()).collect();
    if sorted.is_empty() {
        return f64::NAN;
    }
    let middle = sorted.len() / 2;
    let odd = sorted.len() % 2 == 1;
    let (below, &mut upper, _) = sorted.select_nth_unstable_by(middle, f64::total_cmp);
    let lower = below.iter().copied().fold(f64::NAN, f64::max);
    if odd { upper } else { (lower + upper) / 2.0 }
}

/// A column put through [`busyness`] and [`loop_consistency`], under the two names given.
pub fn in_surroundings(
    context: &MeasureContext,
    rings: &Rings,
    values: &[f64],
    unseen: f64,
    [busy, breaks_off]: [&'static Quantity; 2],
) -> [Column; 2] {
    [
        Column {
            quantity: busy,
            values: busyness(context, rings, values, unseen),
        },
        Column {
            quantity: breaks_off,
            values: loop_consistency(context, values, unseen),
        },
    ]
}
