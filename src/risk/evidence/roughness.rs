//! How far limit normals stand out from their averaged neighbourhoods, at several widths.

use rayon::prelude::*;

use super::cells::{largest_and_mean, over_ring_one, per_vertex};
use super::{Column, Quantity};
use crate::measure::MeasureContext;
use crate::measure::angles::angles_of_pairs;
use crate::measure::samples::Sample;
use crate::mesh::Vec3;
use crate::risk::Cause;

// Source of all: averaged normals: Taubin, Linear anisotropic mesh filtering, 2001 (as a filter);
// the angle to them as a measure is this program's.

/// Over half an edge.
pub static ROUGHNESS_NARROW: Quantity = Quantity::new(
    "roughness_narrow",
    "largest angle, in degrees, over the cell of the limit normals to their twice averaged neighbourhood among the samples over vertices, edge middles and face centres",
    Cause::Bump,
);
/// Over half an edge, in the mean.
pub static ROUGHNESS_NARROW_MEAN: Quantity = Quantity::new(
    "roughness_narrow_mean",
    "as roughness_narrow, the mean over the cell",
    Cause::Bump,
);
/// Over an edge.
pub static ROUGHNESS_MIDDLE: Quantity = Quantity::new(
    "roughness_middle",
    "as roughness_narrow, averaged four times",
    Cause::Bump,
);
/// Over an edge, in the mean.
pub static ROUGHNESS_MIDDLE_MEAN: Quantity = Quantity::new(
    "roughness_middle_mean",
    "as roughness_middle, the mean over the cell",
    Cause::Bump,
);
/// Against the neighbours.
pub static ROUGHNESS_ONE: Quantity = Quantity::new(
    "roughness_one",
    "angle, in degrees, of the limit normal to the mean of the neighbours'",
    Cause::Bump,
);
/// Against two rings.
pub static ROUGHNESS_TWO: Quantity = Quantity::new(
    "roughness_two",
    "angle, in degrees, of the limit normal to its twice averaged neighbourhood among the vertices",
    Cause::Bump,
);
/// Against four rings.
pub static ROUGHNESS_FOUR: Quantity = Quantity::new(
    "roughness_four",
    "as roughness_two, averaged four times",
    Cause::Bump,
);
/// About the vertex.
pub static ROUGHNESS_TWO_ABOUT: Quantity = Quantity::new(
    "roughness_two_about",
    "largest roughness_two of the neighbours",
    Cause::Bump,
);

/// Averages of the narrow and the middle width among all samples.
const SAMPLE_PASSES: [usize; 2] = [2, 4];

/// Averages among the vertices alone.
const VERTEX_PASSES: [usize; 3] = [1, 2, 4];

/// Values that one parallel task takes on at least.
const TASK_LENGTH: usize = 512;

/// The evidence.
pub fn columns(context: &MeasureContext) -> Vec<Column> {
    let [narrow, narrow_mean, middle, middle_mean] = among_samples(context);
    let [one, two, four] = among_vertices(context);
    let [about, _] = over_ring_one(context, &two);
    let column = |quantity, values| Column { quantity, values };
    vec![
        column(&ROUGHNESS_NARROW, narrow),
        column(&ROUGHNESS_NARROW_MEAN, narrow_mean),
        column(&ROUGHNESS_MIDDLE, middle),
        column(&ROUGHNESS_MIDDLE_MEAN, middle_mean),
        column(&ROUGHNESS_ONE, one),
        column(&ROUGHNESS_TWO, two),
        column(&ROUGHNESS_FOUR, four),
        column(&ROUGHNESS_TWO_ABOUT, about),
    ]
}

/// Writes one vector per index, in parallel, over what there was: memory that was touched before
/// costs less than new.
fn fill(vectors: &mut Vec<Vec3>, count: usize, vector: impl Fn(usize) -> Vec3 + Sync + Send) {
    let indices = (0..count).into_par_iter().with_min_len(TASK_LENGTH);
    indices.map(vector).collect_into_vec(vectors);
}

fn among_vertices(context: &MeasureContext) -> [Vec<f64>; 3] {
    let own = &context.limit.vertices;
    let pass = |vectors: &mut Vec<Vec3>, normal: &(dyn Fn(usize) -> Vec3 + Sync)| {
        fill(vectors, own.len(), |v| {
            let about = context.spokes.of(v).iter();
            mean(about.map(|s| normal(s.vertex as usize)))
        });
    };
    let (mut averaged, mut before) = (Vec::new(), Vec::new());
    pass(&mut averaged, &|v| own[v].normal);
    let mut passes = 1;
    VERTEX_PASSES.map(|wanted| {
        while passes < wanted {
            std::mem::swap(&mut averaged, &mut before);
            pass(&mut averaged, &|v| before[v]);
            passes += 1;
        }
        angles_of_pairs(own.len(), |v| [&own[v].normal, &averaged[v]])
    })
}

/// The mean; zero without values.
fn mean(values: impl Iterator<Item = Vec3>) -> Vec3 {
    let (sum, count) = values.fold((Vec3::zeros(), 0usize), |(sum, n), x| (sum + x, n + 1));
    sum / count.max(1) as f64
}

/// Normals over vertices, edge middles and face centres: neighbours are what a quad of the first
/// refinement joins by an edge.
#[derive(Default)]
struct Normals {
    vertices: Vec<Vec3>,
    edges: Vec<Vec3>,
    faces: Vec<Vec3>,
}

impl Normals {
    /// Becomes the averages of the limit normals.
    fn average_samples(&mut self, context: &MeasureContext) {
        let limit = &context.limit;
        self.average(
            context,
            |v| limit.vertices[v].normal,
            |e| limit.edges[e].normal,
            |f| limit.faces[f].normal,
        );
    }

    /// Becomes the averages of other ones.
    fn average_of(&mut self, context: &MeasureContext, before: &Self) {
        self.average(
            context,
            |v| before.vertices[v],
            |e| before.edges[e],
            |f| before.faces[f],
        );
    }

    /// Becomes the averages of what there is over vertices, edges and faces.
    fn average(
        &mut self,
        context: &MeasureContext,
        over_vertex: impl Fn(usize) -> Vec3 + Sync + Send,
        over_edge: impl Fn(usize) -> Vec3 + Sync + Send,
        over_face: impl Fn(usize) -> Vec3 + Sync + Send,
    ) {
        let topology = context.topology();
        fill(&mut self.vertices, topology.vertex_count(), |v| {
            let about = context.spokes.of(v).iter();
            mean(about.map(|s| over_edge(s.edge as usize)))
        });
        fill(&mut self.edges, topology.edge_count(), |e| {
            let [a, b] = topology.edge_vertices(e).map(&over_vertex);
            let beside = |c: usize| over_face(topology.face_of(c));
            let c = topology.edge_corner(e);
            match (topology.edge_face_count(e), topology.twin(c)) {
                (1, _) => (a + b + beside(c)) / 3.0,
                (_, Some(twin)) => (a + b + beside(c) + beside(twin)) / 4.0,
                // Several sheets meet: none is the one that goes on.
                _ => (a + b) / 2.0,
            }
        });
        fill(&mut self.faces, topology.face_count(), |f| {
            let corners = topology.face_corners(f);
            mean(corners.map(|c| over_edge(topology.edge(c))))
        });
    }
}

fn among_samples(context: &MeasureContext) -> [Vec<f64>; 4] {
    let (mut averaged, mut before) = (Normals::default(), Normals::default());
    averaged.average_samples(context);
    let mut passes = 1;
    let [[narrow, narrow_mean], [middle, middle_mean]] = SAMPLE_PASSES.map(|wanted| {
        while passes < wanted {
            std::mem::swap(&mut averaged, &mut before);
            averaged.average_of(context, &before);
            passes += 1;
        }
        over_cells(context, &averaged)
    });
    [narrow, narrow_mean, middle, middle_mean]
}

/// Largest and mean angle over each vertex's cell.
fn over_cells(context: &MeasureContext, averaged: &Normals) -> [Vec<f64>; 2] {
    let angles = |samples: &[Sample], averaged: &[Vec3]| {
        angles_of_pairs(samples.len(), |i| [&samples[i].normal, &averaged[i]])
    };
    let limit = &context.limit;
    let vertices = angles(&limit.vertices, &averaged.vertices);
    let edges = angles(&limit.edges, &averaged.edges);
    let faces = angles(&limit.faces, &averaged.faces);
    per_vertex(context, |v| {
        let about = context.spokes.of(v).iter();
        let cell = std::iter::once(vertices[v])
            .chain(about.map(|s| edges[s.edge as usize]))
            .chain(context.faces_of(v).map(|f| faces[f]));
        largest_and_mean(cell)
    })
}
