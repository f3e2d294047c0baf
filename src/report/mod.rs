//! What is handed out: one file per format, made from an assessment.

mod colour;
mod preview;

pub use colour::risk_colour;
pub use preview::{PreviewColours, PreviewOptions, SizeError, check_size, write_preview};
