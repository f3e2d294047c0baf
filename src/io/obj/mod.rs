//! OBJ in. A file is cleaned into one plain stream that keeps the file's own order, the stream is
//! parsed by `tobj`, and what `tobj` does not carry (names, smoothing groups, colours, line
//! numbers) is kept by the cleaner.
//!
//! Format: *Object Files (.obj)*, appendix B1 of the Advanced Visualizer manual, version 3.0.

mod clean;
mod error;
mod names;
mod numbers;
mod read;
mod statement;
mod stream;

pub use error::{Entry, LineFault, ReadError};
pub use read::{read_cage, read_cage_from};
