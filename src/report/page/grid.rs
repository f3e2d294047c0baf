//! Which refined vertices the quads of a cage face have, corner by corner.

use crate::mesh::Topology;
use crate::subdivision::Numbering;

/// The quads that a cage face is split into, in the unified winding.
///
/// A quad is one grid of `2^level` segments a side, whose rows run from its first corner to its
/// second; any other face is a grid of half as many for each corner, whose rows run along the edge
/// that leaves the corner. The page numbers the same quads the same way (`js/mesh.js`).
#[derive(Debug, Clone, Copy)]
pub struct FaceGrid<'a> {
    topology: &'a Topology,
    numbering: &'a Numbering,
    face: usize,
}

/// One corner of one quad of a grid.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct GridPlace {
    /// The face's corner whose grid is meant; 0 in a quad.
    pub corner: usize,
    /// Steps along the rows.
    pub i: usize,
    /// Rows.
    pub j: usize,
}

impl<'a> FaceGrid<'a> {
    /// The grid of face `face`; `numbering` is the topology's.
    pub fn new(topology: &'a Topology, numbering: &'a Numbering, face: usize) -> Self {
        Self {
            topology,
            numbering,
            face,
        }
    }

    fn size(&self) -> usize {
        self.topology.face_size(self.face)
    }

    /// Segments along a grid's side.
    pub fn side(&self) -> usize {
        self.numbering.side() >> usize::from(self.size() != 4)
    }

    /// The corners of the quads in their order, four to a quad, counter-clockwise.
    pub fn quad_corners(&self) -> impl Iterator<Item = GridPlace> + use<> {
        let side = self.side();
        let grids = if self.size() == 4 { 1 } else { self.size() };
        (0..grids).flat_map(move |corner| {
            (0..side * side).flat_map(move |k| {
                let (i, j) = (k % side, k / side);
                [(i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1)].map(|(i, j)| GridPlace {
                    corner,
                    i,
                    j,
                })
            })
        })
    }

    /// The refined vertex at a place.
    pub fn vertex(&self, place: GridPlace) -> usize {
        let GridPlace { corner, i, j } = place;
        let m = self.side();
        let inner = self.numbering.face_vertices(self.face).start;
        if self.size() == 4 {
            return match (i, j) {
                (_, 0) => self.on_side(0, i),
                (_, j) if i == m => self.on_side(1, j),
                (_, j) if j == m => self.on_side(2, m - i),
                (0, _) => self.on_side(3, m - j),
                _ => inner + (j - 1) * (m - 1) + i - 1,
            };
        }
        let before = (corner + self.size() - 1) % self.size();
        let row = |corner: usize, i: usize, j: usize| {
            inner + 1 + corner * (m - 1) * m + (j - 1) * m + i - 1
        };
        match (i, j) {
            (_, 0) => self.on_side(corner, i),
            (0, _) => self.on_side(before, 2 * m - j),
            _ if (i, j) == (m, m) => inner,
            _ if j == m => row(before, m, i),
            _ => row(corner, i, j),
        }
    }

    /// The vertex `step` segments along side `side` of the face.
    fn on_side(&self, side: usize, step: usize) -> usize {
        let topology = self.topology;
        let c = topology.face_corners(self.face).start + side;
        let segments = self.numbering.side();
        if step == 0 {
            return topology.vertex(c);
        }
        if step == segments {
            return topology.vertex(topology.next(c));
        }
        let edge = topology.edge(c);
        let inner = self.numbering.edge_vertices(edge);
        if topology.edge_vertices(edge)[0] == topology.vertex(c) {
            inner.start + step - 1
        } else {
            inner.end - step
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;
    use crate::io::read_cage_from;
    use crate::subdivision::{
        BoundaryRule, ControlMesh, Creases, RefinedFaces, Samples, Surface, refine,
    };

    /// Corners turned so that the smallest comes first.
    fn turned(mut quad: [u32; 4]) -> [u32; 4] {
        let smallest = (0..4).min_by_key(|&k| quad[k]).unwrap_or(0);
        quad.rotate_left(smallest);
        quad
    }

    /// A quad, a triangle and a pentagon, against the faces that refinement hands out.
    #[test]
    fn the_grids_have_the_quads_of_the_refined_mesh() {
        let text = b"v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nv 2 0.5 0\nv 0 2 0\nv 1 2 0\nv 0.5 3 0\n\
            f 1 2 3 4\nf 2 5 3\nf 4 3 7 8 6\n";
        let cage = read_cage_from(text, "plate.obj".as_ref()).unwrap();
        let topology = Topology::new(&cage.mesh);
        let control = ControlMesh::new(
            &cage.mesh,
            topology.clone(),
            &Creases::default(),
            BoundaryRule::EdgeAndCorner,
        );
        let surface = Surface::new(control);
        for level in 1..4 {
            let numbering = Numbering::new(&topology, level);
            let mut found: Vec<[u32; 4]> = Vec::new();
            for face in 0..topology.face_count() {
                let grid = FaceGrid::new(&topology, &numbering, face);
                let corners: Vec<u32> = grid
                    .quad_corners()
                    .map(|place| grid.vertex(place) as u32)
                    .collect();
                found.extend(corners.as_chunks::<4>().0);
            }
            let mesh = refine(&surface, level, Samples::Refined);
            let RefinedFaces::Quads(quads) = &mesh.faces else {
                unreachable!("level 1 and more has quads")
            };
            let sorted = |quads: &[[u32; 4]]| {
                let mut all: Vec<[u32; 4]> = quads.iter().map(|&q| turned(q)).collect();
                all.sort_unstable();
                all
            };
            assert_eq!(sorted(&found), sorted(quads));
        }
    }
}
