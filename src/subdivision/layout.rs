//! Where the samples of one cage face lie in its grids, and which refined vertices they are.

use std::ops::Range;

use super::lanes::padded;
use super::numbering::Numbering;
use crate::mesh::Topology;

/// Where the samples of a face lie.
///
/// A quad is one grid of `2^level + 1` samples a side; any other face has a grid of
/// `2^(level - 1) + 1` a side for each corner quad. Rows are padded to whole lanes.
#[derive(Debug, Clone, Copy)]
pub struct FaceLayout {
    /// Whether the face is a quad.
    pub is_quad: bool,
    /// Number of sides of the face.
    pub size: usize,
    /// Segments along a grid's side: `2^level` for a quad, half as many for a corner quad.
    pub side: usize,
}

/// How the grid of a corner quad, whose rows run along the edge that leaves the corner, lies in the
/// face's samples: its first sample, and the steps along a row and from row to row.
#[derive(Debug, Clone, Copy)]
pub struct QuadrantPlace {
    /// The sample at the corner.
    pub start: usize,
    /// From a sample to the next along the edge that leaves the corner.
    pub along: isize,
    /// From a sample to the next along the edge that reaches the corner.
    pub across: isize,
}

impl FaceLayout {
    /// The layout of a face of `size` sides.
    pub fn new(size: usize, numbering: &Numbering) -> Self {
        let is_quad = size == 4;
        Self {
            is_quad,
            size,
            side: numbering.side() >> usize::from(!is_quad),
        }
    }

    /// Distance between rows.
    pub fn stride(&self) -> usize {
        padded(self.side + 1)
    }

    fn grid_len(&self) -> usize {
        (self.side + 1) * self.stride()
    }

    /// Number of samples, padding included.
    pub fn sample_count(&self) -> usize {
        self.grid_len() * if self.is_quad { 1 } else { self.size }
    }

    /// Where the corner quad at corner `j` lies.
    pub fn quadrant(&self, j: usize) -> QuadrantPlace {
        let (m, stride) = (self.side, self.stride());
        let row = stride as isize;
        let (start, along, across) = match (self.is_quad, j) {
            (false, _) => (j * self.grid_len(), 1, row),
            (true, 0) => (0, 1, row),
            (true, 1) => (m, row, -1),
            (true, 2) => (m * stride + m, -1, -row),
            (true, _) => (m * stride, -row, 1),
        };
        QuadrantPlace {
            start,
            along,
            across,
        }
    }

    /// The centre of a face that is no quad: the last sample of the first corner quad.
    pub fn centre(&self) -> usize {
        self.side * self.stride() + self.side
    }

    /// The sample `step` steps along side `side` of the face from its first corner.
    pub fn on_side(&self, side: usize, step: usize) -> usize {
        let (m, stride) = (self.side, self.stride());
        if self.is_quad {
            let (i, j) = match side {
                0 => (step, 0),
                1 => (m, step),
                2 => (m - step, m),
                _ => (0, m - step),
            };
            return j * stride + i;
        }
        if step <= m {
            return side * self.grid_len() + step;
        }
        let next = (side + 1) % self.size;
        next * self.grid_len() + (2 * m - step) * stride
    }

    /// Visits the runs of samples strictly inside the face, in the order of their numbers.
    pub fn for_inner(&self, mut visit: impl FnMut(Range<usize>)) {
        let (m, stride) = (self.side, self.stride());
        if self.is_quad {
            (1..m).for_each(|j| visit(j * stride + 1..j * stride + m));
            return;
        }
        visit(self.centre()..self.centre() + 1);
        for corner in 0..self.size {
            let start = corner * self.grid_len();
            (1..m).for_each(|j| visit(start + j * stride + 1..start + j * stride + m + 1));
        }
    }

    /// The refined vertex at every sample of face `f`.
    pub fn number(
        &self,
        f: usize,
        topology: &Topology,
        numbering: &Numbering,
        numbers: &mut Vec<u32>,
    ) {
        numbers.resize(self.sample_count(), 0);
        let mut inner = numbering.face_vertices(f).start as u32;
        self.for_inner(|run| {
            for number in &mut numbers[run] {
                *number = inner;
                inner += 1;
            }
        });
        let side = numbering.side();
        for (j, c) in topology.face_corners(f).enumerate() {
            numbers[self.on_side(j, 0)] = topology.vertex(c) as u32;
            let e = topology.edge(c);
            let start = numbering.edge_vertices(e).start;
            let forward = topology.edge_vertices(e)[0] == topology.vertex(c);
            for step in 1..side {
                let along = if forward { step } else { side - step };
                numbers[self.on_side(j, step)] = (start + along - 1) as u32;
            }
        }
        if !self.is_quad {
            self.share_between_corner_quads(numbers);
        }
    }

    /// Gives samples on the lines between the corner quads of a face, which belong to two grids
    /// (the centre to all), the same number in each.
    fn share_between_corner_quads(&self, numbers: &mut [u32]) {
        let (m, stride, grid) = (self.side, self.stride(), self.grid_len());
        let centre = numbers[self.centre()];
        for corner in 0..self.size {
            let next = (corner + 1) % self.size;
            for j in 0..m {
                numbers[next * grid + m * stride + j] = numbers[corner * grid + j * stride + m];
            }
            numbers[corner * grid + m * stride + m] = centre;
        }
    }

    /// The refined faces, from the numbers of the samples; wound the other way if `flipped`.
    pub fn write_quads(&self, numbers: &[u32], flipped: bool, out: &mut [[u32; 4]]) {
        let (m, stride) = (self.side, self.stride());
        let grids = numbers.chunks_exact(self.grid_len());
        for (grid, out) in grids.zip(out.chunks_exact_mut(m * m)) {
            let rows = grid
                .chunks_exact(stride)
                .zip(grid[stride..].chunks_exact(stride));
            for (out, (near, far)) in out.chunks_exact_mut(m).zip(rows) {
                let pairs = near.windows(2).zip(far.windows(2));
                for (quad, (near, far)) in out.iter_mut().zip(pairs) {
                    let (second, last) = if flipped {
                        (far[0], near[1])
                    } else {
                        (near[1], far[0])
                    };
                    *quad = [near[0], second, far[1], last];
                }
            }
        }
    }
}
