//! Pinching: crowded loops, between which the surface turns within a short way.

use super::Measured;
use super::about::{About, Unit};
use super::context::MeasureContext;
use super::medians::median;
use super::spokes::Spoke;

/// Compression of the limit's parametrisation.
pub const COMPRESSION: About = About {
    name: "compression",
    tells: "how much closer than its surroundings the smoothed loops lie at the vertex",
    formula: "largest ln(median l / l) over the loops straight through the vertex; l the length between limit points over the shorter of the two edges at the vertex, the median over the edges up to three steps either way",
    unit: Unit::Ratio,
    range: "from 0 (even); ln 2 = 0.69 where a strip is half as wide as those about it",
    source: "this program's; crowded loops pinch: common practice, no published source",
    remedy: "slide the crowded loop away, or let the widths grade over several strips",
};

/// Extra turning of the normal within the crowded strip.
pub const PINCH: About = About {
    name: "pinch_swing",
    tells: "how many degrees more the surface turns over the crowded strip than over a strip of like width nearby",
    formula: "largest over the edges of the loops straight through the vertex: angle between the limit normals at the edge's ends, minus its length times the median angle per length of the loop's edges up to three steps either way",
    unit: Unit::Degrees,
    range: "from 0 (turns as the surroundings do)",
    source: "this program's; crowded loops pinch: common practice, no published source",
    remedy: "slide the crowded loop away; where it holds an edge on purpose let it run all along the edge",
};

/// Steps that a loop is followed either way.
const REACH: usize = 3;

/// The two measures, in the order of their columns.
pub fn measure(context: &MeasureContext) -> Vec<Measured> {
    let [compression, pinch] = context.together(|v| {
        let mut most = [f64::NAN; 2];
        for edges in loops_through(context, v) {
            let of_loop = [edges.times_closer(), edges.extra_turn()];
            for (most, x) in most.iter_mut().zip(of_loop) {
                *most = x.map_or(*most, |x| most.max(x));
            }
        }
        let [times_closer, turn] = most;
        [times_closer.ln(), turn]
    });
    vec![
        Measured {
            about: &COMPRESSION,
            values: compression,
        },
        Measured {
            about: &PINCH,
            values: pinch,
        },
    ]
}

/// The limit edges of a loop about a vertex: length and turn of each, those at the vertex first.
struct LoopEdges {
    lengths: [f64; 2 * REACH],
    turns: [f64; 2 * REACH],
    count: usize,
}

impl LoopEdges {
    /// How many times closer than the median the loops beside the vertex lie, at least 1: the compression is
    /// its logarithm.
    fn times_closer(&self) -> Option<f64> {
        let median = median(self.lengths[..self.count].iter().copied());
        let l = self.lengths[0].min(self.lengths[1]);
        (median > 0.0 && l > 0.0).then(|| (median / l).max(1.0))
    }

    fn extra_turn(&self) -> Option<f64> {
        let edges = self.turns.iter().zip(&self.lengths).take(self.count);
        let usual = median(edges.map(|(turn, length)| turn / length));
        let extra = |i: usize| self.turns[i] - usual * self.lengths[i];
        let most = extra(0).max(extra(1));
        most.is_finite().then(|| most.max(0.0))
    }
}

fn loops_through<'a>(
    context: &'a MeasureContext,
    v: usize,
) -> impl Iterator<Item = LoopEdges> + 'a {
    let spokes = context.spokes.of(v);
    spokes.iter().enumerate().filter_map(move |(j, &spoke)| {
        let opposite = context.spokes.opposite(v, j)?;
        (spoke.edge < opposite.edge).then(|| walk(context, [spoke, opposite]))
    })
}

fn walk(context: &MeasureContext, ways: [Spoke; 2]) -> LoopEdges {
    let mut edges = LoopEdges {
        lengths: [0.0; 2 * REACH],
        turns: [0.0; 2 * REACH],
        count: 0,
    };
    let mut at = ways.map(Some);
    for _ in 0..REACH {
        for way in &mut at {
            let Some(spoke) = *way else { continue };
            let edge = &context.edges[spoke.edge as usize];
            edges.lengths[edges.count] = edge.limit_length;
            edges.turns[edges.count] = edge.limit_turn;
            edges.count += 1;
            *way = context.spokes.straight_on(spoke);
        }
    }
    edges
}
