//! Files in and out: OBJ cages and crease tables are read whole and checked, results are written
//! beside their target and renamed at the end.

mod atomic;
pub(crate) mod block;
mod creases;
pub(crate) mod lines;
mod obj;
pub(crate) mod quote;
mod source;
mod temporaries;

pub use atomic::{OutputFile, OutputSet, WriteError};
pub use creases::{
    CreaseError, CreaseFault, CreaseRow, INFINITE_SHARPNESS, ResolvedCreases, read_creases,
    read_creases_from, resolve_creases,
};
pub use obj::{
    Entry, LineFault, ObjContent, ReadError, read_cage, read_cage_from, relocated_libraries,
    write_obj,
};
pub use source::SourceFault;
pub use temporaries::remove_open_temporaries;
