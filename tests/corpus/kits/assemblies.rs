//! Things of several shells: a chest with lid, straps, bolts and a handle.

use cagewise::mesh::Vec3;

use super::features::on_flat_ground;
use super::steps::lattice::{Lines, shell};
use super::steps::loft::{close, ends, frames, loft};
use super::steps::profile::Profile;
use super::steps::raise::Top;
use super::steps::{Chance, Model};
use super::turned::{Section, turn};
use crate::support::cages::Random;

/// A box with held edges about the origin, its bottom at `floor`.
fn held_box(random: &mut Random, half: Vec3, floor: f64, held: f64) -> Model {
    let lines = |low: f64, high: f64, inner: usize, random: &mut Random| {
        let mut stations = vec![low, low + held];
        let t = random.stations(inner + 1, 2.0);
        let (from, to) = (low + held, high - held);
        stations.extend(t[1..].iter().map(|t| from + (to - from) * t));
        stations.push(high);
        let cell = vec![0; stations.len() - 1];
        Lines { stations, cell }
    };
    let even = |low: f64, high: f64| Lines {
        stations: vec![
            low,
            low + held,
            low / 2.0,
            0.0,
            high / 2.0,
            high - held,
            high,
        ],
        cell: vec![0; 6],
    };
    let xs = even(-half.x, half.x);
    let (rows, floors) = (random.whole(1, 4), random.whole(0, 2));
    let ys = lines(floor, floor + 2.0 * half.y, floors, random);
    let zs = lines(-half.z, half.z, rows, random);
    shell(&[xs, ys, zs], |_| true)
}

/// A bolt's head with its bottom open, at the given place, along y.
fn bolt(size: f64, section: &Section, at: Vec3, profile: usize) -> Model {
    let mut made = Profile::new(1.0, 0.1);
    made.rings.push([1.0, 0.5]);
    if profile == 0 {
        made.rings.extend([[1.0, 0.7], [0.9, 0.8], [0.5, 0.8]]);
    } else {
        made.rings.extend([[0.9, 0.75], [0.65, 0.95], [0.35, 1.05]]);
    }
    let n = section.points().len();
    let mut model = turn(&made, section, false);
    let [_, top] = ends(made.rings.len(), n);
    let kind = if n.is_multiple_of(4) {
        Top::Grid
    } else {
        Top::Ngon
    };
    close(
        &mut model,
        &top,
        if profile == 0 { Top::Ngon } else { kind },
    );
    model.moved(|p| p * size + at);
    model
}

/// A strap round the box's sides in the plane of x and y, `thick` and `wide`, with held edges.
fn strap(half: Vec3, floor: f64, z: f64, [wide, thick]: [f64; 2]) -> Model {
    let e = thick * 0.25;
    let mut section = [
        [-wide, e],
        [-wide, thick - e],
        [-wide, thick],
        [-wide + e, thick],
        [0.0, thick],
        [wide - e, thick],
        [wide, thick],
        [wide, thick - e],
        [wide, e],
        [wide, 0.0],
        [wide - e, 0.0],
        [0.0, 0.0],
        [e - wide, 0.0],
        [-wide, 0.0],
    ];
    // Counter-clockwise seen against the way round.
    section.reverse();
    let corner = 0.12 * half.x.min(half.y);
    let middle = floor + half.y;
    let mut path = Vec::new();
    // Quarter circles of three points at the corners, and two stations on each side.
    for (k, (sx, sy)) in [(1.0, 1.0), (-1.0, 1.0), (-1.0, -1.0), (1.0, -1.0)]
        .into_iter()
        .enumerate()
    {
        for turn in [0.0, 0.25, 0.5, 0.75, 1.0] {
            let a = (k as f64 + turn) * std::f64::consts::FRAC_PI_2;
            let centre = [sx * (half.x - corner), middle + sy * (half.y - corner)];
            path.push((centre, [a.cos(), a.sin()], corner));
        }
        let next = (k as f64 + 1.0) * std::f64::consts::FRAC_PI_2;
        let out = [next.cos(), next.sin()];
        for share in [-0.6, 0.0, 0.6] {
            let along = [-out[1], out[0]];
            let length = if k % 2 == 0 { half.x } else { half.y } - corner;
            let reach = if k % 2 == 0 { half.y } else { half.x } - corner;
            let at = [
                out[0] * reach + along[0] * share * length,
                middle + out[1] * reach + along[1] * share * length,
            ];
            path.push((at, out, corner));
        }
    }
    let rings: Vec<Vec<Vec3>> = path
        .iter()
        .map(|(centre, out, corner)| {
            let place = |p: &[f64; 2]| {
                let r = corner + p[1];
                Vec3::new(centre[0] + out[0] * r, centre[1] + out[1] * r, z + p[0])
            };
            section.iter().map(place).collect()
        })
        .collect();
    loft(&rings, true)
}

/// An arched handle over the top, its open feet sunk in.
fn handle(half: Vec3, top: f64, round: usize) -> Model {
    let (span, high, thick) = (half.x * 0.5, half.x * 0.45, half.x * 0.07);
    let path = move |t: f64| {
        let a = std::f64::consts::PI * t;
        Vec3::new(-span * a.cos(), top - thick + high * a.sin(), 0.0)
    };
    let at: Vec<f64> = (0..=12).map(|k| f64::from(k) / 12.0).collect();
    let rings: Vec<Vec<Vec3>> = frames(path, &at, Vec3::z())
        .iter()
        .zip(&at)
        .map(|(frame, t)| {
            let grip = 1.0 + 0.35 * (std::f64::consts::PI * t).sin().powi(2);
            (0..round)
                .map(|i| {
                    let a = (i as f64 + 0.5) / round as f64 * std::f64::consts::TAU;
                    frame.place(thick * grip * a.cos(), thick * grip * a.sin())
                })
                .collect()
        })
        .collect();
    loft(&rings, false)
}

/// A thing of several shells by chance, alike on both sides of x = 0 unless its lid is not.
pub fn assembly(random: &mut Random) -> Option<Model> {
    let half = Vec3::from_fn(|_, _| random.between(0.7, 1.5));
    let held = random.between(0.04, 0.1);
    let mut model = held_box(random, half, 0.0, held);
    let symmetric = random.chance(0.6);
    let lid_half = Vec3::new(half.x + 0.06, random.between(0.12, 0.3), half.z + 0.06);
    let floor = 2.0 * half.y + 0.02;
    let mut lid = held_box(random, lid_half, floor, held.min(lid_half.y / 4.0));
    if !symmetric {
        on_flat_ground(&mut lid, random, 3, lid_half.y * 0.7);
        on_flat_ground(&mut model, random, 2, 0.4);
    }
    let top = floor + 2.0 * lid_half.y;
    model.append(&lid);
    let section = if random.chance(0.5) {
        Section::Polygon {
            corners: 6,
            beside: 0.12,
        }
    } else {
        Section::Circle {
            n: random.pick(&[8, 12, 16]),
            wave: 0.0,
            fold: 2,
        }
    };
    let (size, kind) = (random.between(0.06, 0.14), random.below(2));
    let inset = size * random.between(1.6, 2.5);
    for (sx, sz) in [(1.0, 1.0), (-1.0, 1.0), (-1.0, -1.0), (1.0, -1.0)] {
        let at = Vec3::new(
            sx * (lid_half.x - inset),
            top + size * 0.02,
            sz * (lid_half.z - inset),
        );
        model.append(&bolt(size, &section, at, kind));
    }
    if random.chance(0.7) {
        let z = half.z * random.between(0.2, 0.6);
        let size = [random.between(0.08, 0.16), random.between(0.03, 0.06)];
        for side in [z, -z] {
            model.append(&strap(half * 1.001, 0.0, side, size));
        }
    }
    if random.chance(0.7) {
        let round = random.pick(&[6, 8, 10]);
        model.append(&handle(lid_half, top, round));
    }
    model.mirrored = symmetric;
    Some(model)
}
