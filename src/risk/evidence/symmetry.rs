//! What a shell's own symmetry says: of two places that mirror each other, the one at fault is the
//! one that looks worse.

use rayon::prelude::*;

use super::groundwork::{Groundwork, columns as collected, per_index, per_vertex};
use super::kd_tree::KdTree;
use super::mirror_planes::{Cloud, PLANES_MAX, Plane};
use super::{Column, Quantity};
use crate::measure::MeasureContext;
use crate::mesh::NONE;
use crate::risk::Cause;

/// Part of the edge length within which a partner is looked for: a vertex pushed farther than this
/// from its place has none.
const REACH: f64 = 0.5;

/// Part of the edge length within which a neighbour of a neighbour's partner is the partner, without
/// looking for a nearer one: copies are placed to five or six digits.
const EXACT_TOLERANCE: f64 = 1e-3;

/// A partner, and the distance between it and the mirror image over the mean edge length.
type Partner = (u32, f32);

/// The partners in each plane.
type Partners = [Option<Partner>; PLANES_MAX];

static PLANES: Quantity = Quantity {
    name: "mirror_planes",
    formula: "planes of symmetry of the vertex's shell, at most 3: planes in which over half of the vertices meet a partner within 0.05 of their edge length (this program's)",
    speaks_for: Cause::Bump,
    rising: false,
};

static OFF: Quantity = Quantity {
    name: "mirror_off",
    formula: "distance from the vertex's mirror image to its partner, the nearest vertex, over the mean edge length, the smallest over the shell's planes; 0.5 without a partner within that; half the distance where it is its own partner in all planes; 0 without planes (this program's)",
    speaks_for: Cause::Bump,
    rising: false,
};

/// The planes of symmetry of all shells, and each vertex's partners in them.
#[derive(Debug, Clone)]
pub struct Symmetry {
    /// Planes of each vertex's shell.
    planes: Vec<u8>,
    /// The partner in each plane and the distance between it and the mirror image, over the mean edge
    /// length.
    partners: Vec<Partners>,
}

impl Symmetry {
    /// Finds the planes, in O(n log n) over the vertices.
    pub fn new(context: &MeasureContext) -> Self {
        let (shells, places) = shells(context);
        let found: Vec<_> = shells
            .par_iter()
            .map(|shell| partners(context, shell, &places))
            .collect();
        let count = context.topology().vertex_count();
        let mut symmetry = Self {
            planes: vec![0; count],
            partners: vec![[None; PLANES_MAX]; count],
        };
        for (shell, (planes, partners)) in shells.iter().zip(found) {
            for (&v, partner) in shell.vertices.iter().zip(partners) {
                symmetry.planes[v as usize] = planes as u8;
                symmetry.partners[v as usize] = partner;
            }
        }
        symmetry
    }

    /// The partners of vertex `v` other than itself.
    pub fn partners(&self, v: usize) -> impl Iterator<Item = usize> + '_ {
        let partners = self.partners[v].iter().flatten();
        partners.map(|p| p.0 as usize).filter(move |&w| w != v)
    }

    /// How far vertex `v` is from being its partner's mirror image: see [`OFF`].
    fn off(&self, v: usize) -> f64 {
        if self.planes[v] == 0 {
            return 0.0;
        }
        let partners = self.partners[v].iter().flatten();
        let (mut other, mut own) = (f64::NAN, f64::NAN);
        for &(w, distance) in partners {
            if w as usize == v {
                own = own.min(f64::from(distance) / 2.0);
            } else {
                other = other.min(f64::from(distance));
            }
        }
        let off = if other.is_nan() { own } else { other };
        if off.is_nan() { REACH } else { off }
    }
}

/// How much more of a quantity a vertex has than its mirror image: ln((x + e) / (x' + e)), x' the
/// partner's value, the largest over the planes; 0 where there is no plane, no partner but the vertex
/// itself, or no value. `floor` is e, in the values' unit: what nobody sees.
pub fn mirror_excess(symmetry: &Symmetry, values: &[f64], floor: f64) -> Vec<f64> {
    per_index(values.len(), |v| {
        let ratio = |w: usize| (values[v] + floor) / (values[w] + floor);
        let partners = symmetry.partners(v).map(ratio);
        let largest = partners.filter(|r| *r >= 0.0).reduce(f64::max);
        largest.map_or(0.0, f64::ln)
    })
}

/// The columns.
pub fn columns(ground: &Groundwork, symmetry: &Symmetry) -> Vec<Column> {
    let values = per_vertex(ground.context, |v| {
        [f64::from(symmetry.planes[v]), symmetry.off(v)]
    });
    collected([&PLANES, &OFF], values)
}

/// A shell: vertices that edges join, each after the first with one before it that it is joined to.
struct Shell {
    vertices: Vec<u32>,
    /// Place in `vertices` of the vertex by which each was reached.
    reached_by: Vec<u32>,
}

/// The shells, and the place of each vertex in its shell.
fn shells(context: &MeasureContext) -> (Vec<Shell>, Vec<u32>) {
    let mut places = vec![NONE; context.topology().vertex_count()];
    let mut shells = Vec::new();
    for seed in 0..places.len() {
        if places[seed] != NONE || context.topology().is_unreferenced(seed) {
            continue;
        }
        places[seed] = 0;
        let mut shell = Shell {
            vertices: vec![seed as u32],
            reached_by: vec![0],
        };
        let mut next = 0;
        while let Some(&v) = shell.vertices.get(next) {
            for spoke in context.spokes.of(v as usize) {
                let place = &mut places[spoke.vertex as usize];
                if *place == NONE {
                    *place = shell.vertices.len() as u32;
                    shell.vertices.push(spoke.vertex);
                    shell.reached_by.push(next as u32);
                }
            }
            next += 1;
        }
        shells.push(shell);
    }
    (shells, places)
}

/// The number of planes of a shell, and of each of its vertices the partners in them.
fn partners(context: &MeasureContext, shell: &Shell, places: &[u32]) -> (usize, Vec<Partners>) {
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
    let in_plane = |plane: &Plane| partners_in(context, shell, places, &cloud, plane);
    let found: Vec<_> = planes.par_iter().map(in_plane).collect();
    let partners = per_index(shell.vertices.len(), |i| {
        std::array::from_fn(|k| found.get(k).and_then(|partners| partners[i]))
    });
    (planes.len(), partners)
}

/// The partner of each vertex of a shell in one plane. Where the vertex that it was reached by has a
/// partner, one of that one's neighbours mostly is it; else the nearest of all is searched for.
fn partners_in(
    context: &MeasureContext,
    shell: &Shell,
    places: &[u32],
    cloud: &Cloud,
    plane: &Plane,
) -> Vec<Option<Partner>> {
    let mut partners: Vec<Option<Partner>> = Vec::with_capacity(shell.vertices.len());
    for i in 0..shell.vertices.len() {
        let image = plane.image(&cloud.points[i]);
        let edge_length = cloud.edge_length[i];
        let exact = |w: &u32| {
            let j = places[*w as usize] as usize;
            (cloud.points[j] - image).norm() <= EXACT_TOLERANCE * edge_length
        };
        let beside = partners
            .get(shell.reached_by[i] as usize)
            .copied()
            .flatten();
        let beside = beside.map_or(&[][..], |(w, _)| context.spokes.of(w as usize));
        let mut candidates = beside.iter().map(|spoke| spoke.vertex);
        let partner = if let Some(w) = candidates.find(exact) {
            let j = places[w as usize] as usize;
            Some((w, ((cloud.points[j] - image).norm() / edge_length) as f32))
        } else {
            let nearest = cloud.tree.nearest_within(&image, REACH * edge_length);
            nearest.map(|(j, d)| (shell.vertices[j], (d / edge_length) as f32))
        };
        partners.push(partner);
    }
    partners
}
