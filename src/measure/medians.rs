//! Medians of a few values, and of several quantities abreast.

use pulp::{Arch, Simd, WithSimd};

/// Quantities that are taken abreast.
pub const ABREAST: usize = 8;

/// A value of each of some quantities, in single precision: as the evidence is kept.
pub type Row = [f32; ABREAST];

/// Members of each way of a loop that [`medians_along`] takes abreast: as many as the stations of
/// `risk/evidence/surroundings.rs`.
const WAY_MEMBERS: usize = 3;

/// Values of which [`median`] takes the middle by a network.
const NETWORK_MAX: usize = 32;

/// Vertices on rings 2 and 3 about a regular vertex of a regular neighbourhood.
const REGULAR_MEMBERS: usize = 20;

/// The median of some values, undefined ones left out; NaN if none is left.
pub fn median(values: impl Iterator<Item = f64>) -> f64 {
    let mut values = values.filter(|x| x.is_finite());
    // Mostly there are no more.
    let mut first = [f64::INFINITY; 8];
    let mut count = 0;
    for (slot, x) in first.iter_mut().zip(&mut values) {
        *slot = x;
        count += 1;
    }
    match count {
        0 => f64::NAN,
        1..=4 => {
            let [a, b, c, d, ..] = first;
            middle(&sorted_four(Plain, [a, b, c, d]), count)
        }
        5..8 => middle(&sorted_eight(Plain, first), count),
        _ => median_of_many(first, values),
    }
}

/// The median of eight values and some more.
fn median_of_many(first: [f64; 8], others: impl Iterator<Item = f64>) -> f64 {
    let mut few = [f64::INFINITY; NETWORK_MAX];
    let mut count = 0;
    let mut many = Vec::new();
    for x in first.into_iter().chain(others) {
        if count == NETWORK_MAX {
            many.extend_from_slice(&few);
        }
        match few.get_mut(count) {
            Some(slot) => *slot = x,
            None => many.push(x),
        }
        count += 1;
    }
    match count {
        0..=8 => middle(&sorted_eight(Plain, first), count),
        9..=16 => middle(
            &sorted_sixteen(Plain, std::array::from_fn(|i| few[i])),
            count,
        ),
        17..=REGULAR_MEMBERS => middle(
            &sorted_regular(Plain, std::array::from_fn(|i| few[i])),
            count,
        ),
        21..=NETWORK_MAX => middle(&sorted_all(Plain, few), count),
        _ => {
            many.sort_unstable_by(f64::total_cmp);
            middle(&many, count)
        }
    }
}

/// The middle one of the first `count` of sorted values, the mean of the two middle ones of an even
/// number.
fn middle(sorted: &[f64], count: usize) -> f64 {
    let upper = sorted[count / 2];
    if count % 2 == 1 {
        upper
    } else {
        (sorted[count / 2 - 1] + upper) / 2.0
    }
}

/// The medians of several quantities, each over the same rows: what [`median`] says of each. As
/// many as the processor has lanes go through a network at once.
pub fn medians_abreast(arch: Arch, rows: &[Row], members: &[u32]) -> Row {
    let (mut medians, sound) = match members.len() {
        1..=NETWORK_MAX => arch.dispatch(Kernel { rows, members }),
        _ => ([f32::NAN; ABREAST], [f32::NAN; ABREAST]),
    };
    for k in (0..ABREAST).filter(|&k| sound[k] != 0.0) {
        let values = members.iter().map(|&w| f64::from(rows[w as usize][k]));
        medians[k] = median(values) as f32;
    }
    medians
}

/// The medians over both ways of a loop together and over each: what [`medians_abreast`] says of them.
/// `both` has the members of the ways one after the other.
pub fn medians_along(arch: Arch, rows: &[Row], both: &[u32], ways: [&[u32]; 2]) -> [Row; 3] {
    if let [Ok(a), Ok(b)] = ways.map(<&[u32; WAY_MEMBERS]>::try_from) {
        let (medians, sound) = arch.dispatch(Along { rows, ways: [a, b] });
        if sound == [0.0; ABREAST] {
            return medians;
        }
    }
    let [a, b] = ways;
    [both, a, b].map(|members| medians_abreast(arch, rows, members))
}

struct Kernel<'a> {
    rows: &'a [Row],
    members: &'a [u32],
}

impl WithSimd for Kernel<'_> {
    /// The medians, and for each 0 if all its values are defined.
    type Output = (Row, Row);

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> Self::Output {
        // What no run reaches is not sound: where a processor has more lanes than there are quantities no run is
        // made, and all are found one by one.
        let (mut medians, mut sound) = ([f32::NAN; ABREAST], [f32::NAN; ABREAST]);
        for run in 0..ABREAST / S::F32_LANES {
            let (median, zero) = match self.members.len() {
                0..=4 => self.run(Lanes(simd), run, sorted_four),
                5..=8 => self.run(Lanes(simd), run, sorted_eight),
                9..=16 => self.run(Lanes(simd), run, sorted_sixteen),
                17..=REGULAR_MEMBERS => self.run(Lanes(simd), run, sorted_regular),
                _ => self.run(Lanes(simd), run, sorted_all),
            };
            S::as_mut_simd_f32s(&mut medians).0[run] = median;
            S::as_mut_simd_f32s(&mut sound).0[run] = zero;
        }
        (medians, sound)
    }
}

impl Kernel<'_> {
    /// The medians of one run of lanes by the given network, and the sum of the values times 0.
    #[inline(always)]
    fn run<S: Simd, const N: usize>(
        &self,
        lanes: Lanes<S>,
        run: usize,
        sorted: impl Fn(Lanes<S>, [S::f32s; N]) -> [S::f32s; N],
    ) -> (S::f32s, S::f32s) {
        let Lanes(simd) = lanes;
        let zero = simd.splat_f32s(0.0);
        let mut values = [simd.splat_f32s(f32::INFINITY); N];
        let mut sound = zero;
        for (value, &w) in values.iter_mut().zip(self.members) {
            *value = S::as_simd_f32s(&self.rows[w as usize]).0[run];
            sound = simd.add_f32s(sound, simd.mul_f32s(*value, zero));
        }
        let sorted = sorted(lanes, values);
        let count = self.members.len();
        let [below, upper] = [sorted[(count - 1) / 2], sorted[count / 2]];
        let median = simd.mul_f32s(simd.add_f32s(below, upper), simd.splat_f32s(0.5));
        (median, sound)
    }
}

/// Both ways of a loop, each with as many members as a way has that runs on.
struct Along<'a> {
    rows: &'a [Row],
    ways: [&'a [u32; WAY_MEMBERS]; 2],
}

impl WithSimd for Along<'_> {
    /// The medians over both and over each, and for each quantity 0 if all its values are defined.
    type Output = ([Row; 3], Row);

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> Self::Output {
        let (mut medians, mut sound) = ([[f32::NAN; ABREAST]; 3], [f32::NAN; ABREAST]);
        let zero = simd.splat_f32s(0.0);
        for run in 0..ABREAST / S::F32_LANES {
            let (mut undefined, mut ways) = (zero, [[zero; WAY_MEMBERS]; 2]);
            for (values, members) in ways.iter_mut().zip(self.ways) {
                for (value, &w) in values.iter_mut().zip(members) {
                    *value = S::as_simd_f32s(&self.rows[w as usize]).0[run];
                    undefined = simd.add_f32s(undefined, simd.mul_f32s(*value, zero));
                }
                *values = sorted_three(Lanes(simd), *values);
            }
            let [a, b] = ways;
            let all = [median_of_threes(simd, a, b), a[1], b[1]];
            for (medians, median) in medians.iter_mut().zip(all) {
                S::as_mut_simd_f32s(medians).0[run] = median;
            }
            S::as_mut_simd_f32s(&mut sound).0[run] = undefined;
        }
        (medians, sound)
    }
}

/// The median of two sorted threes together: the mean of the third and the fourth. The third least of
/// them is the least that i of the one and 3 - i of the other do not exceed; the fourth likewise, from
/// above.
#[inline(always)]
fn median_of_threes<S: Simd>(
    simd: S,
    a: [S::f32s; WAY_MEMBERS],
    b: [S::f32s; WAY_MEMBERS],
) -> S::f32s {
    let mut third = simd.min_f32s(a[2], b[2]);
    let mut fourth = simd.max_f32s(a[0], b[0]);
    for (i, j) in [(0, 1), (1, 0)] {
        third = simd.min_f32s(third, simd.max_f32s(a[i], b[j]));
    }
    for (i, j) in [(1, 2), (2, 1)] {
        fourth = simd.max_f32s(fourth, simd.min_f32s(a[i], b[j]));
    }
    simd.mul_f32s(simd.add_f32s(third, fourth), simd.splat_f32s(0.5))
}

/// Puts two values in order.
trait Exchange: Copy {
    type Value: Copy;

    /// Two defined values, the smaller one first.
    fn in_order(self, a: Self::Value, b: Self::Value) -> (Self::Value, Self::Value);
}

#[derive(Clone, Copy)]
struct Plain;

impl Exchange for Plain {
    type Value = f64;

    #[inline(always)]
    fn in_order(self, a: f64, b: f64) -> (f64, f64) {
        let smaller = if a < b { a } else { b };
        let larger = if a < b { b } else { a };
        (smaller, larger)
    }
}

/// Values of several quantities, one a lane.
#[derive(Clone, Copy)]
struct Lanes<S>(S);

impl<S: Simd> Exchange for Lanes<S> {
    type Value = S::f32s;

    #[inline(always)]
    fn in_order(self, a: S::f32s, b: S::f32s) -> (S::f32s, S::f32s) {
        (self.0.min_f32s(a, b), self.0.max_f32s(a, b))
    }
}

#[inline(always)]
fn sorted_three<E: Exchange>(e: E, [x, y, z]: [E::Value; 3]) -> [E::Value; 3] {
    let (x, y) = e.in_order(x, y);
    let (y, z) = e.in_order(y, z);
    let (x, y) = e.in_order(x, y);
    [x, y, z]
}

// Bitonic sorting networks (Batcher, Sorting networks and their applications, 1968), with the first
// comparisons of each merge turned round so that all put the smaller value first: without branches
// that a processor would guess wrong.

#[inline(always)]
fn sorted_four<E: Exchange>(e: E, x: [E::Value; 4]) -> [E::Value; 4] {
    halved::<E, 4, 1>(e, merged::<E, 4, 4>(e, merged::<E, 4, 2>(e, x)))
}

#[inline(always)]
fn sorted_eight<E: Exchange>(e: E, x: [E::Value; 8]) -> [E::Value; 8] {
    let x = merged::<E, 8, 4>(e, merged::<E, 8, 2>(e, x));
    halved::<E, 8, 1>(
        e,
        halved::<E, 8, 2>(e, merged::<E, 8, 8>(e, halved::<E, 8, 1>(e, x))),
    )
}

#[inline(always)]
fn sorted_sixteen<E: Exchange>(e: E, x: [E::Value; 16]) -> [E::Value; 16] {
    let x = halved::<E, 16, 1>(e, merged::<E, 16, 4>(e, merged::<E, 16, 2>(e, x)));
    let x = halved::<E, 16, 1>(e, halved::<E, 16, 2>(e, merged::<E, 16, 8>(e, x)));
    halved::<E, 16, 1>(
        e,
        halved::<E, 16, 2>(e, halved::<E, 16, 4>(e, merged::<E, 16, 16>(e, x))),
    )
}

#[inline(always)]
fn sorted_all<E: Exchange>(e: E, x: [E::Value; NETWORK_MAX]) -> [E::Value; NETWORK_MAX] {
    let x = halved::<E, 32, 1>(e, merged::<E, 32, 4>(e, merged::<E, 32, 2>(e, x)));
    let x = halved::<E, 32, 1>(e, halved::<E, 32, 2>(e, merged::<E, 32, 8>(e, x)));
    let x = halved::<E, 32, 1>(
        e,
        halved::<E, 32, 2>(e, halved::<E, 32, 4>(e, merged::<E, 32, 16>(e, x))),
    );
    let x = halved::<E, 32, 4>(e, halved::<E, 32, 8>(e, merged::<E, 32, 32>(e, x)));
    halved::<E, 32, 1>(e, halved::<E, 32, 2>(e, x))
}

/// Compares the values of each run of `SPAN` with those of the run read backwards.
#[inline(always)]
fn merged<E: Exchange, const N: usize, const SPAN: usize>(
    e: E,
    mut x: [E::Value; N],
) -> [E::Value; N] {
    for run in x.chunks_exact_mut(SPAN) {
        for i in 0..SPAN / 2 {
            let (a, b) = (run[i], run[SPAN - 1 - i]);
            (run[i], run[SPAN - 1 - i]) = e.in_order(a, b);
        }
    }
    x
}

/// Compares the values of each run of twice `STEP` with those `STEP` further on.
#[inline(always)]
fn halved<E: Exchange, const N: usize, const STEP: usize>(
    e: E,
    mut x: [E::Value; N],
) -> [E::Value; N] {
    for run in x.chunks_exact_mut(2 * STEP) {
        for i in 0..STEP {
            let (a, b) = (run[i], run[i + STEP]);
            (run[i], run[i + STEP]) = e.in_order(a, b);
        }
    }
    x
}

/// Puts the middle values of [`REGULAR_MEMBERS`] in their places, those from number 8 to number 10
/// counted from 0: Batcher's merge exchange (Knuth, The Art of Computer Programming, volume 3, 1973,
/// algorithm 5.2.2 M), in which what only the other values need is left out.
#[inline(always)]
fn sorted_regular<E: Exchange>(
    e: E,
    mut x: [E::Value; REGULAR_MEMBERS],
) -> [E::Value; REGULAR_MEMBERS] {
    // Written out, so that the values stay in the processor's registers.
    macro_rules! exchange {
        ($($a:literal $b:literal),* $(,)?) => {
            $((x[$a], x[$b]) = e.in_order(x[$a], x[$b]);)*
        };
    }
    exchange!(
        0 1, 2 3, 4 5, 6 7, 8 9, 10 11, 12 13, 14 15, 16 17, 18 19, 0 2, 1 3, 4 6, 5 7, 8 10,
        9 11, 12 14, 13 15, 16 18, 17 19, 1 2, 5 6, 9 10, 13 14, 17 18, 0 4, 1 5, 2 6, 3 7,
        8 12, 9 13, 10 14, 11 15, 2 4, 3 5, 10 12, 11 13, 1 2, 3 4, 5 6, 9 10, 11 12, 13 14,
        17 18, 0 8, 1 9, 2 10, 3 11, 4 12, 5 13, 6 14, 7 15, 4 8, 5 9, 6 10, 7 11, 2 4, 3 5,
        6 8, 7 9, 10 12, 11 13, 1 2, 3 4, 5 6, 7 8, 9 10, 11 12, 17 18, 0 16, 1 17, 2 18, 3 19,
        8 16, 9 17, 10 18, 11 19, 4 8, 5 9, 6 10, 7 11, 12 16, 6 8, 7 9, 10 12, 7 8, 9 10,
    );
    x
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_median_is_that_of_the_sorted_values_whatever_their_number() {
        for count in 0..80usize {
            for seed in 0..20usize {
                let value = |i: usize| ((i * 7919 + seed * 104_729) % 31) as f64 - 9.0;
                let values = || (0..count).map(value);
                let mut sorted: Vec<f64> = values().collect();
                sorted.sort_by(f64::total_cmp);
                let undefined = [f64::NAN, f64::INFINITY];
                let found = median(values().chain(undefined));
                let rows: Vec<Row> = values().map(|x| [x as f32; ABREAST]).collect();
                let members: Vec<u32> = (0..count as u32).collect();
                let abreast = medians_abreast(Arch::new(), &rows, &members);
                if count == 0 {
                    assert!(found.is_nan() && abreast.iter().all(|x| x.is_nan()));
                } else {
                    assert_eq!(abreast, [found as f32; ABREAST]);
                    let wanted = (sorted[(count - 1) / 2] + sorted[count / 2]) / 2.0;
                    assert_eq!(found, wanted, "{count} values, seed {seed}");
                }
            }
        }
    }

    #[test]
    fn undefined_values_of_one_quantity_are_left_out_of_its_median_alone() {
        let rows = [[1.0; ABREAST], [4.0; ABREAST], [9.0; ABREAST]];
        let mut gap = rows;
        gap[1][3] = f32::NAN;
        let medians = medians_abreast(Arch::new(), &gap, &[0, 1, 2]);
        assert_eq!(medians[3], 5.0);
        assert_eq!((medians[2], medians[4]), (4.0, 4.0));
    }

    #[test]
    fn the_medians_along_a_loop_are_those_of_its_ways_and_of_both() {
        let arch = Arch::new();
        for seed in 0..200usize {
            let value = |i: usize, k: usize| ((i * 7919 + k * 31 + seed * 104_729) % 37) as f32;
            let mut rows: Vec<Row> = (0..6)
                .map(|i| std::array::from_fn(|k| value(i, k)))
                .collect();
            if seed % 5 == 0 {
                rows[seed % 6][seed % ABREAST] = f32::NAN;
            }
            let members = [5, 4, 3, 2, 1, 0];
            for cut in 0..=6 {
                let ways = members.split_at(cut).into();
                let along = medians_along(arch, &rows, &members, ways);
                let apart = [&members, ways[0], ways[1]];
                let apart = apart.map(|members| medians_abreast(arch, &rows, members));
                // Undefined medians are told alike.
                assert_eq!(
                    format!("{along:?}"),
                    format!("{apart:?}"),
                    "seed {seed}, cut {cut}"
                );
            }
        }
    }
}
