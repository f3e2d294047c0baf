//! How far a quantity stands out from how much of it there is about: whatever is as large all
//! around, or all along a loop, is how the place is built.

use rayon::prelude::*;

use super::rings::Rings;
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
            (values[v] + unseen) / (median(about) + unseen)
        });
        // Of the ratios that have a logarithm the smaller one has the smaller logarithm.
        let [first, second] = along.map(|r| if r >= 0.0 { r } else { f64::NAN });
        first.min(second).ln()
    })
}

/// The loops that run straight through a vertex, each by its two ways.
fn straight_loops<'a>(
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
fn straight_along<'a>(
    context: &'a MeasureContext,
    first: Spoke,
) -> impl Iterator<Item = Spoke> + 'a {
    std::iter::successors(Some(first), |&s| context.spokes.straight_on(s))
}

/// ln((x + e) / (about + e)).
pub(super) fn standing_out(x: f64, about: f64, unseen: f64) -> f64 {
    ((x + unseen) / (about + unseen)).ln()
}

/// Values of which [`median`] takes the middle by a network.
const NETWORK_MAX: usize = 32;

/// Vertices on rings 2 and 3 about a regular vertex of a regular neighbourhood.
const REGULAR_MEMBERS: usize = 20;

/// The median of some values, undefined ones left out; NaN if none is left.
pub(super) fn median(values: impl Iterator<Item = f64>) -> f64 {
    let mut few = [f64::INFINITY; NETWORK_MAX];
    let mut count = 0;
    let mut many = Vec::new();
    for x in values.filter(|x| x.is_finite()) {
        if count == NETWORK_MAX {
            many.extend_from_slice(&few);
        }
        match few.get_mut(count) {
            Some(slot) => *slot = x,
            None => many.push(x),
        }
        count += 1;
    }
    match count {
        0 => f64::NAN,
        1..=8 => middle(&sorted_eight(std::array::from_fn(|i| few[i])), count),
        9..=16 => middle(&sorted_sixteen(std::array::from_fn(|i| few[i])), count),
        17..=REGULAR_MEMBERS => middle(&sorted_regular(std::array::from_fn(|i| few[i])), count),
        21..=NETWORK_MAX => middle(&sorted_all(few), count),
        _ => {
            many.sort_unstable_by(f64::total_cmp);
            middle(&many, count)
        }
    }
}

/// The middle one of the first `count` of sorted values, the mean of the two middle ones of an even
/// number.
fn middle(sorted: &[f64], count: usize) -> f64 {
    let upper = sorted[count / 2];
    if count % 2 == 1 {
        upper
    } else {
        (sorted[count / 2 - 1] + upper) / 2.0
    }
}

// Bitonic sorting networks (Batcher, Sorting networks and their applications, 1968), with the first
// comparisons of each merge turned round so that all put the smaller value first: without branches
// that a processor would guess wrong.

fn sorted_eight(x: [f64; 8]) -> [f64; 8] {
    let x = merged::<8, 4>(merged::<8, 2>(x));
    halved::<8, 1>(halved::<8, 2>(merged::<8, 8>(halved::<8, 1>(x))))
}

fn sorted_sixteen(x: [f64; 16]) -> [f64; 16] {
    let x = halved::<16, 1>(merged::<16, 4>(merged::<16, 2>(x)));
    let x = halved::<16, 1>(halved::<16, 2>(merged::<16, 8>(x)));
    halved::<16, 1>(halved::<16, 2>(halved::<16, 4>(merged::<16, 16>(x))))
}

fn sorted_all(x: [f64; NETWORK_MAX]) -> [f64; NETWORK_MAX] {
    let x = halved::<32, 1>(merged::<32, 4>(merged::<32, 2>(x)));
    let x = halved::<32, 1>(halved::<32, 2>(merged::<32, 8>(x)));
    let x = halved::<32, 1>(halved::<32, 2>(halved::<32, 4>(merged::<32, 16>(x))));
    let x = halved::<32, 4>(halved::<32, 8>(merged::<32, 32>(x)));
    halved::<32, 1>(halved::<32, 2>(x))
}

/// Compares the values of each run of `SPAN` with those of the run read backwards.
#[inline(always)]
fn merged<const N: usize, const SPAN: usize>(mut x: [f64; N]) -> [f64; N] {
    for run in x.chunks_exact_mut(SPAN) {
        for i in 0..SPAN / 2 {
            let (a, b) = (run[i], run[SPAN - 1 - i]);
            (run[i], run[SPAN - 1 - i]) = in_order(a, b);
        }
    }
    x
}

/// Compares the values of each run of twice `STEP` with those `STEP` further on.
#[inline(always)]
fn halved<const N: usize, const STEP: usize>(mut x: [f64; N]) -> [f64; N] {
    for run in x.chunks_exact_mut(2 * STEP) {
        for i in 0..STEP {
            let (a, b) = (run[i], run[i + STEP]);
            (run[i], run[i + STEP]) = in_order(a, b);
        }
    }
    x
}

/// Puts the middle values of [`REGULAR_MEMBERS`] in their places, those from number 8 to number 10
/// counted from 0: Batcher's merge exchange (Knuth, The Art of Computer Programming, volume 3, 1973,
/// algorithm 5.2.2 M), in which what only the other values need is left out.
fn sorted_regular(mut x: [f64; REGULAR_MEMBERS]) -> [f64; REGULAR_MEMBERS] {
    // Written out, so that the values stay in the processor's registers.
    macro_rules! exchange {
        ($($a:literal $b:literal),* $(,)?) => {
            $((x[$a], x[$b]) = in_order(x[$a], x[$b]);)*
        };
    }
    exchange!(
        0 1, 2 3, 4 5, 6 7, 8 9, 10 11, 12 13, 14 15, 16 17, 18 19, 0 2, 1 3, 4 6, 5 7, 8 10,
        9 11, 12 14, 13 15, 16 18, 17 19, 1 2, 5 6, 9 10, 13 14, 17 18, 0 4, 1 5, 2 6, 3 7,
        8 12, 9 13, 10 14, 11 15, 2 4, 3 5, 10 12, 11 13, 1 2, 3 4, 5 6, 9 10, 11 12, 13 14,
        17 18, 0 8, 1 9, 2 10, 3 11, 4 12, 5 13, 6 14, 7 15, 4 8, 5 9, 6 10, 7 11, 2 4, 3 5,
        6 8, 7 9, 10 12, 11 13, 1 2, 3 4, 5 6, 7 8, 9 10, 11 12, 17 18, 0 16, 1 17, 2 18, 3 19,
        8 16, 9 17, 10 18, 11 19, 4 8, 5 9, 6 10, 7 11, 12 16, 6 8, 7 9, 10 12, 7 8, 9 10,
    );
    x
}

/// Two defined values, the smaller one first.
#[inline(always)]
fn in_order(a: f64, b: f64) -> (f64, f64) {
    let smaller = if a < b { a } else { b };
    let larger = if a < b { b } else { a };
    (smaller, larger)
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
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_median_is_that_of_the_sorted_values_whatever_their_number() {
        for count in 0..80usize {
            for seed in 0..20usize {
                let value = |i: usize| ((i * 7919 + seed * 104_729) % 31) as f64 - 9.0;
                let values = || (0..count).map(value);
                let mut sorted: Vec<f64> = values().collect();
                sorted.sort_by(f64::total_cmp);
                let undefined = [f64::NAN, f64::INFINITY];
                let found = median(values().chain(undefined));
                if count == 0 {
                    assert!(found.is_nan());
                } else {
                    let wanted = (sorted[(count - 1) / 2] + sorted[count / 2]) / 2.0;
                    assert_eq!(found, wanted, "{count} values, seed {seed}");
                }
            }
        }
    }
}
