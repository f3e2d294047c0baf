//! Cages whose truth is known: the form that each intends, and the faults that were put into it.
//!
//! Shared by the tests of the risk, by the command that fits its model and by the one that tells how
//! good it is. Everything is made in code from seeds, but for the cages of others, which come from
//! the folder that `CAGEWISE_CAGES` names.
#![allow(dead_code, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

pub mod capped;
pub mod case;
pub mod controls;
pub mod drawn;
pub mod faults;
pub mod kits;
pub mod real;
pub mod reference;
pub mod truth;
