//! Predicts, vertex by vertex, where Catmull-Clark smoothing of a low-poly cage will misbehave.

pub mod assess;
pub mod io;
pub mod measure;
pub mod mesh;
pub mod report;
pub mod risk;
pub mod subdivision;

/// Version of this library and program.
pub const VERSION: &str = env!("CARGO_PKG_VERSION");
