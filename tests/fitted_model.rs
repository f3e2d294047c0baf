//! The model's file that the crate carries: it holds together, asks only what there is, and its
//! shares add up.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[path = "fitting/boosting.rs"]
mod boosting;
mod support;

use std::collections::BTreeSet;

use cagewise::measure::{MeasureContext, Measures};
use cagewise::mesh::{PolygonMesh, Vec3};
use cagewise::risk::evidence::Evidence;
use cagewise::risk::fitted::{FITTED, FORMAT, Fitted, FittedError};
use cagewise::risk::trees::{Forest, ForestError, probability};
use cagewise::risk::{Band, Cause};
use support::cages::{boxed, pushed, random_cage, torus};
use support::surface_of;

/// Largest size of the file, in bytes: it is part of the program.
const LARGEST: usize = 1_000_000;

/// Rounding of some hundred additions of log-odds.
const ROUNDOFF: f64 = 1e-9;

/// The same where trees mix what their leaves say in single precision.
const SINGLE_ROUNDOFF: f64 = 1e-4;

fn shipped() -> &'static Fitted {
    FITTED.as_ref().expect("the file parses")
}

fn shipped_bytes() -> Vec<u8> {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/src/risk/fitted.json");
    std::fs::read(path).unwrap()
}

fn forests() -> impl Iterator<Item = &'static Forest> {
    let causes = shipped().causes.iter().map(|(_, forest)| forest);
    std::iter::once(&shipped().risk).chain(causes)
}

fn evidence(mesh: &PolygonMesh) -> Evidence {
    let surface = surface_of(mesh);
    let context = MeasureContext::new(&surface);
    Evidence::new(&context, &Measures::new(&context))
}

/// Rows of the evidence about a cage, as the model asks for them.
fn rows(mesh: &PolygonMesh) -> Vec<Vec<f32>> {
    let evidence = evidence(mesh);
    let columns = evidence.named(&shipped().quantities);
    let row = |v: usize| columns.iter().map(|c| c[v]).collect();
    (0..evidence.vertex_count()).map(row).collect()
}

fn cages() -> [PolygonMesh; 3] {
    let stations = [-1.0, -0.9, 0.0, 0.9, 1.0];
    [
        torus(12, 8, 2.0, 0.7),
        boxed(&stations, &stations, &stations),
        random_cage(4),
    ]
}

#[test]
fn the_shipped_file_parses_and_says_how_it_was_made() {
    let bytes = shipped_bytes();
    assert!(bytes.len() <= LARGEST, "{} bytes", bytes.len());
    let fitted = Fitted::parse(&bytes).unwrap();
    assert_eq!(&fitted, shipped());
    assert_eq!(fitted.format, FORMAT);
    assert!(fitted.made.iter().any(|line| line.contains("fit_risk")));
    assert!(forests().all(|forest| !forest.roots.is_empty()));
    let finite = |values: &[f32]| values.iter().all(|x| x.is_finite());
    assert!(forests().all(|f| f.base.is_finite() && finite(&f.value) && finite(&f.split)));
}

/// A quantity that there is not would be undefined at every vertex, and nobody would notice.
#[test]
fn every_quantity_that_the_model_asks_is_evidence() {
    for mesh in cages() {
        let evidence = evidence(&mesh);
        for name in &shipped().quantities {
            assert_eq!(evidence.of(name).len(), mesh.vertex_count(), "{name}");
        }
    }
    let names: BTreeSet<&String> = shipped().quantities.iter().collect();
    assert_eq!(names.len(), shipped().quantities.len(), "one twice");
}

/// One that is undefined everywhere is as bad as one that is missing.
#[test]
fn every_quantity_is_defined_somewhere_on_a_few_small_cages() {
    let seen: Vec<Vec<f32>> = cages().iter().flat_map(rows).collect();
    let undefined: Vec<&String> = (0..shipped().quantities.len())
        .filter(|&q| seen.iter().all(|row| row[q].is_nan()))
        .map(|q| &shipped().quantities[q])
        .collect();
    assert_eq!(undefined, Vec::<&String>::new());
}

#[test]
fn every_cause_of_the_model_is_one_and_comes_once() {
    let names: Vec<&str> = shipped()
        .causes
        .iter()
        .map(|(name, _)| name.as_str())
        .collect();
    let distinct: BTreeSet<&str> = names.iter().copied().collect();
    assert_eq!(distinct.len(), names.len(), "{names:?}");
    for name in names {
        assert!(
            Cause::ALL.iter().any(|cause| cause.name() == name),
            "{name}"
        );
    }
}

/// With what every vertex starts from (Saabas, Interpreting random forests, 2014).
#[test]
fn shares_of_the_quantities_add_up_to_the_log_odds() {
    for forest in forests() {
        let start = forest.unknowing();
        for row in cages().iter().flat_map(rows) {
            let shares = forest.shares(&row);
            let told = start + shares.iter().sum::<f64>();
            assert!((told - forest.log_odds(&row)).abs() < SINGLE_ROUNDOFF);
        }
    }
}

#[test]
fn a_judgement_is_the_probability_of_its_log_odds_and_its_causes_sum_to_one_from_watch_on() {
    // Of more than the vertices that are judged together.
    let larger = pushed(&torus(60, 40, 1.0, 0.4), 777, Vec3::new(0.0, 0.0, 0.05));
    for mesh in cages().into_iter().chain([larger]) {
        let judgements = shipped().judge(&evidence(&mesh));
        for (judgement, row) in judgements.iter().zip(rows(&mesh)) {
            assert_eq!(judgement.risk, probability(shipped().risk.log_odds(&row)));
            let sum: f64 = judgement.causes.iter().sum();
            let expected = if Band::of(judgement.risk) >= Band::Watch {
                1.0
            } else {
                0.0
            };
            assert!((sum - expected).abs() < ROUNDOFF, "{judgement:?}");
            let largest = judgement.parts().into_iter().fold(0.0, f64::max);
            assert_eq!(largest, judgement.risk);
        }
    }
}

/// As `fit_risk` makes one, of few rows of two quantities.
#[test]
fn a_file_says_what_was_fitted() {
    const ROWS: usize = 400;
    let evidence: Vec<f64> = (0..2 * ROWS).map(|i| (i * i % 401) as f64 / 40.0).collect();
    let truth: Vec<f64> = (0..ROWS)
        .map(|v| f64::from(u8::from(evidence[v] > 4.0 && evidence[ROWS + v] < 7.0)))
        .collect();
    let sample = boosting::Sample {
        evidence: &evidence,
        columns: 2,
        truth: &truth,
        weights: &[1.0; ROWS],
        rising: &[0],
    };
    let growth = boosting::Growth {
        trees: 6,
        leaves: 7,
        learning_rate: 0.3,
        least_weight: 1.0,
        penalty: 1.0,
        rows: 0.7,
        quantities: 1.0,
    };
    let mut risk = boosting::fit_mean(&sample, &growth, &[1, 2]);
    boosting::move_splits(&mut risk, |_, split| split.max(1.0));
    assert_eq!(risk.roots.len(), 12);
    let fitted = Fitted {
        format: FORMAT,
        made: Vec::new(),
        quantities: vec!["one".to_owned(), "other".to_owned()],
        scales: vec![1.0, 2.0],
        risk,
        causes: Vec::new(),
    };
    let kept = Fitted::parse(&serde_json::to_vec(&fitted).unwrap()).unwrap();
    let mut softened = fitted.risk;
    softened.soften(&fitted.scales);
    assert_eq!(kept.risk, softened);
    let told = |v: usize| {
        kept.risk
            .log_odds(&[evidence[v] as f32, evidence[ROWS + v] as f32])
    };
    let right = (0..ROWS).filter(|&v| (told(v) > 0.0) == (truth[v] > 0.5));
    assert!(right.count() > ROWS * 9 / 10);
}

#[test]
fn a_file_that_does_not_hold_together_is_refused() {
    let refused = |change: fn(&mut Fitted)| {
        let mut fitted = shipped().clone();
        change(&mut fitted);
        Fitted::parse(&serde_json::to_vec(&fitted).unwrap()).unwrap_err()
    };
    assert!(matches!(Fitted::parse(b"{}"), Err(FittedError::Json(_))));
    let other_format = Fitted::parse(br#"{"format":2,"risk":{"roots":[0]}}"#);
    assert!(matches!(other_format, Err(FittedError::Format(2))));
    let endless = refused(|f| f.risk.base = f32::INFINITY);
    assert!(matches!(endless, FittedError::Json(_)), "{endless}");
    let no_cause = refused(|f| f.causes.push(("weather".to_owned(), Forest::default())));
    assert!(matches!(no_cause, FittedError::Cause(_)), "{no_cause}");
    let no_scale = refused(|f| f.scales[0] = 0.0);
    assert!(matches!(no_scale, FittedError::Scales), "{no_scale}");
    let fewer_quantities = refused(|f| {
        f.quantities.truncate(1);
        f.scales.truncate(1);
    });
    let astray = matches!(fewer_quantities, FittedError::Forest(ForestError::Node(_)));
    assert!(astray, "{fewer_quantities}");
}
