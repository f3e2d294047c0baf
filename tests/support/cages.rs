//! Small cages built in code.

use cagewise::mesh::{PolygonMesh, Vec3};

/// The cube of half-width 1.
pub fn cube() -> PolygonMesh {
    let corner = |i: u32| {
        let sign = |bit: u32| if i >> bit & 1 == 1 { 1.0 } else { -1.0 };
        Vec3::new(sign(0), sign(1), sign(2))
    };
    let faces = [
        [0u32, 2, 3, 1],
        [4, 5, 7, 6],
        [0, 1, 5, 4],
        [2, 6, 7, 3],
        [0, 4, 6, 2],
        [1, 3, 7, 5],
    ];
    PolygonMesh::from_faces((0..8).map(corner).collect(), &faces).unwrap()
}

/// A grid of `nx` by `ny` quads over the height field `z(x, y)`, one unit a quad, from (0, 0).
pub fn height_grid(nx: usize, ny: usize, z: impl Fn(f64, f64) -> f64) -> PolygonMesh {
    let mut positions = Vec::new();
    for j in 0..=ny {
        for i in 0..=nx {
            let (x, y) = (i as f64, j as f64);
            positions.push(Vec3::new(x, y, z(x, y)));
        }
    }
    let at = |i: usize, j: usize| (j * (nx + 1) + i) as u32;
    let mut faces = Vec::new();
    for j in 0..ny {
        for i in 0..nx {
            faces.push([at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)]);
        }
    }
    PolygonMesh::from_faces(positions, &faces).unwrap()
}

/// A torus of `around` by `across` quads with the given radii of its ring and its tube.
pub fn torus(around: usize, across: usize, ring: f64, tube: f64) -> PolygonMesh {
    let turn = |i: usize, n: usize| i as f64 / n as f64 * std::f64::consts::TAU;
    let mut positions = Vec::new();
    let mut faces = Vec::new();
    for i in 0..around {
        for j in 0..across {
            let (a, b) = (turn(i, around), turn(j, across));
            let r = ring + tube * b.cos();
            positions.push(Vec3::new(r * a.cos(), r * a.sin(), tube * b.sin()));
            let at = |i: usize, j: usize| (i % around * across + j % across) as u32;
            faces.push([at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)]);
        }
    }
    PolygonMesh::from_faces(positions, &faces).unwrap()
}

/// A small deterministic random generator (xorshift64*), for test data only.
pub struct Random(pub u64);

impl Random {
    /// The next number in [0, 1).
    pub fn unit(&mut self) -> f64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        (self.0.wrapping_mul(0x2545_f491_4f6c_dd1d) >> 11) as f64 / (1u64 << 53) as f64
    }

    /// A whole number below `n`.
    pub fn below(&mut self, n: usize) -> usize {
        ((self.unit() * n as f64) as usize).min(n - 1)
    }

    /// A vector with coordinates in [-1, 1).
    pub fn vector(&mut self) -> Vec3 {
        Vec3::from_fn(|_, _| 2.0 * self.unit() - 1.0)
    }
}

/// A random cage: a closed shell of triangles, quads and larger faces, or with some faces left
/// out, so that poles, n-gons and borders of many kinds occur.
pub fn random_cage(seed: u64) -> PolygonMesh {
    let mut random = Random(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1);
    let (nx, ny) = (3 + random.below(4), 3 + random.below(3));
    let base = torus(nx, ny, 2.0, 0.8);
    let mut faces: Vec<Vec<u32>> = base.faces().map(<[u32]>::to_vec).collect();
    let mut positions: Vec<Vec3> = base.positions().to_vec();
    for _ in 0..random.below(6) {
        let f = random.below(faces.len());
        match random.below(3) {
            0 if faces[f].len() > 3 => {
                let half = faces[f].split_off(2);
                let rest = [faces[f][0], faces[f][1]];
                faces.push([vec![rest[0]], half.clone()].concat());
                faces[f].push(half[0]);
            }
            1 => {
                let face = faces.swap_remove(f);
                let centre =
                    face.iter().map(|&v| positions[v as usize]).sum::<Vec3>() / face.len() as f64;
                positions.push(centre);
                let apex = positions.len() as u32 - 1;
                for i in 0..face.len() {
                    faces.push(vec![face[i], face[(i + 1) % face.len()], apex]);
                }
            }
            _ => {
                faces.swap_remove(f);
            }
        }
    }
    for p in &mut positions {
        *p += random.vector() * 0.2;
    }
    PolygonMesh::from_faces(positions, &faces).unwrap()
}

/// A sphere of radius 1 from a cube of `n` by `n` quads a side.
pub fn cube_sphere(n: usize) -> PolygonMesh {
    let grid = boxed(&even(n), &even(n), &even(n));
    moved(&grid, |p| p.normalize())
}

/// `n + 1` even stations from -1 to 1.
pub fn even(n: usize) -> Vec<f64> {
    (0..=n).map(|i| 2.0 * i as f64 / n as f64 - 1.0).collect()
}

/// The surface of a box cut at the given stations along each axis.
pub fn boxed(xs: &[f64], ys: &[f64], zs: &[f64]) -> PolygonMesh {
    let stations = [xs, ys, zs];
    let mut numbers = std::collections::BTreeMap::<[usize; 3], u32>::new();
    let mut positions = Vec::new();
    let mut faces = Vec::new();
    for axis in 0..3 {
        let (u, v) = ((axis + 1) % 3, (axis + 2) % 3);
        for (end, high) in [(0, false), (stations[axis].len() - 1, true)] {
            for i in 0..stations[u].len() - 1 {
                for j in 0..stations[v].len() - 1 {
                    let mut at = |i: usize, j: usize| {
                        let mut key = [0; 3];
                        (key[axis], key[u], key[v]) = (end, i, j);
                        *numbers.entry(key).or_insert_with(|| {
                            positions.push(Vec3::from_fn(|k, _| stations[k][key[k]]));
                            positions.len() as u32 - 1
                        })
                    };
                    let mut face = [at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)];
                    if !high {
                        face.reverse();
                    }
                    faces.push(face);
                }
            }
        }
    }
    PolygonMesh::from_faces(positions, &faces).unwrap()
}

/// The same mesh with every vertex moved.
pub fn moved(mesh: &PolygonMesh, map: impl Fn(Vec3) -> Vec3) -> PolygonMesh {
    PolygonMesh::new(
        mesh.positions().iter().map(|&p| map(p)).collect(),
        mesh.face_starts().to_vec(),
        mesh.corner_vertices().to_vec(),
    )
    .unwrap()
}

/// The same mesh with its faces turned over.
pub fn inside_out(mesh: &PolygonMesh) -> PolygonMesh {
    let reversed = mesh.faces().map(|f| f.iter().rev().copied().collect());
    PolygonMesh::from_faces(
        mesh.positions().to_vec(),
        &reversed.collect::<Vec<Vec<u32>>>(),
    )
    .unwrap()
}

/// The same mesh with vertices and faces in a random order and faces that start at other corners; and
/// what number each vertex has there.
pub fn renumbered(mesh: &PolygonMesh, random: &mut Random) -> (PolygonMesh, Vec<usize>) {
    let mut order: Vec<usize> = (0..mesh.vertex_count()).collect();
    let mut faces: Vec<usize> = (0..mesh.face_count()).collect();
    for list in [&mut order, &mut faces] {
        for i in (1..list.len()).rev() {
            list.swap(i, random.below(i + 1));
        }
    }
    let mut positions = vec![Vec3::zeros(); mesh.vertex_count()];
    for (v, &to) in order.iter().enumerate() {
        positions[to] = mesh.positions()[v];
    }
    let moved = |f: &usize| {
        let face = mesh.face(*f).iter();
        let mut face: Vec<u32> = face.map(|&v| order[v as usize] as u32).collect();
        let start = random.below(face.len());
        face.rotate_left(start);
        face
    };
    let faces: Vec<Vec<u32>> = faces.iter().map(moved).collect();
    (PolygonMesh::from_faces(positions, &faces).unwrap(), order)
}

/// A body that turns about z: quads along an outline (radius, height) from the bottom up, each end closed
/// by one face, or by a fan about an apex at the given height. Also gives the vertices of either rim, the
/// apex of a fan last.
pub fn closed_round(
    outline: &[[f64; 2]],
    sides: usize,
    apexes: [Option<f64>; 2],
) -> (PolygonMesh, [Vec<u32>; 2]) {
    let rows = outline.len();
    let at = |i: usize, k: usize| (i % sides * rows + k) as u32;
    let mut positions = Vec::new();
    let mut faces: Vec<Vec<u32>> = Vec::new();
    for i in 0..sides {
        let (sin, cos) = (i as f64 / sides as f64 * std::f64::consts::TAU).sin_cos();
        positions.extend(outline.iter().map(|&[r, z]| Vec3::new(r * cos, r * sin, z)));
        let quad = |k| vec![at(i, k), at(i + 1, k), at(i + 1, k + 1), at(i, k + 1)];
        faces.extend((0..rows - 1).map(quad));
    }
    let lower: Vec<u32> = (0..sides).rev().map(|i| at(i, 0)).collect();
    let upper: Vec<u32> = (0..sides).map(|i| at(i, rows - 1)).collect();
    let mut rims = [lower, upper];
    for (rim, apex) in rims.iter_mut().zip(apexes) {
        let Some(height) = apex else {
            faces.push(rim.clone());
            continue;
        };
        let apex = positions.len() as u32;
        positions.push(Vec3::new(0.0, 0.0, height));
        let after = |i: usize| rim[(i + 1) % sides];
        faces.extend((0..sides).map(|i| vec![rim[i], after(i), apex]));
        rim.push(apex);
    }
    (PolygonMesh::from_faces(positions, &faces).unwrap(), rims)
}

/// A tube of `around` quads with rings at the given heights, open at both ends.
pub fn tube(around: usize, heights: &[f64]) -> PolygonMesh {
    let mut positions = Vec::new();
    let mut faces = Vec::new();
    for (k, &z) in heights.iter().enumerate() {
        for i in 0..around {
            let a = i as f64 / around as f64 * std::f64::consts::TAU;
            positions.push(Vec3::new(a.cos(), a.sin(), z));
            let at = |i: usize, k: usize| (k * around + i % around) as u32;
            if k > 0 {
                faces.push([at(i, k - 1), at(i + 1, k - 1), at(i + 1, k), at(i, k)]);
            }
        }
    }
    PolygonMesh::from_faces(positions, &faces).unwrap()
}

/// Stations from -1 to 1 with a support loop close to either end.
fn held(n: usize) -> Vec<f64> {
    let mut stations = even(n);
    stations.insert(1, -0.92);
    stations.insert(n + 1, 0.92);
    stations
}

/// A slab with support loops along its edges, mirrored in three planes.
pub fn held_slab() -> PolygonMesh {
    moved(&boxed(&held(4), &held(6), &held(3)), |p| {
        p.component_mul(&Vec3::new(1.5, 2.2, 0.6))
    })
}

/// The same cage with one vertex moved.
pub fn pushed(mesh: &PolygonMesh, v: usize, by: Vec3) -> PolygonMesh {
    let mut positions = mesh.positions().to_vec();
    positions[v] += by;
    PolygonMesh::new(
        positions,
        mesh.face_starts().to_vec(),
        mesh.corner_vertices().to_vec(),
    )
    .unwrap()
}

/// The vertex nearest to a point.
pub fn nearest(mesh: &PolygonMesh, to: Vec3) -> usize {
    let distance = |v: &usize| (mesh.positions()[*v] - to).norm();
    let vertices = 0..mesh.vertex_count();
    vertices
        .min_by(|a, b| distance(a).total_cmp(&distance(b)))
        .unwrap()
}
