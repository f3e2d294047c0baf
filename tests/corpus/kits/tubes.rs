//! Tubes along smooth paths, with uneven rings, collars and limbs.

use cagewise::mesh::Vec3;

use super::features::limbs;
use super::steps::finish::mirror;
use super::steps::loft::{close, ends, frames, loft};
use super::steps::profile::Profile;
use super::steps::raise::Top;
use super::steps::{Chance, Model};
use crate::support::cages::Random;

/// Longest straight stretch, in radians of the path's bend.
const MOST_BEND: f64 = 0.2;

/// A tube's profile: walls, collars, soft bellies; its rounded ends have radius and height falling
/// together.
fn drawn(random: &mut Random, pieces: usize, is_round: bool) -> Profile {
    let mut made = Profile::new(0.5, random.between(0.02, 0.05));
    for _ in 0..pieces {
        let (length, gaps) = (random.between(1.0, 1.8), random.whole(3, 5));
        let radius = (made.end()[0] * random.between(0.85, 1.15)).clamp(0.35, 0.65);
        made.wall(random, length, radius, gaps);
        match random.below(5) {
            0 => made.bead(random.between(0.06, 0.16), random.between(0.05, 0.2)),
            1 => made.belly(random.between(-0.1, 0.15), random.between(1.2, 1.8)),
            2 => made.double_ring(random.between(0.3, 0.5)),
            _ => {}
        }
    }
    let length = random.between(0.4, 0.8);
    made.wall(random, length, made.end()[0], 2);
    if !is_round {
        return made.closed(0.55);
    }
    let round = |[r, z]: [f64; 2], sign: f64| {
        [(0.94, 0.34), (0.77, 0.64), (0.5, 0.866)].map(|(c, s)| [r * c, z + sign * r * s])
    };
    let below = round(made.rings[0], -1.0);
    made.rings.extend(round(made.end(), 1.0));
    made.rings.splice(0..0, below.into_iter().rev());
    made
}

/// Lifts the inner vertices of a cap, those from `first` on, onto a ball that is cut at half its
/// radius.
fn dome(model: &mut Model, rim: &[u32], first: usize) {
    let at = |k: usize| model.points[rim[k % rim.len()] as usize];
    let n = rim.len();
    let middle = (0..n).map(at).sum::<Vec3>() / n as f64;
    let radius = (0..n).map(|k| (at(k) - middle).norm()).sum::<f64>() / n as f64;
    let out = (at(0) - middle).cross(&(at(n / 4) - middle)).normalize();
    let ball = 2.0 * radius;
    let height = |r: f64| (ball * ball - r * r).max(0.0).sqrt();
    for p in &mut model.points[first..] {
        let r = (*p - middle).norm();
        *p += out * (height(r) - height(radius)).max(0.0);
    }
}

/// A tube by chance.
pub fn tube(random: &mut Random) -> Option<Model> {
    let n = random.pick(&[8, 12, 12, 16]);
    let (pieces, is_round) = (random.whole(1, 3), random.chance(0.5));
    let profile = drawn(random, pieces, is_round);
    let mirrored = random.chance(0.4);
    let heights: Vec<f64> = profile.rings.iter().map(|p| p[1]).collect();
    let length = heights.iter().copied().fold(0.0, f64::max);
    let widest = heights.windows(2).map(|w| w[1] - w[0]).fold(0.0, f64::max);
    let k = random.between(0.0, 1.0) * (MOST_BEND / widest).min(0.9);
    let sway = if mirrored {
        0.0
    } else {
        random.between(-0.5, 0.5) * k
    };
    // The curvature comes in slowly from the first end.
    let path = move |t: f64| {
        let s = t / length;
        let bent = k * t * t * (0.5 - s / 6.0);
        Vec3::new(sway * t * t / 2.0 * s, t, bent)
    };
    let [flat, thick] = [random.between(0.7, 1.3), random.between(0.85, 1.15)];
    let outline: Vec<[f64; 2]> = (0..n)
        .map(|i| {
            let a = (i as f64 / n as f64) * std::f64::consts::TAU;
            [a.cos() * flat, a.sin() * thick]
        })
        .collect();
    let rings: Vec<Vec<Vec3>> = frames(path, &heights, Vec3::x())
        .iter()
        .zip(&profile.rings)
        .map(|(frame, [r, _])| {
            outline
                .iter()
                .map(|p| frame.place(r * p[0], r * p[1]))
                .collect()
        })
        .collect();
    let mut model = loft(&rings, false);
    let open = random.chance(0.15);
    for rim in ends(rings.len(), n) {
        if !open {
            let top = if is_round {
                Top::Grid
            } else {
                random.pick(&[Top::Grid, Top::Fan, Top::Ngon])
            };
            let first = model.points.len();
            close(&mut model, &rim, top);
            if is_round {
                dome(&mut model, &rim, first);
            }
        }
    }
    model.mirrored = mirrored;
    model.snap_to_plane();
    let count = random.whole(1, 6);
    limbs(&mut model, random, count, 360.0 / n as f64 + 3.0);
    if mirrored {
        mirror(&model)
    } else {
        Some(model)
    }
}
