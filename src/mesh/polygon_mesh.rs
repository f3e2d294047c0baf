//! A polygon mesh as flat arrays: positions, and faces as runs of corners.

use nalgebra::Vector3;
use thiserror::Error;

/// A point or vector of space, in the file's length unit unless said otherwise.
pub type Vec3 = Vector3<f64>;

/// The index that stands for "none" in flat `u32` index arrays.
pub const NONE: u32 = u32::MAX;

/// What keeps arrays of positions and corners from being a mesh.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum MeshError {
    /// The face starts don't rise from 0 to the number of corners.
    #[error("the face starts do not rise from 0 to the number of corners ({corners})")]
    FaceStarts {
        /// Number of corners given.
        corners: usize,
    },
    /// A corner names a vertex that does not exist.
    #[error("face {face} names vertex {vertex}, but there are {vertices} vertices (counted from 0)")]
    VertexOutOfRange {
        /// Face index, from 0.
        face: usize,
        /// The vertex it names, from 0.
        vertex: u32,
        /// Number of vertices there are.
        vertices: usize,
    },
    /// More elements than 32-bit indices can name.
    #[error("{count} {element} are more than 32-bit indices can name")]
    TooLarge {
        /// What there are too many of.
        element: &'static str,
        /// How many there are.
        count: usize,
    },
}

/// A mesh of polygons with any number of sides.
///
/// Faces are runs of *corners*: the corners of face `f` are
/// `face_starts()[f]..face_starts()[f + 1]`, and `corner_vertices()[c]` is the vertex at corner
/// `c`. All indices count from 0 and keep the order of the file.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PolygonMesh {
    positions: Vec<Vec3>,
    face_starts: Vec<u32>,
    corner_vertices: Vec<u32>,
}

impl PolygonMesh {
    /// Takes ready-made arrays: `face_starts` has one entry per face and a last one that equals
    /// `corner_vertices.len()`.
    ///
    /// # Errors
    /// [`MeshError`] if the face starts are not a rising run from 0, if a corner names a vertex
    /// outside `positions`, or if 32 bits can't index the arrays.
    pub fn new(
        positions: Vec<Vec3>,
        face_starts: Vec<u32>,
        corner_vertices: Vec<u32>,
    ) -> Result<Self, MeshError> {
        for (element, count) in [
            ("vertices", positions.len()),
            ("corners", corner_vertices.len()),
        ] {
            if count >= NONE as usize {
                return Err(MeshError::TooLarge { element, count });
            }
        }
        let ends_match = face_starts.first() == Some(&0)
            && face_starts.last() == Some(&(corner_vertices.len() as u32))
            && face_starts.is_sorted();
        if !ends_match {
            return Err(MeshError::FaceStarts {
                corners: corner_vertices.len(),
            });
        }
        let mesh = Self {
            positions,
            face_starts,
            corner_vertices,
        };
        let out_of_range = |f: &usize| {
            mesh.face(*f)
                .iter()
                .any(|&v| v as usize >= mesh.positions.len())
        };
        if let Some(face) = (0..mesh.face_count()).find(out_of_range) {
            let worst = mesh.face(face).iter().max().copied().unwrap_or(NONE);
            return Err(MeshError::VertexOutOfRange {
                face,
                vertex: worst,
                vertices: mesh.positions.len(),
            });
        }
        Ok(mesh)
    }

    /// Gathers a mesh from one vertex list per face.
    ///
    /// # Errors
    /// As [`PolygonMesh::new`].
    pub fn from_faces<F: AsRef<[u32]>>(
        positions: Vec<Vec3>,
        faces: &[F],
    ) -> Result<Self, MeshError> {
        let mut face_starts = vec![0u32];
        let mut corners = Vec::new();
        for face in faces {
            corners.extend_from_slice(face.as_ref());
            let end = u32::try_from(corners.len()).map_err(|_| MeshError::TooLarge {
                element: "corners",
                count: corners.len(),
            })?;
            face_starts.push(end);
        }
        Self::new(positions, face_starts, corners)
    }

    /// Vertex positions, one per vertex.
    pub fn positions(&self) -> &[Vec3] {
        &self.positions
    }

    /// Where each face's corners start; one entry more than there are faces.
    pub fn face_starts(&self) -> &[u32] {
        &self.face_starts
    }

    /// The vertex at each corner.
    pub fn corner_vertices(&self) -> &[u32] {
        &self.corner_vertices
    }

    /// Number of vertices, unreferenced ones included.
    pub fn vertex_count(&self) -> usize {
        self.positions.len()
    }

    /// Number of faces.
    pub fn face_count(&self) -> usize {
        self.face_starts.len().saturating_sub(1)
    }

    /// Number of corners: the sides of all faces together.
    pub fn corner_count(&self) -> usize {
        self.corner_vertices.len()
    }

    /// The corner indices of face `f`.
    ///
    /// # Panics
    /// If `f` is not a face.
    pub fn face_corners(&self, f: usize) -> std::ops::Range<usize> {
        self.face_starts[f] as usize..self.face_starts[f + 1] as usize
    }

    /// The vertices of face `f`, in the file's winding.
    ///
    /// # Panics
    /// If `f` is not a face.
    pub fn face(&self, f: usize) -> &[u32] {
        &self.corner_vertices[self.face_corners(f)]
    }

    /// All faces, in the file's order.
    pub fn faces(&self) -> impl ExactSizeIterator<Item = &[u32]> + '_ {
        (0..self.face_count()).map(|f| self.face(f))
    }
}
