//! How far the limit normal strays from a smooth form fitted through its neighbourhood.

use nalgebra::{SMatrix, SVector};

use super::Measured;
use super::about::{About, Unit};
use super::angles::angle_deg;
use super::context::MeasureContext;
use super::samples::Sample;
use crate::mesh::Vec3;

/// Deviation from loops and form.
pub const DEVIATION: About = About {
    name: "deviation",
    tells: "how far the smoothed surface strays at the vertex from the form that its surroundings intend",
    formula: "the smaller of loop_deviation and of the deviation from the form: the smaller of the angles between the limit normal and two cubic height fields (weighted least squares), through the limit points and normals within two rings and through the second ring alone; that at the vertex or the upper median of its neighbours', whichever is larger",
    unit: Unit::Degrees,
    range: "from 0; from about 3 on a practitioner sees a fault (the neighbours that the predictions are made from are disturbed as well, so that about half of the true angle is measured; 6 degrees true: common practice, no published source)",
    source: "this program's; local height fields: Cazals & Pouget, Estimating differential quantities using polynomial fitting of osculating jets, 2005",
    remedy: "see the leading cause of the risk",
};

/// Loop deviation, in degrees, up to which nobody would see a fault, so that no form is fitted.
const UNSEEN_THRESHOLD: f64 = 1.0;

/// Vertices that a fit takes at most: about a pole of high valence the nearest rings are large.
const POINTS_MAX: usize = 80;

/// Valence up to which the ring about a neighbour is entered.
const RING_MAX: usize = 32;

/// Neighbours that a fit needs at least: with three equations each they outnumber the terms.
const POINTS_MIN: usize = 5;

/// Part of the total weight (the constant term's diagonal entry, which no choice of axes changes)
/// that is added to the diagonal, so that directions which the
/// points leave open stay near 0 and rounding is magnified a million times at most.
const RIDGE: f64 = 1e-6;

/// Share of the ridge that each coefficient takes: with these the penalty of the quadratic and of
/// the cubic terms is the same whichever way the axes of the tangent plane point.
const RIDGE_SHARES: [f64; TERMS] = {
    let third = 1.0 / 3.0;
    [1.0, 1.0, 1.0, 1.0, 0.5, 1.0, 1.0, third, third, 1.0]
};

/// Least cosine of a normal to the frame's axis for its slope to count.
const SLOPE_COSINE_MIN: f64 = 0.2;

/// Least length of the sum of the neighbours' normals for it to point anywhere.
const AXIS_LENGTH_MIN: f64 = 1e-3;

/// Coefficients of a cubic height field.
const TERMS: usize = 10;

/// The measure, from [`super::loop_deviation::LOOP_DEVIATION`]. A form is fitted only where the
/// loops see something; elsewhere its deviation counts as 0.
pub fn measure(context: &MeasureContext, loop_deviation: &[f64]) -> Measured {
    let seen = |v: usize| loop_deviation[v].is_nan() || loop_deviation[v] > UNSEEN_THRESHOLD;
    let from_form = context.per_vertex(|v| {
        if seen(v) && context.limit.vertices[v].has_normal() {
            form_deviation(context, v)
        } else {
            0.0
        }
    });
    let values = context.per_vertex(|v| {
        let neighbours = context.spokes.of(v).iter().map(|s| s.vertex as usize);
        // On top of a bump the normal is right and all those about it are wrong.
        let about = upper_median(neighbours.map(|w| from_form[w]));
        if seen(v) {
            loop_deviation[v].min(from_form[v].max(about))
        } else {
            loop_deviation[v]
        }
    });
    Measured {
        about: &DEVIATION,
        values,
    }
}

/// The value that half of them or more do not exceed, the upper one of the two in the middle;
/// undefined ones left out. NaN if none is left.
fn upper_median(values: impl Iterator<Item = f64>) -> f64 {
    let mut sorted: smallvec::SmallVec<[f64; 8]> = values.filter(|x| x.is_finite()).collect();
    sorted.sort_by(f64::total_cmp);
    sorted.get(sorted.len() / 2).copied().unwrap_or(f64::NAN)
}

/// A neighbour in the fit's frame.
#[derive(Clone, Copy)]
struct Point {
    /// Place in the tangent plane and height over it, in mean edge lengths.
    place: [f64; 3],
    /// Slopes along both axes, if the normal is not too steep.
    slopes: Option<[f64; 2]>,
    /// 1 or 2.
    ring: u8,
}

/// The smaller angle between the limit normal at `v` and the normals of the two fits.
fn form_deviation(context: &MeasureContext, v: usize) -> f64 {
    let own = context.limit.vertices[v];
    let rings = two_rings(context, v);
    let normals = rings.iter().map(|&(w, _)| context.limit.vertices[w].normal);
    let Some(axis) = normals.sum::<Vec3>().try_normalize(AXIS_LENGTH_MIN) else {
        return f64::NAN;
    };
    let lengths = rings.iter().map(|&(w, _)| context.edge_length[w]);
    let unit = lengths.sum::<f64>() / rings.len() as f64;
    let x = Vec3::ith(axis.iamin(), 1.0).cross(&axis).normalize();
    let frame = [x, axis.cross(&x), axis];
    let to_point = |&(w, ring): &(usize, u8)| {
        let Sample { position, normal } = context.limit.vertices[w];
        let offset = (position - own.position) / unit;
        let [nx, ny, nz] = frame.map(|a| a.dot(&normal));
        Point {
            place: frame.map(|a| a.dot(&offset)),
            slopes: (nz > SLOPE_COSINE_MIN).then(|| [-nx / nz, -ny / nz]),
            ring,
        }
    };
    let points: Vec<Point> = rings.iter().map(to_point).collect();
    let far: Vec<Point> = points.iter().copied().filter(|p| p.ring == 2).collect();
    let angle = |points: &[Point]| {
        let Some(fit) = solve(points) else {
            return f64::NAN;
        };
        let normal = frame[2] - frame[0] * fit[1] - frame[1] * fit[2];
        angle_deg(&own.normal, &normal)
    };
    angle(&points).min(angle(&far))
}

/// The vertices within two rings of `v`, with their ring; `v` itself is left out. The ring about a
/// pole of very high valence is not entered from its neighbours: from each of them it would be the
/// whole surface.
fn two_rings(context: &MeasureContext, v: usize) -> Vec<(usize, u8)> {
    let mut found: Vec<(usize, u8)> = Vec::with_capacity(POINTS_MAX);
    let neighbours = |v: usize| context.spokes.of(v).iter().map(|s| s.vertex as usize);
    let reached = |found: &mut Vec<(usize, u8)>, w: usize, ring: u8| {
        let new = w != v && !found.iter().any(|&(x, _)| x == w);
        if new && found.len() < POINTS_MAX {
            found.push((w, ring));
        }
    };
    for w in neighbours(v).take(POINTS_MAX) {
        reached(&mut found, w, 1);
    }
    for i in 0..found.len() {
        let from = found[i].0;
        if context.spokes.of(from).len() <= RING_MAX {
            neighbours(from).for_each(|w| reached(&mut found, w, 2));
        }
    }
    found
}

/// Values of the ten cubic terms and of their derivatives along both axes.
fn terms(p: &Point) -> [[f64; TERMS]; 3] {
    let [x, y, _] = p.place;
    [
        [
            1.0,
            x,
            y,
            x * x,
            x * y,
            y * y,
            x * x * x,
            x * x * y,
            x * y * y,
            y * y * y,
        ],
        [
            0.0,
            1.0,
            0.0,
            2.0 * x,
            y,
            0.0,
            3.0 * x * x,
            2.0 * x * y,
            y * y,
            0.0,
        ],
        [
            0.0,
            0.0,
            1.0,
            0.0,
            x,
            2.0 * y,
            0.0,
            x * x,
            2.0 * x * y,
            3.0 * y * y,
        ],
    ]
}

/// Weighted least squares over one height and two slope equations per point; weights fall off with
/// the distance in the tangent plane as exp(-r² / 4), r in mean edge lengths. No point is trusted
/// less for standing out: the fit then changes evenly with a fault, so that a larger fault never
/// scores less.
fn solve(points: &[Point]) -> Option<SVector<f64, TERMS>> {
    if points.len() < POINTS_MIN {
        return None;
    }
    let mut matrix = SMatrix::<f64, TERMS, TERMS>::zeros();
    let mut right = SVector::<f64, TERMS>::zeros();
    let mut add = |row: &[f64; TERMS], wanted: f64, weight: f64| {
        for i in 0..TERMS {
            let w = row[i] * weight;
            right[i] += w * wanted;
            for j in i..TERMS {
                matrix[(j, i)] += w * row[j];
            }
        }
    };
    for p in points {
        let weight = (-(p.place[0].powi(2) + p.place[1].powi(2)) / 4.0).exp();
        let rows = terms(p);
        add(&rows[0], p.place[2], weight);
        if let Some(slopes) = p.slopes {
            add(&rows[1], slopes[0], weight);
            add(&rows[2], slopes[1], weight);
        }
    }
    let ridge = matrix[(0, 0)] * RIDGE;
    for (i, share) in RIDGE_SHARES.iter().enumerate() {
        matrix[(i, i)] += ridge * share;
    }
    Some(matrix.cholesky()?.solve(&right))
}
