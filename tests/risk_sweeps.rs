//! The risk of one fault at one place as its size grows, for every kind of fault that has a
//! continuous size.
#![allow(
    dead_code,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stderr
)]

mod corpus;
mod support;

use std::sync::{Arc, LazyLock};

use cagewise::assess::AssessOptions;
use cagewise::mesh::{Cage, Topology};
use cagewise::risk::Band;
use corpus::case::{Case, Clean, FaultKind, Sides, Truth};
use corpus::drawn::drawn;
use corpus::faults::{SUPPORT_GONE, is_counted, put, sizes};
use corpus::truth::truth;
use rayon::prelude::*;
use support::cages::Random;

/// Sizes of a sweep, evenly spaced from the one that nobody sees to the one that everybody does.
const STEPS: usize = 10;

/// Places on each form.
const PLACES: u64 = 2;

/// Rings about a fault's sites within which its risk is looked for: what a vertex moves of the limit
/// surface reaches that far.
const REACH: usize = 2;

/// Risks are told to two places: a fall of less is not seen.
const ROUNDING: f64 = 0.01;

/// Largest form that is swept, in vertices, to save time.
const LARGEST: usize = 350;

/// Families of forms that are swept, upright.
const FAMILIES: [&str; 9] = [
    "sphere",
    "ellipsoid",
    "torus",
    "saddle",
    "bent pipe",
    "held box",
    "domed panel",
    "stepped turned form",
    "half",
];

fn forms() -> Vec<Arc<Clean>> {
    let is_wanted = |c: &Arc<Clean>| {
        let small = c.cage.mesh.vertex_count() <= LARGEST;
        FAMILIES.contains(&c.family) && c.name.ends_with("upright") && small
    };
    let all: Vec<Arc<Clean>> = drawn(5).into_iter().filter(is_wanted).collect();
    // The finest of each family that is not too large.
    let finest = |family: &&'static str| {
        let of_it = all.iter().filter(|c| c.family == *family);
        of_it.max_by_key(|c| c.cage.mesh.face_count()).cloned()
    };
    FAMILIES.iter().filter_map(finest).collect()
}

/// What is told and what is true about a fault of one size.
#[derive(Debug, Clone, Copy)]
struct Step {
    size: f64,
    /// The largest risk within [`REACH`] rings of the fault's sites.
    risk: f64,
    /// Whether one of these vertices is at fault in truth.
    is_fault: bool,
}

/// A fault of growing size at one place.
struct Sweep {
    what: String,
    kind: FaultKind,
    steps: Vec<Step>,
}

fn near(topology: &Topology, sites: &[u32]) -> Vec<usize> {
    let mut found: Vec<usize> = sites.iter().map(|&v| v as usize).collect();
    for _ in 0..REACH {
        let beside: Vec<usize> = found.iter().flat_map(|&v| topology.neighbours(v)).collect();
        found.extend(beside);
        found.sort_unstable();
        found.dedup();
    }
    found
}

fn step(case: &Case, size: f64) -> Step {
    let mesh = &case.cage.mesh;
    let found = Cage::from_mesh(mesh.clone()).assess(&AssessOptions::default());
    let risks = found.findings.risks.total;
    let truths = truth(case);
    let about = near(&Topology::new(mesh), &case.faults[0].sites);
    Step {
        size,
        risk: about.iter().map(|&v| risks[v]).fold(0.0, f64::max),
        is_fault: about.iter().any(|&v| matches!(truths[v], Truth::Faulty(_))),
    }
}

fn sweep(clean: &Arc<Clean>, kind: FaultKind, seed: u64) -> Option<Sweep> {
    let [unseen, plain] = sizes(kind);
    let part = |i: usize| i as f64 / (STEPS - 1) as f64;
    let steps = (0..STEPS).map(|i| {
        let size = unseen + (plain - unseen) * part(i);
        let case = put(clean, kind, size, Sides::One, &mut Random(seed))?;
        Some(step(&case, size))
    });
    Some(Sweep {
        what: format!("{} on {}, place {seed}", kind.name(), clean.name),
        kind,
        steps: steps.collect::<Option<_>>()?,
    })
}

/// All sweeps, made once.
static SWEEPS: LazyLock<Vec<Sweep>> = LazyLock::new(|| {
    let kinds = FaultKind::PUT.into_iter().filter(|&k| !is_counted(k));
    let mut wanted = Vec::new();
    for kind in kinds {
        for clean in forms() {
            wanted.extend((1..=PLACES).map(|place| (clean.clone(), kind, place)));
        }
    }
    let one = |(clean, kind, place): &(Arc<Clean>, FaultKind, u64)| sweep(clean, *kind, *place);
    let found: Vec<Sweep> = wanted.par_iter().filter_map(one).collect();
    for kind in FaultKind::PUT.into_iter().filter(|&k| !is_counted(k)) {
        let swept = found.iter().any(|s| s.kind == kind);
        assert!(swept, "no place for {}", kind.name());
    }
    found
});

/// The sweeps of which something does not hold, with all their risks; `!` marks true faults.
fn failing(holds: impl Fn(&[Step]) -> bool) -> Vec<String> {
    let told = |s: &Step| format!("{:.3}{}", s.risk, if s.is_fault { "!" } else { "" });
    let line = |sweep: &Sweep| {
        let risks: Vec<String> = sweep.steps.iter().map(told).collect();
        format!("{}: {}", sweep.what, risks.join(" "))
    };
    let bad = SWEEPS.iter().filter(|s| !holds(&s.steps));
    bad.map(line).collect()
}

/// Checks that nothing fails.
fn none(failing: &[String]) {
    let all = SWEEPS.len();
    assert!(failing.is_empty(), "of {all} sweeps these: {failing:#?}");
}

#[test]
fn a_larger_fault_at_the_same_place_never_scores_less() {
    let failing = failing(|steps| {
        let falls = |pair: &[Step]| pair[1].risk < pair[0].risk - ROUNDING;
        !steps.windows(2).any(falls)
    });
    none(&failing);
}

#[test]
fn a_fault_that_scores_half_and_more_still_does_when_it_is_larger() {
    let is_kept = |steps: &[Step]| steps.is_sorted_by_key(|s| Band::of(s.risk) >= Band::Fault);
    none(&failing(is_kept));
}

#[test]
fn a_fault_that_nobody_sees_scores_under_a_quarter() {
    let is_unseen = |steps: &[Step]| steps[0].is_fault || Band::of(steps[0].risk) == Band::Clean;
    none(&failing(is_unseen));
}

#[test]
fn a_plain_fault_scores_over_a_half() {
    let is_found = |steps: &[Step]| {
        let last = steps[STEPS - 1];
        !last.is_fault || last.risk > 0.5
    };
    none(&failing(is_found));
}

/// Merged into the next loop, a support loop is not at one place with what it was before: it is another
/// cage, with fewer vertices, and no step of a sweep.
#[test]
fn a_support_loop_that_is_gone_for_a_part_of_its_edge_scores_over_a_half() {
    let mut faulty = 0;
    for clean in forms() {
        for place in 1..=PLACES {
            let kind = FaultKind::MissingSupport;
            let Some(case) = put(&clean, kind, SUPPORT_GONE, Sides::One, &mut Random(place)) else {
                continue;
            };
            let told = step(&case, SUPPORT_GONE);
            let what = format!("{}, place {place}: {}", clean.name, told.risk);
            assert!(!told.is_fault || told.risk > 0.5, "{what}");
            faulty += usize::from(told.is_fault);
        }
    }
    assert!(faulty > 0);
}
