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
    let from = context.positions()[v];
    let length = |w: u32| (context.positions()[w as usize] - from).norm();
    let spokes = context.spokes.of(v);
    largest(spokes.iter().enumerate().filter_map(|(j, s)| {
        let opposite = context.spokes.opposite(v, j)?;
        log_ratio(length(s.vertex), length(opposite.vertex))
    }))
}

fn across(context: &MeasureContext, v: usize) -> f64 {
    let topology = context.topology();
    let at = |c: usize| context.positions()[topology.vertex(c)];
    let quads = topology
        .corners_of(v)
        .filter(|&c| topology.face_size(topology.face_of(c)) == 4);
    largest(
        quads
            .flat_map(|c| {
                let [b, d] = [topology.next(c), topology.previous(c)];
                let far = topology.next(b);
                let pairs = [(c, b, d, far), (c, d, b, far)];
                pairs.map(|(p, q, r, s)| log_ratio((at(p) - at(q)).norm(), (at(r) - at(s)).norm()))
            })
            .flatten(),
    )
}

/// |ln(a / b)|, unless a length is 0.
fn log_ratio(a: f64, b: f64) -> Option<f64> {
    (a > 0.0 && b > 0.0).then(|| (a / b).ln().abs())
}
