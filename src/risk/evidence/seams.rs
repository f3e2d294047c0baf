//! Evidence at borders: seams that were meant to be closed, borders that are not straight, centre
//! lines off their plane; and faces wound the wrong way.

use super::groundwork::{Groundwork, columns as collected, per_vertex, ring_largest};
use super::{Column, Quantity};
use crate::measure::borders::{self, seam_neighbours};
use crate::measure::spokes::Spoke;
use crate::measure::{MeasureContext, Measured, centre_line};
use crate::mesh::Vec3;
use crate::risk::Cause;

/// The gap, over the edge length, of a vertex that has no other border near: the reach of the search.
const NO_GAP: f64 = 0.5;

static GAP: Quantity = Quantity {
    name: "gap",
    formula: "distance from a border vertex to the nearest border vertex that no face shares, over the mean edge length; 0.5 inside and where there is none within that",
    speaks_for: Cause::Border,
    rising: false,
};

static BORDER: Quantity = Quantity {
    name: "on_border",
    formula: "1 where a border runs through the vertex, else 0",
    speaks_for: Cause::Border,
    rising: false,
};

static OTHER: Quantity = Quantity {
    name: "gap_to_other_border",
    formula: "1 where the nearest border vertex of `gap` lies on another border, else 0",
    speaks_for: Cause::Border,
    rising: false,
};

static OFF_PLANE: Quantity = Quantity {
    name: "off_border_plane",
    formula: "distance of a border vertex from the plane of the three border vertices either way, over the mean edge length; 0 inside and where they lie in no plane",
    speaks_for: Cause::Border,
    rising: true,
};

static OFF_RUN: Quantity = Quantity {
    name: "off_border_run",
    formula: "distance of a border vertex from the cubic through the two border vertices either way, by chord length, over the mean edge length; 0 inside (Lagrange interpolation)",
    speaks_for: Cause::Border,
    rising: true,
};

static OFF_RUN_RING: Quantity = Quantity {
    name: "off_border_run_ring",
    formula: "largest off_border_run of a neighbour",
    speaks_for: Cause::Border,
    rising: false,
};

static CENTRE_LINE: Quantity = Quantity {
    name: "off_centre_line",
    formula: "distance of a vertex of a mirrored half's centre line from the mirror plane, over the mean edge length; 0 elsewhere",
    speaks_for: Cause::Border,
    rising: true,
};

static CREASE: Quantity = Quantity {
    name: "crease_at_centre_line",
    formula: "angle, in degrees, by which the limit folds across the centre line of a mirrored half; 0 elsewhere",
    speaks_for: Cause::Border,
    rising: true,
};

static REVERSED: Quantity = Quantity {
    name: "reversed_share",
    formula: "share of the faces at the vertex that are wound against the most of their shell",
    speaks_for: Cause::Fold,
    rising: true,
};

/// The columns.
pub fn columns(ground: &Groundwork) -> Vec<Column> {
    let context = ground.context;
    let mut all = of_gaps(context);
    let off_plane = borders::off_planes(context);
    let [off_plane, off_run, reversed] = per_vertex(context, |v| {
        let plane = if off_plane[v].is_nan() {
            0.0
        } else {
            off_plane[v]
        };
        let run = off_run(context, v).unwrap_or(0.0);
        [plane, run, reversed(context, v)]
    });
    let ring = ring_largest(context, &off_run);
    all.extend(collected(
        [&OFF_PLANE, &OFF_RUN, &OFF_RUN_RING, &REVERSED],
        [off_plane, off_run, ring, reversed],
    ));
    all.extend(of_centre_line(context));
    all
}

/// The quantities of seams.
fn of_gaps(context: &MeasureContext) -> Vec<Column> {
    let nearest = seam_neighbours(context);
    let borders = border_numbers(context);
    let [gap, border, other] = per_vertex(context, |v| {
        let on_border = f64::from(u8::from(borders[v].is_some()));
        let Some((w, gap)) = nearest[v] else {
            return [NO_GAP, on_border, 0.0];
        };
        let other = f64::from(u8::from(borders[v] != borders[w]));
        [gap.min(NO_GAP), on_border, other]
    });
    collected([&GAP, &BORDER, &OTHER], [gap, border, other])
}

/// The number of the border that each vertex lies on; of several the first.
fn border_numbers(context: &MeasureContext) -> Vec<Option<usize>> {
    let topology = context.topology();
    let mut numbers = vec![None; topology.vertex_count()];
    for (number, walk) in topology.border_walks().iter().enumerate() {
        for &c in walk {
            for v in [topology.vertex(c), topology.vertex(topology.next(c))] {
                numbers[v].get_or_insert(number);
            }
        }
    }
    numbers
}

/// Distance of border vertex `v` from the cubic through its neighbours along the border. `None`
/// inside and where the border is too short.
fn off_run(context: &MeasureContext, v: usize) -> Option<f64> {
    let spokes = context.spokes.of(v);
    if context.spokes.is_interior(v) || !context.spokes.is_manifold(v) || spokes.len() < 3 {
        return None;
    }
    let at = |s: Spoke| context.positions()[s.vertex as usize];
    let [ahead, back] = [*spokes.first()?, *spokes.last()?];
    let beyond = [ahead, back].map(|s| context.spokes.border_on(s));
    let points = [at(beyond[0]?), at(ahead), at(back), at(beyond[1]?)];
    let here = context.positions()[v];
    let steps = [(points[0] - points[1]).norm(), (points[1] - here).norm()];
    let steps_back = [(points[2] - here).norm(), (points[3] - points[2]).norm()];
    let places = [
        -steps[1] - steps[0],
        -steps[1],
        steps_back[0],
        steps_back[0] + steps_back[1],
    ];
    let off = (cubic_at_origin(places, points) - here).norm() / context.edge_length[v];
    off.is_finite().then_some(off)
}

/// The value at 0 of the cubic that takes the given points at the given places.
fn cubic_at_origin(places: [f64; 4], points: [Vec3; 4]) -> Vec3 {
    let weight = |k: usize| -> f64 {
        let others = (0..4).filter(|&j| j != k);
        others
            .map(|j| places[j] / (places[j] - places[k]))
            .product()
    };
    (0..4).map(|k| points[k] * weight(k)).sum()
}

/// Share of the faces at vertex `v` that are reversed.
fn reversed(context: &MeasureContext, v: usize) -> f64 {
    let (reversed, count) = context
        .faces_of(v)
        .fold((0.0, 0.0), |(reversed, count), f| {
            let more = f64::from(u8::from(context.topology().is_flipped(f)));
            (reversed + more, count + 1.0)
        });
    reversed / count
}

/// The quantities of a mirrored half's centre line.
fn of_centre_line(context: &MeasureContext) -> Vec<Column> {
    let measured = centre_line::measure(context);
    let of = |name: &str| measured.iter().find(|m: &&Measured| m.about.name == name);
    let defined = |measured: Option<&Measured>, v: usize| {
        let value = measured.map_or(f64::NAN, |m| m.values[v]);
        if value.is_nan() { 0.0 } else { value }
    };
    let off = of(centre_line::CENTRE_LINE_OFF.name);
    let crease = of(centre_line::CENTRE_LINE_CREASE.name);
    let [off, crease] = per_vertex(context, |v| {
        let unit = context.scale() * context.edge_length[v];
        [defined(off, v) / unit, defined(crease, v)]
    });
    collected([&CENTRE_LINE, &CREASE], [off, crease])
}
