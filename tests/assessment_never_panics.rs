//! Broken meshes, made from seeds: the whole assessment, its refinement and all that it writes end
//! without a panic, in bounded time, with figures in range. Deterministic.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod support;

use std::time::{Duration, Instant};

use cagewise::assess::{AssessOptions, Assessment, assess, assess_half};
use cagewise::mesh::{Axis, Cage, MirrorPlane, Mirrored, PolygonMesh, Topology, Vec3};
use cagewise::report::{
    CreaseOrigin, PreviewColours, PreviewOptions, Request, Summary, write_half_preview,
    write_preview, write_risk_csv, write_whole_preview,
};
use cagewise::subdivision::{BoundaryRule, Creases, Samples, mirrored_creases};
use support::cages::{Random, random_cage};

/// Cases: a few seconds on one core.
const CASES: u64 = 2500;

/// Cases of halves.
const HALVES: u64 = 1000;

/// Longest that one case may take; hundreds of times what it takes.
const LONGEST: Duration = Duration::from_secs(5);

/// Sharpness to choose from.
const SHARPNESS: [f64; 6] = [0.3, 1.0, 2.5, 4.0, 10.0, f64::INFINITY];

/// A polygon soup on few vertices: non-manifold edges, bow-ties, repeated faces and vertices,
/// faces of two distinct vertices, opposite windings, coincident and unused vertices.
fn soup(random: &mut Random) -> PolygonMesh {
    let vertices = 3 + random.below(8);
    let mut positions: Vec<Vec3> = (0..vertices).map(|_| random.vector()).collect();
    if random.unit() < 0.3 {
        let copy = positions[random.below(vertices)];
        positions.push(copy);
    }
    if random.unit() < 0.2 {
        positions.iter_mut().for_each(|p| p.z = 0.0);
    }
    let faces: Vec<Vec<u32>> = (0..1 + random.below(10))
        .map(|_| {
            let most = if random.unit() < 0.05 { 60 } else { 4 };
            let sides = 3 + random.below(most);
            (0..sides).map(|_| random.below(vertices) as u32).collect()
        })
        .collect();
    PolygonMesh::from_faces(positions, &faces).unwrap()
}

/// Sizes and places at which arithmetic overflows, vanishes or loses digits.
fn displaced(mesh: &PolygonMesh, random: &mut Random) -> PolygonMesh {
    let scale = [1e-300, 1e-150, 1e-10, 1e8, 1e150, 1e300][random.below(6)];
    let shift = if random.unit() < 0.5 { 1e8 } else { 0.0 };
    support::cages::moved(mesh, |p| p * scale + Vec3::repeat(shift * scale.min(1.0)))
}

fn random_options(mesh: &PolygonMesh, random: &mut Random) -> AssessOptions {
    let topology = Topology::new(mesh);
    let mut creases = Creases::default();
    for e in 0..topology.edge_count() {
        if random.unit() < 0.2 {
            creases.edges.push((e as u32, SHARPNESS[random.below(6)]));
        }
    }
    for v in 0..topology.vertex_count() {
        if random.unit() < 0.1 {
            creases
                .vertices
                .push((v as u32, SHARPNESS[random.below(6)]));
        }
    }
    let boundary = match random.below(2) {
        0 => BoundaryRule::EdgeAndCorner,
        _ => BoundaryRule::EdgeOnly,
    };
    AssessOptions { creases, boundary }
}

fn write_everything(cage: &Cage, assessment: &Assessment, level: usize) {
    write_figures(cage, assessment, level);
    for samples in [Samples::Refined, Samples::Limit] {
        let options = preview(assessment, level, samples);
        write_preview(&mut std::io::sink(), cage, &assessment.surface, &options).unwrap();
    }
}

fn preview(assessment: &Assessment, level: usize, samples: Samples) -> PreviewOptions<'_> {
    PreviewOptions {
        level,
        samples,
        colours: PreviewColours::Risk(&assessment.findings.risks.total),
        material_libraries: &[],
    }
}

fn write_figures(cage: &Cage, assessment: &Assessment, level: usize) {
    let mut table = Vec::new();
    write_risk_csv(&mut table, cage, assessment).unwrap();
    let mut reader = csv::Reader::from_reader(table.as_slice());
    let rows = reader.records().map(|row| row.unwrap());
    let undefined = |field: &str| {
        ["nan", "inf"]
            .iter()
            .any(|x| field.to_lowercase().contains(x))
    };
    let bad = rows.filter(|row| row.iter().any(undefined)).count();
    assert_eq!(bad, 0, "undefined values must be empty fields");
    let request = Request {
        file: "soup.obj".into(),
        level,
        boundary: BoundaryRule::EdgeAndCorner,
        creases: CreaseOrigin::None,
        crease_counts: (0, 0),
        files: Vec::new(),
    };
    let mut json = Vec::new();
    let summary = Summary::new(cage, assessment, request);
    summary.write_json(&mut json).unwrap();
    serde_json::from_slice::<serde_json::Value>(&json).unwrap();
}

#[test]
fn broken_meshes_are_assessed_and_written_without_a_panic() {
    for seed in 0..CASES {
        let mut random = Random(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1);
        let mut mesh = match random.below(3) {
            0 => random_cage(seed),
            _ => soup(&mut random),
        };
        if random.unit() < 0.3 {
            mesh = displaced(&mesh, &mut random);
        }
        let start = Instant::now();
        let options = random_options(&mesh, &mut random);
        let topology = Topology::new(&mesh);
        assert_eq!(topology.validate(), Vec::<String>::new(), "seed {seed}");
        let cage = Cage::from_mesh(mesh);
        let assessment = assess(&cage, topology, &options);
        let risks = &assessment.findings.risks.total;
        assert!(risks.iter().all(|r| (0.0..=1.0).contains(r)), "seed {seed}");
        write_everything(&cage, &assessment, 1 + random.below(3));
        assert!(
            start.elapsed() < LONGEST,
            "seed {seed}: {:?}",
            start.elapsed()
        );
    }
}

/// The mesh folded over to one side of a plane through one of its vertices, with some of its vertices
/// pressed into the plane or a little off it.
fn folded(mesh: &PolygonMesh, random: &mut Random) -> (PolygonMesh, MirrorPlane) {
    let axis = Axis::ALL[random.below(3)];
    let k = axis as usize;
    let offset = mesh.positions()[random.below(mesh.vertex_count())][k];
    let mut positions = mesh.positions().to_vec();
    for p in &mut positions {
        let share = [1.0, 1.0, 0.0, 0.0, 1e-4, 0.05][random.below(6)];
        p[k] = offset + (p[k] - offset).abs() * share;
    }
    let corners = mesh.corner_vertices().to_vec();
    let half = PolygonMesh::new(positions, mesh.face_starts().to_vec(), corners);
    (half.unwrap(), MirrorPlane { axis, offset })
}

#[test]
fn broken_halves_are_mirrored_or_refused_without_a_panic() {
    let mut mirrored_count = 0;
    for seed in 0..HALVES {
        let mut random = Random(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1);
        let mut mesh = match random.below(3) {
            0 => soup(&mut random),
            _ => random_cage(seed),
        };
        if random.unit() < 0.2 {
            mesh = displaced(&mesh, &mut random);
        }
        let (mesh, plane) = folded(&mesh, &mut random);
        let options = random_options(&mesh, &mut random);
        let half = Cage::from_mesh(mesh);
        let Ok(mirrored) = Mirrored::new(&half, Topology::new(&half.mesh), plane) else {
            continue;
        };
        mirrored_count += 1;
        let whole = Topology::new(&mirrored.whole.mesh);
        assert_eq!(whole.validate(), Vec::<String>::new(), "seed {seed}");
        let options = AssessOptions {
            creases: mirrored_creases(&options.creases, &mirrored, &whole),
            boundary: options.boundary,
        };
        let assessment = assess_half(&half, &mirrored, whole, &options);
        let level = random.below(3);
        write_figures(&half, &assessment, level);
        let shown = preview(&assessment, level, Samples::Limit);
        let mut out = std::io::sink();
        write_half_preview(&mut out, &half, &mirrored, &assessment.surface, &shown).unwrap();
        write_whole_preview(&mut out, &mirrored, &assessment.surface, &shown).unwrap();
    }
    // Enough that the test says something.
    assert!(mirrored_count > 200, "only {mirrored_count} are halves");
}
