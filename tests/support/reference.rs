//! The cages of `reference-data`, which its tables are about.

use std::path::{Path, PathBuf};

use cagewise::io::{read_cage, read_creases, resolve_creases};
use cagewise::mesh::{PolygonMesh, Topology};
use cagewise::subdivision::Creases;

/// The folder of reference data.
pub fn data() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("reference-data")
}

/// Names of the files in a folder of it that end like this, endings taken off, sorted.
pub fn names(folder: &str, ending: &str) -> Vec<String> {
    let mut names: Vec<String> = std::fs::read_dir(data().join(folder))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter_map(|name| name.strip_suffix(ending).map(str::to_owned))
        .collect();
    names.sort();
    names
}

/// A cage and its creases.
pub fn load(name: &str) -> (PolygonMesh, Creases) {
    let path = data().join("cages").join(format!("{name}.obj"));
    let mesh = read_cage(&path).unwrap().mesh;
    let table = data().join("cages").join(format!("{name}.creases.csv"));
    let mut creases = Creases::default();
    if table.exists() {
        let topology = Topology::new(&mesh);
        let edge_of = |a: u32, b: u32| {
            topology
                .edge_between(a as usize, b as usize)
                .map(|e| e as u32)
        };
        let rows = read_creases(&table).unwrap();
        let resolved = resolve_creases(&rows, mesh.vertex_count(), edge_of, &table).unwrap();
        creases.edges = resolved.edges;
        creases.vertices = resolved.vertices;
    }
    (mesh, creases)
}
