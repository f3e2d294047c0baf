//! Panels: plates with windows, bores, bosses and slots, support loops about everything.

use super::features::{hole_through, on_flat_ground};
use super::steps::finish::{mirror, triangles};
use super::steps::lattice::{Drawn, Lines, shell};
use super::steps::slide::slide_loop;
use super::steps::{Chance, Model};
use crate::support::cages::Random;

/// A panel by chance.
pub fn panel(random: &mut Random) -> Option<Model> {
    let mirrored = random.chance(0.5);
    let held = random.between(0.03, 0.1);
    let thick = random.between(0.15, 0.4);
    let drawn = |cells: usize, mirrored: bool| Drawn {
        cells,
        held,
        between: 2,
        ratio: 2.5,
        mirrored,
    };
    let columns = if mirrored {
        random.whole(1, 2)
    } else {
        random.whole(2, 4)
    };
    let xs = Lines::drawn(random, &drawn(columns, mirrored)).centred();
    let zs = {
        let rows = random.whole(1, 3);
        Lines::drawn(random, &drawn(rows, false)).centred()
    };
    let edge = (held * random.between(0.5, 1.0)).min(thick / 4.0);
    let ys = Lines {
        stations: vec![0.0, edge, thick - edge, thick],
        cell: vec![0; 3],
    };
    let windows: Vec<[usize; 2]> = (0..random.below(3))
        .map(|_| [random.below(xs.cells()), random.below(zs.cells())])
        .collect();
    let mut model = shell(&[xs, ys, zs], |[i, _, k]| !windows.contains(&[i, k]));
    if model.faces.is_empty() {
        return None;
    }
    model.mirrored = mirrored;
    for _ in 0..random.whole(1, 3) {
        hole_through(&mut model, random);
    }
    let count = random.whole(2, 8);
    on_flat_ground(&mut model, random, count, thick * 0.6);
    for _ in 0..random.below(3) {
        slide_loop(&mut model, random);
    }
    if random.chance(0.3) {
        let most = random.whole(2, 8);
        triangles(&mut model, random, most);
    }
    if mirrored {
        mirror(&model)
    } else {
        Some(model)
    }
}
