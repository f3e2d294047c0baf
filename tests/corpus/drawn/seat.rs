//! A padded seat with a tight welt along its rim.

use cagewise::mesh::{PolygonMesh, Vec3};

use super::held::stations;
use super::{Drawn, half_of};
use crate::support::cages::boxed;
use crate::support::cages::moved;

pub fn forms() -> Vec<Drawn> {
    let sizes = [(6, 0.05), (8, 0.035), (11, 0.025)];
    let mut forms: Vec<Drawn> = sizes
        .iter()
        .map(|&(n, welt)| Drawn::new("padded seat", seat(n, welt)))
        .collect();
    forms.push(Drawn::new("half of a padded seat", half_of(&seat(8, 0.03))));
    forms
}

/// Outset and height of the loops of the side, from the bottom up: a held bottom rim, the side, the
/// welt as a bead that stands out.
fn loops(welt: f64) -> Vec<[f64; 2]> {
    vec![
        [0.0, 0.0],
        [0.02, 0.05],
        [0.06, 0.2],
        [0.05, 0.36],
        [0.03, 0.4],
        [0.03 + 0.8 * welt, 0.4 + 0.2 * welt],
        [0.03 + 1.3 * welt, 0.4 + welt],
        [0.03 + 0.8 * welt, 0.4 + 1.8 * welt],
        [0.03, 0.4 + 2.0 * welt],
    ]
}

fn seat(n: usize, welt: f64) -> PolygonMesh {
    let loops = loops(welt);
    let last = loops.len() - 1;
    let heights: Vec<f64> = (0..loops.len()).map(|k| k as f64).collect();
    let across = stations(n, 1.2 * welt);
    moved(&boxed(&across, &across, &heights), |p| {
        let [outset, height] = loops[p.z as usize];
        let edge = p.x.abs().max(p.y.abs());
        let dome = (1.0 - p.x * p.x) * (1.0 - p.y * p.y);
        let (rise, spread) = match p.z as usize {
            0 => (0.0, 1.0 + outset * edge),
            k if k == last => (
                0.35 * dome.sqrt() - 0.01 * (1.0 - edge),
                1.0 + outset * edge,
            ),
            _ => (0.0, 1.0 + outset),
        };
        // The square made rounder towards its corners.
        let x = p.x * (1.0 - 0.3 * p.y * p.y).sqrt();
        let y = p.y * (1.0 - 0.3 * p.x * p.x).sqrt();
        Vec3::new(x * spread, 1.2 * y * spread, height + rise)
    })
}
