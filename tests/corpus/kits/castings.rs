//! Castings: cells of an uneven lattice that grew into one another by chance, their edges held, or
//! rounded as clay is; so arms, steps and notches meet at poles of three, five and now and then six edges.

use std::collections::BTreeSet;

use cagewise::mesh::Vec3;

use super::features::{on_flat_ground, soft_rings};
use super::steps::finish::{mirror, triangles};
use super::steps::lattice::{Drawn, Lines, shell};
use super::steps::slide::slide_loop;
use super::steps::{Chance, Model};
use crate::support::cages::Random;

/// A cell of the lattice, by its numbers along the axes.
type Cell = [usize; 3];

/// Draws for each cell that is wanted; by then nearly all have been found.
const DRAWS: usize = 20;

/// Cells that grew from one, each beside another along an axis: `count` of them, or fewer where the
/// lattice has no room or the draws run out. The first lies at the mirror plane, if there is one.
fn grown_cells(random: &mut Random, lines: &[Lines; 3], count: usize) -> BTreeSet<Cell> {
    let cells: [usize; 3] = std::array::from_fn(|axis| lines[axis].cells());
    let first = [0, random.below(cells[1]), random.below(cells[2])];
    let mut found = BTreeSet::from([first]);
    let mut order = vec![first];
    for _ in 0..DRAWS * count {
        let mut cell = random.pick(&order);
        let axis = random.below(3);
        // One on or one back; what is before the first is past the last.
        let on = cell[axis].wrapping_add(random.pick(&[1, usize::MAX]));
        if on < cells[axis] && found.len() < count {
            cell[axis] = on;
            if found.insert(cell) {
                order.push(cell);
            }
        }
    }
    found
}

/// Moves every vertex half of the way to the middle of its neighbours, `passes` times over.
fn relax(model: &mut Model, passes: usize) {
    // Sums come out the same only if they are added up in the same order.
    let edges: BTreeSet<(u32, u32)> = model.directed_edges().into_keys().collect();
    for _ in 0..passes {
        let mut sums = vec![(Vec3::zeros(), 0.0); model.points.len()];
        for &(v, w) in &edges {
            let (sum, count) = &mut sums[v as usize];
            *sum += model.points[w as usize];
            *count += 1.0;
        }
        for (p, (sum, count)) in model.points.iter_mut().zip(sums) {
            *p = (*p + sum / count) / 2.0;
        }
    }
}

/// How a casting's edges are: held, or rounded.
#[derive(Clone, Copy)]
enum Edges {
    Held,
    Round,
}

/// The lines that cells of a casting lie between.
fn lines(random: &mut Random, edges: Edges, mirrored: bool) -> [Lines; 3] {
    let (held, between, ratio) = match edges {
        Edges::Round => (0.0, 3, 1.5),
        Edges::Held => (random.between(0.05, 0.14), 1, 2.5),
    };
    let cells = [random.whole(1, 2), random.whole(2, 3), random.whole(2, 3)];
    let drawn = |axis: usize| Drawn {
        cells: cells[axis],
        held,
        between,
        ratio,
        mirrored: mirrored && axis == 0,
    };
    std::array::from_fn(|axis| Lines::drawn(random, &drawn(axis)).centred())
}

/// Rounds a casting, and puts rings on its sides.
fn rounded(model: &mut Model, random: &mut Random, rings: usize) {
    relax(model, random.whole(2, 8));
    model.snap_to_plane();
    soft_rings(model, random, rings, 20.0);
}

/// Puts features on a held casting's flat sides, slides loops and leaves triangles in.
fn machined(model: &mut Model, random: &mut Random, features: usize) {
    on_flat_ground(model, random, features, 0.4);
    for _ in 0..random.below(3) {
        slide_loop(model, random);
    }
    if random.chance(0.3) {
        let most = random.whole(2, 6);
        triangles(model, random, most);
    }
}

/// A casting by chance.
pub fn casting(random: &mut Random) -> Option<Model> {
    let mirrored = random.chance(0.5);
    let edges = match random.chance(0.6) {
        true => Edges::Round,
        false => Edges::Held,
    };
    let lines = lines(random, edges, mirrored);
    let count = random.whole(4, 9);
    let inside = grown_cells(random, &lines, count);
    let mut model = shell(&lines, |cell| inside.contains(&cell));
    model.mirrored = mirrored;
    let features = random.whole(1, 4);
    match edges {
        Edges::Round => rounded(&mut model, random, features),
        Edges::Held => machined(&mut model, random, features),
    }
    match mirrored {
        true => mirror(&model),
        false => Some(model),
    }
}
