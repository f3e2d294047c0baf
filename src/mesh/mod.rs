//! Polygon meshes: arrays, adjacency, and what is wrong with them as meshes.

mod cage;
mod polygon_mesh;

pub use cage::{Cage, NameTable, NormalLayer, SkippedStatements, SmoothingGroups, UvLayer};
pub use polygon_mesh::{MeshError, NONE, PolygonMesh, Vec3};
