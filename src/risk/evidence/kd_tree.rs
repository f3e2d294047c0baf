//! Nearest points by a k-d tree (Bentley 1975): balanced, in one flat array.

use crate::mesh::Vec3;

/// Points up to which a part of the tree is searched one by one.
const LEAF_MAX: usize = 8;

/// Points from which on both halves are built in parallel.
const PARALLEL_MIN: usize = 4096;

/// Points at one place that are told of at most: where seams meet there are a few, and only a broken
/// cage has so many that looking at all of them for each would take quadratic time.
const AT_MOST: usize = 16;

/// A point and its number.
type Entry = (Vec3, u32);

/// A tree over points. Part `lo..hi` of its array is halved at its middle entry, across the axis that
/// is noted there.
#[derive(Debug, Clone)]
pub(super) struct KdTree {
    entries: Vec<Entry>,
    axes: Vec<u8>,
}

impl KdTree {
    /// The tree of the given points, numbered from 0, in O(n log n).
    pub fn new(points: &[Vec3]) -> Self {
        let mut entries: Vec<Entry> = points.iter().copied().zip(0..).collect();
        let mut axes = vec![0; entries.len()];
        build(&mut entries, &mut axes);
        Self { entries, axes }
    }

    /// The number of the nearest point within distance `reach` of `p`, and its distance. Of several
    /// as near the one with the lowest number.
    pub fn nearest_within(&self, p: &Vec3, reach: f64) -> Option<(usize, f64)> {
        let mut best = (reach * reach, u32::MAX);
        self.search(p, 0, self.entries.len(), &mut best);
        (best.1 != u32::MAX).then(|| (best.1 as usize, best.0.sqrt()))
    }

    /// The numbers of the points that lie exactly at `p`, rising; of more than [`AT_MOST`] only some.
    pub fn at(&self, p: &Vec3) -> Vec<usize> {
        let mut found = Vec::new();
        self.gather(p, 0, self.entries.len(), &mut found);
        found.truncate(AT_MOST);
        found.sort_unstable();
        found
    }

    fn gather(&self, p: &Vec3, low: usize, high: usize, found: &mut Vec<usize>) {
        let is_leaf = high - low <= LEAF_MAX;
        let middle = low + (high - low) / 2;
        let (first, last) = if is_leaf {
            (low, high)
        } else {
            (middle, middle + 1)
        };
        let there = self.entries[first..last].iter().filter(|e| e.0 == *p);
        found.extend(there.map(|e| e.1 as usize));
        if is_leaf || found.len() >= AT_MOST {
            return;
        }
        let axis = self.axes[middle] as usize;
        let halfway = self.entries[middle].0[axis];
        if p[axis] <= halfway {
            self.gather(p, low, middle, found);
        }
        if p[axis] >= halfway {
            self.gather(p, middle + 1, high, found);
        }
    }

    fn search(&self, p: &Vec3, low: usize, high: usize, best: &mut (f64, u32)) {
        if high - low <= LEAF_MAX {
            for entry in &self.entries[low..high] {
                consider(p, entry, best);
            }
            return;
        }
        let middle = low + (high - low) / 2;
        let entry = &self.entries[middle];
        let axis = self.axes[middle] as usize;
        let beyond = p[axis] - entry.0[axis];
        let (near, far) = if beyond < 0.0 {
            ((low, middle), (middle + 1, high))
        } else {
            ((middle + 1, high), (low, middle))
        };
        self.search(p, near.0, near.1, best);
        if beyond * beyond <= best.0 {
            consider(p, entry, best);
            self.search(p, far.0, far.1, best);
        }
    }
}

fn consider(p: &Vec3, entry: &Entry, best: &mut (f64, u32)) {
    let squared = (entry.0 - p).norm_squared();
    if squared < best.0 || (squared == best.0 && entry.1 < best.1) {
        *best = (squared, entry.1);
    }
}

fn build(entries: &mut [Entry], axes: &mut [u8]) {
    let count = entries.len();
    if count <= LEAF_MAX {
        return;
    }
    let bounds = entries.iter().fold(
        (Vec3::repeat(f64::MAX), Vec3::repeat(f64::MIN)),
        |(low, high), (p, _)| (low.inf(p), high.sup(p)),
    );
    let axis = (bounds.1 - bounds.0).imax();
    let middle = count / 2;
    let order = |a: &Entry, b: &Entry| a.0[axis].total_cmp(&b.0[axis]).then(a.1.cmp(&b.1));
    entries.select_nth_unstable_by(middle, order);
    axes[middle] = axis as u8;
    let (left, right) = entries.split_at_mut(middle);
    let (left_axes, right_axes) = axes.split_at_mut(middle);
    let (right, right_axes) = (&mut right[1..], &mut right_axes[1..]);
    if count < PARALLEL_MIN {
        build(left, left_axes);
        build(right, right_axes);
    } else {
        rayon::join(|| build(left, left_axes), || build(right, right_axes));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_nearest_point_is_the_one_that_a_search_of_all_finds() {
        let mut state = 1u64;
        let mut unit = || {
            state = state
                .wrapping_mul(6364136223846793005)
                .wrapping_add(1442695040888963407);
            (state >> 40) as f64 / (1u64 << 24) as f64
        };
        // A coarse lattice, so that many share a coordinate and some coincide.
        let mut point = |steps: f64| Vec3::from_fn(|_, _| (unit() * steps).floor() / steps);
        let points: Vec<Vec3> = (0..6000).map(|_| point(20.0)).collect();
        let tree = KdTree::new(&points);
        for _ in 0..300 {
            let (p, reach) = (point(1000.0), 0.04);
            let distance = |i: &usize| (points[*i] - p).norm();
            let nearest = (0..points.len())
                .filter(|i| distance(i) <= reach)
                .min_by(|a, b| distance(a).total_cmp(&distance(b)).then(a.cmp(b)));
            let found = tree.nearest_within(&p, reach).map(|(i, _)| i);
            assert_eq!(found, nearest);
            let p = nearest.map_or(p, |i| points[i]);
            let there = (0..points.len()).filter(|i| points[*i] == p);
            assert_eq!(tree.at(&p), there.collect::<Vec<_>>());
        }
        assert!(
            KdTree::new(&[])
                .nearest_within(&Vec3::zeros(), 1.0)
                .is_none()
        );
    }
}
