//! Rectangles of quads on a model, found by walking straight on.

use std::collections::BTreeSet;

use cagewise::mesh::Vec3;

use super::Chance;
use super::model::{Model, PLANE_TOLERANCE};
use crate::support::cages::Random;

/// A rectangle of `across` by `along` quads.
#[derive(Clone)]
pub struct Patch {
    pub across: usize,
    pub along: usize,
    pub faces: Vec<usize>,
    /// Its vertices, row by row, `across + 1` a row, counter-clockwise seen from outside.
    pub grid: Vec<u32>,
}

impl Patch {
    /// The place in `grid` of the vertex in column `i` and row `j`.
    pub fn at(&self, i: usize, j: usize) -> usize {
        j * (self.across + 1) + i
    }

    /// The places in `grid` of the vertices of its rim, counter-clockwise from the first corner.
    pub fn rim(&self) -> Vec<usize> {
        let (a, b) = (self.across, self.along);
        let mut rim: Vec<usize> = (0..a).map(|i| self.at(i, 0)).collect();
        rim.extend((0..b).map(|j| self.at(a, j)));
        rim.extend((0..a).map(|i| self.at(a - i, b)));
        rim.extend((0..b).map(|j| self.at(0, b - j)));
        rim
    }

    /// The vertices of its rim.
    pub fn rim_vertices(&self) -> Vec<u32> {
        self.rim().into_iter().map(|k| self.grid[k]).collect()
    }

    /// Mean of the unit normals of its faces.
    pub fn normal(&self, model: &Model) -> Vec3 {
        let sum: Vec3 = self.faces.iter().map(|&f| model.normal(f)).sum();
        sum.normalize()
    }

    /// Length of the shorter of its two middle lines between opposite sides.
    pub fn width(&self, model: &Model) -> f64 {
        let p = |i: usize, j: usize| model.points[self.grid[self.at(i, j)] as usize];
        let (a, b) = (self.across, self.along);
        let u = (p(a, 0) + p(a, b) - p(0, 0) - p(0, b)).norm() / 2.0;
        let v = (p(0, b) + p(a, b) - p(0, 0) - p(a, 0)).norm() / 2.0;
        u.min(v)
    }

    /// Its longer middle line over its shorter.
    pub fn slenderness(&self, model: &Model) -> f64 {
        let p = |i: usize, j: usize| model.points[self.grid[self.at(i, j)] as usize];
        let (a, b) = (self.across, self.along);
        let u = (p(a, 0) + p(a, b) - p(0, 0) - p(0, b)).norm();
        let v = (p(0, b) + p(a, b) - p(0, 0) - p(a, 0)).norm();
        (u / v).max(v / u)
    }
}

/// What is asked of a patch.
#[derive(Clone, Copy)]
pub struct Wanted {
    pub across: usize,
    pub along: usize,
    /// Largest angle in degrees of a face of the patch to their mean normal.
    pub bend: f64,
    /// The same with the faces round about taken in.
    pub bend_around: f64,
    /// Longer side over shorter side at most.
    pub slender: f64,
    /// Whether other work may be right beside it.
    pub close: bool,
}

impl Wanted {
    /// A patch on flat ground with flat ground about it.
    pub fn flat(across: usize, along: usize) -> Self {
        Self {
            across,
            along,
            bend: 1.0,
            bend_around: 1.0,
            slender: 3.0,
            close: false,
        }
    }

    /// A patch on curved ground.
    pub fn curved(across: usize, along: usize, bend: f64) -> Self {
        Self {
            bend,
            bend_around: 2.2 * bend,
            ..Self::flat(across, along)
        }
    }
}

type Edges = std::collections::HashMap<(u32, u32), (usize, usize)>;

/// The face across the side that starts at `corner`, and its corner at that side's end.
fn across_side(model: &Model, edges: &Edges, f: usize, corner: usize) -> Option<(usize, usize)> {
    let face = &model.faces[f];
    let (a, b) = (face[corner % 4], face[(corner + 1) % 4]);
    let &(g, k) = edges.get(&(b, a))?;
    (model.faces[g].len() == 4).then_some((g, k))
}

/// The patch whose first face is `f` with its first corner at `corner`.
pub fn patch_from(
    model: &Model,
    edges: &Edges,
    (f, corner): (usize, usize),
    (across, along): (usize, usize),
) -> Option<Patch> {
    let mut grid = vec![u32::MAX; (across + 1) * (along + 1)];
    let mut faces = Vec::new();
    let mut row = (f, corner);
    for j in 0..along {
        let mut cell = row;
        for i in 0..across {
            let face = &model.faces[cell.0];
            if face.len() != 4 || faces.contains(&cell.0) {
                return None;
            }
            faces.push(cell.0);
            for (k, (di, dj)) in [(0, 0), (1, 0), (1, 1), (0, 1)].into_iter().enumerate() {
                let v = face[(cell.1 + k) % 4];
                let place = &mut grid[(j + dj) * (across + 1) + i + di];
                if *place != u32::MAX && *place != v {
                    return None;
                }
                *place = v;
            }
            if i + 1 < across {
                let (g, k) = across_side(model, edges, cell.0, cell.1 + 1)?;
                cell = (g, k + 1);
            }
        }
        if j + 1 < along {
            row = across_side(model, edges, row.0, row.1 + 2)?;
        }
    }
    let distinct: BTreeSet<u32> = grid.iter().copied().collect();
    (distinct.len() == grid.len()).then_some(Patch {
        across,
        along,
        faces,
        grid,
    })
}

fn is_placed_well(model: &Model, patch: &Patch) -> bool {
    if !model.mirrored {
        return true;
    }
    let xs = || patch.grid.iter().map(|&v| model.points[v as usize].x);
    let mean = xs().sum::<f64>() / patch.grid.len() as f64;
    let lowest = xs().fold(f64::INFINITY, f64::min);
    lowest > PLANE_TOLERANCE || (mean.abs() < PLANE_TOLERANCE && patch.across.is_multiple_of(2))
}

/// Whether the patch is what was asked for: free of other work with the faces about it, and as
/// flat as wanted.
pub fn is_wanted(model: &Model, at: &[Vec<usize>], patch: &Patch, wanted: &Wanted) -> bool {
    let normal = patch.normal(model);
    let bend = |f: usize| model.normal(f).angle(&normal).to_degrees();
    let around: BTreeSet<usize> = patch
        .grid
        .iter()
        .flat_map(|&v| at[v as usize].iter().copied())
        .collect();
    patch
        .faces
        .iter()
        .all(|&f| !model.worked[f] && bend(f) <= wanted.bend)
        && around
            .iter()
            .all(|&f| (wanted.close || !model.worked[f]) && bend(f) <= wanted.bend_around)
        && patch.slenderness(model) <= wanted.slender
        && is_placed_well(model, patch)
}

/// Least width of a patch in median edges: what is narrower lies between support loops.
const LEAST_WIDTH: f64 = 0.4;

fn median_edge(model: &Model) -> f64 {
    let mut lengths: Vec<f64> = model
        .faces
        .iter()
        .flat_map(|face| (0..face.len()).map(move |k| (face[k], face[(k + 1) % face.len()])))
        .map(|(a, b)| (model.points[a as usize] - model.points[b as usize]).norm())
        .collect();
    lengths.sort_by(f64::total_cmp);
    lengths[lengths.len() / 2]
}

/// A patch as wanted, drawn from those there are by trying faces at random.
pub fn find_patch(model: &Model, random: &mut Random, wanted: &Wanted) -> Option<Patch> {
    const TRIES: usize = 60;
    let edges = model.directed_edges();
    let at = model.faces_at();
    let least = LEAST_WIDTH * median_edge(model);
    (0..TRIES).find_map(|_| {
        let f = random.below(model.faces.len());
        let corner = random.below(4);
        if model.faces[f].len() != 4 || model.worked[f] {
            return None;
        }
        let patch = patch_from(model, &edges, (f, corner), (wanted.across, wanted.along))?;
        let is_wide = patch.width(model) >= least;
        (is_wide && is_wanted(model, &at, &patch, wanted)).then_some(patch)
    })
}

/// The sizes of patch that a feature of about `size` quads may ask for.
pub fn drawn_size(random: &mut Random, size: usize) -> (usize, usize) {
    let across = random.whole(1, size);
    let along = if random.chance(0.6) {
        across
    } else {
        random.whole(1, size)
    };
    (across, along)
}
