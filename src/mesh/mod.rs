//! Polygon meshes: arrays, adjacency, and what is wrong with them as meshes.

mod border_walks;
mod buckets;
mod cage;
mod centre_line;
mod edges;
mod face_area;
mod fans;
mod hygiene;
mod mirror;
mod mirror_hint;
mod mirror_plane;
mod oriented;
mod polygon_mesh;
mod topology;
mod validate;
mod winding;

pub use cage::{Cage, NameTable, NormalLayer, SkippedStatements, SmoothingGroups, UvLayer};
pub use centre_line::{CentreLine, Element, LINE_REACH_THRESHOLD, MirrorError, WELD_TOLERANCE};
pub use face_area::face_area;
pub(crate) use face_area::face_areas;
pub use hygiene::Oddities;
pub use mirror::{MirrorMap, Mirrored};
pub use mirror_hint::{PlanarBorders, planar_borders};
pub use mirror_plane::{Axis, MirrorPlane};
pub use polygon_mesh::{MeshError, NONE, PolygonMesh, Vec3};
pub use topology::{EdgeKind, Topology};
