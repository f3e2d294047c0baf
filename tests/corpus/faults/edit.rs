//! A cage while faults are put into it: numbers stay until it is finished.

use cagewise::mesh::{PolygonMesh, Vec3};

use super::ground::Ground;
use crate::corpus::case::{Fault, Meshed};

/// Vertices and faces under their old numbers; new ones come after them, faces that are gone are
/// empty.
pub struct Edit {
    pub positions: Vec<Vec3>,
    pub faces: Vec<Vec<u32>>,
}

impl Edit {
    pub fn of(ground: &Ground) -> Self {
        Self {
            positions: ground.positions.clone(),
            faces: ground.faces.clone(),
        }
    }

    pub fn add_vertex(&mut self, p: Vec3) -> u32 {
        self.positions.push(p);
        self.positions.len() as u32 - 1
    }

    /// Puts a vertex between `a` and `b` into the face in which they stand beside each other.
    pub fn insert(&mut self, f: usize, a: u32, b: u32, middle: u32) -> Option<()> {
        let face = &mut self.faces[f];
        let n = face.len();
        let i = (0..n).find(|&i| {
            let ends = [face[i], face[(i + 1) % n]];
            ends == [a, b] || ends == [b, a]
        })?;
        face.insert(i + 1, middle);
        Some(())
    }

    /// Parts a face by an edge between two of its vertices that are not beside each other.
    pub fn part(&mut self, f: usize, a: u32, b: u32) -> Option<usize> {
        let face = &mut self.faces[f];
        let i = face.iter().position(|&v| v == a)?;
        face.rotate_left(i);
        let j = face.iter().position(|&v| v == b)?;
        if j < 2 || j + 1 >= face.len() {
            return None;
        }
        let mut rest = face.split_off(j);
        face.push(b);
        rest.push(a);
        self.faces.push(rest);
        Some(self.faces.len() - 1)
    }

    /// Merges the two faces beside an edge into the first.
    pub fn dissolve(&mut self, f: usize, g: usize, a: u32, b: u32) -> Option<()> {
        let place = |face: &[u32]| {
            let n = face.len();
            (0..n).find(|&i| {
                let ends = [face[i], face[(i + 1) % n]];
                ends == [a, b] || ends == [b, a]
            })
        };
        let i = place(&self.faces[f])?;
        self.faces[f].rotate_left(i + 1);
        let j = place(&self.faces[g])?;
        let mut other = std::mem::take(&mut self.faces[g]);
        other.rotate_left(j + 1);
        // `f` now runs from one end of the edge to the other, `other` back again.
        let n = other.len();
        self.faces[f].extend_from_slice(&other[1..n - 1]);
        Some(())
    }

    /// Puts `kept` in the place of `gone` everywhere; faces that lose all their area go.
    pub fn merge(&mut self, gone: u32, kept: u32) {
        for face in &mut self.faces {
            if !face.contains(&gone) {
                continue;
            }
            let without: Vec<u32> = face
                .iter()
                .map(|&v| if v == gone { kept } else { v })
                .collect();
            *face = without;
            face.dedup();
            while face.len() > 1 && face[0] == face[face.len() - 1] {
                face.pop();
            }
            // A quad whose opposite corners met.
            let spike = |f: &[u32]| f.iter().filter(|&&v| v == kept).count() > 1;
            if face.len() < 3 || spike(face) {
                face.clear();
            }
        }
    }

    /// The finished cage; faults are renumbered with it, and sites that are gone are dropped.
    pub fn finished(self, clean: &Meshed, faults: &mut [Fault]) -> Option<Meshed> {
        let mut used = vec![false; self.positions.len()];
        for &v in self.faces.iter().flatten() {
            used[v as usize] = true;
        }
        let mut positions = Vec::new();
        let mut new_numbers = vec![u32::MAX; used.len()];
        for v in (0..used.len()).filter(|&v| used[v]) {
            new_numbers[v] = positions.len() as u32;
            positions.push(self.positions[v]);
        }
        let number = |v: u32| new_numbers[v as usize];
        let present = |v: &u32| new_numbers[*v as usize] != u32::MAX;
        let faces: Vec<Vec<u32>> = self
            .faces
            .iter()
            .filter(|f| !f.is_empty())
            .map(|f| f.iter().map(|&v| number(v)).collect())
            .collect();
        for fault in faults.iter_mut() {
            fault.sites.retain(present);
            fault.sites.iter_mut().for_each(|v| *v = number(*v));
            fault.sites.sort_unstable();
            fault.sites.dedup();
        }
        let edges = clean.crease_edges.iter();
        let edges = edges.filter(|(edge, _)| edge.iter().all(present));
        let vertices = clean.crease_vertices.iter().filter(|(v, _)| present(v));
        Some(Meshed {
            mesh: PolygonMesh::from_faces(positions, &faces).ok()?,
            crease_edges: edges.map(|&(e, s)| (e.map(number), s)).collect(),
            crease_vertices: vertices.map(|&(v, s)| (number(v), s)).collect(),
        })
    }
}
