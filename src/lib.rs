//! Predicts, vertex by vertex, where Catmull-Clark smoothing of a low-poly cage will misbehave.

pub mod io;
pub mod mesh;
