//! What the corpus shares with the tests.

#[path = "../support/cages.rs"]
pub mod cages;
#[path = "../support/rings.rs"]
pub mod rings;
