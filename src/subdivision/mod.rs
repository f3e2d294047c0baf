//! Catmull-Clark subdivision: rules, refinement and the limit surface.
//!
//! The way of the data: a [`ControlMesh`] (cage positions, adjacency, sharpness) gives its
//! [level-one points](level_one::LevelOne) by the general rule for polygons; from there every
//! face is a set of quads, each with its [one-ring](ring::Ring) at hand, and [`patch`] descends
//! from such a quad to regular bicubic patches that [`spline`] evaluates in closed form.
//! [`refine()`] does so for all faces in parallel, straight into the arrays handed out.

pub mod control;
pub mod creases;
pub mod evaluate;
pub(crate) mod lanes;
mod large_array;
mod layout;
pub mod level_one;
pub mod masks;
pub mod numbering;
pub mod patch;
pub mod pole_quad;
pub mod quadratic_masks;
pub mod refine;
pub mod ring;
pub mod sharpness;
pub mod spline;
pub mod spread;
pub(crate) mod stencil;
pub mod surface;
mod task;
pub mod uv;

pub use control::{BoundaryRule, ControlMesh, Creases, Frame};
pub use creases::{mirrored_creases, smoothing_group_creases};
pub use large_array::LargeArray;
pub use numbering::Numbering;
pub use patch::Samples;
pub use refine::{RefinedFaces, RefinedMesh, refine, refined_size};
pub use spread::spread;
pub use surface::Surface;
pub use uv::{RefinedUvs, UvSurface};
