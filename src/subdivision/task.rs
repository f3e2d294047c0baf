//! Parallel tasks of refinement: each fills the slices of the output that are its own.

use pulp::Arch;

use super::lanes::{PatchSampler, SampleColumns, WeightColumns};
use super::layout::{FaceLayout, QuadrantPlace};
use super::numbering::Numbering;
use super::patch::{Grid, LevelWeights, Samples};
use super::stencil::Stencils;
use super::surface::Surface;
use crate::mesh::{Topology, Vec3};

/// Refined vertices that one parallel task makes, about: few enough to share out evenly, many
/// enough that handing out a task costs nothing beside it.
const TASK_VERTICES: usize = 8192;

/// A run of cage faces, and the slices of the output that are theirs alone: the inner vertices of
/// the edges that they use first, their own inner vertices, their children.
pub struct Task<'a> {
    faces: std::ops::Range<usize>,
    first_edge_vertex: usize,
    edges: Points<'a>,
    inner: Points<'a>,
    quads: &'a mut [[u32; 4]],
}

/// Slices of the positions and, if asked for, of the normals handed out.
struct Points<'a> {
    positions: &'a mut [[f64; 3]],
    normals: &'a mut [[f64; 3]],
}

impl<'a> Points<'a> {
    /// Splits the first `count` points off.
    fn take_front(&mut self, count: usize) -> Points<'a> {
        let normals = count.min(self.normals.len());
        Points {
            positions: take_front(&mut self.positions, count),
            normals: take_front(&mut self.normals, normals),
        }
    }

    /// Splits everything after the first `count` points off.
    fn rest_after(&mut self, count: usize) -> Points<'a> {
        let front = self.take_front(count);
        std::mem::replace(self, front)
    }
}

/// Splits the first `count` entries off a slice.
fn take_front<'a, T>(slice: &mut &'a mut [T], count: usize) -> &'a mut [T] {
    let (front, rest) = std::mem::take(slice).split_at_mut(count);
    *slice = rest;
    front
}

/// Shares the faces out into tasks of about [`TASK_VERTICES`] refined vertices.
pub fn tasks<'a>(
    filler: &Filler,
    positions: &'a mut [[f64; 3]],
    normals: &'a mut [[f64; 3]],
    mut quads: &'a mut [[u32; 4]],
) -> Vec<Task<'a>> {
    let (topology, numbering) = (filler.topology(), filler.numbering);
    let mut edges = Points { positions, normals };
    edges.take_front(topology.vertex_count());
    let inner_edge_vertices = topology.edge_count() * (numbering.side() - 1);
    let mut inner = edges.rest_after(inner_edge_vertices);
    let mut tasks = Vec::new();
    let (mut face, mut edge) = (0, 0);
    while face < topology.face_count() {
        let (first, first_edge) = (face, edge);
        let inner_start = numbering.face_vertices(first).start;
        face += 1;
        while face < topology.face_count()
            && numbering.face_vertices(face).end - inner_start <= TASK_VERTICES
        {
            face += 1;
        }
        // Edges are numbered by their first corner: those of a run of faces are a run as well.
        let corner_end = topology.face_corners(face - 1).end;
        while edge < topology.edge_count() && topology.edge_corner(edge) < corner_end {
            edge += 1;
        }
        let last = face - 1;
        let children = numbering.children(last).end - numbering.children(first).start;
        tasks.push(Task {
            faces: first..face,
            first_edge_vertex: numbering.edge_vertices(first_edge).start,
            edges: edges.take_front((edge - first_edge) * (numbering.side() - 1)),
            inner: inner.take_front(numbering.face_vertices(last).end - inner_start),
            quads: take_front(&mut quads, children),
        });
    }
    tasks
}

/// What all tasks share.
pub struct Filler<'a> {
    surface: &'a Surface,
    numbering: &'a Numbering,
    level: usize,
    samples: Samples,
    arch: Arch,
    weights: LevelWeights,
    columns: WeightColumns,
    stencils: Stencils,
}

/// Scratch of one thread: what one face needs, used again for the next. It does not grow with the
/// mesh, only with the samples of a face.
#[derive(Default)]
pub struct Scratch {
    /// The face, as [`FaceLayout`] says.
    face: SampleColumns,
    /// One corner quad, row by row from the corner.
    quadrant: SampleColumns,
    /// What a stencil is applied to.
    points: Vec<Vec3>,
    /// Samples by the general way.
    positions: Vec<Vec3>,
    normals: Vec<Vec3>,
    numbers: Vec<u32>,
}

impl Task<'_> {
    /// Samples the faces one by one and copies what is theirs.
    pub fn run(mut self, filler: &Filler, scratch: &mut Scratch) {
        let (topology, numbering) = (filler.topology(), filler.numbering);
        for f in self.faces.clone() {
            let layout = FaceLayout::new(topology.face_size(f), numbering);
            filler.sample(f, &layout, scratch);
            self.copy_edges(f, &layout, filler, &scratch.face);
            self.copy_inner(&layout, filler, &scratch.face);
            layout.number(f, topology, numbering, &mut scratch.numbers);
            let out = take_front(&mut self.quads, numbering.children(f).len());
            layout.write_quads(&scratch.numbers, topology.is_flipped(f), out);
        }
    }

    /// Copies the samples along the edges that face `f` is the first to use.
    fn copy_edges(
        &mut self,
        f: usize,
        layout: &FaceLayout,
        filler: &Filler,
        samples: &SampleColumns,
    ) {
        let topology = filler.topology();
        let frame = filler.surface.control().frame();
        for (side, c) in topology.face_corners(f).enumerate() {
            let e = topology.edge(c);
            if topology.edge_corner(e) != c {
                continue;
            }
            let creased = filler.surface.is_creased(e);
            for (step, out) in (1..).zip(filler.numbering.edge_vertices(e)) {
                let (at, out) = (layout.on_side(side, step), out - self.first_edge_vertex);
                self.edges.positions[out] = frame.outward(samples.position(at)).into();
                if let Some(normal) = self.edges.normals.get_mut(out) {
                    // Either side of a crease has its own.
                    *normal = match creased {
                        true => [0.0; 3],
                        false => samples.normal(at).into(),
                    };
                }
            }
        }
    }

    /// Copies the samples inside a face.
    fn copy_inner(&mut self, layout: &FaceLayout, filler: &Filler, samples: &SampleColumns) {
        let frame = filler.surface.control().frame();
        let with_normals = filler.samples == Samples::Limit;
        layout.for_inner(|run| {
            let out = self.inner.take_front(run.len());
            let [x, y, z] = samples.positions.each_ref().map(|c| &c[run.clone()]);
            for (p, ((x, y), z)) in out.positions.iter_mut().zip(x.iter().zip(y).zip(z)) {
                *p = frame.outward(Vec3::new(*x, *y, *z)).into();
            }
            if with_normals {
                let [x, y, z] = samples.normals.each_ref().map(|c| &c[run.clone()]);
                for (n, ((x, y), z)) in out.normals.iter_mut().zip(x.iter().zip(y).zip(z)) {
                    *n = [*x, *y, *z];
                }
            }
        });
    }
}

impl<'a> Filler<'a> {
    /// Prepares weights for `level` (1 and more) levels.
    pub fn new(
        surface: &'a Surface,
        numbering: &'a Numbering,
        level: usize,
        samples: Samples,
    ) -> Self {
        let weights = LevelWeights::new(level);
        let columns = match samples {
            Samples::Refined => WeightColumns::refined(weights.at(level)),
            Samples::Limit => WeightColumns::limit(weights.at(level)),
        };
        Self {
            surface,
            numbering,
            level,
            samples,
            arch: Arch::new(),
            weights,
            columns,
            stencils: Stencils::new(level - 1, samples),
        }
    }

    fn topology(&self) -> &'a Topology {
        self.surface.control().topology()
    }

    /// Samples face `f`: as one patch if it is one, corner quad by corner quad if not.
    fn sample(&self, f: usize, layout: &FaceLayout, scratch: &mut Scratch) {
        scratch.face.resize(layout.sample_count());
        if self.sample_patch(f, scratch) {
            return;
        }
        for (j, c) in self.topology().face_corners(f).enumerate() {
            if !self.sample_by_stencil(c, scratch) {
                self.sample_by_descent(c, scratch);
            }
            self.place_quadrant(layout.quadrant(j), scratch);
        }
        if !layout.is_quad {
            self.sample_centre(f, layout, scratch);
        }
    }

    /// Samples face `f` as a bicubic patch, if it is one with normals to trust throughout.
    fn sample_patch(&self, f: usize, scratch: &mut Scratch) -> bool {
        let Some(points) = self.surface.regular_patch(f) else {
            return false;
        };
        let weights = self.weights.at(self.level);
        let along_v = match self.samples {
            Samples::Refined => (&weights.refined[..], None),
            Samples::Limit => (&weights.limit[..], Some(&weights.derivative[..])),
        };
        // Sides that another face is the first to use are not copied from here.
        let topology = self.topology();
        let first = topology.face_corners(f).start;
        let owns = |side: usize| topology.edge_corner(topology.edge(first + side)) == first + side;
        let inner = |low: usize, high: usize| {
            usize::from(!owns(low))..self.numbering.side() + usize::from(owns(high))
        };
        let sampler = PatchSampler {
            points: &points,
            along_u: &self.columns,
            along_v,
            columns: inner(3, 1),
            rows: inner(0, 2),
        };
        sampler.sample(self.arch, &mut scratch.face) || self.samples == Samples::Refined
    }

    /// Samples the corner quad at `c` by its table, if there is one; see [`Stencils`].
    fn sample_by_stencil(&self, c: usize, scratch: &mut Scratch) -> bool {
        if !self.stencils.are_kept() {
            return false;
        }
        let Some(kind) = self.surface.stencil_points(c, &mut scratch.points) else {
            return false;
        };
        let Some(stencil) = self.stencils.get(kind, &self.weights) else {
            return false;
        };
        scratch.quadrant.resize(stencil.samples);
        let with_normals = self.samples == Samples::Limit;
        let (points, out) = (&scratch.points, &mut scratch.quadrant);
        stencil.apply(self.arch, points, with_normals, out) || !with_normals
    }

    /// Samples the corner quad at `c` the general way.
    fn sample_by_descent(&self, c: usize, scratch: &mut Scratch) {
        let levels = self.level - 1;
        let stride = (1 << levels) + 1;
        let count = stride * stride;
        scratch.positions.resize(count, Vec3::zeros());
        scratch.normals.resize(count, Vec3::zeros());
        let mut grid = Grid {
            positions: &mut scratch.positions,
            normals: &mut scratch.normals,
            stride,
        };
        let quad = self.surface.corner_quad(c, levels, 0);
        quad.fill(levels, &self.weights, self.samples, &mut grid, 0);
        scratch.quadrant.resize(count);
        for at in 0..count {
            let (position, normal) = (scratch.positions[at], scratch.normals[at]);
            scratch.quadrant.set(at, position, normal);
        }
    }

    /// Puts a sampled corner quad into its place in the face.
    fn place_quadrant(&self, place: QuadrantPlace, scratch: &mut Scratch) {
        let stride = (1 << (self.level - 1)) + 1;
        let Scratch { face, quadrant, .. } = scratch;
        let copy = |from: &[f64], to: &mut [f64]| {
            for (b, row) in from[..stride * stride].chunks_exact(stride).enumerate() {
                let mut at = place.start as isize + b as isize * place.across;
                for &value in row {
                    to[at as usize] = value;
                    at += place.along;
                }
            }
        };
        for k in 0..3 {
            copy(&quadrant.positions[k], &mut face.positions[k]);
            if self.samples == Samples::Limit {
                copy(&quadrant.normals[k], &mut face.normals[k]);
            }
        }
    }

    /// The centre of a face that is no quad is its own pole: it is taken from its whole ring.
    fn sample_centre(&self, f: usize, layout: &FaceLayout, scratch: &mut Scratch) {
        let ring = self.surface.face_ring(f);
        let (position, normal) = match self.samples {
            Samples::Refined => (ring.center_after(self.level - 1), Vec3::zeros()),
            Samples::Limit => {
                let limit = ring.limit(0);
                (limit.position, limit.normal().unwrap_or_default())
            }
        };
        scratch.face.set(layout.centre(), position, normal);
    }
}
