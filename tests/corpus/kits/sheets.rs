//! Sheets with open borders: covers and awnings of gently waved ground, with skirts, cut-outs,
//! pads and spouts.

use cagewise::mesh::Vec3;

use super::features::{limbs, on_flat_ground};
use super::steps::finish::{mirror, triangles};
use super::steps::lattice::{Drawn, Lines};
use super::steps::patch::{Wanted, find_patch};
use super::steps::raise::{Plan, Ring, clear, raise};
use super::steps::slide::slide_loop;
use super::steps::{Chance, Model};
use crate::support::cages::Random;

/// Largest angle in radians by which the waves turn along one edge.
const MOST_AN_EDGE: f64 = 0.16;

/// Length of a usual edge.
const USUAL_EDGE: f64 = 0.3;

/// A flat grid in x and z, its upper side toward y.
fn ground(xs: &[f64], zs: &[f64]) -> Model {
    let mut model = Model::default();
    for z in zs {
        for x in xs {
            model.add_point(Vec3::new(*x, 0.0, *z));
        }
    }
    let at = |i: usize, j: usize| (j * xs.len() + i) as u32;
    for j in 0..zs.len() - 1 {
        for i in 0..xs.len() - 1 {
            model.add(vec![at(i, j), at(i, j + 1), at(i + 1, j + 1), at(i + 1, j)]);
        }
    }
    model
}

/// Lets the whole outer border hang down over a held edge.
fn skirt(model: &mut Model, [nx, nz]: [usize; 2], levels: &[f64]) {
    let at = |i: usize, j: usize| (j * nx + i) as u32;
    let mut rim: Vec<u32> = (0..nz - 1).map(|j| at(0, j)).collect();
    rim.extend((0..nx - 1).map(|i| at(i, nz - 1)));
    rim.extend((1..nz).rev().map(|j| at(nx - 1, j)));
    rim.extend((1..nx).rev().map(|i| at(i, 0)));
    let mut last = rim.clone();
    for &level in levels {
        let below = |&v: &u32| model.points[v as usize] - Vec3::y() * level;
        let places: Vec<Vec3> = rim.iter().map(below).collect();
        let ring: Vec<u32> = places.into_iter().map(|p| model.add_point(p)).collect();
        for k in 0..ring.len() {
            let n = (k + 1) % ring.len();
            model.add(vec![last[n], last[k], ring[k], ring[n]]);
        }
        last = ring;
    }
}

/// A cut-out with a border of its own, held by rings about it.
fn cut_out(model: &mut Model, random: &mut Random) {
    let across = random.whole(2, 4);
    let Some(mut patch) = find_patch(model, random, &Wanted::flat(across, across)) else {
        return;
    };
    let reach = patch.width(model) / 2.0;
    let plan = if random.chance(0.7) {
        Plan::Round
    } else {
        Plan::Patch
    };
    let inset = random.between(0.25, 0.5);
    let tight = random.between(0.04, 0.1);
    let lip = if random.chance(0.5) {
        tight * random.between(2.5, 5.0)
    } else {
        0.0
    };
    let ring = |inset: f64, rise: f64| Ring {
        inset: inset * reach,
        rise: rise * reach,
    };
    raise(
        model,
        &mut patch,
        plan,
        &[ring(inset - tight, 0.0), ring(inset, 0.0)],
    );
    if lip > 0.0 {
        // A second footprint would take the ring for the ground; the first is drawn on instead.
        raise(
            model,
            &mut patch,
            Plan::Patch,
            &[ring(0.0, tight), ring(0.0, lip)],
        );
    }
    clear(model, &patch);
}

/// A sheet by chance.
pub fn sheet(random: &mut Random) -> Option<Model> {
    let mirrored = random.chance(0.5);
    let held = if random.chance(0.6) {
        random.between(0.04, 0.1)
    } else {
        0.0
    };
    let drawn = |cells: usize, mirrored: bool| Drawn {
        cells,
        held: 0.0,
        between: 4,
        ratio: 2.5,
        mirrored,
    };
    let columns = if mirrored {
        random.whole(1, 2)
    } else {
        random.whole(2, 4)
    };
    let mut xs = Lines::drawn(random, &drawn(columns, mirrored))
        .centred()
        .stations;
    let rows = random.whole(2, 4);
    let mut zs = Lines::drawn(random, &drawn(rows, false)).centred().stations;
    if held > 0.0 {
        for line in [&mut xs, &mut zs] {
            let n = line.len();
            line.insert(n - 1, line[n - 1] - held);
            line.insert(1, line[0] + held);
        }
    }
    let mut model = ground(&xs, &zs);
    model.mirrored = mirrored;
    if held > 0.0 && random.chance(0.7) {
        let high = random.between(0.3, 0.8);
        skirt(
            &mut model,
            [xs.len(), zs.len()],
            &[held, high / 2.0, high - held, high],
        );
    }
    for _ in 0..random.below(3) {
        cut_out(&mut model, random);
    }
    let count = random.below(4);
    on_flat_ground(&mut model, random, count, 0.4);
    let count = random.below(3);
    limbs(&mut model, random, count, 1.0);
    for _ in 0..random.below(3) {
        slide_loop(&mut model, random);
    }
    if random.chance(0.3) {
        triangles(&mut model, random, 6);
    }
    wave(&mut model, random, mirrored);
    if mirrored {
        mirror(&model)
    } else {
        Some(model)
    }
}

/// Lifts the sheet along a sum of two smooth waves.
fn wave(model: &mut Model, random: &mut Random, mirrored: bool) {
    let (low, high) = model.extent();
    let size = high - low;
    let waves: Vec<[f64; 4]> = (0..2)
        .map(|_| {
            let [a, b] = [0, 2].map(|axis| random.between(0.3, 1.2) * 3.0 / size[axis]);
            // A wave turns along an edge by its height times its number squared times the edge.
            let tall = random.between(0.3, 1.0) * MOST_AN_EDGE / (a.max(b).powi(2) * USUAL_EDGE);
            [a, b, random.between(0.0, 6.2), tall.min(0.2 * size.norm())]
        })
        .collect();
    model.moved(|mut p| {
        for &[a, b, phase, tall] in &waves {
            let across = if mirrored {
                (a * p.x).cos()
            } else {
                (a * p.x + phase).cos()
            };
            p.y += tall * across * (b * p.z + phase).sin();
        }
        p
    });
}
