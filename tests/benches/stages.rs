//! Times the stages apart: reading, adjacency, surface, refined points, limit points, measuring,
//! writing; how some grow with the cage; and the fillets of bent edges.
//!
//!     cargo bench --bench stages
//!
//! The cages are made by code and the same at every run; [`support::bench_cages`] describes them.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[path = "../support/mod.rs"]
mod support;

use std::hint::black_box;
use std::path::Path;

use cagewise::assess::AssessOptions;
use cagewise::io::{OutputSet, read_cage_from};
use cagewise::limit::Fillets;
use cagewise::measure::{MeasureContext, Measures};
use cagewise::mesh::{Cage, PolygonMesh, Topology};
use cagewise::picture::UpAxis;
use cagewise::report::{
    CreaseOrigin, PageOptions, PreviewColours, PreviewOptions, Request, Summary, write_page,
    write_preview, write_risk_csv,
};
use cagewise::risk::evidence::Evidence;
use cagewise::risk::{Findings, model, places};
use cagewise::subdivision::{BoundaryRule, ControlMesh, Creases, Samples, Surface, refine};
use criterion::measurement::WallTime;
use criterion::{
    Bencher, BenchmarkGroup, BenchmarkId, Criterion, Throughput, criterion_group, criterion_main,
};
use support::bench_cages::{self, BenchCage, bench_cages, obj_text};
use support::cages::{height_grid, torus};
use support::surface_of;

/// Each run takes milliseconds and more, so that few runs tell.
const SAMPLES: usize = 10;

/// Level of the pages: that of a call without options.
const PAGE_LEVEL: usize = 2;

/// Numbers of quads along the two ways of the tori that show how times grow with the cage: 1,000 to
/// 1,000,000 faces.
const GROWTH: [(usize, usize); 4] = [(40, 25), (100, 100), (400, 250), (1000, 1000)];

fn stages(criterion: &mut Criterion) {
    for cage in bench_cages() {
        let mut group = criterion.benchmark_group(cage.name);
        group.sample_size(SAMPLES);
        let text = obj_text(&cage.mesh);
        group.bench_function("reading", |b| {
            b.iter(|| read_cage_from(text.as_bytes(), Path::new("bench.obj")).unwrap());
        });
        group.bench_function("topology", |b| b.iter(|| Topology::new(&cage.mesh)));
        let topology = Topology::new(&cage.mesh);
        group.bench_function("surface", |b| {
            b.iter_batched(
                || topology.clone(),
                |topology| surface(&cage.mesh, topology),
                criterion::BatchSize::LargeInput,
            );
        });
        let surface = surface_of(&cage.mesh);
        for (name, samples) in [("refined", Samples::Refined), ("limit", Samples::Limit)] {
            group.bench_function(format!("{name}, level {}", cage.level), |b| {
                b.iter_with_large_drop(|| refine(&surface, cage.level, samples));
            });
        }
        findings(&mut group, &surface);
        writing(&mut group, cage);
        group.finish();
    }
}

/// Measures, evidence, risks and places: together they are to cost no more than the preview does.
fn findings(group: &mut BenchmarkGroup<'_, WallTime>, surface: &Surface) {
    group.bench_function("measures", |b| {
        b.iter_with_large_drop(|| Measures::new(&MeasureContext::new(surface)));
    });
    let context = MeasureContext::new(surface);
    let measures = Measures::new(&context);
    let gathered = Evidence::new(&context, &measures);
    group.bench_function("evidence", |b| {
        b.iter_with_large_drop(|| Evidence::new(&context, &measures));
    });
    group.bench_function("risks", |b| {
        b.iter_with_large_drop(|| model::risks(&context, &measures, &gathered));
    });
    let risks = model::risks(&context, &measures, &gathered);
    group.bench_function("places", |b| {
        b.iter_with_large_drop(|| places(&context, &measures, &gathered, &risks));
    });
    group.bench_function("measures and risks", |b| {
        b.iter_with_large_drop(|| Findings::new(&MeasureContext::new(surface)));
    });
}

/// Formats what an assessment hands out, without a disk behind it but for the preview, which is
/// also written as the program does. The preview refines as well.
fn writing(group: &mut BenchmarkGroup<'_, WallTime>, cage: BenchCage) {
    let level = cage.level;
    let cage = Cage::from_mesh(cage.mesh);
    let assessment = cage.assess(&AssessOptions::default());
    let options = PreviewOptions {
        level,
        samples: Samples::Refined,
        colours: PreviewColours::Risk(&assessment.findings.risks.total),
        material_libraries: &[],
    };
    group.bench_function("preview, refined and formatted", |b| {
        b.iter(|| {
            write_preview(&mut std::io::sink(), &cage, &assessment.surface, &options).unwrap();
        });
    });
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("preview.obj");
    group.bench_function("preview, refined and written", |b| {
        b.iter(|| {
            let mut outputs = OutputSet::new::<&Path>(&[]);
            let file = outputs.create(&path).unwrap();
            let write = |out: &mut _| write_preview(out, &cage, &assessment.surface, &options);
            file.write_whole(write).unwrap();
            outputs.commit().unwrap();
        });
    });
    group.bench_function("risk.csv, formatted", |b| {
        b.iter(|| write_risk_csv(&mut std::io::sink(), &cage, &assessment).unwrap());
    });
    let request = Request {
        file: "bench.obj".into(),
        level: PAGE_LEVEL,
        boundary: BoundaryRule::default(),
        creases: CreaseOrigin::None,
        crease_counts: (0, 0),
        files: Vec::new(),
    };
    let summary = Summary::new(&cage, &assessment, request);
    let page = PageOptions {
        level: PAGE_LEVEL,
        up: UpAxis::Y,
        stills: &[],
    };
    group.bench_function("report.html, refined and packed", |b| {
        b.iter(|| {
            write_page(&mut std::io::sink(), &cage, &assessment, &summary, &page).unwrap();
        });
    });
}

fn surface(mesh: &PolygonMesh, topology: Topology) -> Surface {
    let creases = Creases::default();
    Surface::new(ControlMesh::new(
        mesh,
        topology,
        &creases,
        BoundaryRule::default(),
    ))
}

/// The whole way from faces to limit points at level 1, and measures and risks together, by number of cage
/// faces.
fn growth(criterion: &mut Criterion) {
    by_size(criterion, "faces to limit points, by size", |b, mesh| {
        b.iter_with_large_drop(|| {
            let surface = surface(black_box(mesh), Topology::new(mesh));
            refine(&surface, 1, Samples::Limit)
        });
    });
    by_size(criterion, "measures and risks, by size", |b, mesh| {
        let surface = surface_of(mesh);
        b.iter_with_large_drop(|| Findings::new(&MeasureContext::new(&surface)));
    });
}

/// Times something on each of the tori of [`GROWTH`].
fn by_size(criterion: &mut Criterion, what: &str, time: impl Fn(&mut Bencher, &PolygonMesh)) {
    let mut group = criterion.benchmark_group(what);
    group.sample_size(SAMPLES);
    for (around, across) in GROWTH {
        let mesh = torus(around, across, 1.0, 0.4);
        group.throughput(Throughput::Elements(mesh.face_count() as u64));
        let id = BenchmarkId::from_parameter(mesh.face_count());
        group.bench_function(id, |b| time(b, &mesh));
    }
    group.finish();
}

/// Fillets where every fourth column of a regular terrace is a step, whose edges are bent and mostly
/// regular, and on a sphere cut by triangles and n-gons, where every edge is taken.
fn fillets(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("fillets, by bent edge");
    group.sample_size(SAMPLES);
    let terrace = height_grid(200, 100, |x, _| (x / 4.0).floor());
    let flat = height_grid(200, 100, |x, y| 0.01 * (x * y).sin());
    let mixed = bench_cages::mixed(20);
    for (name, mesh, bent_above) in [
        ("terrace", terrace, 30.0),
        ("mixed", mixed, 1e-3),
        ("nothing bent", flat, 30.0),
    ] {
        let surface = surface_of(&mesh);
        let count = Fillets::bent_above(&surface, bent_above).stations().len();
        group.throughput(Throughput::Elements(count as u64));
        group.bench_function(format!("{name}, {count} edges"), |b| {
            b.iter(|| Fillets::bent_above(black_box(&surface), bent_above));
        });
    }
    group.finish();
}

criterion_group!(benches, stages, growth, fillets);
criterion_main!(benches);
