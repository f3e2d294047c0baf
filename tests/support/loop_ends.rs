//! Sheets into which one loop more is cut, by where it ends.

use cagewise::mesh::{PolygonMesh, Vec3};

/// Strips of a sheet, each way.
const STRIPS: usize = 10;

/// The strip along which the loop is cut in.
const STRIP: usize = 4;

/// Rows that it passes before it ends.
pub const ROWS: usize = 5;

/// Where the loop ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum End {
    /// It runs through to the other border.
    Border,
    /// At a vertex through which another loop runs.
    Vertex,
    /// In the side of a triangle, which has four sides then: the strip ends in one.
    Triangle,
    /// In the side of a quad, which has five sides then.
    Quad,
}

/// A sheet from (0, 0) to (10, 10) in the plane, ten rows of strips along y, without the loop or with
/// it; every strip is one unit wide but beyond the triangle that ends one.
pub fn sheet(end: End, with_loop: bool) -> PolygonMesh {
    let mut positions = Vec::new();
    let strips = |row: usize| STRIPS - usize::from(end == End::Triangle && row > ROWS);
    let columns: Vec<Vec<u32>> = (0..=STRIPS)
        .map(|row| {
            let width = STRIPS as f64 / strips(row) as f64;
            let mut at = |x| vertex(&mut positions, x, row);
            let mut columns: Vec<u32> = (0..=strips(row)).map(|i| at(i as f64 * width)).collect();
            if strips(row) < STRIPS {
                // The sides of the strip that has ended run on as one.
                columns.insert(STRIP, columns[STRIP]);
            }
            columns
        })
        .collect();
    let rows = if end == End::Border { STRIPS } else { ROWS };
    let middles: Vec<u32> = (0..=rows)
        .filter(|_| with_loop)
        .map(|row| vertex(&mut positions, STRIP as f64 + 0.5, row))
        .collect();
    let mut faces: Vec<Vec<u32>> = Vec::new();
    for row in 0..STRIPS {
        for i in 0..STRIPS {
            let mut quad = vec![columns[row][i], columns[row][i + 1]];
            quad.extend([columns[row + 1][i + 1], columns[row + 1][i]]);
            quad.dedup();
            let middles = middles.get(row..).filter(|_| i == STRIP);
            match middles {
                Some([m, n, ..]) => faces.extend(halved(&quad, *m, *n)),
                Some([m]) => faces.extend(ended(&quad, *m, end)),
                _ => faces.push(quad),
            }
        }
    }
    faces.retain(|face| face.len() > 2);
    PolygonMesh::from_faces(positions, &faces).unwrap()
}

fn vertex(positions: &mut Vec<Vec3>, x: f64, row: usize) -> u32 {
    positions.push(Vec3::new(x, row as f64, 0.0));
    positions.len() as u32 - 1
}

/// A quad parted by the loop from the middle of its first side to that of its third.
fn halved(quad: &[u32], m: u32, n: u32) -> [Vec<u32>; 2] {
    [vec![quad[0], m, n, quad[3]], vec![m, quad[1], quad[2], n]]
}

/// What a face becomes in whose first side the loop ends.
fn ended(face: &[u32], m: u32, end: End) -> Vec<Vec<u32>> {
    if end == End::Vertex {
        let [a, b, c, d] = face[..] else {
            panic!("a quad")
        };
        return vec![vec![a, m, d], vec![m, b, c, d]];
    }
    let mut face = face.to_vec();
    face.insert(1, m);
    vec![face]
}

/// The map that lays a sheet onto a cylinder along y whose normals turn by the given angle, in degrees,
/// from one side of a strip to the other.
pub fn arched(degrees: f64) -> impl Fn(Vec3) -> Vec3 {
    let radius = 1.0 / degrees.to_radians();
    move |p| {
        let (sin, cos) = ((p.x - 5.0) / radius).sin_cos();
        Vec3::new(radius * sin, p.y, p.z + radius * cos)
    }
}
