//! Insets and extrusions of a patch along a profile: knobs, holes, slots, pads, grooves.

use std::f64::consts::{FRAC_PI_4, SQRT_2};

use cagewise::mesh::Vec3;

use super::Chance;
use super::model::Model;
use super::patch::Patch;
use crate::support::cages::Random;

/// The outline that the rings of a feature have.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Plan {
    /// That of the patch.
    Patch,
    /// An ellipse in it.
    Round,
}

/// A ring of a profile: how far it stands in from the patch's rim, and how far above the ground.
#[derive(Clone, Copy)]
pub struct Ring {
    pub inset: f64,
    pub rise: f64,
}

/// Where the patch's vertices lie for any ring.
pub struct Footprint {
    plan: Plan,
    centre: Vec3,
    u: Vec3,
    v: Vec3,
    pub normal: Vec3,
    half: [f64; 2],
    /// The vertices where they lay at first.
    ground: Vec<Vec3>,
    /// Their share of the way from side to side, both ways.
    shares: Vec<[f64; 2]>,
    /// Unit vectors inward along both sides at the four corners (00, 10, 11, 01), summed.
    inward: [Vec3; 4],
    /// Height of the ground over its mean plane: factors of x², xy, y².
    height: Vec3,
    base: f64,
}

impl Footprint {
    /// That of a patch as it lies now.
    pub fn new(model: &Model, patch: &Patch, plan: Plan) -> Self {
        let ground: Vec<Vec3> = patch
            .grid
            .iter()
            .map(|&v| model.points[v as usize])
            .collect();
        let p = |i: usize, j: usize| ground[patch.at(i, j)];
        let (a, b) = (patch.across, patch.along);
        let corners = [p(0, 0), p(a, 0), p(a, b), p(0, b)];
        let normal = patch.normal(model);
        let along_u = (corners[1] - corners[0] + corners[2] - corners[3]) / 2.0;
        let along_v = (corners[3] - corners[0] + corners[2] - corners[1]) / 2.0;
        let u = (along_u - normal * along_u.dot(&normal)).normalize();
        let inward = std::array::from_fn(|k| {
            let unit = |other: usize| (corners[other % 4] - corners[k]).normalize();
            unit(k + 1) + unit(k + 3)
        });
        let mut made = Self {
            plan,
            centre: corners.iter().sum::<Vec3>() / 4.0,
            u,
            v: normal.cross(&u),
            normal,
            half: [along_u.norm() / 2.0, along_v.norm() / 2.0],
            shares: shares(patch, &ground),
            inward,
            height: Vec3::zeros(),
            base: 0.0,
            ground,
        };
        made.fit_height();
        made
    }

    /// Half the patch's shorter side.
    pub fn reach(&self) -> f64 {
        self.half[0].min(self.half[1])
    }

    /// The unit vector of the ground that the disc's first coordinate goes along.
    pub fn side(&self) -> Vec3 {
        self.u
    }

    fn plane(&self, p: &Vec3) -> [f64; 3] {
        let d = p - self.centre;
        [d.dot(&self.u), d.dot(&self.v), d.dot(&self.normal)]
    }

    fn fit_height(&mut self) {
        let mut normal_matrix = least_squares::zeros();
        let mut right = [0.0; 4];
        for p in &self.ground {
            let [x, y, z] = self.plane(p);
            let row = [1.0, x * x, x * y, y * y];
            least_squares::add(&mut normal_matrix, &mut right, row, z);
        }
        let scale = self.half[0].max(self.half[1]);
        let found = least_squares::solve(normal_matrix, right, scale);
        self.base = found[0];
        self.height = Vec3::new(found[1], found[2], found[3]);
    }

    fn on_ground(&self, x: f64, y: f64) -> Vec3 {
        let z = self.base + self.height.dot(&Vec3::new(x * x, x * y, y * y));
        self.centre + self.u * x + self.v * y + self.normal * z
    }

    /// The point of the unit square [-1, 1]² taken to the unit disc; its rim at even angles.
    pub fn disc(&self, k: usize) -> [f64; 2] {
        let even = |s: f64| SQRT_2 * ((2.0 * s - 1.0) * FRAC_PI_4).sin();
        let [x, y] = self.shares[k].map(even);
        [
            x * (1.0 - y * y / 2.0).sqrt(),
            y * (1.0 - x * x / 2.0).sqrt(),
        ]
    }

    /// Where the vertex at place `k` of the patch's grid lies for a ring.
    pub fn place(&self, k: usize, ring: Ring) -> Vec3 {
        let foot = match self.plan {
            Plan::Patch => {
                let [s, t] = self.shares[k];
                let weights = [(1.0 - s) * (1.0 - t), s * (1.0 - t), s * t, (1.0 - s) * t];
                let pull: Vec3 = (0..4).map(|c| self.inward[c] * weights[c]).sum();
                self.ground[k] + pull * ring.inset
            }
            Plan::Round => {
                let [x, y] = self.disc(k);
                let radius = self.half.map(|h| h - ring.inset);
                self.on_ground(x * radius[0], y * radius[1])
            }
        };
        foot + self.normal * ring.rise
    }
}

/// The share of the way along its row and column of every vertex of the patch.
fn shares(patch: &Patch, ground: &[Vec3]) -> Vec<[f64; 2]> {
    let (a, b) = (patch.across, patch.along);
    let length = |from: usize, to: usize| (ground[to] - ground[from]).norm();
    let along = |places: Vec<usize>| {
        let mut at = vec![0.0];
        for pair in places.windows(2) {
            at.push(at[at.len() - 1] + length(pair[0], pair[1]));
        }
        let total = at[at.len() - 1];
        at.into_iter().map(|x| x / total).collect::<Vec<f64>>()
    };
    // The mean over the rows (and columns), so that the parameter lines stay straight.
    let mean = |lines: Vec<Vec<f64>>| -> Vec<f64> {
        (0..lines[0].len())
            .map(|k| lines.iter().map(|line| line[k]).sum::<f64>() / lines.len() as f64)
            .collect()
    };
    let rows = (0..=b).map(|j| along((0..=a).map(|i| patch.at(i, j)).collect()));
    let columns = (0..=a).map(|i| along((0..=b).map(|j| patch.at(i, j)).collect()));
    let (s, t) = (mean(rows.collect()), mean(columns.collect()));
    (0..ground.len())
        .map(|k| [s[k % (a + 1)], t[k / (a + 1)]])
        .collect()
}

/// Least squares in four unknowns, by elimination.
mod least_squares {
    pub type Matrix = [[f64; 4]; 4];

    /// Added to the diagonal in units of a model's size, so that a flat or narrow patch has a
    /// solution: its curvature comes out as none.
    const REGULARISATION: f64 = 1e-9;

    pub fn zeros() -> Matrix {
        [[0.0; 4]; 4]
    }

    pub fn add(matrix: &mut Matrix, right: &mut [f64; 4], row: [f64; 4], value: f64) {
        for i in 0..4 {
            right[i] += row[i] * value;
            for j in 0..4 {
                matrix[i][j] += row[i] * row[j];
            }
        }
    }

    pub fn solve(mut matrix: Matrix, mut right: [f64; 4], scale: f64) -> [f64; 4] {
        for (i, row) in matrix.iter_mut().enumerate() {
            row[i] += REGULARISATION * scale.powi(if i == 0 { 0 } else { 4 });
        }
        for i in 0..4 {
            for j in i + 1..4 {
                let factor = matrix[j][i] / matrix[i][i];
                let upper = matrix[i];
                for (x, y) in matrix[j].iter_mut().zip(upper) {
                    *x -= factor * y;
                }
                right[j] -= factor * right[i];
            }
        }
        let mut found = [0.0; 4];
        for i in (0..4).rev() {
            let known: f64 = (i + 1..4).map(|j| matrix[i][j] * found[j]).sum();
            found[i] = (right[i] - known) / matrix[i][i];
        }
        found
    }
}

/// Puts a new ring between the patch and what it hangs on: the patch gets a rim of its own, the
/// vertices within move along.
pub fn add_ring(model: &mut Model, patch: &mut Patch, place: impl Fn(usize) -> Vec3) {
    let rim = patch.rim();
    let mut renamed = std::collections::BTreeMap::new();
    let old: Vec<u32> = rim.iter().map(|&k| patch.grid[k]).collect();
    for &k in &rim {
        let new = model.add_point(place(k));
        renamed.insert(patch.grid[k], new);
        patch.grid[k] = new;
    }
    for k in 0..patch.grid.len() {
        if !rim.contains(&k) {
            model.points[patch.grid[k] as usize] = place(k);
        }
    }
    for &f in &patch.faces {
        model.worked[f] = true;
        for v in &mut model.faces[f] {
            *v = *renamed.get(v).unwrap_or(v);
        }
    }
    for k in 0..old.len() {
        let (a, b) = (old[k], old[(k + 1) % old.len()]);
        model.add_worked(vec![a, b, renamed[&b], renamed[&a]]);
    }
}

/// Insets and extrudes a patch, ring by ring.
pub fn raise(model: &mut Model, patch: &mut Patch, plan: Plan, profile: &[Ring]) {
    let footprint = Footprint::new(model, patch, plan);
    for &ring in profile {
        add_ring(model, patch, |k| footprint.place(k, ring));
    }
}

/// What closes a patch that has been raised.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Top {
    /// Its own grid of quads.
    Grid,
    /// One face of many sides.
    Ngon,
    /// Triangles about a middle vertex.
    Fan,
}

/// Puts another cap in the patch's place.
pub fn cap(model: &mut Model, patch: &Patch, top: Top) {
    if top == Top::Grid {
        return;
    }
    let rim = patch.rim_vertices();
    clear(model, patch);
    if top == Top::Ngon {
        model.add_worked(rim);
        return;
    }
    let middle = rim.iter().map(|&v| model.points[v as usize]).sum::<Vec3>() / rim.len() as f64;
    let apex = model.add_point(middle);
    for k in 0..rim.len() {
        model.add_worked(vec![rim[k], rim[(k + 1) % rim.len()], apex]);
    }
}

/// Takes the patch's faces out.
pub fn clear(model: &mut Model, patch: &Patch) {
    for &f in &patch.faces {
        model.faces[f].clear();
    }
}

/// A profile drawn by chance for a patch of the given half-width; lengths relative to it.
/// `sunk` goes into the ground, at most `depth` deep.
pub fn drawn_profile(random: &mut Random, reach: f64, depth: f64) -> Vec<Ring> {
    let tight = random.between(0.03, 0.09);
    let start = random.between(0.18, 0.4);
    let sunk = random.chance(0.45);
    let most = (depth / reach).min(1.6);
    let high = random.between(0.35, 1.0) * most * if sunk { -1.0 } else { 1.0 };
    let tight = tight.min(high.abs() / 4.0);
    let mut rings: Vec<[f64; 2]> = Vec::new();
    match random.below(6) {
        0 => rings.extend([[start, 0.0], [start + tight, high], [start + 0.3, high]]),
        1 => held_wall(
            &mut rings,
            start,
            start + random.between(0.0, 0.12),
            high,
            tight,
        ),
        2 => stepped(random, &mut rings, start, high, tight),
        3 => groove(random, &mut rings, start, high.abs(), tight),
        4 => flange(random, &mut rings, start, high.abs(), tight),
        _ => {
            // A bevelled wall: two edges in the place of one at foot and head.
            let b = 2.0 * tight;
            rings.extend([
                [start - b, 0.0],
                [start, high * 0.12],
                [start + 0.04, high * 0.88],
            ]);
            rings.extend([[start + 0.04 + b, high], [start + 0.3, high]]);
        }
    }
    rings
        .into_iter()
        .map(|[inset, rise]| Ring {
            inset: inset * reach,
            rise: rise * reach,
        })
        .collect()
}

/// A wall with support loops on both sides of its foot and of its head.
fn held_wall(rings: &mut Vec<[f64; 2]>, foot: f64, head: f64, high: f64, tight: f64) {
    let step = tight.copysign(high);
    rings.extend([[foot - tight, 0.0], [foot, 0.0], [foot, step]]);
    rings.extend([[head, high - step], [head, high], [head + tight, high]]);
}

fn stepped(random: &mut Random, rings: &mut Vec<[f64; 2]>, start: f64, high: f64, tight: f64) {
    let middle = high * random.between(0.3, 0.7);
    let step = tight.copysign(high);
    held_wall(rings, start, start, middle, tight);
    let next = start + random.between(2.5, 4.0) * tight;
    rings.extend([
        [next - tight, middle],
        [next, middle],
        [next, middle + step],
    ]);
    rings.extend([[next, high - step], [next, high], [next + tight, high]]);
    // Two walls closer than their supports would cross; the supports then are one.
    rings.dedup_by(|b, a| (b[0] - a[0]).abs() + (b[1] - a[1]).abs() < 0.01);
}

fn groove(random: &mut Random, rings: &mut Vec<[f64; 2]>, start: f64, deep: f64, tight: f64) {
    let deep = deep.min(random.between(0.1, 0.3));
    let tight = tight.min(deep / 3.0);
    let wide = random.between(2.5, 5.0) * tight;
    rings.extend([[start - tight, 0.0], [start, 0.0], [start, -deep]]);
    rings.extend([
        [start + wide, -deep],
        [start + wide, 0.0],
        [start + wide + tight, 0.0],
    ]);
}

fn flange(random: &mut Random, rings: &mut Vec<[f64; 2]>, start: f64, high: f64, tight: f64) {
    let neck = start + random.between(0.1, 0.2);
    let tight = tight.min(high / 8.0);
    let under = high * random.between(0.4, 0.6);
    rings.extend([[neck - tight, 0.0], [neck, tight], [neck, under - tight]]);
    rings.extend([
        [neck - tight, under],
        [start + tight, under],
        [start, under + tight],
    ]);
    rings.extend([
        [start, high - tight],
        [start + tight, high],
        [start + 3.0 * tight, high],
    ]);
}
