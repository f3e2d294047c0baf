//! Lofted bodies over oval, squarish, egg- and lens-shaped sections: hulls, fins, feet and grips, with
//! features mirrored in two planes, in one, or in none.

use std::f64::consts::FRAC_PI_2;

use cagewise::mesh::Vec3;

use super::features::{on_flat_ground, soft_rings};
use super::steps::finish::mirror;
use super::steps::loft::{close, ends, loft};
use super::steps::profile::Profile;
use super::steps::raise::Top;
use super::steps::sound::scaled_jacobian;
use super::steps::{Chance, Model};
use crate::support::cages::Random;

/// A quarter of an outline of half widths 1, from (1, 0) to (0, 1), as a function of the angle, or for
/// a lens of a parameter that runs as the angle does.
#[derive(Clone, Copy)]
enum Quarter {
    /// A superellipse: 2 is a circle, more is squarish.
    Oval(f64),
    /// A parabola that comes to an edge at (1, 0).
    Lens,
}

impl Quarter {
    fn at(self, angle: f64) -> [f64; 2] {
        let (sin, cos) = angle.sin_cos();
        match self {
            Self::Oval(power) => {
                let r = (cos.powf(power) + sin.powf(power)).powf(-1.0 / power);
                [r * cos, r * sin]
            }
            Self::Lens => [cos, sin * sin],
        }
    }

    fn drawn(random: &mut Random) -> Self {
        match random.below(4) {
            0 => Self::Lens,
            1 => Self::Oval(2.0),
            _ => Self::Oval(random.between(2.2, 6.0)),
        }
    }
}

/// The outline's points, counter-clockwise: four quarters of `m` gaps each. An edge of a lens is held by
/// a point close by; `egg` is the factor by which the half y < 0 is drawn out or pressed in.
fn outline(random: &mut Random, quarter: Quarter, m: usize, egg: f64) -> Vec<[f64; 2]> {
    let angles: Vec<f64> = match quarter {
        Quarter::Lens => {
            let held = random.between(0.2, 0.35);
            let others = (0..m).map(|i| held + (FRAC_PI_2 - held) * i as f64 / (m - 1) as f64);
            std::iter::once(0.0).chain(others).collect()
        }
        Quarter::Oval(_) => {
            let pull = random.between(-0.12, 0.12);
            let even = (0..=m).map(|i| i as f64 / m as f64 * FRAC_PI_2);
            even.map(|a| a + pull * (4.0 * a).sin()).collect()
        }
    };
    let mut points: Vec<[f64; 2]> = angles[..m].iter().map(|&a| quarter.at(a)).collect();
    points.push([0.0, 1.0]);
    let left = (1..=m).map(|i| points[m - i]).map(|[x, y]| [-x, y]);
    points.extend(left.collect::<Vec<_>>());
    let below = (1..2 * m).map(|i| points[2 * m - i]);
    let below: Vec<[f64; 2]> = below.map(|[x, y]| [x, -y * egg]).collect();
    points.extend(below);
    points
}

/// How the half width runs along a body, 1 on the whole: a belly or a waist, and a taper.
struct Course {
    belly: f64,
    taper: f64,
}

impl Course {
    fn drawn(random: &mut Random) -> Self {
        let taper = match random.chance(0.5) {
            true => random.between(-0.7, 0.7),
            false => 0.0,
        };
        Self {
            belly: random.between(-0.25, 0.4),
            taper,
        }
    }

    fn at(&self, share: f64) -> f64 {
        1.0 + self.belly * (std::f64::consts::PI * share).sin() + self.taper * (share - 0.5)
    }
}

/// Distance from the mirror plane, in the model's units, that relaxing a cap leaves of the vertices
/// that belong in it.
const RELAXED_TOLERANCE: f64 = 1e-4;

/// Features all over a body, of which the half at x > 0 is then mirrored.
fn mirrored(mut model: Model, random: &mut Random) -> Option<Model> {
    model.mirrored = true;
    for p in &mut model.points {
        if p.x.abs() < RELAXED_TOLERANCE {
            p.x = 0.0;
        }
    }
    features(&mut model, random);
    mirror(&model)
}

fn features(model: &mut Model, random: &mut Random) {
    let count = random.below(3);
    soft_rings(model, random, count, 20.0);
    let count = random.below(3);
    on_flat_ground(model, random, count, 0.15);
}

/// The rings of a body: the outline scaled by the profile, and along the body by how wide and how thick
/// it is there.
fn rings(random: &mut Random, profile: &Profile, outline: &[[f64; 2]]) -> Vec<Vec<Vec3>> {
    let [wide, thick] = [Course::drawn(random), Course::drawn(random)];
    let flat = random.between(0.3, 1.0);
    // From below upwards.
    let [low, high] = [profile.rings[0][1], profile.end()[1]];
    let ring = |&[r, z]: &[f64; 2]| {
        let share = (z - low) / (high - low);
        let half = [r * wide.at(share), r * flat * thick.at(share)];
        let place = |p: &[f64; 2]| Vec3::new(half[0] * p[0], half[1] * p[1], z);
        outline.iter().map(place).collect()
    };
    profile.rings.iter().map(ring).collect()
}

/// Closes both ends. An n-gon would run across the planes that the body is mirrored in.
fn close_ends(model: &mut Model, random: &mut Random, [rings, n]: [usize; 2], planes: usize) {
    for mut rim in ends(rings, n) {
        let is_corner = |v: &u32| *v as usize % n == n / 8;
        let corner = rim.iter().position(is_corner);
        rim.rotate_left(corner.expect("a rim has every point of the outline"));
        let top = match planes {
            0 => random.pick(&[Top::Grid, Top::Ngon]),
            _ => Top::Grid,
        };
        close(model, &rim, top);
    }
}

/// A lofted body by chance; none if a face of it is not convex: on a cap's corner a feature may fold.
pub fn body(random: &mut Random) -> Option<Model> {
    let model = drawn(random)?;
    let mesh = model.mesh();
    let is_convex = mesh.faces().all(|face| scaled_jacobian(&mesh, face) > 0.0);
    is_convex.then_some(model)
}

fn drawn(random: &mut Random) -> Option<Model> {
    let planes = random.pick(&[0, 1, 1, 2, 2, 2]);
    let quarter = Quarter::drawn(random);
    // Even, so that a cap's corners lie between the axes.
    let m = random.pick(&[4, 4, 6]);
    let egg = match planes {
        2 => 1.0,
        _ => random.between(0.6, 1.2),
    };
    let section = outline(random, quarter, m, egg);
    let pieces = random.whole(1, 3);
    let profile = Profile::drawn(random, pieces).closed(random.between(0.4, 0.7));
    let skin = rings(random, &profile, &section);
    let mut model = loft(&skin, false);
    close_ends(&mut model, random, [skin.len(), section.len()], planes);
    match planes {
        0 => {
            features(&mut model, random);
            Some(model)
        }
        1 => mirrored(model, random),
        _ => {
            let turned = |p: Vec3| Vec3::new(p.y, -p.x, p.z);
            model.moved(turned);
            let mut model = mirrored(model, random)?;
            model.moved(turned);
            mirrored(model, random)
        }
    }
}
