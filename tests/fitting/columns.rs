//! Rows of evidence as the trees are grown on them: column by column, what nobody sees taken for
//! nothing, and each row with a twin of slightly other values.

use rayon::prelude::*;

use crate::rows::Rows;
use crate::support::cages::Random;

/// Up to this part of a quantity's usual size nobody sees any of it. Trees that could ask for less
/// would tell what is exactly regular, or exactly symmetric, from what a modeller made.
const UNSEEN: f32 = 0.003;

/// By how much a twin's values differ from its row's: standard deviation as parts of the value and of
/// the quantity's usual size. Trees that are grown on both cannot rest on exact values. Chosen on
/// [`crate::parts::Part::Choose`] and on faults that grow.
const TWIN_OF_VALUE: f64 = 0.3;
const TWIN_OF_SCALE: f64 = 0.1;

/// Seed of the twins' values.
const SEED: u64 = 0x51ab_07ee;

/// Absolute values up to this, in any quantity's unit, are what rounding leaves of 0.
const ROUNDING: f32 = 1e-6;

/// The usual size of each quantity: the 75 % quantile of its absolute values, where it is defined; 1
/// where so many are 0.
pub fn scales(rows: &Rows) -> Vec<f32> {
    let width = rows.names.len();
    let scale = |column: usize| {
        let all = rows.evidence.iter().skip(column).step_by(width);
        let mut sizes: Vec<f32> = all.map(|x| x.abs()).filter(|x| x.is_finite()).collect();
        let place = sizes.len().saturating_sub(1) * 3 / 4;
        if sizes.is_empty() {
            return 1.0;
        }
        let scale = *sizes.select_nth_unstable_by(place, f32::total_cmp).1;
        if scale > ROUNDING { scale } else { 1.0 }
    };
    (0..width).into_par_iter().map(scale).collect()
}

/// The columns of the rows `used`, one after the other: in each first the rows, then their twins.
pub fn with_twins(rows: &Rows, used: &[usize], scales: &[f32]) -> Vec<f64> {
    let column = |column: usize| {
        let mut random = Random(SEED + column as u64);
        let scale = scales[column];
        let own = used.iter().map(|&i| settled(rows.row(i)[column], scale));
        let mut values: Vec<f64> = own.collect();
        let twins: Vec<f64> = values
            .iter()
            .map(|&x| twin(x, scale, &mut random))
            .collect();
        values.extend(twins);
        values
    };
    let columns: Vec<Vec<f64>> = (0..scales.len()).into_par_iter().map(column).collect();
    columns.concat()
}

/// A value, or 0 where nobody sees it.
fn settled(value: f32, scale: f32) -> f64 {
    let seen = value.is_nan() || value.abs() >= UNSEEN * scale;
    f64::from(if seen { value } else { 0.0 })
}

/// A value near the given one, of the same sign; what is 0 stays so.
fn twin(value: f64, scale: f32, random: &mut Random) -> f64 {
    let [a, b] = normal(random);
    let scale = f64::from(scale);
    let near = value * (1.0 + TWIN_OF_VALUE * a) + TWIN_OF_SCALE * scale * b;
    let is_like = near * value > 0.0 && near.abs() >= f64::from(UNSEEN) * scale;
    if is_like {
        f64::from(near as f32)
    } else {
        value
    }
}

/// Two numbers of a standard normal distribution (Box and Muller, A note on the generation of random
/// normal deviates, 1958).
fn normal(random: &mut Random) -> [f64; 2] {
    let size = (-2.0 * (1.0 - random.unit()).ln()).sqrt();
    let (sin, cos) = (std::f64::consts::TAU * random.unit()).sin_cos();
    [size * cos, size * sin]
}

/// Moves a split between 0 and the least that is seen to the latter: no value lies between, and the
/// ramp about it needs room.
pub fn seen_split(split: f32, scale: f32) -> f32 {
    let least = UNSEEN * scale;
    if split.abs() >= least {
        split
    } else if split > 0.0 {
        least
    } else {
        -least
    }
}
