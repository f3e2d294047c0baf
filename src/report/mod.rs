//! What is handed out: one file per format, made from an assessment.

mod colour;
mod csv_fields;
mod edge_loops;
mod explanation;
mod mirroring;
mod page;
mod preview;
mod preview_half;
mod risk_csv;
mod samples_csv;
mod summary;
pub mod terminal;
#[cfg(test)]
mod testing;

pub use colour::risk_colour;
pub use edge_loops::{EdgeLoops, LoopEntry, StationEntry};
pub use explanation::{explain, explained_list, explained_names};
pub use mirroring::{CreasedVertex, Mirroring, OffPlane, PlanarBorder};
pub use page::{PAGE_MARK, PageOptions, StillPicture, write_page};
pub use preview::{
    PreviewColours, PreviewOptions, SizeError, check_size, write_half_preview, write_preview,
    write_whole_preview,
};
pub use risk_csv::write_risk_csv;
pub use samples_csv::write_samples_csv;
pub use summary::{
    Bands, Body, Border, CreaseOrigin, Input, Options, PlaceEntry, Poles, Request, Skipped,
    Summary, shown_name,
};
