//! Cages grown from kits of modelling steps are sound, deterministic and varied.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod corpus;
mod support;

use std::fmt::Write;

use cagewise::mesh::PolygonMesh;
use corpus::kits::{Kit, grown};

#[test]
fn look() {
    let folder = std::env::var("GROWN_LOOK").unwrap();
    for kit in Kit::ALL {
        let begin = std::time::Instant::now();
        for seed in 0..8 {
            let clean = grown(kit, seed);
            let mesh: &PolygonMesh = &clean.cage.mesh;
            let mut text = String::new();
            for p in mesh.positions() {
                writeln!(text, "v {} {} {}", p.x, p.y, p.z).unwrap();
            }
            for f in mesh.faces() {
                let ids: Vec<String> = f.iter().map(|v| (v + 1).to_string()).collect();
                writeln!(text, "f {}", ids.join(" ")).unwrap();
            }
            std::fs::write(format!("{folder}/{kit:?}_{seed}.obj"), text).unwrap();
            println!("{kit:?} {seed} {} vertices", mesh.vertex_count());
        }
        println!("{:?}", begin.elapsed());
    }
}
