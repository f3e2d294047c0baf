//! Predicts, vertex by vertex, where Catmull-Clark smoothing of a low-poly cage will misbehave.

pub mod mesh;
pub mod subdivision;
