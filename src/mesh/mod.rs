//! Polygon meshes: arrays, adjacency, and what is wrong with them as meshes.

mod buckets;
mod cage;
mod edges;
mod face_area;
mod fans;
mod hygiene;
mod oriented;
mod polygon_mesh;
mod topology;
mod validate;
mod winding;

pub use cage::{Cage, NameTable, NormalLayer, SkippedStatements, SmoothingGroups, UvLayer};
pub use face_area::face_area;
pub use hygiene::Oddities;
pub use polygon_mesh::{MeshError, NONE, PolygonMesh, Vec3};
pub use topology::{EdgeKind, Topology};
