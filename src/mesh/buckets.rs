//! Indices sorted by a value each, by counting.

/// Indices from 0, ascending within the bucket of each value.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(super) struct Buckets {
    /// Start of each value's bucket; one entry more than there are values.
    pub starts: Vec<u32>,
    /// The indices, bucket by bucket.
    pub items: Vec<u32>,
}

impl Buckets {
    /// Sorts the indices of `values`, which are all below `count`.
    pub fn new(count: usize, values: &[u32]) -> Self {
        let starts = bucket_starts(count, values);
        let mut fill = starts.clone();
        let mut items = vec![0u32; values.len()];
        for (i, &value) in values.iter().enumerate() {
            let slot = &mut fill[value as usize];
            items[*slot as usize] = i as u32;
            *slot += 1;
        }
        Self { starts, items }
    }

    /// The indices whose value is `value`.
    pub fn of(&self, value: usize) -> &[u32] {
        &self.items[self.starts[value] as usize..self.starts[value + 1] as usize]
    }
}

/// Start of each value's bucket when `values` (all below `count`) are sorted; `count + 1` entries.
pub(super) fn bucket_starts(count: usize, values: &[u32]) -> Vec<u32> {
    let mut starts = vec![0u32; count + 1];
    for &v in values {
        starts[v as usize + 1] += 1;
    }
    for i in 0..count {
        starts[i + 1] += starts[i];
    }
    starts
}
