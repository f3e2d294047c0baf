//! A second implementation of Catmull-Clark refinement: one level at a time over hash maps, as
//! plainly as the rules can be written. Slow; only for comparing.

use std::collections::{BTreeMap, HashMap};

use cagewise::mesh::{PolygonMesh, Vec3};

/// A polygon mesh with sharpness on edges (keyed lower vertex first) and vertices.
#[derive(Clone, Default)]
pub struct NaiveMesh {
    pub positions: Vec<Vec3>,
    pub faces: Vec<Vec<usize>>,
    pub edge_sharpness: HashMap<(usize, usize), f64>,
    pub vertex_sharpness: HashMap<usize, f64>,
}

fn key(a: usize, b: usize) -> (usize, usize) {
    (a.min(b), a.max(b))
}

fn worn(s: f64) -> f64 {
    if s >= 10.0 { s } else { (s - 1.0).max(0.0) }
}

impl NaiveMesh {
    /// The same mesh with nothing sharp.
    pub fn of(mesh: &PolygonMesh) -> Self {
        let face = |f: &[u32]| f.iter().map(|&v| v as usize).collect();
        Self {
            positions: mesh.positions().to_vec(),
            faces: mesh.faces().map(face).collect(),
            ..Self::default()
        }
    }

    /// Makes border edges and, if asked for, lone-face border vertices infinitely sharp.
    pub fn sharpen_borders(&mut self, corners: bool) {
        let mut uses = HashMap::<(usize, usize), usize>::new();
        let mut faces_at = HashMap::<usize, usize>::new();
        for face in &self.faces {
            for i in 0..face.len() {
                *uses
                    .entry(key(face[i], face[(i + 1) % face.len()]))
                    .or_default() += 1;
                *faces_at.entry(face[i]).or_default() += 1;
            }
        }
        for (edge, _) in uses.into_iter().filter(|&(_, n)| n == 1) {
            self.edge_sharpness.insert(edge, 10.0);
        }
        if corners {
            for (v, _) in faces_at.into_iter().filter(|&(_, n)| n == 1) {
                self.vertex_sharpness.insert(v, 10.0);
            }
        }
    }

    /// One level of refinement.
    pub fn refined(&self) -> Self {
        let face_points: Vec<Vec3> = self
            .faces
            .iter()
            .map(|f| f.iter().map(|&v| self.positions[v]).sum::<Vec3>() / f.len() as f64)
            .collect();
        let mut edge_faces = BTreeMap::<(usize, usize), Vec<usize>>::new();
        let mut vertex_faces = vec![Vec::new(); self.positions.len()];
        for (f, face) in self.faces.iter().enumerate() {
            for i in 0..face.len() {
                edge_faces
                    .entry(key(face[i], face[(i + 1) % face.len()]))
                    .or_default()
                    .push(f);
                vertex_faces[face[i]].push(f);
            }
        }
        let mut next = Self::default();
        for (v, faces) in vertex_faces.iter().enumerate() {
            let p = self.vertex_point(v, &face_points, &edge_faces, faces);
            next.positions.push(p);
            let s = worn(self.vertex_sharpness.get(&v).copied().unwrap_or(0.0));
            next.vertex_sharpness.insert(v, s);
        }
        let mut edge_vertex = HashMap::new();
        for (&(a, b), faces) in &edge_faces {
            let s = self.sharpness(a, b).min(1.0);
            let midpoint = (self.positions[a] + self.positions[b]) / 2.0;
            let smooth = if faces.len() == 2 {
                (midpoint * 2.0 + face_points[faces[0]] + face_points[faces[1]]) / 4.0
            } else {
                midpoint
            };
            let number = next.positions.len();
            next.positions.push(smooth * (1.0 - s) + midpoint * s);
            edge_vertex.insert((a, b), number);
            let s = worn(self.sharpness(a, b));
            next.edge_sharpness.insert(key(a, number), s);
            next.edge_sharpness.insert(key(b, number), s);
        }
        for (f, face) in self.faces.iter().enumerate() {
            let centre = next.positions.len();
            next.positions.push(face_points[f]);
            let n = face.len();
            for i in 0..n {
                let after = edge_vertex[&key(face[i], face[(i + 1) % n])];
                let before = edge_vertex[&key(face[(i + n - 1) % n], face[i])];
                next.faces.push(vec![face[i], after, centre, before]);
            }
        }
        next
    }

    fn sharpness(&self, a: usize, b: usize) -> f64 {
        self.edge_sharpness.get(&key(a, b)).copied().unwrap_or(0.0)
    }

    fn vertex_point(
        &self,
        v: usize,
        face_points: &[Vec3],
        edge_faces: &BTreeMap<(usize, usize), Vec<usize>>,
        faces: &[usize],
    ) -> Vec3 {
        let own = self.positions[v];
        if faces.is_empty() {
            return own;
        }
        let mut neighbours = Vec::new();
        for &f in faces {
            let face = &self.faces[f];
            for i in 0..face.len() {
                let (a, b) = (face[i], face[(i + 1) % face.len()]);
                for (x, y) in [(a, b), (b, a)] {
                    if x == v && !neighbours.contains(&y) {
                        assert!(edge_faces.contains_key(&key(x, y)));
                        neighbours.push(y);
                    }
                }
            }
        }
        let at_vertex = self.vertex_sharpness.get(&v).copied().unwrap_or(0.0);
        let by_rule = |wear: fn(f64) -> f64| {
            let sharp: Vec<usize> = neighbours
                .iter()
                .copied()
                .filter(|&w| wear(self.sharpness(v, w)) > 0.0)
                .collect();
            if wear(at_vertex) > 0.0 || sharp.len() > 2 {
                return (2, own);
            }
            if sharp.len() == 2 {
                let ends = self.positions[sharp[0]] + self.positions[sharp[1]];
                return (1, own * 0.75 + ends / 8.0);
            }
            let n = neighbours.len() as f64;
            let edges: Vec3 = neighbours
                .iter()
                .map(|&w| (own + self.positions[w]) / 2.0)
                .sum();
            let around: Vec3 = faces.iter().map(|&f| face_points[f]).sum();
            (
                0,
                around / (n * n) + edges * (2.0 / (n * n)) + own * ((n - 3.0) / n),
            )
        };
        let (rule, here) = by_rule(|s| s);
        let (next_rule, there) = by_rule(worn);
        if rule == next_rule {
            return here;
        }
        let all = neighbours
            .iter()
            .map(|&w| self.sharpness(v, w))
            .chain([at_vertex]);
        let wearing: Vec<f64> = all.filter(|&s| s > 0.0 && worn(s) == 0.0).collect();
        let weight = (wearing.iter().sum::<f64>() / wearing.len() as f64).min(1.0);
        here * weight + there * (1.0 - weight)
    }
}
