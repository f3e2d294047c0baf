//! What is handed out: one file per format, made from an assessment.

mod colour;
mod explanation;
mod page;
mod preview;
mod risk_csv;
mod summary;
pub mod terminal;
#[cfg(test)]
mod testing;

pub use colour::risk_colour;
pub use explanation::{explain, explained_list, explained_names};
pub use page::{PageOptions, StillPicture, write_page};
pub use preview::{PreviewColours, PreviewOptions, SizeError, check_size, write_preview};
pub use risk_csv::write_risk_csv;
pub use summary::{
    Bands, Body, Border, CreaseOrigin, Input, Options, PlaceEntry, Poles, Request, Skipped,
    Summary, shown_name,
};
