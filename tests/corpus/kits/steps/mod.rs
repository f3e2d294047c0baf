//! The steps that the kits model with: each changes a [`Model`] as one tool of a modeller would.

pub mod bridge;
pub mod chance;
pub mod finish;
pub mod lattice;
pub mod limb;
pub mod loft;
pub mod model;
pub mod overlap;
pub mod patch;
pub mod profile;
pub mod raise;
pub mod slide;
pub mod sound;
pub mod space;

pub use chance::Chance;
pub use model::Model;
