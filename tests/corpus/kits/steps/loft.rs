//! Skins over rings, and caps over their ends.

use cagewise::mesh::Vec3;

use super::Model;
use super::raise::Top;

/// Passes of relaxing the inner vertices of a grid cap.
const PASSES: usize = 40;

/// Quads over rings of equally many points, counter-clockwise seen against the way the rings go.
/// Vertex `i` of ring `j` is `j * n + i`, and so is the face from it on. `closed` joins the last
/// ring to the first.
pub fn loft(rings: &[Vec<Vec3>], closed: bool) -> Model {
    let n = rings[0].len();
    let mut model = Model {
        points: rings.concat(),
        ..Model::default()
    };
    let at = |j: usize, i: usize| (j % rings.len() * n + i % n) as u32;
    let strips = if closed { rings.len() } else { rings.len() - 1 };
    for j in 0..strips {
        for i in 0..n {
            model.add(vec![at(j, i), at(j, i + 1), at(j + 1, i + 1), at(j + 1, i)]);
        }
    }
    model
}

/// The rims of a loft's two ends, each in the order that a cap over it has.
pub fn ends(rings: usize, n: usize) -> [Vec<u32>; 2] {
    let first = (0..n as u32).rev().collect();
    let last = (0..n).map(|i| ((rings - 1) * n + i) as u32).collect();
    [first, last]
}

/// Closes a rim. A grid needs a number of vertices that four divides.
pub fn close(model: &mut Model, rim: &[u32], top: Top) {
    match top {
        Top::Ngon => model.add(rim.to_vec()),
        Top::Fan => {
            let middle = mean(rim.iter().map(|&v| model.points[v as usize]));
            let apex = model.add_point(middle);
            for k in 0..rim.len() {
                model.add(vec![rim[k], rim[(k + 1) % rim.len()], apex]);
            }
        }
        Top::Grid => grid(model, rim),
    }
}

fn mean(points: impl ExactSizeIterator<Item = Vec3>) -> Vec3 {
    let count = points.len() as f64;
    points.sum::<Vec3>() / count
}

fn grid(model: &mut Model, rim: &[u32]) {
    let m = rim.len() / 4;
    assert_eq!(4 * m, rim.len(), "a grid cap has four equal sides");
    let middle = mean(rim.iter().map(|&v| model.points[v as usize]));
    let mut at = vec![vec![u32::MAX; m + 1]; m + 1];
    for k in 0..m {
        at[0][k] = rim[k];
        at[k][m] = rim[m + k];
        at[m][m - k] = rim[2 * m + k];
        at[m - k][0] = rim[3 * m + k];
    }
    for row in &mut at[1..m] {
        for v in &mut row[1..m] {
            *v = model.add_point(middle);
        }
    }
    for _ in 0..PASSES {
        for j in 1..m {
            for i in 1..m {
                let around = [at[j - 1][i], at[j + 1][i], at[j][i - 1], at[j][i + 1]];
                model.points[at[j][i] as usize] =
                    mean(around.iter().map(|&v| model.points[v as usize]));
            }
        }
    }
    for j in 0..m {
        for i in 0..m {
            model.add(vec![at[j][i], at[j][i + 1], at[j + 1][i + 1], at[j + 1][i]]);
        }
    }
}

/// Places and frames along a smooth path, for sections to stand in.
pub struct Frame {
    pub origin: Vec3,
    pub x: Vec3,
    pub y: Vec3,
}

impl Frame {
    /// A point of the section.
    pub fn place(&self, x: f64, y: f64) -> Vec3 {
        self.origin + self.x * x + self.y * y
    }
}

/// Frames square to a path at the given parameters, turning as little as they can; `x` starts as
/// near to `side` as may be.
pub fn frames(path: impl Fn(f64) -> Vec3, at: &[f64], side: Vec3) -> Vec<Frame> {
    const STEP: f64 = 1e-4;
    let mut x = side;
    at.iter()
        .map(|&t| {
            let ahead = (path(t + STEP) - path(t - STEP)).normalize();
            x = (x - ahead * x.dot(&ahead)).normalize();
            Frame {
                origin: path(t),
                x,
                y: ahead.cross(&x),
            }
        })
        .collect()
}
