//! What the form repeats is meant: places that look alike excuse each other.
//!
//! The corner of a box, the foot of a handle, the end of a slot stray from their surroundings, but
//! they come in fours; an accident comes alone, or in twos where a half was mirrored. So a deviation
//! that several places far from each other show alike counts less.

use crate::measure::curvature::{CAGE_BEND, LIMIT_BEND};
use crate::measure::form_deviation::DEVIATION;
use crate::measure::shrinkage::SHRINKAGE;
use crate::measure::{MeasureContext, Measures};

/// Deviation, in degrees, from which on a vertex is compared with others; below it nobody would see
/// anything anyway.
const COMPARED_THRESHOLD: f64 = 2.0;

/// Relative difference of figures up to which two vertices look alike: modelling tools place copies
/// to five or six digits, and a fault among copies shows in more than this.
const ALIKE_TOLERANCE: f64 = 0.02;

/// Distance, in edge lengths, from which on two vertices belong to different places: the vertices
/// about one bump look alike too.
const APART_THRESHOLD: f64 = 2.5;

/// What is left of a deviation that 1, 2, 3 and at least 4 places show alike. A pair may be a fault
/// that was mirrored with its half, so that most of it stays; accidents don't come in fours.
const LEFT_BY_PLACES: [f64; 4] = [1.0, 0.6, 0.25, 0.05];

/// Vertices with the next larger and smaller deviations that a vertex is compared with at most.
const COMPARED_MAX: usize = 256;

/// The figures by which two vertices look alike.
type Looks = [f64; 5];

/// The factor by which each vertex's deviation counts, in (0, 1].
pub fn weights(context: &MeasureContext, measures: &Measures) -> Vec<f64> {
    let deviation = measures.of(&DEVIATION);
    let mut suspects: Vec<usize> = (0..deviation.len())
        .filter(|&v| deviation[v] >= COMPARED_THRESHOLD)
        .collect();
    suspects.sort_by(|&a, &b| deviation[a].total_cmp(&deviation[b]).then(a.cmp(&b)));
    let looks: Vec<Looks> = suspects
        .iter()
        .map(|&v| looks(context, measures, v))
        .collect();
    let mut weights = vec![1.0; deviation.len()];
    for (i, &v) in suspects.iter().enumerate() {
        let before = suspects[..i].iter().zip(&looks[..i]).rev();
        let after = suspects[i + 1..].iter().zip(&looks[i + 1..]);
        let near = |others: &mut dyn Iterator<Item = (&usize, &Looks)>| {
            others
                .take(COMPARED_MAX)
                .take_while(|(_, other)| is_near(other[0], looks[i][0]))
                .filter(|(w, other)| alike(&looks[i], other) && apart(context, v, **w))
                .count()
        };
        let places = 1 + near(&mut before.into_iter()) + near(&mut after.into_iter());
        weights[v] = LEFT_BY_PLACES[places.min(LEFT_BY_PLACES.len()) - 1];
    }
    weights
}

fn looks(context: &MeasureContext, measures: &Measures, v: usize) -> Looks {
    [
        measures.of(&DEVIATION)[v],
        context.edge_length[v],
        measures.of(&LIMIT_BEND)[v],
        measures.of(&CAGE_BEND)[v],
        measures.of(&SHRINKAGE)[v],
    ]
}

fn alike(a: &Looks, b: &Looks) -> bool {
    a.iter().zip(b).all(|(&a, &b)| is_near(a, b))
}

fn is_near(a: f64, b: f64) -> bool {
    (a.is_nan() && b.is_nan()) || (a - b).abs() <= ALIKE_TOLERANCE * a.abs().max(b.abs())
}

fn apart(context: &MeasureContext, v: usize, w: usize) -> bool {
    let distance = (context.positions()[v] - context.positions()[w]).norm();
    distance > APART_THRESHOLD * context.edge_length[v]
}
