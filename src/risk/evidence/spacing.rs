//! Evidence of strips of uneven width. Lengths are compared by logarithms, so that spacing graded by
//! a constant factor is even. An edge along which its loop comes back counts for next to nothing
//! ([`Groundwork::length`]).
//!
//! That strips of even width beside each other smooth evenly is common practice, without published
//! source; the formulas are this program's.

use smallvec::SmallVec;

use super::groundwork::{
    Groundwork, STATIONS, columns as collected, logarithm, median_of_four, neighbouring,
    per_vertex, ring_largest,
};
use super::{Column, Quantity};
use crate::measure::spokes::Spoke;
use crate::risk::Cause;

static LENGTH: Quantity = Quantity::new(
    "length_out_of_step",
    "over the edges at the vertex, the smaller of |ln l - ln l_next| and |ln l - ln l_before| along the straight loop; the largest",
    Cause::Spacing,
);

static LENGTH_RING: Quantity = Quantity::new(
    "length_out_of_step_ring",
    "largest length_out_of_step of a neighbour",
    Cause::Spacing,
);

static ACROSS: Quantity = Quantity::new(
    "opposite_edges",
    "largest |ln(edge / opposite edge)| over the quads at the vertex",
    Cause::Spacing,
);

static ACROSS_OUT_OF_STEP: Quantity = Quantity::new(
    "opposite_edges_out_of_step",
    "how far the larger |ln(edge / opposite edge)| of a quad exceeds the median of the two next quads either way of a strip, the smaller of its two strips; largest quad at the vertex",
    Cause::Spacing,
);

static SECOND_LARGEST: Quantity = Quantity::new(
    "grading_break",
    "difference of ln l over the vertex less the one over the next vertex of the loop, the smaller size of both ways; the larger of the directions",
    Cause::Spacing,
);

static SECOND_SMALLEST: Quantity = Quantity::new(
    "grading_break_least",
    "the same, the smaller of the directions",
    Cause::Spacing,
);

static RUNG_LARGEST: Quantity = Quantity::new(
    "rung_jump",
    "|ln(w / m)|, w the mean length of the rungs at the vertex, m the median of the same at the two next stations either way of the loop; the larger of the directions",
    Cause::Spacing,
);

static RUNG_SMALLEST: Quantity = Quantity::new(
    "rung_jump_least",
    "the same, the smaller of the directions",
    Cause::Spacing,
);

/// The columns.
pub fn columns(ground: &Groundwork) -> Vec<Column> {
    let context = ground.context;
    let widths = widths(ground);
    let [length, second, second_least, rung, rung_least] =
        per_vertex(context, |v| along_loops(ground, &widths, v));
    let faces = opposite_edges(ground);
    let steps = ground.out_of_strip(&faces, |x, m| [(x - m).max(0.0)]);
    let [across, across_step] = per_vertex(context, |v| {
        let at = |f: usize| [faces[f], steps[f][0]];
        let larger = |most: [f64; 2], x: [f64; 2]| [most[0].max(x[0]), most[1].max(x[1])];
        context.faces_of(v).map(at).fold([f64::NAN; 2], larger)
    });
    let length_ring = ring_largest(context, &length);
    collected(
        [
            &LENGTH,
            &LENGTH_RING,
            &ACROSS,
            &ACROSS_OUT_OF_STEP,
            &SECOND_LARGEST,
            &SECOND_SMALLEST,
            &RUNG_LARGEST,
            &RUNG_SMALLEST,
        ],
        [
            length,
            length_ring,
            across,
            across_step,
            second,
            second_least,
            rung,
            rung_least,
        ],
    )
}

/// The larger |ln(edge / opposite edge)| of each quad.
fn opposite_edges(ground: &Groundwork) -> Vec<f64> {
    let topology = ground.context.topology();
    super::groundwork::per_index(topology.face_count(), |f| {
        if topology.face_size(f) != 4 {
            return f64::NAN;
        }
        let start = topology.face_corners(f).start;
        let length = |k: usize| ground.log_length[topology.edge(start + k)];
        let ratio = |k: usize| (length(k) - length(k + 2)).abs();
        ratio(0).max(ratio(1))
    })
}

/// Mean length of the rungs beside every spoke, in the order of [`Spokes::place`]: the loops through
/// a vertex ask for that of all stations along them.
///
/// [`Spokes::place`]: crate::measure::spokes::Spokes::place
fn widths(ground: &Groundwork) -> Vec<f64> {
    let context = ground.context;
    let width = |v: usize, j: usize| width(ground, neighbouring(context, v, j));
    context.spokes.per_spoke(width)
}

/// What is met going along a loop from a vertex, station by station.
struct Way {
    /// Logarithms of the lengths of the edges.
    logs: [f64; STATIONS],
    /// The widths at their ends.
    widths: [f64; STATIONS],
}

impl Way {
    fn new(ground: &Groundwork, widths: &[f64], first: Spoke) -> Self {
        let spokes = &ground.context.spokes;
        let mut way = Self {
            logs: [f64::NAN; STATIONS],
            widths: [f64::NAN; STATIONS],
        };
        let along = std::iter::successors(Some(first), |s| spokes.straight_on(*s));
        for (k, arrived) in along.take(STATIONS).enumerate() {
            way.logs[k] = ground.log_length[arrived.edge as usize];
            if let Some(back) = spokes.back(arrived) {
                way.widths[k] = widths[spokes.place(arrived.vertex as usize, back)];
            }
        }
        way
    }
}

/// The values of the loops through vertex `v`, in the order of the columns that they make.
fn along_loops(ground: &Groundwork, widths: &[f64], v: usize) -> [f64; 5] {
    let spokes = &ground.context.spokes;
    let ways = spokes.of(v).iter();
    let ways: SmallVec<[Way; 4]> = ways.map(|&s| Way::new(ground, widths, s)).collect();
    let mut length = f64::NAN;
    let (mut second, mut rung) = (Range::NONE, Range::NONE);
    for (j, way) in ways.iter().enumerate() {
        let [here, next] = way.logs;
        let back = spokes.opposite_place(v, j);
        let [before, beyond] = back.map_or([f64::NAN; STATIONS], |k| ways[k].logs);
        length = length.max((here - next).abs().min((here - before).abs()));
        let Some(back) = back.filter(|&k| k > j) else {
            continue;
        };
        let over = here - before;
        second.add(
            (over - (next - here))
                .abs()
                .min((over - (before - beyond)).abs()),
        );
        let ([a, b], [c, d]) = (way.widths, ways[back].widths);
        let usual = median_of_four([a, b, c, d]);
        rung.add(logarithm(widths[spokes.place(v, j)] / usual).abs());
    }
    [
        length,
        second.largest,
        second.smallest,
        rung.largest,
        rung.smallest,
    ]
}

/// Mean length of the rungs that there are.
fn width(ground: &Groundwork, rungs: [Option<Spoke>; 2]) -> f64 {
    let lengths = rungs.into_iter().flatten();
    let (sum, count) = lengths.fold((0.0, 0.0), |(sum, count), s| {
        (sum + ground.length[s.edge as usize], count + 1.0)
    });
    sum / count
}

/// The largest and the smallest of some values.
struct Range {
    largest: f64,
    smallest: f64,
}

impl Range {
    const NONE: Self = Self {
        largest: f64::NAN,
        smallest: f64::NAN,
    };

    fn add(&mut self, x: f64) {
        self.largest = self.largest.max(x);
        self.smallest = self.smallest.min(x);
    }
}
