//! Blocks of rows of evidence: as many as a forest is asked about at once.

use std::borrow::Cow;

use pulp::{Arch, Simd, WithSimd};

/// Rows of a block: few enough to be alike, and many enough that what is asked once for all of them costs
/// little (`cargo bench --bench stages -- sphere.*/risks`: 0.7 times as long as with 128).
pub(super) const BLOCK: usize = 512;

/// One value for each row of a block.
pub(super) type Lanes = [f32; BLOCK];

/// Rows of evidence, quantity by quantity.
#[derive(Debug, Default)]
pub(super) struct Block<'a> {
    /// Those of vertices numbered one after the other are read where they are.
    pub values: Vec<Cow<'a, Lanes>>,
    pub ranges: Vec<Range>,
}

/// What is known of the values of a quantity in a block.
#[derive(Debug, Clone, Copy)]
pub(super) struct Range {
    /// The least value; NaN if any is undefined.
    pub least: f32,
    /// The largest value; NaN if any is undefined.
    pub largest: f32,
    /// Whether some values are undefined and some are not.
    pub mixed: bool,
}

impl Range {
    #[inline(always)]
    fn of(values: &Lanes) -> Self {
        let undefined: u32 = values.iter().map(|x| u32::from(x.is_nan())).sum();
        let [least, largest] = match undefined {
            0 => range(values),
            _ => [f32::NAN; 2],
        };
        Self {
            least,
            largest,
            mixed: undefined > 0 && undefined < BLOCK as u32,
        }
    }
}

/// The least and the largest of defined values, several of each side by side: so they do not wait
/// for each other.
#[inline(always)]
fn range(values: &Lanes) -> [f32; 2] {
    const ABREAST: usize = 16;
    let smaller = |a: f32, b: f32| if a < b { a } else { b };
    let larger = |a: f32, b: f32| if a < b { b } else { a };
    let (mut least, mut largest) = ([f32::INFINITY; ABREAST], [f32::NEG_INFINITY; ABREAST]);
    for run in values.chunks_exact(ABREAST) {
        for (k, &x) in run.iter().enumerate() {
            least[k] = smaller(least[k], x);
            largest[k] = larger(largest[k], x);
        }
    }
    [
        least.into_iter().fold(f32::INFINITY, smaller),
        largest.into_iter().fold(f32::NEG_INFINITY, larger),
    ]
}

impl<'a> Block<'a> {
    /// Takes on the rows of some vertices, rising, at least one and no more than [`BLOCK`], from one column a
    /// quantity; a column that ends before a vertex does not define its value. What is left of the
    /// block repeats the last row, so as not to widen any range.
    pub fn fill(&mut self, arch: Arch, columns: &[&'a [f32]], vertices: &[u32]) {
        let last = vertices[vertices.len() - 1] as usize;
        // Most blocks are of vertices numbered one after the other.
        let run = last + 1 - BLOCK.min(last + 1)..last + 1;
        let in_run = vertices.len() == BLOCK && vertices[0] as usize == run.start;
        self.values.clear();
        self.values.extend(columns.iter().map(|column| {
            let run = column.get(run.clone()).filter(|_| in_run);
            match run.and_then(|run| <&Lanes>::try_from(run).ok()) {
                Some(run) => Cow::Borrowed(run),
                None => Cow::Owned(std::array::from_fn(|i| {
                    let v = vertices[i.min(vertices.len() - 1)] as usize;
                    column.get(v).copied().unwrap_or(f32::NAN)
                })),
            }
        }));
        self.ranges.clear();
        arch.dispatch(Ranges(self));
    }
}

/// Finds the ranges of a block's values.
struct Ranges<'a, 'b>(&'a mut Block<'b>);

impl WithSimd for Ranges<'_, '_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) {
        let Block { values, ranges } = self.0;
        ranges.extend(values.iter().map(|values| Range::of(values)));
    }
}
