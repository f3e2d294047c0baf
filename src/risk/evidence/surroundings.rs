//! How far a quantity stands out from how much of it there is about: whatever is as large all
//! around, or all along a loop, is how the place is built. In single precision, as evidence is kept.

use pulp::Arch;
use rayon::prelude::*;

use super::rings::Rings;
use crate::measure::MeasureContext;
use crate::measure::medians::{Row, medians_abreast, medians_along};
use crate::measure::spokes::Spoke;

/// What is added to quantities in degrees before they are compared, in degrees: nobody sees less,
/// so that noise on even ground does not stand out.
pub const UNSEEN_DEG: f32 = 1.0;

/// Where a loop's stations begin and end, in edges from the vertex.
const STATIONS: std::ops::RangeInclusive<usize> = 2..=4;

/// Stations of one vertex at most: three each way along two loops.
const STATIONS_MAX: usize = 12;

/// Ways of the two loops through a vertex.
const WAYS: usize = 4;

/// Vertices that one parallel task takes on.
const TASK_LENGTH: usize = 1024;

/// The vertices two to four edges away either way along the straight loops through every vertex.
#[derive(Debug, Clone)]
pub struct LoopStations {
    /// As the tasks found them: to lay them together would take as long again.
    parts: Vec<Part>,
}

/// The stations of [`TASK_LENGTH`] vertices.
#[derive(Debug, Clone)]
struct Part {
    /// Per vertex: where the stations of its loops' ways begin in `stations`, and where the last one's
    /// end. An interior vertex has two loops at most, a border one has one.
    bounds: Vec<[u32; WAYS + 1]>,
    stations: Vec<u32>,
}

impl LoopStations {
    /// Walks along all loops.
    pub fn new(context: &MeasureContext) -> Self {
        let count = context.topology().vertex_count();
        let parts = (0..count.div_ceil(TASK_LENGTH))
            .into_par_iter()
            .map(|t| {
                let mut part = Part {
                    bounds: Vec::with_capacity(TASK_LENGTH),
                    stations: Vec::with_capacity(TASK_LENGTH * STATIONS_MAX),
                };
                let last = ((t + 1) * TASK_LENGTH).min(count);
                (t * TASK_LENGTH..last).for_each(|v| part.walk(context, v));
                part
            })
            .collect();
        Self { parts }
    }

    /// The stations of each loop through `v`; empty where none runs straight through.
    fn of(&self, v: usize) -> [&[u32]; 2] {
        let part = &self.parts[v / TASK_LENGTH];
        let [a, _, b, _, c] = part.bounds[v % TASK_LENGTH].map(|x| x as usize);
        [&part.stations[a..b], &part.stations[b..c]]
    }

    /// The same of each way, the two of a loop beside each other.
    fn ways(&self, v: usize) -> [&[u32]; WAYS] {
        let part = &self.parts[v / TASK_LENGTH];
        let bounds = &part.bounds[v % TASK_LENGTH];
        std::array::from_fn(|k| &part.stations[bounds[k] as usize..bounds[k + 1] as usize])
    }
}

impl Part {
    fn walk(&mut self, context: &MeasureContext, v: usize) {
        let mut bounds = [self.stations.len() as u32; WAYS + 1];
        let loops = straight_loops(context, v).take(WAYS / 2);
        for (i, way) in loops.flat_map(|(a, b)| [a, b]).enumerate() {
            let skipped = STATIONS.start() - 1;
            let taken = STATIONS.end() - skipped;
            let along = straight_along(context, way).skip(skipped).take(taken);
            self.stations.extend(along.map(|s| s.vertex));
            bounds[i + 1..].fill(self.stations.len() as u32);
        }
        self.bounds.push(bounds);
    }
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

/// How far `x` stands out from what is about: ln((x + e) / (m + e)) with m = `about` and e =
/// `unseen`, in the values' unit. NaN where either is not defined.
pub fn standing_out(x: f32, about: f32, unseen: f32) -> f32 {
    ((x + unseen) / (about + unseen)).ln()
}

/// How far `x` breaks off from what is `along` the straight loops: the smaller ln((x + e) / (m + e))
/// of both, with e = `unseen`. NaN where no loop runs on or x is not defined.
pub fn breaking_off(x: f32, along: [f32; 2], unseen: f32) -> f32 {
    // Of the ratios that have a logarithm the smaller one has the smaller logarithm.
    let [first, second] = along.map(|m| {
        let ratio = (x + unseen) / (m + unseen);
        if ratio >= 0.0 { ratio } else { f32::NAN }
    });
    first.min(second).ln()
}

/// What quantities are compared with.
#[derive(Debug, Clone)]
pub struct Surroundings {
    /// The rings about every vertex.
    pub rings: Rings,
    /// The stations along the loops.
    pub stations: LoopStations,
    arch: Arch,
}

impl Surroundings {
    /// Gathers both.
    pub fn new(context: &MeasureContext) -> Self {
        Self {
            rings: Rings::new(context),
            stations: LoopStations::new(context),
            arch: Arch::new(),
        }
    }

    /// What there is about vertex `v` of several quantities, whose values are `rows`, one per
    /// vertex.
    pub fn about(&self, rows: &[Row], v: usize) -> About {
        let (loops, [a, b, c, d]) = (self.stations.of(v), self.stations.ways(v));
        let along = |k: usize, ways| medians_along(self.arch, rows, loops[k], ways);
        let ([first, a, b], [second, c, d]) = (along(0, [a, b]), along(1, [c, d]));
        About {
            rings: medians_abreast(self.arch, rows, self.rings.between(v, 2, 3)),
            loops: [first, second],
            ways: [a, b, c, d],
        }
    }
}

/// What there is about a vertex of several quantities; NaN where there is nothing.
#[derive(Debug, Clone, Copy)]
pub struct About {
    /// The medians over rings 2 and 3.
    pub rings: Row,
    /// The medians over the stations two to four edges away either way, one for each of the straight
    /// loops.
    pub loops: [Row; 2],
    /// The same of each way, the two of a loop beside each other.
    pub ways: [Row; WAYS],
}

impl About {
    /// Of each loop the median of the way that has less of the quantity with the given number.
    pub fn calmer(&self, k: usize) -> [f32; 2] {
        [[0, 1], [2, 3]].map(|[a, b]| self.ways[a][k].min(self.ways[b][k]))
    }
}
