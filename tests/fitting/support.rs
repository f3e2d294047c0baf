//! What the corpus shares with the tests.

#[path = "../support/cages.rs"]
pub mod cages;
