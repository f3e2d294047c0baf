//! Limbs of several bent and tapered steps, grown out of a patch.

use cagewise::mesh::Vec3;
use nalgebra::{Rotation3, Unit};

use super::Chance;
use super::model::Model;
use super::patch::Patch;
use super::raise::{Footprint, Plan, Ring, add_ring};
use crate::support::cages::Random;

/// Height over radius of the cap of a ball cut where its radius is 0.55 of the ball's.
const ROUND_DOME: f64 = 0.3;

/// One step of a limb: on by `forward`, turned by `turn` radians about `axis`, with the section at
/// `radius`.
#[derive(Clone, Copy)]
pub struct Step {
    pub forward: f64,
    pub axis: Vec3,
    pub turn: f64,
    pub radius: f64,
}

/// Grows a limb whose section is a disc: the first ring lies on the ground, the second half-way,
/// from the third on they are round. `fillet` is the share of the patch's half-width that the foot
/// takes; the end bulges by `dome` of its radius.
pub fn grow(model: &mut Model, patch: &mut Patch, fillet: f64, (steps, dome): &(Vec<Step>, f64)) {
    let footprint = Footprint::new(model, patch, Plan::Round);
    let reach = footprint.reach();
    let ring = |inset: f64, rise: f64| Ring {
        inset: inset * reach,
        rise: rise * reach,
    };
    add_ring(model, patch, |k| {
        footprint.place(k, ring(fillet * 0.6, 0.0))
    });
    add_ring(model, patch, |k| {
        footprint.place(k, ring(fillet * 0.9, fillet * 0.35))
    });
    let rim = |k: &usize| footprint.place(*k, ring(fillet, fillet));
    let origin: Vec3 = patch.rim().iter().map(rim).sum::<Vec3>() / patch.rim().len() as f64;
    let mut normal = footprint.normal;
    // A disc's frame is right-handed with the normal.
    let mut x = footprint.side();
    let mut centre = origin;
    add_ring(model, patch, |k| {
        let [a, b] = footprint.disc(k);
        let flat = centre + (x * a + normal.cross(&x) * b) * (reach * (1.0 - fillet));
        (flat + footprint.place(k, ring(fillet, fillet))) / 2.0
    });
    for step in steps {
        let axis = step.axis - normal * step.axis.dot(&normal);
        if let Some(axis) = Unit::try_new(axis, 1e-6) {
            let half = Rotation3::from_axis_angle(&axis, step.turn / 2.0);
            (normal, x) = (half * normal, half * x);
            centre += normal * step.forward;
            (normal, x) = (half * normal, half * x);
        } else {
            centre += normal * step.forward;
        }
        let y = normal.cross(&x);
        add_ring(model, patch, |k| {
            let [a, b] = footprint.disc(k);
            centre + (x * a + y * b) * step.radius
        });
    }
    let radius = steps.last().map_or(0.0, |step| step.radius);
    for (k, &v) in patch.grid.iter().enumerate() {
        let [a, b] = footprint.disc(k);
        // Nothing on the rim, where the disc's points have the length 1.
        model.points[v as usize] += normal * (dome * radius * (1.0 - a * a - b * b).max(0.0));
    }
}

/// A limb's steps by chance: `reach` is the half-width of the patch. It ends rounded, or flat with
/// a held rim.
/// The second value is the bulge of the end.
pub fn drawn_steps(random: &mut Random, reach: f64, fillet: f64) -> (Vec<Step>, f64) {
    let axis = random.vector();
    let most_turn = random.between(0.0, 0.35);
    let mut radius = reach * (1.0 - fillet);
    let count = random.whole(2, 5);
    let taper = random.between(0.8, 1.0);
    let stride = random.between(0.6, 1.1);
    let step = |forward: f64, turn: f64, radius: f64| Step {
        forward,
        axis,
        turn,
        radius,
    };
    let mut steps = vec![step(radius * 0.7, most_turn * 0.5, radius)];
    for _ in 0..count {
        radius *= taper;
        steps.push(step(radius * stride, most_turn, radius));
    }
    let e = radius * random.between(0.06, 0.14);
    let ending = random.below(3);
    match ending {
        // A round end.
        0 => steps.extend([
            step(radius * 0.55, 0.0, radius * 0.87),
            step(radius * 0.35, 0.0, radius * 0.55),
        ]),
        // A held flat end.
        1 => steps.extend([
            step(radius * 0.8, 0.0, radius),
            step(e, 0.0, radius),
            step(0.0, 0.0, radius - e),
            step(0.0, 0.0, radius * 0.7),
        ]),
        // A cuff: a held step outward before the end.
        _ => steps.extend([
            step(radius * 0.5, 0.0, radius),
            step(e, 0.0, radius),
            step(0.0, 0.0, radius + e),
            step(0.0, 0.0, radius * 1.25 - e),
            step(0.0, 0.0, radius * 1.25),
            step(e, 0.0, radius * 1.25),
            step(radius * 0.4, 0.0, radius * 1.25),
            step(e, 0.0, radius * 1.25),
            step(0.0, 0.0, radius * 1.25 - e),
            step(0.0, 0.0, radius * 0.7),
        ]),
    }
    (steps, if ending == 0 { ROUND_DOME } else { 0.0 })
}
