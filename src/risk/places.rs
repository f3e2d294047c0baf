//! Places: connected vertices at risk with one leading cause, the most visible first.

use super::evidence::{Evidence, support};
use super::fitted::FITTED;
use super::gathering::{compared, patches};
use super::model::{WITNESSES, is_open, is_unwelded};
use super::pieces::Pieces;
use super::{Band, Cause, Place, Risks};
use crate::measure::borders::{OFF_PLANE, SEAM_GAP};
use crate::measure::folds::REVERSED;
use crate::measure::form_deviation::DEVIATION;
use crate::measure::{About, MeasureContext, Measures};

/// Gathers the vertices at risk of [`Band::Watch`] and more into places, in the order in which they
/// are to be looked at: by the band of their peak, in a band by [`Place::visibility`], then by the
/// peak's risk and number. The band comes first so that a fault which few pixels show is not lost
/// below broad ground on which hardly anybody sees one.
///
/// Of the whole of a mirrored half the places are the half's, one and its mirror image listed once;
/// a place that reaches across the plane is measured in full.
pub fn places(
    context: &MeasureContext,
    measures: &Measures,
    evidence: &Evidence,
    risks: &Risks,
) -> Vec<Place> {
    let found = patches(context, risks);
    if found.is_empty() {
        // Sharing the surface out would be work for nothing.
        return Vec::new();
    }
    let pieces = Pieces::new(context);
    let mut found: Vec<Place> = found
        .into_iter()
        .map(|patch| describe(context, measures, evidence, risks, &pieces, patch))
        .collect();
    found.sort_by(|a, b| {
        let band = |p: &Place| Band::of(p.risk);
        let by_visibility = shared(b.visibility()).total_cmp(&shared(a.visibility()));
        let by_risk = compared(b.risk).total_cmp(&compared(a.risk));
        let by_band = band(b).cmp(&band(a));
        by_band
            .then(by_visibility)
            .then(by_risk)
            .then(a.peak.cmp(&b.peak))
    });
    found
}

/// A visibility as it is ranked, see [`compared`].
fn shared(visibility: f64) -> f64 {
    /// Steps that ranked visibilities are rounded to: a vertex of a cage with a million of them has
    /// a visibility of some 1e-7.
    const VISIBILITY_EPSILON: f64 = 1e-13;
    (visibility / VISIBILITY_EPSILON).round()
}

fn describe(
    context: &MeasureContext,
    measures: &Measures,
    evidence: &Evidence,
    risks: &Risks,
    pieces: &Pieces,
    vertices: Vec<usize>,
) -> Place {
    let whole = in_whole(context, &vertices);
    let cause = leading_cause(measures, risks, &whole);
    let peak = worst(&vertices, &risks.total);
    // The peak itself may be at risk for another cause.
    let found =
        |is: fn(&Measures, usize) -> bool| vertices.iter().copied().find(|&v| is(measures, v));
    let unwelded = || found(is_open).or_else(|| found(is_unwelded));
    let witness = match cause {
        Cause::Border => unwelded(),
        _ => None,
    }
    .unwrap_or_else(|| worst(&vertices, &risks.by_cause[cause as usize]));
    let (about, value) = leading_measure(context, measures, witness, cause);
    let extent = pieces.extent(&whole);
    let (edges, faces) = surroundings(context, &vertices);
    Place {
        peak,
        risk: risks.total[peak],
        mean_risk: pieces.mean(&whole, |v| risks.total[v]),
        area_share: extent.area_share,
        centre: extent.centre,
        radius: extent.radius,
        cause,
        figure: match cause {
            Cause::Support => support_figure(context, measures, evidence, [peak, witness]),
            _ => figure(measures, peak, cause, about, value),
        },
        remedy: match cause {
            Cause::Support => SUPPORT_REMEDY,
            Cause::Border if value.is_nan() => BORDER_REMEDY,
            _ => about.remedy,
        }
        .to_owned(),
        shares: shares(evidence, peak),
        vertices,
        edges,
        faces,
    }
}

/// What the evidence for each cause adds to the log-odds at a vertex, most first.
fn shares(evidence: &Evidence, v: usize) -> Vec<(Cause, f64)> {
    let Some(fitted) = FITTED.as_ref() else {
        return Vec::new();
    };
    let shares = Cause::ALL.into_iter().zip(fitted.shares(evidence, v));
    let mut shares: Vec<(Cause, f64)> = shares.filter(|s| s.1 != 0.0).collect();
    shares.sort_by(|a, b| compared(b.1).total_cmp(&compared(a.1)));
    shares
}

/// The first of some vertices, at least one, with the largest value.
fn worst(vertices: &[usize], values: &[f64]) -> usize {
    let larger = |a: usize, b: usize| if values[b] > values[a] { b } else { a };
    vertices[1..].iter().copied().fold(vertices[0], larger)
}

/// The cause with the largest sum of its parts of the risks of the vertices at fault, or of all
/// where none is. But a reversed face or an unwelded seam was found and not suspected:
/// it is the reason for whatever else the surface does there.
fn leading_cause(measures: &Measures, risks: &Risks, vertices: &[usize]) -> Cause {
    let at_fault = |v: &usize| Band::of(risks.total[*v]) >= Band::Fault;
    let any = vertices.iter().any(at_fault);
    let weight = |cause: Cause| {
        let parts = &risks.by_cause[cause as usize];
        let counted = vertices.iter().filter(|v| !any || at_fault(v));
        compared(counted.map(|&v| parts[v]).sum())
    };
    let reversed = measures.of(&REVERSED);
    let is_found = |&v: &usize| match risks.cause[v] {
        Some(Cause::Fold) if reversed[v] > 0.0 => Some(Cause::Fold),
        Some(Cause::Border) if is_open(measures, v) || is_unwelded(measures, v) => {
            Some(Cause::Border)
        }
        _ => None,
    };
    let heavier = |a: Cause, b: Cause| if weight(b) > weight(a) { b } else { a };
    let found = vertices.iter().filter_map(is_found).reduce(heavier);
    let all = || Cause::ALL.into_iter().reduce(heavier);
    found.or_else(all).unwrap_or(Cause::Bump)
}

/// Of the whole of a mirrored half: the vertices, and their mirror images if they touch them.
fn in_whole(context: &MeasureContext, vertices: &[usize]) -> Vec<usize> {
    let mut all = vertices.to_vec();
    if let Some(map) = context.mirror {
        let reaches = |&v: &usize| {
            let mut beside = context.spokes.of(v).iter();
            map.is_welded(v) || beside.any(|s| map.is_welded(s.vertex as usize))
        };
        if vertices.iter().any(reaches) {
            all.extend(vertices.iter().map(|&v| map.images[v] as usize));
            all.sort_unstable();
            all.dedup();
        }
    }
    all
}

/// The edges, by their ends, and the faces that meet some vertices; of a mirrored half its own.
fn surroundings(context: &MeasureContext, vertices: &[usize]) -> (Vec<[usize; 2]>, Vec<usize>) {
    let topology = context.topology();
    let (vertex_end, face_end) = match context.mirror {
        Some(map) => (map.half_vertices, map.half_faces),
        None => (topology.vertex_count(), topology.face_count()),
    };
    let mut edges = Vec::new();
    let mut faces = Vec::new();
    for &v in vertices {
        let ends = context.spokes.of(v).iter().map(|s| s.vertex as usize);
        edges.extend(
            ends.map(|w| [v.min(w), v.max(w)])
                .filter(|e| e[1] < vertex_end),
        );
        faces.extend(context.faces_of(v).filter(|&f| f < face_end));
    }
    edges.sort_unstable();
    edges.dedup();
    faces.sort_unstable();
    faces.dedup();
    (edges, faces)
}

/// Distance off the plane of its border, in edge lengths, from which on it is told: a hundredth is
/// what two digits show.
const OFF_PLANE_SHOWN: f64 = 0.01;

/// What to do about a border that breaks off.
const BORDER_REMEDY: &str =
    "set the border's vertices on one smooth line, evenly, and the loops beside it likewise";

/// The measure that makes the cause suspect most, and its value at vertex `v` or beside it.
fn leading_measure(
    context: &MeasureContext,
    measures: &Measures,
    v: usize,
    cause: Cause,
) -> (&'static About, f64) {
    let at = |about: &'static About| (about, measures.of(about)[v]);
    match cause {
        Cause::Border if is_open(measures, v) => return at(&OFF_PLANE),
        Cause::Border if is_unwelded(measures, v) => return at(&SEAM_GAP),
        Cause::Border if measures.of(&OFF_PLANE)[v] >= OFF_PLANE_SHOWN => return at(&OFF_PLANE),
        Cause::Border => return (&DEVIATION, f64::NAN),
        Cause::Fold if measures.of(&REVERSED)[v] > 0.0 => return at(&REVERSED),
        _ => {}
    }
    let largest = |about: &'static About| {
        let neighbours = context.spokes.of(v).iter().map(|s| s.vertex as usize);
        let values = neighbours.chain([v]).map(|w| measures.of(about)[w]);
        values.fold(f64::NAN, f64::max)
    };
    let own = WITNESSES.iter().filter(|s| s.cause == cause);
    own.map(|s| (s, largest(s.about)))
        .filter(|(_, value)| value.is_finite())
        .max_by(|(a, x), (b, y)| (x / a.harmful).total_cmp(&(y / b.harmful)))
        .map_or(at(&DEVIATION), |(s, value)| (s.about, value))
}

/// What to do about a support loop that breaks off.
const SUPPORT_REMEDY: &str = "take the support loop along the whole of its edge at one distance, or end it on a border or where another loop goes on";

/// By how much the strips beside the bent edges at a place change their width.
fn support_figure(
    context: &MeasureContext,
    measures: &Measures,
    evidence: &Evidence,
    [peak, witness]: [usize; 2],
) -> String {
    let strays = measures.of(&DEVIATION)[peak];
    let jumps = evidence.of(support::JUMP.name);
    let about = context.spokes.of(witness).iter();
    let about = about.map(|s| s.vertex as usize).chain([witness]);
    let jump = about
        .filter_map(|v| jumps.get(v))
        .fold(0.0, |a: f64, b| a.max(f64::from(*b)));
    let percent = 100.0 * jump.exp_m1();
    format!("strays {strays:.1} deg; support strip changes its width by {percent:.0} %")
}

fn figure(measures: &Measures, v: usize, cause: Cause, about: &About, value: f64) -> String {
    let named = format!("{} {}", about.name.replace('_', " "), about.unit.of(value));
    let strays = measures.of(&DEVIATION)[v];
    match cause {
        Cause::Border if about.name == OFF_PLANE.name && !value.is_nan() => {
            format!("{value:.2} edge lengths off the plane of its border")
        }
        Cause::Border if value.is_nan() => format!("border strays {strays:.1} deg"),
        Cause::Border => format!("{value:.2} edge lengths to a vertex it is not welded to"),
        Cause::Fold if about.name == REVERSED.name => named,
        _ => format!("strays {strays:.1} deg; {named}"),
    }
}
