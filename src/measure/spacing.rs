//! Spacing: strips of uneven width.

use super::Measured;
use super::about::{About, Unit};
use super::context::{MeasureContext, largest};

/// Jump of edge length along a loop.
pub const SPACING_ALONG: About = About {
    name: "spacing_along",
    tells: "how unevenly the strips on both sides of the vertex are spaced along a loop",
    formula: "largest |ln(l / l')| over the loops straight through the vertex, l and l' the lengths of the edges before and after it",
    unit: Unit::Ratio,
    range: "from 0 (even); ln 2 = 0.69 where one strip is twice as wide as the next",
    source: "strips of even width beside each other smooth evenly: common practice, no published source",
    remedy: "slide the loop so that its strips are of like width, or grade the widths over several strips",
};

/// Difference of opposite edges.
pub const SPACING_ACROSS: About = About {
    name: "spacing_across",
    tells: "how much a strip changes its width over one quad at the vertex",
    formula: "largest |ln(l / l')| over the quads at the vertex, l an edge at the vertex and l' the edge opposite to it",
    unit: Unit::Ratio,
    range: "from 0 (parallel strips)",
    source: "strips of even width beside each other smooth evenly: common practice, no published source",
    remedy: "even the strip's width out along its length",
};

/// The two measures, in the order of their columns.
pub fn measure(context: &MeasureContext) -> Vec<Measured> {
    vec![
        Measured {
            about: &SPACING_ALONG,
            values: context.per_vertex(|v| along(context, v)),
        },
        Measured {
            about: &SPACING_ACROSS,
            values: context.per_vertex(|v| across(context, v)),
        },
    ]
}

fn along(context: &MeasureContext, v: usize) -> f64 {
    let spokes = context.spokes.of(v);
    // Of a loop's two spokes the second one's ratio is the first one's, turned over.
    let loops = spokes.iter().enumerate().filter_map(|(j, s)| {
        let opposite = context.spokes.opposite(v, j)?;
        (s.edge < opposite.edge).then_some([s.edge as usize, opposite.edge as usize])
    });
    largest_log_ratio(loops.map(|pair| pair.map(|e| context.edges[e].length)))
}

fn across(context: &MeasureContext, v: usize) -> f64 {
    let topology = context.topology();
    let length = |c: usize| context.edges[topology.edge(c)].length;
    let quads = topology
        .corners_of(v)
        .filter(|&c| topology.face_size(topology.face_of(c)) == 4);
    largest_log_ratio(quads.flat_map(|c| {
        let [b, d] = [topology.next(c), topology.previous(c)];
        let far = topology.next(b);
        [[length(c), length(far)], [length(d), length(b)]]
    }))
}

/// The largest |ln(a / b)| of pairs of lengths, those with a length of 0 left out; NaN if none is
/// left.
fn largest_log_ratio(pairs: impl Iterator<Item = [f64; 2]>) -> f64 {
    let sound = pairs.filter(|[a, b]| *a > 0.0 && *b > 0.0);
    largest(sound.map(|[a, b]| a.max(b) / a.min(b))).ln()
}
