//! What the form repeats is meant: places that look alike excuse each other.
//!
//! The corner of a box, the foot of a handle, the end of a slot stray from their surroundings, but
//! they come in fours; an accident comes alone, or in twos where a half was mirrored. So a deviation
//! that several places far from each other show alike counts less.

use crate::measure::curvature::{CAGE_BEND, LIMIT_BEND};
use crate::measure::form_deviation::DEVIATION;
use crate::measure::shrinkage::SHRINKAGE;
use crate::measure::{MeasureContext, Measures};

/// Deviation, in degrees, from which on a vertex is compared with others: below it the risk is
/// under 0.03 anyway.
const COMPARED_THRESHOLD: f64 = 0.5;

/// Relative difference of figures up to which two vertices look wholly alike: modelling tools place
/// copies to five or six digits, and a fault among copies shows in more than this. From twice as
/// much on they do not look alike at all, and in between in part, so that no figure jumps.
const ALIKE_TOLERANCE: f64 = 0.02;

/// Distances, in edge lengths, up to which two vertices belong to one place (those about one bump
/// look alike too), and from which on to two.
const APART_THRESHOLDS: [f64; 2] = [2.0, 3.0];

/// What is left of a deviation that 1, 2, 3 and at least 4 places show alike. A pair may be a fault
/// that was mirrored with its half, so that most of it stays; accidents don't come in fours.
pub(crate) const LEFT_BY_PLACES: [f64; 4] = [1.0, 0.6, 0.3, 0.02];

/// Vertices with the next larger and smaller deviations that a vertex is compared with at most.
const COMPARED_MAX: usize = 256;

/// Angle, in degrees, and part of the edge length below which figures are compared with this rather
/// than with each other: what should be 0 is rounding, and rounding has no likeness.
const ANGLE_FLOOR: f64 = 1.0;

/// See [`ANGLE_FLOOR`].
const LENGTH_FLOOR: f64 = 0.01;

/// The figures by which two vertices look alike.
#[derive(Clone, Copy)]
struct Looks {
    deviation: f64,
    limit_bend: f64,
    cage_bend: f64,
    edge_length: f64,
    shrinkage: f64,
}

/// The factor by which each vertex's deviation counts, in (0, 1].
pub fn weights(context: &MeasureContext, measures: &Measures) -> Vec<f64> {
    let deviation = measures.of(&DEVIATION);
    let mut suspects: Vec<usize> = (0..deviation.len())
        .filter(|&v| deviation[v] >= COMPARED_THRESHOLD)
        .collect();
    suspects.sort_by(|&a, &b| deviation[a].total_cmp(&deviation[b]).then(a.cmp(&b)));
    let looks: Vec<Looks> = suspects
        .iter()
        .map(|&v| Looks::new(context, measures, v))
        .collect();
    let mut weights = vec![1.0; deviation.len()];
    for (i, &v) in suspects.iter().enumerate() {
        let before = suspects[..i].iter().zip(&looks[..i]).rev();
        let after = suspects[i + 1..].iter().zip(&looks[i + 1..]);
        let (mut here, mut elsewhere) = (0.0, 0.0);
        let mut count = |others: &mut dyn Iterator<Item = (&usize, &Looks)>| {
            let near = others
                .take(COMPARED_MAX)
                .take_while(|(_, other)| looks[i].differs_in_deviation(other) < 2.0);
            for (&w, other) in near {
                let (alike, apart) = (looks[i].likeness(other), apartness(context, v, w));
                elsewhere += alike * apart;
                here += alike * (1.0 - apart);
            }
        };
        count(&mut before.into_iter());
        count(&mut after.into_iter());
        // Each place shows as many vertices of this look as this one does.
        weights[v] = left(1.0 + elsewhere / (1.0 + here));
    }
    weights
}

/// What is left of a deviation that so many places show, in between as on a straight line.
fn left(places: f64) -> f64 {
    let last = LEFT_BY_PLACES.len() - 1;
    let from = ((places - 1.0) as usize).min(last);
    let part = (places - 1.0 - from as f64).min(1.0);
    let next = LEFT_BY_PLACES[(from + 1).min(last)];
    LEFT_BY_PLACES[from] + (next - LEFT_BY_PLACES[from]) * part
}

impl Looks {
    fn new(context: &MeasureContext, measures: &Measures, v: usize) -> Self {
        Self {
            deviation: measures.of(&DEVIATION)[v],
            limit_bend: measures.of(&LIMIT_BEND)[v],
            cage_bend: measures.of(&CAGE_BEND)[v],
            edge_length: context.edge_length[v],
            shrinkage: measures.of(&SHRINKAGE)[v] / context.scale(),
        }
    }

    fn differs_in_deviation(&self, other: &Self) -> f64 {
        difference(self.deviation, other.deviation, ANGLE_FLOOR)
    }

    /// 1 for two vertices that look alike, 0 for two that do not.
    fn likeness(&self, other: &Self) -> f64 {
        let short = LENGTH_FLOOR * self.edge_length.min(other.edge_length);
        let differences = [
            self.differs_in_deviation(other),
            difference(self.limit_bend, other.limit_bend, ANGLE_FLOOR),
            difference(self.cage_bend, other.cage_bend, ANGLE_FLOOR),
            difference(self.edge_length, other.edge_length, short),
            difference(self.shrinkage, other.shrinkage, short),
        ];
        let largest = differences.into_iter().fold(0.0, f64::max);
        (2.0 - largest).clamp(0.0, 1.0)
    }
}

/// Relative difference of two figures in units of the tolerance; two undefined ones don't differ.
fn difference(a: f64, b: f64, floor: f64) -> f64 {
    match (a.is_nan(), b.is_nan()) {
        (true, true) => 0.0,
        (false, false) => (a - b).abs() / (ALIKE_TOLERANCE * a.abs().max(b.abs()).max(floor)),
        _ => f64::INFINITY,
    }
}

/// 1 for two vertices that belong to different places, 0 for two of one place.
fn apartness(context: &MeasureContext, v: usize, w: usize) -> f64 {
    let distance = (context.positions()[v] - context.positions()[w]).norm();
    let [one, two] = APART_THRESHOLDS;
    ((distance / context.edge_length[v] - one) / (two - one)).clamp(0.0, 1.0)
}
