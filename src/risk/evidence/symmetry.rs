//! What a shell's own symmetry says: of two places that mirror each other, the one at fault is the
//! one that looks worse.

use nalgebra::Matrix3;
use rayon::prelude::*;

use super::groundwork::per_index;
use super::mirror_planes::{Cloud, MET_TOLERANCE, PLANES_MAX};
use super::reflections::{Reflection, reflections};
use super::rings::{MEMBERS_MAX, Rings};
use crate::measure::MeasureContext;
use crate::mesh::{NONE, Vec3};

/// Part of the edge length within which a partner is looked for: a vertex pushed farther than this
/// from its place has none.
const REACH: f64 = 0.5;

/// Part of the edge length within which a neighbour of a neighbour's partner is the partner, without
/// looking for a nearer one: copies are placed to five or six digits.
const EXACT_TOLERANCE: f64 = 1e-3;

/// Neighbours of a partner that are looked through at most: about a pole of very high valence each of
/// its neighbours would look through all the others.
const BESIDE_MAX: usize = 32;

/// The partners under each reflection; [`NONE`] where there is none.
type Partners = [u32; PLANES_MAX];

/// Under which reflections a vertex meets its partner: 1 in the byte of each.
type Met = u32;
const _: () = assert!(PLANES_MAX <= size_of::<Met>() && MEMBERS_MAX <= u8::MAX as usize);

/// Each vertex's partners under its shell's reflections: three at most, under each of which over half
/// of the shell's vertices meet a partner within 0.05 of their edge length (this program's).
#[derive(Debug, Clone)]
pub struct Symmetry {
    /// The vertex nearest to the image under each reflection, within half the mean edge length.
    partners: Vec<Partners>,
    /// Number of each vertex's shell.
    shell: Vec<u32>,
    /// The reflections of each shell.
    reflections: Vec<Vec<Reflection>>,
}

impl Symmetry {
    /// Finds the reflections, in O(n log n) over the vertices unless many of them coincide. A vertex has
    /// no partner under one that does not hold about it: of what is not repeated at all, nothing
    /// breaks the repetition.
    pub fn new(context: &MeasureContext, rings: &Rings) -> Self {
        let shells = shells(context);
        let found: Vec<_> = shells
            .par_iter()
            .map(|shell| partners(context, shell))
            .collect();
        let count = context.topology().vertex_count();
        let mut symmetry = Self {
            partners: vec![[NONE; PLANES_MAX]; count],
            shell: vec![NONE; count],
            reflections: Vec::with_capacity(shells.len()),
        };
        let mut met: Vec<Met> = vec![0; count];
        for (i, (shell, (reflections, partners))) in shells.iter().zip(found).enumerate() {
            for (&v, (partner, met_there)) in shell.vertices.iter().zip(partners) {
                symmetry.partners[v as usize] = partner;
                symmetry.shell[v as usize] = i as u32;
                met[v as usize] = met_there;
            }
            symmetry.reflections.push(reflections);
        }
        symmetry.partners = per_index(count, |v| symmetry.holding(rings, &met, v));
        symmetry
    }

    /// The partners of vertex `v` under the reflections that hold about it.
    fn holding(&self, rings: &Rings, met: &[Met], v: usize) -> Partners {
        let about = rings.between(v, 2, 3);
        // A byte of the sum counts for each reflection. Where there is nothing farther about, a
        // reflection of the shell holds.
        let counts: u32 = about.iter().map(|&w| met[w as usize]).sum();
        let counts = counts.to_le_bytes().map(usize::from);
        std::array::from_fn(|k| match 2 * counts[k] >= about.len() {
            true => self.partners[v][k],
            false => NONE,
        })
    }

    /// The partners of vertex `v` other than itself.
    pub fn partners(&self, v: usize) -> impl Iterator<Item = usize> + '_ {
        let partners = self.partners[v].iter().filter(|&&w| w != NONE);
        partners.map(|&w| w as usize).filter(move |&w| w != v)
    }

    /// The reflections of the shell of vertex `v`, each with the vertex's partner under it, which may be
    /// itself.
    pub fn images(&self, v: usize) -> impl Iterator<Item = (&Reflection, usize)> + '_ {
        let of_shell = self.reflections.get(self.shell[v] as usize);
        let of_shell = of_shell.into_iter().flatten().zip(self.partners[v]);
        let met = of_shell.filter(|(_, w)| *w != NONE);
        met.map(|(reflection, w)| (reflection, w as usize))
    }
}

/// How much more of a quantity vertex `v` has than its mirror image: ln((x + e) / (x' + e)), x' the
/// partner's value, the largest over the reflections; 0 where none holds, no partner but the vertex
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

/// The reflections of a shell, and of each of its vertices the partners under them and which of these it
/// meets.
fn partners(context: &MeasureContext, shell: &Shell) -> (Vec<Reflection>, Vec<(Partners, Met)>) {
    let of_shell = shell.vertices.iter().map(|&v| v as usize);
    let points = of_shell.clone().map(|v| context.positions()[v]).collect();
    let lengths = of_shell.map(|v| context.edge_length[v]).collect();
    let cloud = Cloud::new(points, lengths, valences(context, shell));
    let reflections = reflections(&cloud, |map| mapped(context, shell, map));
    let under = |reflection: &Reflection| partners_under(context, shell, &cloud, reflection);
    let found: Vec<Vec<(u32, bool)>> = reflections.par_iter().map(under).collect();
    let partners = per_index(shell.vertices.len(), |i| {
        let mut partners = [NONE; PLANES_MAX];
        let mut met = 0;
        for (k, found) in found.iter().enumerate() {
            partners[k] = found[i].0;
            met |= Met::from(found[i].1) << (8 * k);
        }
        (partners, met)
    });
    (reflections, partners)
}

fn valences(context: &MeasureContext, shell: &Shell) -> Vec<u32> {
    let count = |&v: &u32| context.spokes.of(v as usize).len() as u32;
    shell.vertices.iter().map(count).collect()
}

/// The cloud of a shell's vertices under a linear map.
fn mapped(context: &MeasureContext, shell: &Shell, map: &Matrix3<f64>) -> Cloud {
    let at = |v: u32| context.positions()[v as usize];
    let points: Vec<Vec3> = shell.vertices.iter().map(|&v| map * at(v)).collect();
    let lengths = per_index(points.len(), |i| {
        let v = shell.vertices[i];
        let spokes = context.spokes.of(v as usize);
        let lengths = spokes.iter().map(|s| (map * (at(s.vertex) - at(v))).norm());
        lengths.sum::<f64>() / spokes.len() as f64
    });
    Cloud::new(points, lengths, valences(context, shell))
}

/// The partner of each vertex of a shell under one reflection, and whether the vertex meets it. Where
/// the vertex that it was reached by has a partner, one of that one's neighbours mostly is it; else the
/// nearest of all is searched for.
fn partners_under(
    context: &MeasureContext,
    shell: &Shell,
    cloud: &Cloud,
    reflection: &Reflection,
) -> Vec<(u32, bool)> {
    let mut partners: Vec<(u32, bool)> = Vec::with_capacity(shell.vertices.len());
    for (i, &v) in shell.vertices.iter().enumerate() {
        let image = reflection.image(&cloud.points[i]);
        let reach = EXACT_TOLERANCE * cloud.edge_length[i];
        let exact = |w: &u32| {
            let there = context.positions()[*w as usize];
            (there - image).norm_squared() <= reach * reach
        };
        let beside = partners.get(shell.reached_by[i] as usize);
        let beside = beside.filter(|(w, _)| *w != NONE);
        let beside = beside.map(|&(w, _)| context.spokes.of(w as usize));
        let beside = beside.filter(|spokes| spokes.len() <= BESIDE_MAX);
        let beside = beside.into_iter().flatten().map(|spoke| spoke.vertex);
        let found = most_alike(context, reflection, v, beside.filter(exact));
        partners.push(match found {
            Some(w) => (w, true),
            None => nearest(context, shell, cloud, reflection, i),
        });
    }
    partners
}

/// The vertex of a shell nearest to where a reflection has the one at place `i`, and whether that is met.
fn nearest(
    context: &MeasureContext,
    shell: &Shell,
    cloud: &Cloud,
    reflection: &Reflection,
    i: usize,
) -> (u32, bool) {
    let image = reflection.image(&cloud.points[i]);
    let edge_length = cloud.edge_length[i];
    let Some((j, distance)) = cloud.tree.nearest_within(&image, REACH * edge_length) else {
        return (NONE, false);
    };
    let there = cloud.tree.at(&cloud.points[j]).into_iter();
    let there = there.map(|j| shell.vertices[j]);
    let partner = most_alike(context, reflection, shell.vertices[i], there);
    (
        partner.unwrap_or(NONE),
        distance <= MET_TOLERANCE * edge_length,
    )
}

/// Of candidates at one place the one whose neighbours' mean is nearest to where the reflection has that
/// of vertex `v`: along an open seam vertices lie on each other, and only one belongs to each side.
fn most_alike(
    context: &MeasureContext,
    reflection: &Reflection,
    v: u32,
    mut candidates: impl Iterator<Item = u32>,
) -> Option<u32> {
    let first = candidates.next()?;
    let Some(second) = candidates.next() else {
        return Some(first);
    };
    let mean = |v: u32| {
        let about = context.spokes.of(v as usize);
        let sum: Vec3 = about
            .iter()
            .map(|s| context.positions()[s.vertex as usize])
            .sum();
        sum / about.len() as f64
    };
    let image = reflection.image(&mean(v));
    let off = |w: &u32| (mean(*w) - image).norm_squared();
    let all = [first, second].into_iter().chain(candidates);
    all.min_by(|a, b| off(a).total_cmp(&off(b)))
}
