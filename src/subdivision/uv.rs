//! UVs on the refined mesh.
//!
//! The rule is that of the open USD mesh schema (`UsdGeomMesh`) for
//! `faceVaryingLinearInterpolation = "boundaries"`: values are interpolated smoothly inside a
//! region of continuous values, and linearly along all of its boundaries; vertices on a boundary
//! keep their values.
//!
//! UVs are refined as a second control mesh in the plane. Its vertices are the pairs of a cage
//! vertex and a UV value used there, so that UVs are joined across an edge where both ends have
//! equal values on either side, however often the file repeats them. Inside, its edges and vertices
//! are as sharp as the cage's; vertices on a UV border (a seam, the end of a seam, the border of
//! the cage or of the faces that have UVs) are infinitely sharp.

use rayon::prelude::*;

use super::control::{BoundaryRule, ControlMesh, Creases};
use super::large_array::LargeArray;
use super::numbering::child_count;
use super::patch::Samples;
use super::refine::{RefinedFaces, refine};
use super::surface::Surface;
use crate::mesh::{EdgeKind, NONE, PolygonMesh, Topology, UvLayer, Vec3};

/// UVs of a refined mesh.
#[derive(Debug, Clone, PartialEq)]
pub struct RefinedUvs {
    /// Distinct values (u, v), no unit.
    pub coordinates: Vec<[f64; 2]>,
    /// One entry per quad of the refined mesh, in its order and winding: the index into
    /// `coordinates` at each corner; all four [`NONE`] where the cage face has no UVs.
    pub quads: LargeArray<[u32; 4]>,
}

/// The subdivision surface of a cage's UVs.
#[derive(Debug, Clone)]
pub struct UvSurface {
    surface: Surface,
    /// One entry per cage face: its face in the UV mesh, or [`NONE`].
    uv_faces: Vec<u32>,
    /// One entry per cage face.
    face_sizes: Vec<usize>,
    /// One entry per cage face: whether its refined quads run against the unified winding.
    flipped: Vec<bool>,
}

impl UvSurface {
    /// Prepares the UVs of a cage for refinement. Faces that lack a UV at any corner have none.
    /// `None` if no face has UVs.
    pub fn new(control: &ControlMesh, uvs: &UvLayer) -> Option<Self> {
        let topology = control.topology();
        let joined = JoinedUvs::new(topology, uvs);
        let mut uv_faces = vec![NONE; topology.face_count()];
        let mut face_starts = vec![0u32];
        let mut corner_vertices = Vec::new();
        let mut cage_corners = Vec::new();
        for (f, uv_face) in uv_faces.iter_mut().enumerate() {
            let corners = topology.face_corners(f);
            if joined.at_corner[corners.clone()].contains(&NONE) {
                continue;
            }
            *uv_face = face_starts.len() as u32 - 1;
            corner_vertices.extend_from_slice(&joined.at_corner[corners.clone()]);
            cage_corners.extend(corners);
            face_starts.push(corner_vertices.len() as u32);
        }
        if cage_corners.is_empty() {
            return None;
        }
        let mesh = PolygonMesh::new(joined.points, face_starts, corner_vertices).ok()?;
        let uv_topology = Topology::keeping_winding(&mesh);
        let creases = uv_creases(control, &uv_topology, &cage_corners);
        let uv_control = ControlMesh::new(&mesh, uv_topology, &creases, BoundaryRule::default());
        Some(Self {
            surface: Surface::new(uv_control),
            uv_faces,
            face_sizes: (0..topology.face_count())
                .map(|f| topology.face_size(f))
                .collect(),
            flipped: (0..topology.face_count())
                .map(|f| topology.is_flipped(f))
                .collect(),
        })
    }

    /// The UVs of the mesh that [`refine()`] makes of the cage at `level`, 1 and more.
    ///
    /// There are at most as many values as the refined mesh has corners; whether 32 bits can
    /// number them is for the caller to see to.
    pub fn refine(&self, level: usize) -> RefinedUvs {
        let level = level.max(1);
        let refined = refine(&self.surface, level, Samples::Refined);
        let coordinates = refined.positions.iter().map(|&[u, v, _]| [u, v]);
        let own = match refined.faces {
            RefinedFaces::Quads(quads) => quads,
            RefinedFaces::Cage => LargeArray::zeros(0),
        };
        RefinedUvs {
            coordinates: coordinates.collect(),
            quads: self.place_quads(level, own),
        }
    }

    /// Puts the quads of the UV mesh where the refined cage has its quads, wound like those.
    fn place_quads(&self, level: usize, own: LargeArray<[u32; 4]>) -> LargeArray<[u32; 4]> {
        let all_have_uvs = !self.uv_faces.contains(&NONE);
        if all_have_uvs && !self.flipped.contains(&true) {
            return own;
        }
        let total = self.face_sizes.iter().map(|&n| child_count(n, level)).sum();
        let mut placed = Vec::with_capacity(total);
        let mut taken = 0;
        for (f, &size) in self.face_sizes.iter().enumerate() {
            let children = child_count(size, level);
            if self.uv_faces[f] == NONE {
                placed.resize(placed.len() + children, [NONE; 4]);
                continue;
            }
            let quads = &own[taken..taken + children];
            taken += children;
            if self.flipped[f] {
                // As the cage's quads are turned: about the corner next to the cage's own.
                placed.extend(quads.iter().map(|&[a, b, c, d]| [a, d, c, b]));
            } else {
                placed.extend_from_slice(quads);
            }
        }
        placed.into()
    }
}

/// The pairs of vertex and UV value.
struct JoinedUvs {
    /// The value of each pair as a point of the plane z = 0.
    points: Vec<Vec3>,
    /// One entry per corner of the topology: its pair, or [`NONE`].
    at_corner: Vec<u32>,
}

impl JoinedUvs {
    fn new(topology: &Topology, uvs: &UvLayer) -> Self {
        let value_at = |c: usize| -> Option<[f64; 2]> {
            let index = *uvs.of_corner.get(topology.file_corner(c))?;
            let value = uvs.coordinates.get(index as usize)?;
            // -0 and 0 are one value.
            Some(value.map(|x| x + 0.0))
        };
        let mut joined = Self {
            points: Vec::new(),
            at_corner: vec![NONE; topology.corner_count()],
        };
        let mut here: Vec<([f64; 2], usize)> = Vec::new();
        for v in 0..topology.vertex_count() {
            here.clear();
            let corners = topology.corners_of(v);
            here.extend(corners.filter_map(|c| value_at(c).map(|value| (value, c))));
            here.sort_unstable_by(|(p, c), (q, d)| {
                let by_value = p[0].total_cmp(&q[0]).then(p[1].total_cmp(&q[1]));
                by_value.then(c.cmp(d))
            });
            for run in here.chunk_by(|a, b| a.0 == b.0) {
                let [u, w] = run[0].0;
                for &(_, c) in run {
                    joined.at_corner[c] = joined.points.len() as u32;
                }
                joined.points.push(Vec3::new(u, w, 0.0));
            }
        }
        joined
    }
}

/// What is sharp in the UV mesh; `cage_corners` leads from its corners to the cage's.
fn uv_creases(control: &ControlMesh, uv: &Topology, cage_corners: &[usize]) -> Creases {
    let topology = control.topology();
    let edges = (0..uv.edge_count()).into_par_iter().filter_map(|e| {
        if uv.edge_kind(e) != EdgeKind::Interior {
            return None;
        }
        let cage_edge = topology.edge(cage_corners[uv.edge_corner(e)]);
        let sharpness = control.edge_sharpness()[cage_edge];
        (sharpness > 0.0).then_some((e as u32, sharpness))
    });
    let vertices = (0..uv.vertex_count()).into_par_iter().filter_map(|v| {
        let corner = uv.corners_of(v).next()?;
        let sharpness = if uv.is_interior(v) {
            control.vertex_sharpness()[topology.vertex(cage_corners[corner])]
        } else {
            f64::INFINITY
        };
        (sharpness > 0.0).then_some((v as u32, sharpness))
    });
    Creases {
        edges: edges.collect(),
        vertices: vertices.collect(),
    }
}
