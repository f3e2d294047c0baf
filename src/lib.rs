//! Predicts, vertex by vertex, where Catmull-Clark smoothing of a low-poly cage will misbehave, how
//! badly, why, and which edit helps.
//!
//! The data goes one way, and each module uses only those before it: [`mesh`] (polygons and their
//! adjacency), [`subdivision`] (rules and refinement), [`limit`] (the limit surface at any place),
//! [`io`] (OBJ and crease tables in, whole files out), [`measure`] (one value per vertex and measure),
//! [`risk`] (how likely a fault is seen, and why), [`assess`](mod@assess) (all of it), [`report`]
//! (what is handed out).
//!
//! ```
//! use cagewise::assess::AssessOptions;
//! use cagewise::mesh::Cage;
//!
//! let path = concat!(env!("CARGO_MANIFEST_DIR"), "/demo/crate.obj");
//! let cage = Cage::read(path.as_ref())?;
//! let assessment = cage.assess(&AssessOptions::default());
//! assert!(assessment.highest_risk() < 0.25, "the crate is clean");
//! # Ok::<(), cagewise::io::ReadError>(())
//! ```

pub mod assess;
pub mod io;
pub mod limit;
pub mod measure;
pub mod mesh;
pub mod picture;
pub mod report;
pub mod risk;
pub mod subdivision;

/// Version of this library and program.
pub const VERSION: &str = env!("CARGO_PKG_VERSION");
