//! The demo cages: which of their known faults are found, and that harmless oddities are left alone.
//! Vertex numbers are those of `demo/README.md`, from 1.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout
)]

use std::path::Path;

use cagewise::assess::{AssessOptions, Assessment, assess};
use cagewise::io::read_cage;
use cagewise::mesh::{Axis, MirrorPlane, Topology};
use cagewise::risk::Cause;

fn demo(name: &str) -> Assessment {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("demo/{name}.obj"));
    let cage = read_cage(&path).unwrap();
    assess(&cage, Topology::new(&cage.mesh), &AssessOptions::default())
}

/// The highest risk among the vertices and their neighbours, with its cause.
fn worst_about(assessment: &Assessment, vertices: &[usize]) -> (f64, Option<Cause>) {
    let topology = assessment.surface.control().topology();
    let own = vertices.iter().map(|v| v - 1);
    let beside = vertices.iter().flat_map(|v| topology.neighbours(v - 1));
    let risks = &assessment.findings.risks;
    let worst = own
        .chain(beside)
        .max_by(|&a, &b| risks.total[a].total_cmp(&risks.total[b]));
    let worst = worst.unwrap();
    (risks.total[worst], risks.cause[worst])
}

/// `demo/README.md` lists them.
#[test]
fn all_thirteen_known_faults_are_at_risk_as_they_are() {
    let known: [(&str, &[&[usize]]); 3] = [
        (
            "cowl",
            &[
                &[235],
                &[286, 287, 288],
                &[38, 39, 22, 23, 29, 30, 31, 32],
                &[232],
                &[283],
            ],
        ),
        (
            "cleat",
            &[
                &[536, 544, 543, 537],
                &[717, 718, 719],
                &[458, 459, 467, 466],
                &[112],
            ],
        ),
        (
            "bell",
            &[
                &[117, 116, 100, 101, 102, 118],
                &[158],
                &[107, 108, 109],
                &[353, 354, 367, 368, 381, 382, 383, 384],
            ],
        ),
    ];
    let mut missed = Vec::new();
    for (name, faults) in known {
        let assessment = demo(name);
        for fault in faults {
            let (risk, cause) = worst_about(&assessment, fault);
            println!("{name} {}: {risk:.2} {cause:?}", fault[0]);
            if risk < 0.5 {
                missed.push((name, fault[0]));
            }
        }
    }
    assert_eq!(missed, []);
}

#[test]
fn the_centre_line_vertex_off_its_plane_is_severe_in_the_mirrored_whole_as_well() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo/cowl.obj");
    let plane = MirrorPlane {
        axis: Axis::X,
        offset: 0.0,
    };
    let cage = read_cage(&path).unwrap();
    let found = cage.assess_mirrored(plane, &AssessOptions::default());
    let risks = found.unwrap().findings.risks;
    assert!(risks.total[282] >= 0.75, "{}", risks.total[282]);
    assert_eq!(risks.cause[282], Some(Cause::Border));
}

#[test]
fn causes_of_the_plain_demo_faults_are_the_ones_built_in() {
    let (cowl, cleat, bell) = (demo("cowl"), demo("cleat"), demo("bell"));
    let built_in: [(&str, &Assessment, usize, &[Cause]); 6] = [
        ("cowl", &cowl, 39, &[Cause::Facet, Cause::Support]),
        // A six-pole beside its two triangles: either would do.
        ("cowl", &cowl, 232, &[Cause::Facet, Cause::Pole]),
        ("cleat", &cleat, 458, &[Cause::Fold]),
        ("cleat", &cleat, 718, &[Cause::Border]),
        ("bell", &bell, 382, &[Cause::Facet, Cause::Support]),
        ("bell", &bell, 101, &[Cause::Facet]),
    ];
    let mut wrong = Vec::new();
    for (name, assessment, v, causes) in built_in {
        let found = worst_about(assessment, &[v]);
        if !found.1.is_some_and(|cause| causes.contains(&cause)) {
            wrong.push((name, v, found));
        }
    }
    assert_eq!(wrong, []);
}

/// Oddities on flat ground (common practice, no published source): all that `demo/README.md` lists.
#[test]
fn harmless_oddities_of_the_cowl_and_the_cleat_and_the_whole_crate_are_clean() {
    let harmless: [(&str, &[usize]); 2] = [
        ("cowl", &[455, 458, 459, 456, 448, 452]),
        (
            "cleat",
            &[
                343, 340, 341, 344, 347, 346, 64, 42, 40, 62, 23, 1, 19, 5, 635, 636, 637, 638,
                639, 640, 641, 642,
            ],
        ),
    ];
    for (name, vertices) in harmless {
        let risks = demo(name).findings.risks.total;
        for v in vertices {
            assert!(risks[v - 1] < 0.25, "{name}, vertex {v}: {}", risks[v - 1]);
        }
    }
    assert!(demo("crate").highest_risk() < 0.25);
}

/// Its five-poles stand at the feet of the hanging loop, which bends right beside them.
#[test]
fn harmless_oddities_on_the_bell_s_crown_are_clean_and_the_loop_s_feet_too() {
    let risks = demo("bell").findings.risks.total;
    for v in [5, 4, 7, 2, 10, 15].into_iter().chain(630..=637) {
        assert!(risks[v - 1] < 0.25, "vertex {v}: {}", risks[v - 1]);
    }
}
