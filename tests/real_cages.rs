//! Cages made by others, none of which is part of the project: a folder of OBJ files named by the
//! environment variable `CAGEWISE_CAGES` (DEVELOPERS.md says where some can be had).
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stderr
)]

use std::path::PathBuf;

use cagewise::assess::{AssessOptions, assess};
use cagewise::io::{read_cage, read_creases, resolve_creases};
use cagewise::mesh::Topology;

fn cages() -> Vec<PathBuf> {
    let Some(folder) = std::env::var_os("CAGEWISE_CAGES") else {
        eprintln!("CAGEWISE_CAGES is not set: no real cages are tried");
        return Vec::new();
    };
    let mut paths: Vec<PathBuf> = std::fs::read_dir(&folder)
        .unwrap_or_else(|e| panic!("CAGEWISE_CAGES names {}: {e}", folder.display()))
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "obj"))
        .collect();
    paths.sort();
    assert!(!paths.is_empty(), "no OBJ file in {}", folder.display());
    paths
}

#[test]
fn real_cages_are_assessed_with_finite_figures_in_range() {
    for path in cages() {
        let cage = read_cage(&path).unwrap();
        let topology = Topology::new(&cage.mesh);
        assert_eq!(topology.validate(), Vec::<String>::new());
        let mut options = AssessOptions::default();
        let table = path.with_extension("creases.csv");
        if table.exists() {
            let rows = read_creases(&table).unwrap();
            let edge_of = |a: u32, b: u32| {
                topology
                    .edge_between(a as usize, b as usize)
                    .map(|e| e as u32)
            };
            let resolved =
                resolve_creases(&rows, cage.mesh.vertex_count(), edge_of, &table).unwrap();
            options.creases.edges = resolved.edges;
            options.creases.vertices = resolved.vertices;
        }
        let found = assess(&cage, topology, &options);
        let risks = &found.findings.risks.total;
        assert_eq!(risks.len(), cage.mesh.vertex_count());
        assert!(
            risks.iter().all(|r| (0.0..=1.0).contains(r)),
            "{}",
            path.display()
        );
        for measured in &found.findings.measures {
            let sound = measured.values.iter().all(|x| !x.is_infinite());
            assert!(sound, "{}: {}", path.display(), measured.about.name);
        }
    }
}
