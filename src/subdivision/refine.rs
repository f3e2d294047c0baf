//! Refining all faces at once, in parallel, straight into the arrays handed out.

use rayon::prelude::*;

use super::large_array::LargeArray;
pub use super::numbering::Numbering;
use super::patch::Samples;
pub use super::surface::Surface;
use super::task::{Filler, Scratch, tasks};
use crate::mesh::Topology;

/// The faces of a refined mesh.
#[derive(Debug, Clone, PartialEq)]
pub enum RefinedFaces {
    /// Level 0: the cage's own faces.
    Cage,
    /// Level 1 and more: quads, wound as their cage face is in the file; see [`Numbering`].
    Quads(LargeArray<[u32; 4]>),
}

/// A cage subdivided a number of times.
///
/// Arrays of this size are kept as plain triples: they are allocated untouched ([`LargeArray`]) and
/// first written by the tasks that fill them.
#[derive(Debug, Clone, PartialEq)]
pub struct RefinedMesh {
    /// Times subdivided.
    pub level: usize,
    /// Positions in file units; cage vertices first, under their own numbers.
    pub positions: LargeArray<[f64; 3]>,
    /// Unit limit normals, one per vertex, if limit points were asked for; (0, 0, 0) where the
    /// limit surface has none or several.
    pub normals: Option<LargeArray<[f64; 3]>>,
    /// The faces.
    pub faces: RefinedFaces,
}

/// Number of vertices and faces that `level` levels give, without making them. `None` beyond the
/// range of 64 bits.
pub fn refined_size(topology: &Topology, level: usize) -> Option<(u64, u64)> {
    if level == 0 {
        return Some((topology.vertex_count() as u64, topology.face_count() as u64));
    }
    let corners = topology.corner_count() as u128;
    let half = 1u128
        .checked_shl(u32::try_from(level).ok()? - 1)
        .filter(|h| *h < 1 << 40)?;
    let faces = corners * half * half;
    let vertices = topology.vertex_count() as u128
        + topology.edge_count() as u128 * (2 * half - 1)
        + topology.face_count() as u128
        + corners * (half - 1) * half;
    Some((u64::try_from(vertices).ok()?, u64::try_from(faces).ok()?))
}

/// Subdivides `level` times. `samples` says whether the vertices are to lie where the refinement
/// puts them or on the limit surface.
///
/// The result must fit 32-bit vertex numbers: ask [`refined_size`] first.
pub fn refine(surface: &Surface, level: usize, samples: Samples) -> RefinedMesh {
    if level == 0 {
        return unrefined(surface, samples);
    }
    let topology = surface.control().topology();
    let numbering = Numbering::new(topology, level);
    let count = numbering.refined_vertex_count();
    let normal_count = if samples == Samples::Limit { count } else { 0 };
    let mut positions = LargeArray::zeros(count);
    let mut normals = LargeArray::zeros(normal_count);
    let mut quads = LargeArray::zeros(numbering.refined_face_count());
    fill_cage_vertices(surface, level, samples, &mut positions, &mut normals);
    let filler = Filler::new(surface, &numbering, level, samples);
    tasks(&filler, &mut positions, &mut normals, &mut quads)
        .into_par_iter()
        .for_each_init(Scratch::default, |scratch, task| task.run(&filler, scratch));
    RefinedMesh {
        level,
        positions,
        normals: (samples == Samples::Limit).then_some(normals),
        faces: RefinedFaces::Quads(quads),
    }
}

fn unrefined(surface: &Surface, samples: Samples) -> RefinedMesh {
    let count = surface.control().topology().vertex_count();
    let mut positions = LargeArray::zeros(count);
    let mut normals = LargeArray::zeros(if samples == Samples::Limit { count } else { 0 });
    fill_cage_vertices(surface, 0, samples, &mut positions, &mut normals);
    RefinedMesh {
        level: 0,
        positions,
        normals: (samples == Samples::Limit).then_some(normals),
        faces: RefinedFaces::Cage,
    }
}

fn fill_cage_vertices(
    surface: &Surface,
    level: usize,
    samples: Samples,
    positions: &mut [[f64; 3]],
    normals: &mut [[f64; 3]],
) {
    let control = surface.control();
    let frame = control.frame();
    let count = control.topology().vertex_count();
    match samples {
        Samples::Refined => positions[..count]
            .par_iter_mut()
            .with_min_len(256)
            .enumerate()
            .for_each(|(v, out)| {
                let p = match level {
                    0 => control.positions()[v],
                    1 => surface.level_one().vertex_points[v],
                    _ => surface.vertex_ring(v).center_after(level - 1),
                };
                *out = frame.outward(p).into();
            }),
        Samples::Limit => positions[..count]
            .par_iter_mut()
            .zip(&mut normals[..count])
            .with_min_len(256)
            .enumerate()
            .for_each(|(v, (out, normal))| {
                let (p, n) = surface.vertex_limit(v);
                *out = frame.outward(p).into();
                *normal = n.unwrap_or_default().into();
            }),
    }
}
