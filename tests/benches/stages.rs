//! Times the stages of the work apart: reading, adjacency, refining, the limit, measuring, writing;
//! and refinement over sizes from 1,000 to 1,000,000 faces.
//!
//!     cargo bench --bench stages
#![allow(missing_docs, clippy::unwrap_used)]

#[path = "../support/mod.rs"]
mod support;

use std::hint::black_box;
use std::path::Path;
use std::time::Duration;

use cagewise::io::read_cage_from;
use cagewise::measure::MeasureContext;
use cagewise::mesh::{Cage, PolygonMesh, Topology};
use cagewise::report::{PreviewColours, PreviewOptions, write_preview, write_risk_csv};
use cagewise::risk::Findings;
use cagewise::subdivision::{BoundaryRule, ControlMesh, Creases, Samples, Surface, refine};
use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use support::cages::{cube_sphere, mixed, obj_text, torus};

/// The three meshes and the levels that they are refined to.
fn meshes() -> [(&'static str, PolygonMesh, usize); 3] {
    [
        ("torus of 10,000 quads", torus(100, 100, 2.0, 0.7), 3),
        ("cube-sphere of 99,846 quads", cube_sphere(129), 2),
        ("mixed cage of about 20,000 faces", mixed(), 3),
    ]
}

fn surface_of(mesh: &PolygonMesh) -> Surface {
    let (topology, creases) = (Topology::new(mesh), Creases::default());
    Surface::new(ControlMesh::new(
        mesh,
        topology,
        &creases,
        BoundaryRule::default(),
    ))
}

fn stages(criterion: &mut Criterion) {
    for (name, mesh, level) in meshes() {
        let mut group = criterion.benchmark_group(name);
        group
            .sample_size(10)
            .measurement_time(Duration::from_secs(3));
        let text = obj_text(&mesh);
        group.bench_function("read", |b| {
            b.iter(|| read_cage_from(black_box(&text), Path::new("bench.obj")).unwrap());
        });
        group.bench_function("adjacency", |b| b.iter(|| Topology::new(black_box(&mesh))));
        let surface = surface_of(&mesh);
        group.bench_function(format!("refine to level {level}"), |b| {
            b.iter(|| refine(black_box(&surface), level, Samples::Refined));
        });
        group.bench_function(format!("limit at level {level}"), |b| {
            b.iter(|| refine(black_box(&surface), level, Samples::Limit));
        });
        group.bench_function("measure and find risks", |b| {
            b.iter(|| Findings::new(&MeasureContext::new(black_box(&surface))));
        });
        let cage = Cage::from_mesh(mesh);
        let assessment = cage.assess(&Default::default());
        let options = PreviewOptions {
            level,
            samples: Samples::Refined,
            colours: PreviewColours::Risk(&assessment.findings.risks.total),
            material_libraries: &[],
        };
        group.bench_function("refine, format and write the preview", |b| {
            b.iter(|| write_preview(&mut std::io::sink(), &cage, &surface, &options).unwrap());
        });
        group.bench_function("format and write risk.csv", |b| {
            b.iter(|| write_risk_csv(&mut std::io::sink(), &cage, &assessment).unwrap());
        });
        group.finish();
    }
}

/// Adjacency, surface and limit at level 1 of tori: time per face should not grow with the size.
fn sizes(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("adjacency, surface and limit at level 1");
    group
        .sample_size(10)
        .measurement_time(Duration::from_secs(3));
    for (around, across) in [(40, 25), (100, 100), (400, 250), (1000, 1000)] {
        let mesh = torus(around, across, 2.0, 0.7);
        group.throughput(Throughput::Elements(mesh.face_count() as u64));
        let id = BenchmarkId::from_parameter(mesh.face_count());
        group.bench_with_input(id, &mesh, |b, mesh| {
            b.iter(|| refine(&surface_of(mesh), 1, Samples::Limit));
        });
    }
    group.finish();
}

criterion_group!(benches, stages, sizes);
criterion_main!(benches);
