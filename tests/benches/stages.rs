//! Stages.
fn main() {}
