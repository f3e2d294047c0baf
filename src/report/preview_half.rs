//! The half of a refined whole.

use crate::mesh::{Mirrored, NONE};
use crate::subdivision::numbering::child_count;
use crate::subdivision::{LargeArray, RefinedFaces, RefinedMesh, RefinedUvs};

/// What of the refined whole of a mirrored half belongs to the half. Vertices, edges and faces of the
/// half are the first of the whole, so that each block of the refined numbering starts with the
/// half's.
pub(super) struct HalfPreview {
    /// The vertices kept, rising.
    kept: Vec<u32>,
    /// The new number of each vertex of the whole, or [`NONE`].
    numbers: Vec<u32>,
    /// Number of faces kept, 0 at level 0.
    quads: usize,
}

impl HalfPreview {
    pub fn new(mirrored: &Mirrored, mesh: &RefinedMesh) -> Self {
        let corners = mirrored.half_topology.corner_count();
        let half_vertices = mirrored.map.half_vertices;
        let (quads, own): (usize, &[[u32; 4]]) = match &mesh.faces {
            RefinedFaces::Cage => (0, &[]),
            RefinedFaces::Quads(quads) => {
                let count = child_count(corners, mesh.level);
                (count, &quads[..count])
            }
        };
        let mut used = vec![false; mesh.positions.len()];
        // Vertices that no face uses are kept as well.
        used[..half_vertices].fill(true);
        own.iter().flatten().for_each(|&v| used[v as usize] = true);
        let (kept, numbers) = renumbered(&used);
        Self {
            kept,
            numbers,
            quads,
        }
    }

    /// Values of the vertices kept.
    pub fn of_vertices<T: Copy>(&self, of_whole: &[T]) -> Vec<T> {
        self.kept.iter().map(|&v| of_whole[v as usize]).collect()
    }

    pub fn mesh(&self, whole: &RefinedMesh) -> RefinedMesh {
        let faces = match &whole.faces {
            RefinedFaces::Cage => RefinedFaces::Cage,
            RefinedFaces::Quads(quads) => {
                RefinedFaces::Quads(with_numbers(&quads[..self.quads], &self.numbers))
            }
        };
        RefinedMesh {
            level: whole.level,
            positions: self.of_vertices(&whole.positions).into(),
            normals: whole.normals.as_ref().map(|n| self.of_vertices(n).into()),
            faces,
        }
    }

    pub fn uvs(&self, whole: &RefinedUvs) -> RefinedUvs {
        let quads = &whole.quads[..self.quads];
        let mut used = vec![false; whole.coordinates.len()];
        let named = quads.iter().flatten().filter(|&&uv| uv != NONE);
        named.for_each(|&uv| used[uv as usize] = true);
        let (kept, numbers) = renumbered(&used);
        let coordinates = kept.iter().map(|&uv| whole.coordinates[uv as usize]);
        RefinedUvs {
            coordinates: coordinates.collect(),
            quads: with_numbers(quads, &numbers),
        }
    }
}

/// Those used, and the new number of each, or [`NONE`].
fn renumbered(used: &[bool]) -> (Vec<u32>, Vec<u32>) {
    let kept: Vec<u32> = (0..used.len() as u32)
        .filter(|&i| used[i as usize])
        .collect();
    let mut numbers = vec![NONE; used.len()];
    for (new, &old) in kept.iter().enumerate() {
        numbers[old as usize] = new as u32;
    }
    (kept, numbers)
}

fn with_numbers(quads: &[[u32; 4]], numbers: &[u32]) -> LargeArray<[u32; 4]> {
    let number = |old: u32| numbers.get(old as usize).copied().unwrap_or(NONE);
    quads.iter().map(|quad| quad.map(number)).collect()
}
