//! Pictures of an assessed cage: the limit surface from several sides and close up, each shaded,
//! striped and coloured by risk.
//!
//! The way of the data: [`form`] makes triangles of the limit surface with exact normals,
//! [`camera`] says where they come to lie, [`raster`] which of them each sample sees, [`shading`]
//! what light comes from there, [`panel`] joins these up, [`sheet`] sets panels, caption and legend
//! on one sheet; [`gallery`] knows the views. Pictures are the same on every run and any number of
//! threads.

pub mod camera;
pub mod canvas;
pub mod close_up;
pub mod form;
pub mod gallery;
mod lettering;
pub mod panel;
pub mod png_file;
pub mod raster;
pub mod shading;
pub mod sheet;

pub use camera::{Camera, UpAxis};
pub use canvas::Canvas;
pub use gallery::{CLOSE_UPS_MAX, Gallery, Picture, View, picture_names};
pub use png_file::is_own;
pub use shading::Way;
