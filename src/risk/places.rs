//! Places: connected vertices at risk that share a leading cause.

use super::model::{SEAM_GAP_THRESHOLD, SUSPECTS, is_open};
use super::{Band, Cause, Place, Risks};
use crate::measure::borders::{OFF_PLANE, SEAM_GAP};
use crate::measure::folds::REVERSED;
use crate::measure::form_deviation::DEVIATION;
use crate::measure::{About, MeasureContext, Measures};

/// Gathers the vertices at risk of [`Band::Watch`] and more into places, worst first.
pub fn places(context: &MeasureContext, measures: &Measures, risks: &Risks) -> Vec<Place> {
    let mut seen = vec![false; risks.total.len()];
    let mut found = Vec::new();
    for v in 0..risks.total.len() {
        if let Some(cause) = risks.cause[v].filter(|_| !seen[v]) {
            let vertices = connected(context, risks, v, cause, &mut seen);
            found.push(describe(context, measures, risks, vertices, cause));
        }
    }
    found.sort_by(|a, b| {
        let size = |p: &Place| p.vertices.len();
        let by_risk = compared(b.risk).total_cmp(&compared(a.risk));
        by_risk
            .then(size(b).cmp(&size(a)))
            .then(a.peak.cmp(&b.peak))
    });
    found
}

/// A risk as it is ranked: places that are alike but for rounding keep the order of their vertices.
fn compared(risk: f64) -> f64 {
    /// Steps that ranked risks are rounded to.
    const RANK_EPSILON: f64 = 1e-9;
    (risk / RANK_EPSILON).round()
}

fn connected(
    context: &MeasureContext,
    risks: &Risks,
    seed: usize,
    cause: Cause,
    seen: &mut [bool],
) -> Vec<usize> {
    let mut vertices = vec![seed];
    seen[seed] = true;
    let mut done = 0;
    while let Some(&v) = vertices.get(done) {
        done += 1;
        for spoke in context.spokes.of(v) {
            let w = spoke.vertex as usize;
            if !seen[w] && risks.cause[w] == Some(cause) {
                seen[w] = true;
                vertices.push(w);
            }
        }
    }
    vertices.sort_unstable();
    vertices
}

fn describe(
    context: &MeasureContext,
    measures: &Measures,
    risks: &Risks,
    vertices: Vec<usize>,
    cause: Cause,
) -> Place {
    let worst = |a: usize, b: usize| {
        if risks.total[b] > risks.total[a] {
            b
        } else {
            a
        }
    };
    let peak = vertices[1..].iter().copied().fold(vertices[0], worst);
    let (about, value) = leading_measure(context, measures, peak, cause);
    Place {
        peak,
        risk: risks.total[peak],
        cause,
        figure: figure(measures, peak, cause, about, value),
        remedy: about.remedy.to_owned(),
        vertices,
    }
}

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
        Cause::Border if measures.of(&SEAM_GAP)[v] < SEAM_GAP_THRESHOLD => return at(&SEAM_GAP),
        Cause::Border => return at(&OFF_PLANE),
        Cause::Fold if measures.of(&REVERSED)[v] > 0.0 => return at(&REVERSED),
        _ => {}
    }
    let largest = |about: &'static About| {
        let neighbours = context.spokes.of(v).iter().map(|s| s.vertex as usize);
        let values = neighbours.chain([v]).map(|w| measures.of(about)[w]);
        values.fold(f64::NAN, f64::max)
    };
    let own = SUSPECTS.iter().filter(|s| s.cause == cause);
    own.map(|s| (s, largest(s.about)))
        .filter(|(_, value)| value.is_finite())
        .max_by(|(a, x), (b, y)| (x / a.harmful).total_cmp(&(y / b.harmful)))
        .map_or(at(&DEVIATION), |(s, value)| (s.about, value))
}

fn figure(measures: &Measures, v: usize, cause: Cause, about: &About, value: f64) -> String {
    let named = format!("{} {}", about.name.replace('_', " "), about.unit.of(value));
    let strays = measures.of(&DEVIATION)[v];
    match cause {
        Cause::Border if about.name == OFF_PLANE.name => {
            format!("{value:.2} edge lengths off the plane of its border")
        }
        Cause::Border => format!("{value:.2} edge lengths to a vertex it is not welded to"),
        Cause::Fold if about.name == REVERSED.name => named,
        _ => format!("strays {strays:.1} deg; {named}"),
    }
}

impl Risks {
    /// Adds a vertex whose causes have the given parts.
    pub(super) fn push(&mut self, parts: [f64; Cause::ALL.len()]) {
        let mut leading = Cause::ALL[0];
        for cause in Cause::ALL {
            if parts[cause as usize] > parts[leading as usize] {
                leading = cause;
            }
        }
        let total = parts[leading as usize];
        self.total.push(total);
        self.cause
            .push((Band::of(total) >= Band::Watch).then_some(leading));
        for (column, part) in self.by_cause.iter_mut().zip(parts) {
            column.push(part);
        }
    }
}
