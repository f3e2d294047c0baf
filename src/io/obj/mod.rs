//! OBJ in and out. A file to read is cleaned into one plain stream that keeps the file's own order,
//! the stream is parsed by `tobj`, and what `tobj` does not carry (names, smoothing groups,
//! colours, line numbers) is kept by the cleaner.
//!
//! Format: *Object Files (.obj)*, appendix B1 of the Advanced Visualizer manual, version 3.0.

mod clean;
mod error;
mod faces;
mod material_library;
mod names;
mod numbers;
mod read;
mod statement;
mod stream;
mod write;

pub use error::{Entry, LineFault, ReadError};
pub use material_library::relocated_libraries;
pub use read::{read_cage, read_cage_from};
pub use write::{ObjContent, write_obj};
