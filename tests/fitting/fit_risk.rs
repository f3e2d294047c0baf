//! Fits the model of the risk and writes it into `src/risk/fitted.json`:
//! `CAGEWISE_CAGES=FOLDER cargo run --release --example fit_risk`.
//!
//! Deterministic: the same cages give the same file, whatever the number of threads.
#![allow(
    dead_code,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout
)]

mod boosting;
mod calibration;
mod columns;
#[path = "../corpus/mod.rs"]
mod corpus;
mod figures;
mod naive_rules;
mod parts;
mod rows;
mod support;

use std::time::Instant;

use boosting::{Growth, Sample};
use cagewise::risk::Cause;
use cagewise::risk::fitted::{FORMAT, Fitted};
use cagewise::risk::trees::Forest;
use corpus::case::FaultKind;
use parts::{Draw, Part};
use rows::{Label, Rows};

/// Quantities of which more can never lower the risk: what the surface itself does that neither loop
/// nor neighbourhood asks for, what is wrong whatever lies about it, what no two mirror images repeat, and
/// what breaks off how the loops are spaced. The first seven were chosen by leaving out real
/// cages that are otherwise fitted on, the others on growing faults: asked of nearly all, fewer faults
/// lose risk as they grow, but fewer are found. The wave came with the capped bodies: a higher one is worse.
/// The last two since a face that folds over must not clear what lies beside it.
const RISING: [&str; 14] = [
    "loop_through",
    "loop_through_far",
    "roughness_narrow",
    "deviation",
    "loop_deviation",
    "quad_warp",
    "reversed_share",
    "mirror_stray_second",
    "length_out_of_step",
    "length_out_of_step_ring",
    "face_lean",
    "facet_ripple",
    "quad_warp_ring_mean",
    "quad_warp_ring_largest",
];

/// Where the model is kept.
const FILE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/src/risk/fitted.json");

/// How the trees of the risk are grown; chosen on [`Part::Choose`].
const RISK_GROWTH: Growth = Growth {
    trees: 350,
    leaves: 31,
    learning_rate: 0.09,
    least_weight: 20.0,
    penalty: 30.0,
    rows: 0.7,
    quantities: 0.7,
};

/// How those of each cause are.
const CAUSE_GROWTH: Growth = Growth {
    trees: 40,
    leaves: 12,
    learning_rate: 0.15,
    least_weight: 3.0,
    penalty: 1.0,
    rows: 0.8,
    quantities: 0.5,
};

/// Seeds of the forests whose mean the risk is, and of the one of each cause.
const RISK_SEEDS: [u64; 2] = [1, 2];
const CAUSE_SEED: u64 = 1;

/// Shares of the whole weight that each kind of cage has.
const WEIGHT_SHARES: [(parts::Source, f64); 4] = [
    (parts::Source::Drawn, 0.41),
    (parts::Source::Grown, 0.44),
    (parts::Source::Real, 0.14),
    (parts::Source::Growing, 0.05),
];

fn main() {
    let start = Instant::now();
    let (rows, sources) = parts::rows_of(Part::Fit, Draw::FIRST);
    println!(
        "{} cages, {} vertices, {:.0} s",
        rows.cases.len(),
        rows.labels.len(),
        start.elapsed().as_secs_f64()
    );
    let scales: Vec<f32> = columns::scales(&rows)
        .into_iter()
        .map(boosting::rounded)
        .collect();
    let mut risk = fit_risk(&rows, &sources, &scales);
    calibration::calibrate(
        &mut risk,
        &scales,
        &parts::rows_of(Part::Calibrate, Draw::FIRST).0,
    );
    let fitted = Fitted {
        format: FORMAT,
        made: made(&rows),
        quantities: rows.names.clone(),
        risk,
        causes: fit_causes(&rows, &scales),
        scales,
    };
    let text = serde_json::to_string(&fitted).unwrap();
    let kept = Fitted::parse(text.as_bytes()).unwrap();
    let mut softened = fitted.risk.clone();
    softened.soften(&fitted.scales);
    assert_eq!(kept.risk, softened, "the file says what was fitted");
    std::fs::write(FILE, &text).unwrap();
    println!(
        "{FILE}: {} bytes, {:.0} s in all",
        text.len(),
        start.elapsed().as_secs_f64()
    );
}

/// How the file was made, in words.
fn made(rows: &Rows) -> Vec<String> {
    let mut families: Vec<&str> = rows.cases.iter().map(|c| c.1).collect();
    families.sort_unstable();
    families.dedup();
    let faulty = rows.labels.iter().filter(|l| l.faulty == Some(true));
    vec![
        "cargo run --release --example fit_risk".to_owned(),
        format!(
            "{} cages, {} vertices of which {} faulty",
            rows.cases.len(),
            rows.labels.len(),
            faulty.count()
        ),
        format!("families: {}", families.join(", ")),
        format!("risk: {RISK_GROWTH:?}, mean of seeds {RISK_SEEDS:?}"),
        format!("causes: {CAUSE_GROWTH:?}, seed {CAUSE_SEED}"),
        "library: forust-ml 0.8.0".to_owned(),
    ]
}

fn fit_risk(rows: &Rows, sources: &[parts::Source], scales: &[f32]) -> Forest {
    let source = |i: usize| sources[rows.labels[i].case as usize];
    // Of a cage with a growing fault only what is near it tells anything new.
    let tells = |i: usize| source(i) != parts::Source::Growing || rows.labels[i].near_fault;
    let used: Vec<usize> = (0..rows.labels.len())
        .filter(|&i| !rows.labels[i].sure.is_nan() && tells(i))
        .collect();
    let counts = WEIGHT_SHARES.map(|(s, _)| used.iter().filter(|&&i| source(i) == s).count());
    let there: f64 = (0..WEIGHT_SHARES.len())
        .filter(|&k| counts[k] > 0)
        .map(|k| WEIGHT_SHARES[k].1)
        .sum();
    let weight = |i: usize| {
        let k = WEIGHT_SHARES.iter().position(|(s, _)| *s == source(i));
        let k = k.expect("every source has a share");
        used.len() as f64 * WEIGHT_SHARES[k].1 / there / counts[k] as f64
    };
    let truth = |l: &Label| f64::from(l.sure);
    let rising: Vec<usize> = (0..scales.len())
        .filter(|&c| RISING.contains(&rows.names[c].as_str()))
        .collect();
    let sample = FittedRows {
        rows,
        numbers: &used,
        rising: &rising,
        scales,
    };
    sample.fit(truth, weight, &RISK_GROWTH, &RISK_SEEDS)
}

fn fit_causes(rows: &Rows, scales: &[f32]) -> Vec<(String, Forest)> {
    let used: Vec<usize> = (0..rows.labels.len())
        .filter(|&i| rows.labels[i].faulty == Some(true))
        .collect();
    let names = |l: &Label, cause| f64::from(u8::from(l.kind.is_some_and(|k| k.cause() == cause)));
    let fitted = Cause::ALL.into_iter().filter(|&cause| {
        let kinds = FaultKind::ALL.iter();
        kinds.filter(|k| k.cause() == cause).count() > 0
    });
    // Each kind counts alike, however many vertices it disturbs.
    let count_of = |kind| {
        used.iter()
            .filter(|&&i| rows.labels[i].kind == kind)
            .count()
    };
    let counts: Vec<(Option<FaultKind>, usize)> = FaultKind::ALL
        .iter()
        .map(|&k| (Some(k), count_of(Some(k))))
        .collect();
    let weight = |i: usize| {
        let of_kind = counts.iter().find(|c| c.0 == rows.labels[i].kind);
        used.len() as f64 / counts.len() as f64 / of_kind.map_or(1, |c| c.1) as f64
    };
    let sample = FittedRows {
        rows,
        numbers: &used,
        rising: &[],
        scales,
    };
    fitted
        .map(|cause| {
            let truth = |l: &Label| names(l, cause);
            let forest = sample.fit(truth, weight, &CAUSE_GROWTH, &[CAUSE_SEED]);
            (cause.name().to_owned(), forest)
        })
        .collect()
}

/// What a forest is fitted on.
struct FittedRows<'a> {
    rows: &'a Rows,
    /// The numbers of those that are fitted on.
    numbers: &'a [usize],
    /// Quantities of which more can never lower the outcome, by number.
    rising: &'a [usize],
    /// The usual size of each quantity, in its unit.
    scales: &'a [f32],
}

impl FittedRows<'_> {
    /// The mean of the forests with the given seeds, each row seen together with its twin.
    fn fit(
        &self,
        truth: impl Fn(&Label) -> f64,
        weight: impl Fn(usize) -> f64,
        growth: &Growth,
        seeds: &[u64],
    ) -> Forest {
        let Self { rows, scales, .. } = *self;
        let evidence = columns::with_twins(rows, self.numbers, scales);
        let twice = |values: Vec<f64>| [values.clone(), values].concat();
        let truth = twice(
            self.numbers
                .iter()
                .map(|&i| truth(&rows.labels[i]))
                .collect(),
        );
        let weights = twice(self.numbers.iter().map(|&i| 0.5 * weight(i)).collect());
        let sample = Sample {
            evidence: &evidence,
            columns: scales.len(),
            truth: &truth,
            weights: &weights,
            rising: self.rising,
        };
        let mut forest = boosting::fit_mean(&sample, growth, seeds);
        boosting::move_splits(&mut forest, |quantity, split| {
            columns::seen_split(split, scales[quantity])
        });
        forest
    }
}
