//! Which triangle is seen at each sample of a panel, and how near it is there.
//!
//! Corners are snapped to a grid of 1/256 pixel, on which the side of an edge that a sample lies on
//! is found exactly: triangles that share an edge leave no gap between them. A sample on an edge
//! belongs to both, and to the nearer one in the end, or to the first of two equally near: the
//! outcome does not depend on how the work is shared out.

use super::camera::Projected;

/// Samples of each pixel.
pub const SAMPLES: usize = 8;

/// What a sample that no triangle covers has for a triangle.
pub const NOTHING: u32 = u32::MAX;

/// Steps of the grid per pixel.
const GRID: i64 = 256;

/// Pixels that a triangle may reach beyond a panel's upper left corner; one that reaches farther
/// lies beside the eye, and its numbers would grow without bound.
const REACH_MAX: f64 = 65_536.0;

/// Places of the samples in their pixel, in steps of the grid: each row and each column of eight
/// holds one, so that steep and shallow edges show as many shades.
const SAMPLE_PLACES: [[i64; 2]; SAMPLES] = [
    [16, 144],
    [48, 48],
    [80, 208],
    [112, 112],
    [144, 240],
    [176, 16],
    [208, 176],
    [240, 80],
];

/// A triangle in a panel, ready to be asked about samples.
#[derive(Debug, Clone, Copy)]
pub struct Outline {
    /// Its corners on the grid.
    corners: [[i64; 2]; 3],
    nearness: [f64; 3],
    weight: [f64; 3],
    sides: [Side; 3],
    /// One over twice its area in squares of the grid; positive, the corners are put in such an
    /// order.
    inverse_area: f64,
    /// Whether its back is seen, so that its second and third corner have changed places.
    pub from_behind: bool,
}

impl Outline {
    /// The outline of three projected corners; `None` if nothing of it can be seen.
    pub fn new(corners: [&Projected; 3]) -> Option<Self> {
        let far = corners
            .iter()
            .any(|c| !(c.x.abs() < REACH_MAX && c.y.abs() < REACH_MAX));
        if far {
            return None;
        }
        let snapped = corners.map(|c| [c.x, c.y].map(snap));
        let area = Side::new(snapped[0], snapped[1]).of(snapped[2]);
        let outline = |order: [usize; 3], from_behind| {
            let corners_in_order = order.map(|k| snapped[k]);
            let [a, b, c] = corners_in_order;
            Self {
                corners: corners_in_order,
                nearness: order.map(|k| corners[k].nearness),
                weight: order.map(|k| corners[k].weight),
                sides: [Side::new(b, c), Side::new(c, a), Side::new(a, b)],
                inverse_area: 1.0 / area.abs() as f64,
                from_behind,
            }
        };
        // Rows run downwards: what is wound counter-clockwise has a negative area here.
        match area {
            0 => None,
            1.. => Some(outline([0, 1, 2], true)),
            _ => Some(outline([0, 2, 1], false)),
        }
    }

    /// The numbers of the corners in this outline's order.
    pub fn ordered<T: Copy>(&self, corners: [T; 3]) -> [T; 3] {
        let [a, b, c] = corners;
        if self.from_behind {
            [a, b, c]
        } else {
            [a, c, b]
        }
    }

    /// The first pixel and the one after the last that the outline may touch along an axis.
    fn pixels(&self, axis: usize) -> [i64; 2] {
        let along = self.corners.map(|c| c[axis]);
        let [low, high] = [
            along[0].min(along[1]).min(along[2]),
            along[0].max(along[1]).max(along[2]),
        ];
        [low.div_euclid(GRID), high.div_euclid(GRID) + 1]
    }

    /// The rows of pixels that it may touch, of those in a panel `side` pixels high.
    pub fn rows(&self, side: usize) -> std::ops::Range<usize> {
        let [low, high] = self.pixels(1).map(|y| y.clamp(0, side as i64) as usize);
        low..high
    }

    /// Shares of the three corners at a place of the grid, by area; `None` outside.
    fn shares(&self, at: [i64; 2]) -> Option<[f64; 3]> {
        let mut shares = [0.0; 3];
        for (share, side) in shares.iter_mut().zip(&self.sides) {
            let twice_area = side.of(at);
            if twice_area < 0 {
                return None;
            }
            *share = twice_area as f64 * self.inverse_area;
        }
        Some(shares)
    }

    /// Shares of the three corners at sample `sample` of a pixel, by which what they carry is
    /// mixed; perspective is undone. The outline must cover the sample.
    pub fn mix(&self, x: usize, y: usize, sample: usize) -> [f32; 3] {
        let shares = self
            .shares(sample_place(x, y, sample))
            .unwrap_or([1.0, 0.0, 0.0]);
        let weighed: [f64; 3] = std::array::from_fn(|k| shares[k] * self.weight[k]);
        let inverse = 1.0 / weighed.iter().sum::<f64>();
        weighed.map(|w| (w * inverse) as f32)
    }
}

/// A place on the grid, in its steps.
fn snap(pixels: f64) -> i64 {
    // Casting cuts off what is behind the point: of positive numbers only that is rounding down.
    let offset = 2.0 * REACH_MAX * GRID as f64;
    (pixels * GRID as f64 + offset + 0.5) as i64 - offset as i64
}

/// An edge of an outline, to be asked on which side of it a place lies.
#[derive(Debug, Clone, Copy)]
struct Side {
    slope: [i64; 2],
    offset: i64,
}

impl Side {
    fn new(a: [i64; 2], b: [i64; 2]) -> Self {
        let slope = [a[1] - b[1], b[0] - a[0]];
        Self {
            slope,
            offset: -(slope[0] * a[0] + slope[1] * a[1]),
        }
    }

    /// Twice the area of the triangle of the edge and a place.
    fn of(&self, p: [i64; 2]) -> i64 {
        self.slope[0] * p[0] + self.slope[1] * p[1] + self.offset
    }
}

fn sample_place(x: usize, y: usize, sample: usize) -> [i64; 2] {
    let [dx, dy] = SAMPLE_PLACES[sample];
    [x as i64 * GRID + dx, y as i64 * GRID + dy]
}

/// Middle of a sample in pixels.
pub fn sample_point(x: usize, y: usize, sample: usize) -> [f32; 2] {
    sample_place(x, y, sample).map(|c| c as f32 / GRID as f32)
}

/// The samples of some whole rows of a panel.
#[derive(Debug, Clone)]
pub struct Band {
    width: usize,
    first_row: usize,
    rows: usize,
    /// Nearest triangle at each sample; pixel by pixel.
    triangles: Vec<u32>,
    nearness: Vec<f32>,
}

impl Band {
    /// `rows` rows of a panel `width` pixels wide, with nothing in them.
    pub fn new(width: usize, first_row: usize, rows: usize) -> Self {
        Self {
            width,
            first_row,
            rows,
            triangles: vec![NOTHING; width * rows * SAMPLES],
            nearness: vec![f32::NEG_INFINITY; width * rows * SAMPLES],
        }
    }

    /// Draws a triangle of the given number.
    pub fn draw(&mut self, number: u32, outline: &Outline) {
        let clamp = |range: [i64; 2], low: usize, high: usize| {
            range.map(|x| x.clamp(low as i64, high as i64) as usize)
        };
        let [left, right] = clamp(outline.pixels(0), 0, self.width);
        let rows = [self.first_row, self.first_row + self.rows];
        let [top, bottom] = clamp(outline.pixels(1), rows[0], rows[1]);
        for y in top..bottom {
            for x in left..right {
                for sample in 0..SAMPLES {
                    if let Some(shares) = outline.shares(sample_place(x, y, sample)) {
                        let near: f64 = (0..3).map(|k| shares[k] * outline.nearness[k]).sum();
                        self.put((x, y, sample), number, near as f32);
                    }
                }
            }
        }
    }

    fn put(&mut self, (x, y, sample): (usize, usize, usize), number: u32, near: f32) {
        let slot = ((y - self.first_row) * self.width + x) * SAMPLES + sample;
        if near > self.nearness[slot] {
            self.nearness[slot] = near;
            self.triangles[slot] = number;
        }
    }

    /// What the samples of a pixel show, and how near that is.
    pub fn pixel(&self, x: usize, y: usize) -> (&[u32], &[f32]) {
        let slot = ((y - self.first_row) * self.width + x) * SAMPLES;
        let samples = slot..slot + SAMPLES;
        (&self.triangles[samples.clone()], &self.nearness[samples])
    }
}
