//! The cages that are timed: the same at every run, and of the kinds that the comparison with
//! another library uses.

use std::collections::HashMap;

use cagewise::mesh::{PolygonMesh, Vec3};

use super::cages::torus;

/// A name, a cage and the level it is refined to.
pub struct BenchCage {
    pub name: &'static str,
    pub mesh: PolygonMesh,
    pub level: usize,
}

/// Regular quads alone, mostly regular quads, and hardly any regular face.
pub fn bench_cages() -> [BenchCage; 3] {
    let cage = |name, mesh, level| BenchCage { name, mesh, level };
    [
        cage("torus of 10,000 quads", torus(100, 100, 1.0, 0.4), 3),
        cage("cube-sphere of 100,000 quads", sphere(129), 2),
        cage("mixed cage of 20,000 faces", mixed(55), 3),
    ]
}

/// A cube of `n` by `n` quads a side, blown up to a sphere.
pub fn sphere(n: usize) -> PolygonMesh {
    let mut sphere = CubeSphere::new(n, 0.0);
    sphere.for_cells(|sphere, [a, b, c, d], _, _| sphere.faces.push(vec![a, b, c, d]));
    sphere.into_mesh()
}

/// A lumpy sphere in which every sixteenth quad is cut from a corner to the middle of the edge
/// before the next quad, which leaves a triangle, a quad, a pentagon next door and poles of valence 3
/// and 5; every sixteenth is halved into triangles, which leaves poles of valence 5.
pub fn mixed(n: usize) -> PolygonMesh {
    let mut sphere = CubeSphere::new(n, 0.05);
    let mut cut = None;
    sphere.for_cells(|sphere, [a, b, c, d], i, j| {
        if let Some(middle) = cut.take() {
            sphere.faces.push(vec![a, b, c, d, middle]);
        } else if i % 4 == 1 && j % 4 == 1 && i + 1 < n {
            let middle = sphere.midpoint(b, c);
            sphere.faces.push(vec![a, b, middle]);
            sphere.faces.push(vec![a, middle, c, d]);
            cut = Some(middle);
        } else if i % 4 == 3 && j % 4 == 3 {
            sphere.faces.push(vec![a, b, c]);
            sphere.faces.push(vec![a, c, d]);
        } else {
            sphere.faces.push(vec![a, b, c, d]);
        }
    });
    sphere.into_mesh()
}

struct CubeSphere {
    n: usize,
    lumps: f64,
    positions: Vec<Vec3>,
    faces: Vec<Vec<u32>>,
    numbers: HashMap<[usize; 3], u32>,
}

impl CubeSphere {
    fn new(n: usize, lumps: f64) -> Self {
        Self {
            n,
            lumps,
            positions: Vec::new(),
            faces: Vec::new(),
            numbers: HashMap::new(),
        }
    }

    /// Visits all cells of the cube, row by row along `i`: their corners, and i and j.
    fn for_cells(&mut self, mut visit: impl FnMut(&mut Self, [u32; 4], usize, usize)) {
        for side in 0..6 {
            for j in 0..self.n {
                for i in 0..self.n {
                    let corners = [(i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1)]
                        .map(|(i, j)| self.vertex(side, i, j));
                    visit(self, corners, i, j);
                }
            }
        }
    }

    fn vertex(&mut self, side: usize, i: usize, j: usize) -> u32 {
        let axis = side / 2;
        let outward = side % 2 == 1;
        let mut cell = [0; 3];
        cell[axis] = if outward { self.n } else { 0 };
        // Counter-clockwise seen from outside on either side.
        let (u, v) = if outward { (i, j) } else { (j, i) };
        cell[(axis + 1) % 3] = u;
        cell[(axis + 2) % 3] = v;
        if let Some(&number) = self.numbers.get(&cell) {
            return number;
        }
        let number = self.positions.len() as u32;
        self.positions.push(self.on_sphere(cell));
        self.numbers.insert(cell, number);
        number
    }

    fn on_sphere(&self, cell: [usize; 3]) -> Vec3 {
        let angle = |x: usize| std::f64::consts::FRAC_PI_4 * (2.0 * x as f64 / self.n as f64 - 1.0);
        let p = Vec3::from(cell.map(|x| angle(x).tan()));
        let lumps = (5.0 * p.x).sin() * (4.0 * p.y + p.z).sin();
        p.normalize() * (1.0 + self.lumps * lumps)
    }

    fn midpoint(&mut self, a: u32, b: u32) -> u32 {
        let [p, q] = [a, b].map(|v| self.positions[v as usize]);
        self.positions.push((p + q) * 0.5);
        self.positions.len() as u32 - 1
    }

    fn into_mesh(self) -> PolygonMesh {
        PolygonMesh::from_faces(self.positions, &self.faces).unwrap()
    }
}

/// A mesh as OBJ text.
pub fn obj_text(mesh: &PolygonMesh) -> String {
    use std::fmt::Write;
    let mut text = String::new();
    for p in mesh.positions() {
        writeln!(text, "v {} {} {}", p.x, p.y, p.z).unwrap();
    }
    for face in mesh.faces() {
        text.push('f');
        for v in face {
            write!(text, " {}", v + 1).unwrap();
        }
        text.push('\n');
    }
    text
}
