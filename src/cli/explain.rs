//! `cagewise explain`: what a measure or a risk means.

use cagewise::report::{explain, explained_list, explained_names};

use super::Outcome;
use super::failure::Failure;
use super::output::print;

/// Explains one name, or lists them all.
pub fn run(name: Option<&str>) -> Result<Outcome, Failure> {
    let text = match name {
        None => explained_list(),
        Some(name) => explain(name).ok_or_else(|| {
            Failure::new(format!(
                "'{name}' is no measure and no cause; name one of {}",
                explained_names().join(", ")
            ))
        })?,
    };
    print(&text)?;
    Ok(Outcome::Done)
}
