//! A cage as its file has it: the polygon mesh and everything its faces and corners carry.

use super::polygon_mesh::{NONE, PolygonMesh, Vec3};

/// A table of names as the file spells them, byte for byte: object and material names often are
/// not UTF-8.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct NameTable {
    /// Distinct names, in order of first use.
    pub names: Vec<Vec<u8>>,
    /// One entry per face: index into `names`, or [`NONE`] where no statement precedes the face.
    pub of_face: Vec<u32>,
}

impl NameTable {
    /// The bytes of face `f`'s name, or `None` where it has none.
    pub fn get(&self, f: usize) -> Option<&[u8]> {
        let index = *self.of_face.get(f)?;
        if index == NONE {
            return None;
        }
        self.names.get(index as usize).map(Vec::as_slice)
    }
}

/// Smoothing groups: numbers are labels, and only whether neighbours share one matters.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct SmoothingGroups {
    /// Whether the file has any `s` statement.
    pub stated: bool,
    /// One entry per face; 0 is "off" (and stands before the first `s` statement).
    pub of_face: Vec<u32>,
}

/// UV coordinates and the one each corner uses.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct UvLayer {
    /// The file's `vt` entries, in its order: (u, v), no unit.
    pub coordinates: Vec<[f64; 2]>,
    /// One entry per corner: index into `coordinates`, or [`NONE`] where the corner has none.
    pub of_corner: Vec<u32>,
}

/// Shading normals and the one each corner uses.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct NormalLayer {
    /// The file's `vn` entries, in its order, as written (not normalised).
    pub vectors: Vec<Vec3>,
    /// One entry per corner: index into `vectors`, or [`NONE`] where the corner has none.
    pub of_corner: Vec<u32>,
}

/// How many statements of the file the cage does not use, by kind.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct SkippedStatements {
    /// Polylines (`l`).
    pub lines: usize,
    /// Points (`p`).
    pub points: usize,
    /// Free-form curves and surfaces (`curv`, `surf`, `vp`, `cstype` and their like).
    pub free_form: usize,
    /// Display and render attributes (`bevel`, `c_interp`, `d_interp`, `lod`, `maplib`, `usemap`,
    /// `shadow_obj`, `trace_obj`).
    pub render_attributes: usize,
    /// Statements that the OBJ format does not define, or that run other files (`call`, `csh`).
    pub unknown: usize,
}

impl SkippedStatements {
    /// All of them together.
    pub fn total(&self) -> usize {
        self.lines + self.points + self.free_form + self.render_attributes + self.unknown
    }
}

/// A cage as read: one mesh in the file's own order, and what its faces and corners carry.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Cage {
    /// The mesh; vertex `k` is the file's k-th `v` line, face `k` its k-th `f` line (from 0).
    pub mesh: PolygonMesh,
    /// Vertex colours (red, green, blue) as written (0 to 1 by custom), one per vertex, if the file
    /// has any; vertices without one are white.
    pub colours: Option<Vec<[f64; 3]>>,
    /// Object of each face (`o`).
    pub objects: NameTable,
    /// Group of each face (`g`, the whole rest of its line).
    pub groups: NameTable,
    /// Material of each face (`usemtl`).
    pub materials: NameTable,
    /// Material libraries named by the file: the rest of each `mtllib` line, byte for byte.
    pub material_libraries: Vec<Vec<u8>>,
    /// Smoothing group of each face (`s`).
    pub smoothing: SmoothingGroups,
    /// UVs, if any corner has one.
    pub uvs: Option<UvLayer>,
    /// Normals, if any corner has one.
    pub normals: Option<NormalLayer>,
    /// The line of the file (from 1) that each vertex stands on; empty if not read from a file.
    pub vertex_lines: Vec<u32>,
    /// The line of the file (from 1) that each face stands on; empty if not read from a file.
    pub face_lines: Vec<u32>,
    /// Statements the cage does not use.
    pub skipped: SkippedStatements,
}

impl Cage {
    /// A bare cage: a mesh that carries nothing else.
    pub fn from_mesh(mesh: PolygonMesh) -> Self {
        let unnamed = || NameTable {
            names: Vec::new(),
            of_face: vec![NONE; mesh.face_count()],
        };
        Self {
            objects: unnamed(),
            groups: unnamed(),
            materials: unnamed(),
            smoothing: SmoothingGroups {
                stated: false,
                of_face: vec![0; mesh.face_count()],
            },
            mesh,
            ..Self::default()
        }
    }
}
