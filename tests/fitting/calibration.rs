//! Makes probabilities of a forest's log-odds right on cages that it was not grown on.

use cagewise::risk::trees::{Forest, probability};
use rayon::prelude::*;

use crate::corpus::case::FaultKind;
use crate::rows::{Label, Rows};

/// Steps of Newton's method at most, and the change at which it is done.
const STEPS: usize = 50;
const DONE: f64 = 1e-9;

/// Whether a fault has a rule of its own: what the trees say of it does not count, and would pull
/// their probabilities down.
fn is_ruled(label: &Label) -> bool {
    label.kind == Some(FaultKind::FlippedFace)
}

/// Stretches and shifts what the forest says so that it is the likeliest log-odds of the truth (Platt,
/// Probabilistic outputs for support vector machines, 1999), vertices that people would argue about
/// counted by how sure they are. `scales` are what it is softened by.
pub fn calibrate(forest: &mut Forest, scales: &[f32], rows: &Rows) {
    let mut soft = forest.clone();
    soft.soften(scales);
    let known: Vec<(f64, f64)> = (0..rows.labels.len())
        .into_par_iter()
        .filter(|&i| !is_ruled(&rows.labels[i]))
        .filter_map(|i| {
            let truth = f64::from(rows.labels[i].sure);
            (!truth.is_nan()).then(|| (soft.log_odds(rows.row(i)), truth))
        })
        .collect();
    let [stretch, shift] = likeliest(&known);
    println!("log-odds times {stretch:.3}, plus {shift:.3}");
    forest.base = (f64::from(forest.base) * stretch + shift) as f32;
    for value in &mut forest.value {
        *value = crate::boosting::rounded((f64::from(*value) * stretch) as f32);
    }
}

/// The stretch and shift of log-odds under which the truths, from 0 to 1, are likeliest.
fn likeliest(known: &[(f64, f64)]) -> [f64; 2] {
    let mut line = nalgebra::Vector2::new(1.0, 0.0);
    for _ in 0..STEPS {
        let mut slope = nalgebra::Vector2::zeros();
        let mut bend = nalgebra::Matrix2::zeros();
        for &(x, truth) in known {
            let at = nalgebra::Vector2::new(x, 1.0);
            let p = probability(line.dot(&at));
            slope += at * (p - truth);
            bend += at * at.transpose() * (p * (1.0 - p));
        }
        let step = bend.lu().solve(&slope).unwrap();
        line -= step;
        if step.norm() < DONE {
            break;
        }
    }
    [line.x, line.y]
}
