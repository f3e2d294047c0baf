//! Refining all faces at once, in parallel, straight into the arrays handed out.

use rayon::prelude::*;

pub use super::numbering::Numbering;
use super::patch::{self, Grid, LevelWeights, Samples};
pub use super::surface::Surface;
use crate::mesh::{Topology, Vec3};

/// Refined vertices that one parallel task makes, about: few enough to share out evenly, many
/// enough that handing out a task costs nothing beside it.
const TASK_VERTICES: usize = 8192;

/// The faces of a refined mesh.
#[derive(Debug, Clone, PartialEq)]
pub enum RefinedFaces {
    /// Level 0: the cage's own faces.
    Cage,
    /// Level 1 and more: quads, wound as their cage face is in the file; see [`Numbering`].
    Quads(Vec<[u32; 4]>),
}

/// A cage subdivided a number of times.
///
/// Arrays of this size are kept as plain triples: they are allocated untouched and first written
/// by the tasks that fill them.
#[derive(Debug, Clone, PartialEq)]
pub struct RefinedMesh {
    /// Times subdivided.
    pub level: usize,
    /// Positions in file units; cage vertices first, under their own numbers.
    pub positions: Vec<[f64; 3]>,
    /// Unit limit normals, one per vertex, if limit points were asked for; (0, 0, 0) where the
    /// limit surface has none or several.
    pub normals: Option<Vec<[f64; 3]>>,
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
    let mut positions = vec![[0.0; 3]; count];
    let mut normals = vec![[0.0; 3]; normal_count];
    let mut quads = vec![[0u32; 4]; numbering.refined_face_count()];
    fill_cage_vertices(surface, level, samples, &mut positions, &mut normals);
    let weights = LevelWeights::new(level);
    let tasks = tasks(
        topology,
        &numbering,
        &mut positions,
        &mut normals,
        &mut quads,
    );
    tasks.into_par_iter().for_each(|task| {
        task.run(&Filler {
            surface,
            level,
            samples,
            weights: &weights,
            numbering: &numbering,
        });
    });
    RefinedMesh {
        level,
        positions,
        normals: (samples == Samples::Limit).then_some(normals),
        faces: RefinedFaces::Quads(quads),
    }
}

fn unrefined(surface: &Surface, samples: Samples) -> RefinedMesh {
    let count = surface.control().topology().vertex_count();
    let mut positions = vec![[0.0; 3]; count];
    let mut normals = vec![[0.0; 3]; if samples == Samples::Limit { count } else { 0 }];
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

/// A run of cage faces, and the slices of the output that are theirs alone: the inner vertices of
/// the edges that they use first, their own inner vertices, their children.
struct Task<'a> {
    faces: std::ops::Range<usize>,
    first_edge_vertex: usize,
    edge_positions: &'a mut [[f64; 3]],
    edge_normals: &'a mut [[f64; 3]],
    face_positions: &'a mut [[f64; 3]],
    face_normals: &'a mut [[f64; 3]],
    quads: &'a mut [[u32; 4]],
}

fn tasks<'a>(
    topology: &Topology,
    numbering: &Numbering,
    positions: &'a mut [[f64; 3]],
    normals: &'a mut [[f64; 3]],
    mut quads: &'a mut [[u32; 4]],
) -> Vec<Task<'a>> {
    let vertices = topology.vertex_count();
    let edge_end = numbering.edge_vertices(topology.edge_count()).start;
    let (edges, mut inner) = positions.split_at_mut(edge_end);
    let mut edges = &mut edges[vertices..];
    let wants_normals = !normals.is_empty();
    let (edge_normals, mut inner_normals) =
        normals.split_at_mut(if wants_normals { edge_end } else { 0 });
    let mut edge_normals = edge_normals.get_mut(vertices..).unwrap_or_default();
    let scaled = |count: usize| if wants_normals { count } else { 0 };
    let mut tasks = Vec::new();
    let (mut face, mut edge) = (0, 0);
    while face < topology.face_count() {
        let first = face;
        let first_edge = edge;
        while face < topology.face_count()
            && (face == first
                || numbering.face_vertices(face).end - numbering.face_vertices(first).start
                    <= TASK_VERTICES)
        {
            face += 1;
        }
        let corner_end = topology.face_corners(face - 1).end;
        while edge < topology.edge_count() && topology.edge_corner(edge) < corner_end {
            edge += 1;
        }
        let edge_count = (edge - first_edge) * (numbering.side() - 1);
        let inner_count =
            numbering.face_vertices(face - 1).end - numbering.face_vertices(first).start;
        let child_count = numbering.children(face - 1).end - numbering.children(first).start;
        tasks.push(Task {
            faces: first..face,
            first_edge_vertex: numbering.edge_vertices(first_edge).start,
            edge_positions: take_front(&mut edges, edge_count),
            edge_normals: take_front(&mut edge_normals, scaled(edge_count)),
            face_positions: take_front(&mut inner, inner_count),
            face_normals: take_front(&mut inner_normals, scaled(inner_count)),
            quads: take_front(&mut quads, child_count),
        });
    }
    tasks
}

/// Splits the first `count` entries off a slice.
fn take_front<'a, T>(slice: &mut &'a mut [T], count: usize) -> &'a mut [T] {
    let (front, rest) = std::mem::take(slice).split_at_mut(count);
    *slice = rest;
    front
}

/// What all tasks share.
struct Filler<'a> {
    surface: &'a Surface,
    level: usize,
    samples: Samples,
    weights: &'a LevelWeights,
    numbering: &'a Numbering,
}

/// Scratch of one task: the samples of one face. A quad is one grid of `2^level + 1` samples a
/// side; any other face has a grid of `2^(level - 1) + 1` a side for each corner quad.
#[derive(Default)]
struct FaceSamples {
    positions: Vec<Vec3>,
    normals: Vec<Vec3>,
    numbers: Vec<u32>,
}

impl Task<'_> {
    fn run(mut self, filler: &Filler) {
        let mut samples = FaceSamples::default();
        let (mut inner_done, mut children_done) = (0, 0);
        for f in self.faces.clone() {
            filler.sample(f, &mut samples);
            self.copy_edges(f, filler, &samples);
            inner_done += self.copy_inner(f, inner_done, filler, &samples);
            let layout = FaceLayout::new(f, filler);
            layout.number(f, filler, &mut samples.numbers);
            let children = filler.numbering.children(f).len();
            let out = &mut self.quads[children_done..children_done + children];
            let flipped = filler.surface.control().topology().is_flipped(f);
            layout.write_quads(&samples.numbers, flipped, out);
            children_done += children;
        }
    }

    /// Copies the samples along the edges that face `f` is the first to use.
    fn copy_edges(&mut self, f: usize, filler: &Filler, samples: &FaceSamples) {
        let topology = filler.surface.control().topology();
        let layout = FaceLayout::new(f, filler);
        let frame = filler.surface.control().frame();
        for (side, c) in topology.face_corners(f).enumerate() {
            let e = topology.edge(c);
            if topology.edge_corner(e) != c {
                continue;
            }
            let start = filler.numbering.edge_vertices(e).start - self.first_edge_vertex;
            for step in 1..filler.numbering.side() {
                let at = layout.on_side(side, step);
                let out = start + step - 1;
                self.edge_positions[out] = frame.outward(samples.positions[at]).into();
                if let Some(normal) = self.edge_normals.get_mut(out) {
                    *normal = samples.normals[at].into();
                }
            }
        }
    }

    /// Copies the samples inside face `f`; returns how many there are.
    fn copy_inner(
        &mut self,
        f: usize,
        start: usize,
        filler: &Filler,
        samples: &FaceSamples,
    ) -> usize {
        let frame = filler.surface.control().frame();
        let mut out = start;
        FaceLayout::new(f, filler).for_inner(|at| {
            self.face_positions[out] = frame.outward(samples.positions[at]).into();
            if let Some(normal) = self.face_normals.get_mut(out) {
                *normal = samples.normals[at].into();
            }
            out += 1;
        });
        out - start
    }
}

impl Filler<'_> {
    /// Samples face `f`.
    fn sample(&self, f: usize, out: &mut FaceSamples) {
        let layout = FaceLayout::new(f, self);
        let count = layout.sample_count();
        out.positions.resize(count, Vec3::zeros());
        out.normals.resize(count, Vec3::zeros());
        let mut grid = Grid {
            positions: &mut out.positions,
            normals: &mut out.normals,
            stride: layout.stride(),
        };
        if let Some(points) = self.surface.regular_patch(f) {
            let weights = self.weights.at(self.level);
            patch::fill_regular(&points, weights, self.samples, &mut grid, 0);
            return;
        }
        let topology = self.surface.control().topology();
        for (j, c) in topology.face_corners(f).enumerate() {
            let turn = if layout.is_quad { j } else { 0 };
            let quad = self.surface.corner_quad(c, self.level - 1, turn);
            let start = layout.quadrant_start(j);
            quad.fill(self.level - 1, self.weights, self.samples, &mut grid, start);
        }
        if !layout.is_quad {
            self.sample_centre(f, &layout, out);
        }
    }

    /// The centre of a face that is no quad is its own pole: it is taken from its whole ring.
    fn sample_centre(&self, f: usize, layout: &FaceLayout, out: &mut FaceSamples) {
        let ring = self.surface.face_ring(f);
        let at = layout.centre();
        match self.samples {
            Samples::Refined => out.positions[at] = ring.center_after(self.level - 1),
            Samples::Limit => {
                let limit = ring.limit(0);
                out.positions[at] = limit.position;
                out.normals[at] = limit.normal().unwrap_or_default();
            }
        }
    }
}

/// Where the samples of a face lie in [`FaceSamples`].
struct FaceLayout {
    is_quad: bool,
    size: usize,
    /// Segments along a grid's side: `2^level` for a quad, half as many for a corner quad.
    side: usize,
}

impl FaceLayout {
    fn new(f: usize, filler: &Filler) -> Self {
        let size = filler.surface.control().topology().face_size(f);
        let is_quad = size == 4;
        Self {
            is_quad,
            size,
            side: filler.numbering.side() >> usize::from(!is_quad),
        }
    }

    fn stride(&self) -> usize {
        self.side + 1
    }

    fn grid_len(&self) -> usize {
        self.stride() * self.stride()
    }

    fn sample_count(&self) -> usize {
        self.grid_len() * if self.is_quad { 1 } else { self.size }
    }

    /// First sample of the corner quad at corner `j`.
    fn quadrant_start(&self, j: usize) -> usize {
        let half = self.side / 2;
        if self.is_quad {
            [0, half, half * (self.stride() + 1), half * self.stride()][j]
        } else {
            j * self.grid_len()
        }
    }

    /// The centre of a face that is no quad: the last sample of the first corner quad.
    fn centre(&self) -> usize {
        self.grid_len() - 1
    }

    /// The sample `step` steps along side `side` of the face from its first corner.
    fn on_side(&self, side: usize, step: usize) -> usize {
        let (m, stride) = (self.side, self.stride());
        if self.is_quad {
            let (i, j) = [
                (step, 0),
                (m, step),
                (m - step.min(m), m),
                (0, m - step.min(m)),
            ][side];
            return j * stride + i;
        }
        if step <= m {
            return side * self.grid_len() + step;
        }
        let next = (side + 1) % self.size;
        next * self.grid_len() + (2 * m - step) * stride
    }

    /// Visits the samples strictly inside the face, in the order of their numbers.
    fn for_inner(&self, mut visit: impl FnMut(usize)) {
        let (m, stride) = (self.side, self.stride());
        if self.is_quad {
            for j in 1..m {
                for i in 1..m {
                    visit(j * stride + i);
                }
            }
            return;
        }
        visit(self.centre());
        for corner in 0..self.size {
            for j in 1..m {
                for i in 1..=m {
                    visit(corner * self.grid_len() + j * stride + i);
                }
            }
        }
    }

    /// The refined vertex at every sample of face `f`.
    fn number(&self, f: usize, filler: &Filler, numbers: &mut Vec<u32>) {
        numbers.clear();
        numbers.resize(self.sample_count(), 0);
        let topology = filler.surface.control().topology();
        let mut inner = filler.numbering.face_vertices(f).start as u32;
        self.for_inner(|at| {
            numbers[at] = inner;
            inner += 1;
        });
        let side = filler.numbering.side();
        for (j, c) in topology.face_corners(f).enumerate() {
            numbers[self.on_side(j, 0)] = topology.vertex(c) as u32;
            let e = topology.edge(c);
            let start = filler.numbering.edge_vertices(e).start;
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

    fn write_quads(&self, numbers: &[u32], flipped: bool, out: &mut [[u32; 4]]) {
        let (m, stride) = (self.side, self.stride());
        let grids = numbers.chunks_exact(self.grid_len());
        for (grid, out) in grids.zip(out.chunks_exact_mut(m * m)) {
            for (j, row) in out.chunks_exact_mut(m).enumerate() {
                for (i, quad) in row.iter_mut().enumerate() {
                    let at = j * stride + i;
                    *quad = [
                        grid[at],
                        grid[at + 1],
                        grid[at + stride + 1],
                        grid[at + stride],
                    ];
                    if flipped {
                        quad.swap(1, 3);
                    }
                }
            }
        }
    }
}
