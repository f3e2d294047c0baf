//! A shell's own symmetry: which vertex is the mirror image of which.

use nalgebra::Matrix3;
use rayon::prelude::*;

use super::groundwork::per_index;
use super::mirror_planes::{Cloud, PLANES_MAX};
use super::partners::{Partner, Shell, partners_under};
use super::reflections::{Reflection, reflections};
use super::rings::{MEMBERS_MAX, Rings};
use crate::measure::MeasureContext;
use crate::mesh::{NONE, Vec3};

/// The partners under each reflection; [`NONE`] where there is none.
type Partners = [u32; PLANES_MAX];

/// Under which reflections a vertex meets its partner: 1 in the byte of each.
type Met = u32;
const _: () = assert!(PLANES_MAX <= size_of::<Met>() && MEMBERS_MAX <= u8::MAX as usize);

/// Each vertex's partners under its shell's reflections: three at most, under each of which over half
/// of the shell's vertices meet a partner within 0.05 of their edge length (this program's).
#[derive(Debug, Clone)]
pub struct Symmetry {
    /// The vertex that each reflection makes of another one: see [`partners_under`].
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
        let place = places(&shells, context.topology().vertex_count());
        let found: Vec<_> = shells
            .par_iter()
            .map(|shell| partners(context, shell, &place))
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

    /// The reflections of the shell of vertex `v` that hold about it, each with the vertex's partner under it,
    /// which may be itself.
    pub fn images(&self, v: usize) -> impl Iterator<Item = (&Reflection, usize)> + '_ {
        let of_shell = self.reflections.get(self.shell[v] as usize);
        let of_shell = of_shell.into_iter().flatten().zip(self.partners[v]);
        let met = of_shell.filter(|(_, w)| *w != NONE);
        met.map(|(reflection, w)| (reflection, w as usize))
    }
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

/// The place of each vertex in its shell; [`NONE`] of unreferenced ones.
fn places(shells: &[Shell], count: usize) -> Vec<u32> {
    let mut place = vec![NONE; count];
    for shell in shells {
        for (i, &v) in shell.vertices.iter().enumerate() {
            place[v as usize] = i as u32;
        }
    }
    place
}

/// The reflections of a shell, and of each of its vertices the partners under them and which of these it
/// meets.
fn partners(
    context: &MeasureContext,
    shell: &Shell,
    place: &[u32],
) -> (Vec<Reflection>, Vec<(Partners, Met)>) {
    let of_shell = shell.vertices.iter().map(|&v| v as usize);
    let points = of_shell.clone().map(|v| context.positions()[v]).collect();
    let lengths = of_shell.map(|v| context.edge_length[v]).collect();
    let cloud = Cloud::new(points, lengths, valences(context, shell));
    let reflections = reflections(&cloud, |map| mapped(context, shell, map));
    let under = |reflection: &Reflection| partners_under(context, shell, place, &cloud, reflection);
    let found: Vec<Vec<Partner>> = reflections.par_iter().map(under).collect();
    let partners = per_index(shell.vertices.len(), |i| {
        let mut partners = [NONE; PLANES_MAX];
        let mut met = 0;
        for (k, found) in found.iter().enumerate() {
            partners[k] = found[i].vertex;
            met |= Met::from(found[i].is_met) << (8 * k);
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
