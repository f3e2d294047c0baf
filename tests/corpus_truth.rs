//! What the corpus of known faults takes to be true.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod corpus;
mod support;

use std::sync::Arc;

use cagewise::mesh::PolygonMesh;
use corpus::case::{Case, Clean, Intended, Meshed, Truth};
use corpus::truth::truth;
use support::cages::torus;

fn own_limit(name: &str, mesh: PolygonMesh) -> Arc<Clean> {
    let cage = Meshed::smooth(mesh);
    Arc::new(Clean {
        name: name.to_owned(),
        family: "test",
        intended: Intended::LimitOf(Arc::new(cage.clone())),
        cage,
        is_control: false,
    })
}

#[test]
fn a_cage_is_sound_by_its_own_limit() {
    let clean = own_limit("torus", torus(24, 12, 2.0, 0.7));
    let case = Case {
        cage: clean.cage.clone(),
        clean,
        faults: Vec::new(),
    };
    assert!(truth(&case).iter().all(|t| *t == Truth::Sound));
}
