//! Files in and out: OBJ cages, crease tables and tables of places are read whole and checked, results are written
//! beside their target and renamed at the end.

mod atomic;
pub(crate) mod block;
mod creases;
pub(crate) mod lines;
mod obj;
mod places;
pub(crate) mod quote;
mod source;
mod table;
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
pub use places::{PlaceFault, PlaceRow, PlacesError, read_places, read_places_from};
pub use source::SourceFault;
pub use table::TableError;
pub use temporaries::remove_open_temporaries;
