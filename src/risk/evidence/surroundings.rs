//! How far a quantity stands out from how much of it there is about: whatever is as large all
//! around, or all along a loop, is how the place is built.

use rayon::prelude::*;

use super::rings::Rings;
use super::{Column, Quantity};
use crate::measure::MeasureContext;
use crate::measure::spokes::Spoke;

/// What is added to quantities in degrees before they are compared, in degrees: nobody sees less,
/// so that noise on even ground does not stand out.
pub const UNSEEN_DEG: f64 = 1.0;

/// Where a loop's stations begin and end, in edges from the vertex.
const STATIONS: std::ops::RangeInclusive<usize> = 2..=4;

/// Stations of one vertex at most: three each way along two loops.
const STATIONS_MAX: usize = 12;

/// Vertices that one parallel task takes on.
const TASK_LENGTH: usize = 1024;

/// How far `values`, one per vertex, stand out from their surroundings: ln((x + e) / (m + e)) with m
/// the median over rings 2 and 3 and e = `unseen`, in the values' unit. One value per vertex; NaN
/// where x is not defined or no value is about.
pub fn busyness(context: &MeasureContext, rings: &Rings, values: &[f64], unseen: f64) -> Vec<f64> {
    context.per_vertex(|v| {
        let about = rings.between(v, 2, 3).iter().map(|&w| values[w as usize]);
        standing_out(values[v], median(about), unseen)
    })
}

/// The vertices two to four edges away either way along the straight loops through every vertex.
#[derive(Debug, Clone)]
pub struct LoopStations {
    /// Per vertex: where its loops' stations begin in `stations`, and where the last one's end. An
    /// interior vertex has two loops at most, a border one has one.
    bounds: Vec<[u32; 3]>,
    stations: Vec<u32>,
}

impl LoopStations {
    /// Walks along all loops.
    pub fn new(context: &MeasureContext) -> Self {
        let count = context.topology().vertex_count();
        let tasks: Vec<Self> = (0..count.div_ceil(TASK_LENGTH))
            .into_par_iter()
            .map(|t| {
                let mut part = Self {
                    bounds: Vec::with_capacity(TASK_LENGTH),
                    stations: Vec::with_capacity(TASK_LENGTH * STATIONS_MAX),
                };
                let last = ((t + 1) * TASK_LENGTH).min(count);
                (t * TASK_LENGTH..last).for_each(|v| part.walk(context, v));
                part
            })
            .collect();
        let mut all = Self {
            bounds: Vec::with_capacity(count),
            stations: Vec::with_capacity(tasks.iter().map(|t| t.stations.len()).sum()),
        };
        for task in tasks {
            let shift = all.stations.len() as u32;
            let shifted = task.bounds.iter().map(|b| b.map(|x| x + shift));
            all.bounds.extend(shifted);
            all.stations.extend(task.stations);
        }
        all
    }

    fn walk(&mut self, context: &MeasureContext, v: usize) {
        let mut bounds = [self.stations.len() as u32; 3];
        for (i, (a, b)) in straight_loops(context, v).enumerate().take(2) {
            for way in [a, b] {
                let skipped = STATIONS.start() - 1;
                let taken = STATIONS.end() - skipped;
                let along = straight_along(context, way).skip(skipped).take(taken);
                self.stations.extend(along.map(|s| s.vertex));
            }
            bounds[i + 1..].fill(self.stations.len() as u32);
        }
        self.bounds.push(bounds);
    }

    /// The stations of each loop through `v`; empty where none runs straight through.
    fn of(&self, v: usize) -> [&[u32]; 2] {
        let [a, b, c] = self.bounds[v].map(|x| x as usize);
        [&self.stations[a..b], &self.stations[b..c]]
    }
}

/// How far `values`, one per vertex, break off along the loops: the smallest over the straight
/// loops through the vertex of ln((x + e) / (m + e)), with m the median over the stations 2 to 4
/// edges away either way and e = `unseen`. One value per vertex; NaN where no loop runs on or x is
/// not defined.
pub fn loop_consistency(
    context: &MeasureContext,
    stations: &LoopStations,
    values: &[f64],
    unseen: f64,
) -> Vec<f64> {
    context.per_vertex(|v| {
        let along = stations.of(v).map(|loop_stations| {
            let about = loop_stations.iter().map(|&w| values[w as usize]);
            standing_out(values[v], median(about), unseen)
        });
        along[0].min(along[1])
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

/// What quantities are compared with.
#[derive(Debug, Clone)]
pub struct Surroundings {
    /// The rings about every vertex.
    pub rings: Rings,
    /// The stations along the loops.
    pub stations: LoopStations,
}

impl Surroundings {
    /// Gathers both.
    pub fn new(context: &MeasureContext) -> Self {
        Self {
            rings: Rings::new(context),
            stations: LoopStations::new(context),
        }
    }

    /// A quantity put through [`busyness`] and [`loop_consistency`], under the two names given.
    pub fn compared(
        &self,
        context: &MeasureContext,
        values: &[f64],
        unseen: f64,
        [busy, breaks_off]: [&'static Quantity; 2],
    ) -> [Column; 2] {
        [
            Column {
                quantity: busy,
                values: busyness(context, &self.rings, values, unseen),
            },
            Column {
                quantity: breaks_off,
                values: loop_consistency(context, &self.stations, values, unseen),
            },
        ]
    }
}
