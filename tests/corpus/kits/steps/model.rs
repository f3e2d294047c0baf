//! The mesh under work: faces may be taken out and put in, vertices are never renumbered before
//! the work is done.

use std::collections::{BTreeMap, HashMap};

use cagewise::mesh::{PolygonMesh, Vec3};

/// Distance from the mirror plane, in the model's units, under which a vertex lies in it.
pub const PLANE_TOLERANCE: f64 = 1e-9;

/// A mesh under work.
#[derive(Clone, Default)]
pub struct Model {
    pub points: Vec<Vec3>,
    /// Faces; one that was taken out is empty, so that the others keep their numbers.
    pub faces: Vec<Vec<u32>>,
    /// Faces that a step has made or changed, which the next leaves alone.
    pub worked: Vec<bool>,
    /// Whether the side x < 0 is to be thrown away and mirrored from the other.
    pub mirrored: bool,
}

impl Model {
    /// A model of the mesh.
    pub fn of(mesh: &PolygonMesh) -> Self {
        Self {
            points: mesh.positions().to_vec(),
            faces: mesh.faces().map(<[u32]>::to_vec).collect(),
            worked: vec![false; mesh.face_count()],
            mirrored: false,
        }
    }

    /// The mesh of the faces that are left and the vertices that they use.
    pub fn mesh(&self) -> PolygonMesh {
        let mut numbers = vec![u32::MAX; self.points.len()];
        for &v in self.faces.iter().flatten() {
            numbers[v as usize] = 0;
        }
        let mut positions = Vec::new();
        for (number, &p) in numbers.iter_mut().zip(&self.points) {
            if *number == 0 {
                *number = positions.len() as u32;
                positions.push(p);
            }
        }
        let kept = self.faces.iter().filter(|f| !f.is_empty());
        let renumbered = kept.map(|f| f.iter().map(|&v| numbers[v as usize]).collect());
        PolygonMesh::from_faces(positions, &renumbered.collect::<Vec<Vec<u32>>>()).unwrap()
    }

    /// The number of a new vertex.
    pub fn add_point(&mut self, p: Vec3) -> u32 {
        self.points.push(p);
        self.points.len() as u32 - 1
    }

    /// Adds a face that is some step's work.
    pub fn add_worked(&mut self, face: Vec<u32>) {
        self.faces.push(face);
        self.worked.push(true);
    }

    /// Adds a face.
    pub fn add(&mut self, face: Vec<u32>) {
        self.faces.push(face);
        self.worked.push(false);
    }

    /// Adds all of another model as further shells.
    pub fn append(&mut self, other: &Self) {
        let first = self.points.len() as u32;
        self.points.extend(&other.points);
        let faces = other.faces.iter();
        self.faces
            .extend(faces.map(|f| f.iter().map(|v| v + first).collect()));
        self.worked.extend(&other.worked);
    }

    /// The face and corner that each directed edge starts at.
    pub fn directed_edges(&self) -> HashMap<(u32, u32), (usize, usize)> {
        let mut found = HashMap::new();
        for (f, face) in self.faces.iter().enumerate() {
            for k in 0..face.len() {
                found.insert((face[k], face[(k + 1) % face.len()]), (f, k));
            }
        }
        found
    }

    /// Twice the vector area of a face.
    pub fn area_vector(&self, f: usize) -> Vec3 {
        let face = &self.faces[f];
        let at = |k: usize| self.points[face[k % face.len()] as usize];
        (1..face.len().saturating_sub(1))
            .map(|k| (at(k) - at(0)).cross(&(at(k + 1) - at(0))))
            .sum()
    }

    /// The unit normal of a face; zero where it has none.
    pub fn normal(&self, f: usize) -> Vec3 {
        self.area_vector(f).try_normalize(0.0).unwrap_or_default()
    }

    /// The faces at each vertex.
    pub fn faces_at(&self) -> Vec<Vec<usize>> {
        let mut at = vec![Vec::new(); self.points.len()];
        for (f, face) in self.faces.iter().enumerate() {
            for &v in face {
                at[v as usize].push(f);
            }
        }
        at
    }

    /// The vertices that are used, with the number of their neighbours.
    pub fn valences(&self) -> BTreeMap<u32, usize> {
        let mut edges = std::collections::BTreeSet::new();
        for face in &self.faces {
            for k in 0..face.len() {
                let (a, b) = (face[k], face[(k + 1) % face.len()]);
                edges.insert((a, b));
                edges.insert((b, a));
            }
        }
        let mut found = BTreeMap::new();
        for (a, _) in edges {
            *found.entry(a).or_insert(0) += 1;
        }
        found
    }

    /// How many vertices are used.
    pub fn vertex_count(&self) -> usize {
        self.valences().len()
    }

    /// The smallest and largest coordinates of the used vertices.
    pub fn extent(&self) -> (Vec3, Vec3) {
        let mut low = Vec3::repeat(f64::INFINITY);
        let mut high = -low;
        for &v in self.faces.iter().flatten() {
            let p = self.points[v as usize];
            low = low.inf(&p);
            high = high.sup(&p);
        }
        (low, high)
    }

    /// Puts into the mirror plane, if there is one, what rounding has left beside it.
    pub fn snap_to_plane(&mut self) {
        let is_mirrored = self.mirrored;
        let in_plane = |p: &&mut Vec3| is_mirrored && p.x.abs() < PLANE_TOLERANCE;
        self.points
            .iter_mut()
            .filter(in_plane)
            .for_each(|p| p.x = 0.0);
    }

    /// Moves every vertex.
    pub fn moved(&mut self, map: impl Fn(Vec3) -> Vec3) {
        for p in &mut self.points {
            *p = map(*p);
        }
    }
}
