//! Machined blocks: boxes and steps of uneven lattices, all edges held, with knobs, holes and
//! slots.

use super::features::{hole_through, on_flat_ground};
use super::steps::finish::{mirror, triangles};
use super::steps::lattice::{Drawn, Lines, shell};
use super::steps::slide::slide_loop;
use super::steps::{Chance, Model};
use crate::support::cages::Random;

/// A block by chance.
pub fn block(random: &mut Random) -> Option<Model> {
    let mirrored = random.chance(0.5);
    let held = random.between(0.04, 0.14);
    let cells = [random.whole(1, 2), random.whole(1, 2), random.whole(1, 2)];
    let drawn = |axis: usize| Drawn {
        cells: cells[axis],
        held,
        between: if cells[axis] > 1 { 2 } else { 4 },
        ratio: 3.0,
        mirrored: mirrored && axis == 0,
    };
    let lines = std::array::from_fn(|axis| Lines::drawn(random, &drawn(axis)).centred());
    let left_out: Vec<[usize; 3]> = (0..random.below(4))
        .map(|_| std::array::from_fn(|axis| random.below(lines[axis].cells())))
        .collect();
    let mut model = shell(&lines, |cell| !left_out.contains(&cell));
    if model.faces.is_empty() {
        return None;
    }
    model.mirrored = mirrored;
    let count = if mirrored {
        random.whole(5, 12)
    } else {
        random.whole(4, 9)
    };
    if random.chance(0.5) {
        hole_through(&mut model, random);
    }
    on_flat_ground(&mut model, random, count, 0.5);
    for _ in 0..random.below(4) {
        slide_loop(&mut model, random);
    }
    if random.chance(0.35) {
        let most = random.whole(2, 8);
        triangles(&mut model, random, most);
    }
    if mirrored {
        mirror(&model)
    } else {
        Some(model)
    }
}
