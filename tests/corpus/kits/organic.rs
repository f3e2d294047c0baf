//! Soft bodies: a coarse blocked-out shape with limbs, subdivided, with rings on its sides.

use super::features::{limbs, soft_rings};
use super::steps::finish::{mirror, subdivide};
use super::steps::lattice::{Drawn, Lines, shell};
use super::steps::{Chance, Model};
use crate::support::cages::Random;

/// A soft body by chance.
pub fn body(random: &mut Random) -> Option<Model> {
    let mirrored = random.chance(0.6);
    let cells = [random.whole(1, 2), random.whole(1, 3), random.whole(1, 3)];
    let drawn = |axis: usize| Drawn {
        cells: cells[axis],
        held: 0.0,
        between: if cells[axis] == 1 { 2 } else { 1 },
        ratio: 1.5,
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
    let count = random.whole(1, 4);
    limbs(&mut model, random, count, 30.0);
    if mirrored {
        model = mirror(&model)?;
        model.mirrored = true;
    }
    model = subdivide(&model);
    model.snap_to_plane();
    let count = random.whole(2, 5);
    soft_rings(&mut model, random, count, 18.0);
    if model.vertex_count() < super::FEWEST_VERTICES {
        model = subdivide(&model);
    }
    if mirrored {
        mirror(&model)
    } else {
        Some(model)
    }
}
