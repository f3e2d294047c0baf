//! Features that several kits put on their grounds.

use cagewise::mesh::Vec3;

use super::steps::bridge::bridge;
use super::steps::limb::{drawn_steps, grow};
use super::steps::patch::{Patch, Wanted, drawn_size, find_patch, patch_from};
use super::steps::raise::{Footprint, Plan, Ring, Top, add_ring, cap, drawn_profile, raise};
use super::steps::{Chance, Model};
use crate::support::cages::Random;

/// Knobs, holes, slots, pads and grooves on flat ground, at most `count`. None goes deeper than
/// `depth`.
pub fn on_flat_ground(model: &mut Model, random: &mut Random, count: usize, depth: f64) {
    for _ in 0..count {
        let (across, along) = drawn_size(random, 4);
        let mut wanted = Wanted::flat(across, along);
        wanted.close = random.chance(0.6);
        let Some(mut patch) = find_patch(model, random, &wanted) else {
            continue;
        };
        let is_round = across + along > 2 && random.chance(0.6);
        let plan = if is_round { Plan::Round } else { Plan::Patch };
        let reach = patch.width(model) / 2.0;
        let profile = drawn_profile(random, reach, depth);
        raise(model, &mut patch, plan, &profile);
        let top = random.pick(&[Top::Grid, Top::Grid, Top::Grid, Top::Ngon, Top::Fan]);
        cap(model, &patch, top);
    }
}

/// A hole through from a patch of flat ground to the one that faces it, with support loops at both
/// rims. False if none was found.
pub fn hole_through(model: &mut Model, random: &mut Random) -> bool {
    let across = random.whole(1, 4);
    let along = if random.chance(0.7) {
        across
    } else {
        random.whole(1, 4)
    };
    let Some(mut near) = find_patch(model, random, &Wanted::flat(across, along)) else {
        return false;
    };
    let Some(mut far) = facing(model, &near) else {
        return false;
    };
    let plan = if across + along > 2 && random.chance(0.7) {
        Plan::Round
    } else {
        Plan::Patch
    };
    let reach = near.width(model) / 2.0;
    let depth = (model.points[near.grid[0] as usize] - model.points[far.grid[0] as usize]).norm();
    let wide = random.between(0.2, 0.45);
    let tight = (random.between(0.04, 0.1) * reach).min(depth / 5.0);
    let collar = if random.chance(0.4) {
        tight * random.between(3.0, 6.0)
    } else {
        0.0
    };
    let ring = |inset: f64, rise: f64| Ring { inset, rise };
    let foot = wide * reach;
    let mut profile = Vec::new();
    if collar > 0.0 {
        let out = foot * 0.7;
        profile.extend([ring(out - tight, 0.0), ring(out, 0.0), ring(out, tight)]);
        profile.extend([
            ring(out, collar - tight),
            ring(out, collar),
            ring(out + tight, collar),
        ]);
    }
    let inner = foot.max(if collar > 0.0 {
        foot * 0.7 + 3.0 * tight
    } else {
        0.0
    });
    profile.extend([ring(inner - tight * 0.9, collar), ring(inner, collar)]);
    profile.push(ring(inner, collar - tight));
    let far_profile = [
        ring(inner - tight * 0.9, 0.0),
        ring(inner, 0.0),
        ring(inner, -tight),
    ];
    raise(model, &mut near, plan, &profile);
    raise(model, &mut far, plan, &far_profile);
    let shares: &[f64] = random.pick(&[&[][..], &[0.5][..], &[0.3, 0.7][..]]);
    bridge(model, &near, &far, shares)
}

/// The patch that lies straight under a flat one, with its vertices under its vertices.
fn facing(model: &Model, patch: &Patch) -> Option<Patch> {
    /// Distance from the straight line, in widths of the patch.
    const TOLERANCE: f64 = 1e-6;
    let normal = patch.normal(model);
    let width = patch.width(model);
    let edges = model.directed_edges();
    let at = model.faces_at();
    let under = |p: Vec3, q: Vec3| {
        let d = q - p;
        let away = d - normal * d.dot(&normal);
        d.dot(&normal) < -TOLERANCE * width && away.norm() < TOLERANCE * width
    };
    let first = model.points[patch.grid[0] as usize];
    let mut found: Vec<Patch> = Vec::new();
    for (f, face) in model.faces.iter().enumerate() {
        for (corner, &v) in face.iter().enumerate() {
            if !under(first, model.points[v as usize]) {
                continue;
            }
            // Seen from the other side, rows and columns change places.
            let size = (patch.along, patch.across);
            let Some(other) = patch_from(model, &edges, (f, corner), size) else {
                continue;
            };
            let alike = (0..=patch.across).all(|i| {
                (0..=patch.along).all(|j| {
                    let p = patch.grid[patch.at(i, j)] as usize;
                    let q = other.grid[other.at(j, i)] as usize;
                    under(model.points[p], model.points[q])
                })
            });
            let wanted = Wanted::flat(0, 0);
            if alike && super::steps::patch::is_wanted(model, &at, &other, &wanted) {
                found.push(other);
            }
        }
    }
    let depth = |other: &Patch| (model.points[other.grid[0] as usize] - first).norm();
    found
        .into_iter()
        .min_by(|a, b| depth(a).total_cmp(&depth(b)))
}

/// Limbs out of curved or flat ground, at most `count`.
pub fn limbs(model: &mut Model, random: &mut Random, count: usize, bend: f64) {
    for _ in 0..count {
        let across = random.whole(2, 3);
        let along = if random.chance(0.7) {
            across
        } else {
            random.whole(2, 3)
        };
        let mut wanted = Wanted::curved(across, along, bend);
        wanted.slender = 2.0;
        let Some(mut patch) = find_patch(model, random, &wanted) else {
            continue;
        };
        let fillet = random.between(0.2, 0.4);
        let reach = patch.width(model) / 2.0;
        let steps = drawn_steps(random, reach, fillet);
        grow(model, &mut patch, fillet, &steps);
    }
}

/// Rings within rings on curved ground, which they follow: eyes, rims, soft dents.
pub fn soft_rings(model: &mut Model, random: &mut Random, count: usize, bend: f64) {
    for _ in 0..count {
        let across = random.whole(2, 4);
        let mut wanted = Wanted::curved(across, across, bend);
        wanted.slender = 1.7;
        let Some(mut patch) = find_patch(model, random, &wanted) else {
            continue;
        };
        let footprint = Footprint::new(model, &patch, Plan::Round);
        let reach = footprint.reach();
        let high = random.between(0.2, 0.5) * random.pick(&[-1.0, 1.0]) * reach;
        for (inset, share) in [
            (0.25, 0.0),
            (0.36, 0.12),
            (0.48, 0.5),
            (0.6, 0.88),
            (0.72, 1.0),
        ] {
            let ring = Ring {
                inset: inset * reach,
                rise: share * high,
            };
            add_ring(model, &mut patch, |k| footprint.place(k, ring));
        }
    }
}
