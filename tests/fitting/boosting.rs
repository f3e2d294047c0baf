//! Boosted trees by a library, turned into the form that the program reads.

use std::collections::HashMap;

use forust_ml::Matrix;
use forust_ml::constraints::Constraint;
use forust_ml::gradientbooster::{GradientBooster, GrowPolicy};
use forust_ml::objective::ObjectiveType;
use forust_ml::sampler::SampleMethod;
use forust_ml::tree::Tree;

use cagewise::risk::trees::Forest;

/// How trees are grown.
#[derive(Debug, Clone, Copy)]
pub struct Growth {
    pub trees: usize,
    pub leaves: usize,
    pub learning_rate: f32,
    /// Least sum of second derivatives in a leaf.
    pub least_weight: f32,
    /// Penalty on the leaves' values.
    pub penalty: f32,
    /// Share of the rows that each tree sees.
    pub rows: f32,
    /// Share of the quantities that each tree sees.
    pub quantities: f64,
}

/// What is fitted: `columns` columns of `truth.len()` values each.
pub struct Sample<'a> {
    /// Column after column.
    pub evidence: &'a [f64],
    pub columns: usize,
    /// From 0 to 1 a row.
    pub truth: &'a [f64],
    pub weights: &'a [f64],
    /// Columns of which more can never lower the outcome.
    pub rising: &'a [usize],
}

/// The mean, in log-odds, of forests grown with the given seeds of what is drawn by chance: figures differ
/// from seed to seed as much as by most settings.
pub fn fit_mean(sample: &Sample, growth: &Growth, seeds: &[u64]) -> Forest {
    let forests: Vec<Forest> = seeds.iter().map(|&s| fit(sample, growth, s)).collect();
    let mean = mean_of(&forests);
    let members = |row: &[f32]| forests.iter().map(|f| f.log_odds(row)).sum::<f64>();
    assert_same(&mean, sample, |_, row| members(row) / seeds.len() as f64);
    mean
}

/// One forest that says the mean of what several say.
fn mean_of(forests: &[Forest]) -> Forest {
    let share = 1.0 / forests.len() as f32;
    let mut mean = Forest::default();
    for forest in forests {
        let first = mean.value.len() as u32;
        let behind = |left: &u32| if *left == 0 { 0 } else { first + left };
        mean.base += share * forest.base;
        mean.roots
            .extend(forest.roots.iter().map(|root| first + root));
        mean.left.extend(forest.left.iter().map(behind));
        mean.quantity.extend(&forest.quantity);
        mean.split.extend(&forest.split);
        mean.undefined_left.extend(&forest.undefined_left);
        mean.value.extend(forest.value.iter().map(|x| share * x));
    }
    mean
}

/// Fits trees by gradient boosting on the logistic loss (Friedman 2001), with histograms of 255 bins
/// and leaves grown best first.
fn fit(sample: &Sample, growth: &Growth, seed: u64) -> Forest {
    let matrix = Matrix::new(sample.evidence, sample.truth.len(), sample.columns);
    let constraints: HashMap<usize, Constraint> = sample
        .rising
        .iter()
        .map(|&column| (column, Constraint::Positive))
        .collect();
    let mut booster = GradientBooster::default()
        .set_objective_type(ObjectiveType::LogLoss)
        .set_iterations(growth.trees)
        .set_learning_rate(growth.learning_rate)
        .set_max_depth(growth.leaves)
        .set_max_leaves(growth.leaves)
        .set_l2(growth.penalty)
        .set_min_leaf_weight(growth.least_weight)
        .set_nbins(255)
        .set_initialize_base_score(true)
        .set_monotone_constraints(Some(constraints))
        .set_sample_method(SampleMethod::Random)
        .set_subsample(growth.rows)
        .set_colsample_bytree(growth.quantities)
        .set_parallel(true)
        .set_seed(seed);
    booster.grow_policy = GrowPolicy::LossGuide;
    booster
        .fit(&matrix, sample.truth, sample.weights, None)
        .unwrap();
    let mut forest = Forest::default();
    forest.base = booster.base_score as f32;
    for tree in &booster.trees {
        add_tree(&mut forest, tree);
    }
    let wanted = booster.predict(&matrix, true);
    assert_same(&forest, sample, |v, _| wanted[v]);
    forest
}

/// Appends a tree, its nodes in breadth-first order so that right children follow left ones.
fn add_tree(forest: &mut Forest, tree: &Tree) {
    let first = forest.value.len();
    forest.roots.push(first as u32);
    let mut order = vec![0usize];
    let mut done = 0;
    while let Some(&at) = order.get(done) {
        done += 1;
        let node = &tree.nodes[at];
        let left = if node.is_leaf {
            0
        } else {
            let left = first + order.len();
            order.extend([node.left_child, node.right_child]);
            left as u32
        };
        forest.left.push(left);
        forest
            .quantity
            .push(node.split_feature as u16 * u16::from(!node.is_leaf));
        let split = if node.is_leaf { 0.0 } else { node.split_value };
        forest.split.push(split as f32);
        let undefined_left = !node.is_leaf && node.missing_node == node.left_child;
        forest.undefined_left.push(u8::from(undefined_left));
        forest.value.push(rounded(node.weight_value));
    }
}

/// Moves each split to where `place` wants it, which is given the quantity and the old split. Leaves are passed
/// over: a file does not keep their splits.
pub fn move_splits(forest: &mut Forest, place: impl Fn(usize, f32) -> f32) {
    let nodes = forest.split.iter_mut().zip(&forest.quantity);
    for ((split, &quantity), &left) in nodes.zip(&forest.left) {
        if left != 0 {
            *split = place(usize::from(quantity), *split);
        }
    }
}

/// To four digits: the file need not be longer than it is exact.
pub fn rounded(value: f32) -> f32 {
    format!("{value:.3e}").parse().unwrap()
}

/// Makes sure that nothing was lost on the way: `wanted` is what a row of the given number is to be told.
fn assert_same(forest: &Forest, sample: &Sample, wanted: impl Fn(usize, &[f32]) -> f64) {
    /// Values are rounded to four digits, and hundreds of them are summed up.
    const ROUNDED: f64 = 2e-2;
    let count = sample.truth.len();
    let mut row = vec![0.0f32; sample.columns];
    for v in (0..count).step_by(count / 1000 + 1) {
        for (column, slot) in row.iter_mut().enumerate() {
            *slot = sample.evidence[column * count + v] as f32;
        }
        let (found, wanted) = (forest.log_odds(&row), wanted(v, &row));
        assert!(
            (found - wanted).abs() < ROUNDED,
            "row {v}: {found}, not {wanted}"
        );
    }
}
