//! Smooth maps of space, gentle enough for the edges they bend.

use cagewise::mesh::Vec3;
use nalgebra::Matrix3;

use super::Chance;
use super::model::Model;
use crate::support::cages::Random;

/// Largest angle in radians that a map may turn along one edge: what is spread unevenly over more
/// shows as waves in the limit.
const MOST_AN_EDGE: f64 = 0.16;

/// Largest share of the radius of a bend that the form may reach inward.
const MOST_INWARD: f64 = 0.6;

/// Bends the form along axis `along` toward axis `toward`.
pub fn bend(model: &mut Model, along: usize, toward: usize, strength: f64) {
    let (low, high) = model.extent();
    let middle = if model.mirrored || symmetric(low[along], high[along]) {
        0.0
    } else {
        (low[along] + high[along]) / 2.0
    };
    let thick = low[toward].abs().max(high[toward].abs());
    let k = (MOST_AN_EDGE / longest_edge(model, along)).min(MOST_INWARD / thick) * strength;
    model.moved(|p| {
        let (angle, radius) = ((p[along] - middle) * k, 1.0 / k - p[toward]);
        let mut q = p;
        q[along] = middle + radius * angle.sin();
        q[toward] = 1.0 / k - radius * angle.cos();
        q
    });
}

fn symmetric(low: f64, high: f64) -> bool {
    (low + high).abs() < 1e-6 * (high - low)
}

/// The longest edge, measured along one axis.
fn longest_edge(model: &Model, axis: usize) -> f64 {
    let mut longest = 0.0f64;
    for face in &model.faces {
        for k in 0..face.len() {
            let (a, b) = (face[k] as usize, face[(k + 1) % face.len()] as usize);
            longest = longest.max((model.points[a][axis] - model.points[b][axis]).abs());
        }
    }
    longest
}

/// Twists the form about axis `about`.
pub fn twist(model: &mut Model, about: usize, strength: f64) {
    let (low, high) = model.extent();
    let (u, v) = ((about + 1) % 3, (about + 2) % 3);
    let across = (high - low)[u].max((high - low)[v]);
    let k = MOST_AN_EDGE / longest_edge(model, about).max(across / 4.0) * strength * 0.6;
    model.moved(|p| {
        let (sin, cos) = (p[about] * k).sin_cos();
        let mut q = p;
        q[u] = p[u] * cos - p[v] * sin;
        q[v] = p[u] * sin + p[v] * cos;
        q
    });
}

/// Makes the form slenderer toward one end of axis `along`, evenly or with a belly.
pub fn taper(model: &mut Model, along: usize, share: f64, belly: f64) {
    let (low, high) = model.extent();
    let (u, v) = ((along + 1) % 3, (along + 2) % 3);
    model.moved(|p| {
        let t = (p[along] - low[along]) / (high[along] - low[along]);
        let scale = 1.0 - share * t + belly * 4.0 * t * (1.0 - t);
        let mut q = p;
        q[u] *= scale;
        q[v] *= scale;
        q
    });
}

/// An affine map by chance that squeezes and shears by a moderate share.
pub fn affine(model: &mut Model, random: &mut Random) {
    let shear = Matrix3::from_fn(|i, j| {
        if i == j {
            1.0
        } else {
            random.between(-0.25, 0.25)
        }
    });
    let scale = Vec3::from_fn(|_, _| random.between(0.6, 1.5));
    let map = shear * Matrix3::from_diagonal(&scale);
    model.moved(|p| map * p);
}

/// One or two smooth maps by chance, or none.
pub fn deform(model: &mut Model, random: &mut Random) {
    if random.chance(0.4) {
        let along = random.below(3);
        let toward = (along + random.whole(1, 2)) % 3;
        let strength = random.between(0.3, 1.0);
        // Toward x a bend would break the symmetry in x.
        if toward != 0 || !model.mirrored {
            bend(model, along, toward, strength);
        }
    }
    if random.chance(0.15) && !model.mirrored {
        let (about, strength) = (random.below(3), random.between(-1.0, 1.0));
        twist(model, about, strength);
    }
    if random.chance(0.2) {
        let (along, share) = (random.whole(1, 2), random.between(0.0, 0.3));
        let belly = random.between(-0.1, 0.15);
        taper(model, along, share, belly);
    }
}
