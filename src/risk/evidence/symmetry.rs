//! What a shell's own symmetry says: of two places that mirror each other, the one at fault is the
//! one that looks worse.

use rayon::prelude::*;

use super::groundwork::per_index;
use super::kd_tree::KdTree;
use super::mirror_planes::{Cloud, PLANES_MAX, Plane};
use crate::measure::MeasureContext;
use crate::mesh::NONE;

/// Part of the edge length within which a partner is looked for: a vertex pushed farther than this
/// from its place has none.
const REACH: f64 = 0.5;

/// Part of the edge length within which a neighbour of a neighbour's partner is the partner, without
/// looking for a nearer one: copies are placed to five or six digits.
const EXACT_TOLERANCE: f64 = 1e-3;

/// The partners in each plane; [`NONE`] where there is none.
type Partners = [u32; PLANES_MAX];

/// Each vertex's partners in its shell's planes of symmetry: three at most, in each of which over half
/// of the shell's vertices meet a partner within 0.05 of their edge length (this program's).
#[derive(Debug, Clone)]
pub struct Symmetry {
    /// The vertex nearest to the mirror image in each plane, within half the mean edge length.
    partners: Vec<Partners>,
}

impl Symmetry {
    /// Finds the planes, in O(n log n) over the vertices.
    pub fn new(context: &MeasureContext) -> Self {
        let shells = shells(context);
        let found: Vec<_> = shells
            .par_iter()
            .map(|shell| partners(context, shell))
            .collect();
        let count = context.topology().vertex_count();
        let mut symmetry = Self {
            partners: vec![[NONE; PLANES_MAX]; count],
        };
        for (shell, partners) in shells.iter().zip(found) {
            for (&v, partner) in shell.vertices.iter().zip(partners) {
                symmetry.partners[v as usize] = partner;
            }
        }
        symmetry
    }

    /// The partners of vertex `v` other than itself.
    pub fn partners(&self, v: usize) -> impl Iterator<Item = usize> + '_ {
        let partners = self.partners[v].iter().filter(|&&w| w != NONE);
        partners.map(|&w| w as usize).filter(move |&w| w != v)
    }
}

/// How much more of a quantity vertex `v` has than its mirror image: ln((x + e) / (x' + e)), x' the
/// partner's value, the largest over the planes; 0 where there is no plane, no partner but the vertex
/// itself, or no value. `value` gives the values, `floor` is e, in their unit: what nobody sees.
pub fn mirror_excess(
    symmetry: &Symmetry,
    value: impl Fn(usize) -> f64,
    v: usize,
    floor: f64,
) -> f64 {
    let ratio = |w: usize| (value(v) + floor) / (value(w) + floor);
    let partners = symmetry.partners(v).map(ratio);
    let largest = partners.filter(|r| *r >= 0.0).reduce(f64::max);
    largest.map_or(0.0, f64::ln)
}

/// A shell: vertices that edges join, each after the first with one before it that it is joined to.
struct Shell {
    vertices: Vec<u32>,
    /// Place in `vertices` of the vertex by which each was reached.
    reached_by: Vec<u32>,
}

/// The shells.
fn shells(context: &MeasureContext) -> Vec<Shell> {
    let mut reached = vec![false; context.topology().vertex_count()];
    let mut shells = Vec::new();
    for seed in 0..reached.len() {
        if reached[seed] || context.topology().is_unreferenced(seed) {
            continue;
        }
        reached[seed] = true;
        let mut shell = Shell {
            vertices: vec![seed as u32],
            reached_by: vec![0],
        };
        let mut next = 0;
        while let Some(&v) = shell.vertices.get(next) {
            for spoke in context.spokes.of(v as usize) {
                let reached = &mut reached[spoke.vertex as usize];
                if !*reached {
                    *reached = true;
                    shell.vertices.push(spoke.vertex);
                    shell.reached_by.push(next as u32);
                }
            }
            next += 1;
        }
        shells.push(shell);
    }
    shells
}

/// The partners of each vertex of a shell in the shell's planes.
fn partners(context: &MeasureContext, shell: &Shell) -> Vec<Partners> {
    let of_shell = shell.vertices.iter().map(|&v| v as usize);
    let points: Vec<_> = of_shell.clone().map(|v| context.positions()[v]).collect();
    let cloud = Cloud {
        tree: KdTree::new(&points),
        points,
        edge_length: of_shell.clone().map(|v| context.edge_length[v]).collect(),
        valence: of_shell
            .map(|v| context.spokes.of(v).len() as u32)
            .collect(),
    };
    let planes = cloud.planes();
    let in_plane = |plane: &Plane| partners_in(context, shell, &cloud, plane);
    let found: Vec<_> = planes.par_iter().map(in_plane).collect();
    per_index(shell.vertices.len(), |i| {
        std::array::from_fn(|k| found.get(k).map_or(NONE, |partners| partners[i]))
    })
}

/// The partner of each vertex of a shell in one plane. Where the vertex that it was reached by has a
/// partner, one of that one's neighbours mostly is it; else the nearest of all is searched for.
fn partners_in(context: &MeasureContext, shell: &Shell, cloud: &Cloud, plane: &Plane) -> Vec<u32> {
    let mut partners: Vec<u32> = Vec::with_capacity(shell.vertices.len());
    for i in 0..shell.vertices.len() {
        let image = plane.image(&cloud.points[i]);
        let edge_length = cloud.edge_length[i];
        let exact = |w: &u32| {
            let there = context.positions()[*w as usize];
            (there - image).norm() <= EXACT_TOLERANCE * edge_length
        };
        let beside = partners.get(shell.reached_by[i] as usize);
        let beside = beside.filter(|&&w| w != NONE);
        let beside = beside.map_or(&[][..], |&w| context.spokes.of(w as usize));
        let mut candidates = beside.iter().map(|spoke| spoke.vertex);
        partners.push(candidates.find(exact).unwrap_or_else(|| {
            let nearest = cloud.tree.nearest_within(&image, REACH * edge_length);
            nearest.map_or(NONE, |(j, _)| shell.vertices[j])
        }));
    }
    partners
}
