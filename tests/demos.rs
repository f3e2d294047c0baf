//! The demo cages: which of their known faults are found, and that harmless oddities are left alone.
//! Vertex numbers are those of `demo/README.md`, from 1.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::path::Path;

use cagewise::assess::{AssessOptions, Assessment, assess};
use cagewise::io::read_cage;
use cagewise::mesh::Topology;
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

/// The faults that the README counts as found.
#[test]
fn nine_of_the_thirteen_known_faults_are_at_risk() {
    let known: [(&str, &[&[usize]]); 3] = [
        (
            "cowl",
            &[
                &[283],
                &[235],
                &[286, 287, 288],
                &[38, 39, 22, 23, 29, 30, 31, 32],
                &[232],
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
            let (risk, _) = worst_about(&assessment, fault);
            if risk < 0.5 {
                missed.push((name, fault[0]));
            }
        }
    }
    assert_eq!(
        missed,
        [("cowl", 235), ("cowl", 286), ("bell", 158), ("bell", 107)]
    );
}

#[test]
fn causes_of_the_plain_demo_faults_are_the_ones_built_in() {
    let (cowl, cleat, bell) = (demo("cowl"), demo("cleat"), demo("bell"));
    let cause = |assessment: &Assessment, v: usize| assessment.findings.risks.cause[v - 1];
    assert_eq!(cause(&cowl, 283), Some(Cause::Border));
    assert_eq!(cause(&cowl, 39), Some(Cause::Facet));
    // Beside the six-pole 232 and one of its two triangles: either would do, and the pole is close.
    assert_eq!(cause(&cowl, 240), Some(Cause::Facet));
    let pole = cowl.findings.risks.by_cause[Cause::Pole as usize][240 - 1];
    assert!(pole >= 0.5, "{pole}");
    assert_eq!(cause(&cleat, 458), Some(Cause::Fold));
    assert_eq!(cause(&cleat, 718), Some(Cause::Border));
    assert_eq!(cause(&bell, 382), Some(Cause::Facet));
    assert_eq!(cause(&bell, 101), Some(Cause::Facet));
}

/// Oddities on flat ground (common practice, no published source): all that `demo/README.md` lists.
/// The bell's, on its crown, are told apart below.
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

/// The bell's triangles and three-poles on its crown are left alone. Its five-poles at the loop's
/// feet (630 to 637) are a known false alarm of this version: `demo/README.md` says so.
#[test]
fn harmless_oddities_on_the_bell_s_crown_are_no_faults_but_for_the_loop_s_feet() {
    let risks = demo("bell").findings.risks.total;
    for v in [5, 4, 7, 2, 10, 15] {
        assert!(risks[v - 1] < 0.25, "vertex {v}: {}", risks[v - 1]);
    }
    let feet = (630..=637).map(|v| risks[v - 1]).fold(0.0, f64::max);
    assert!(
        feet > 0.25,
        "the known false alarm is gone: say so in demo/README.md"
    );
}
