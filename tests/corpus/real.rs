//! Cages of others, from the folder that `CAGEWISE_CAGES` names: each intends its own limit.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use cagewise::io::{read_cage, read_creases, resolve_creases};
use cagewise::mesh::Topology;

use super::case::{Clean, Intended, Meshed};

/// All cages of the folder in the order of their names, with the creases of the table beside them,
/// each a family of its own. `None` where no folder is named.
pub fn real() -> Option<Vec<Arc<Clean>>> {
    let folder = PathBuf::from(std::env::var_os("CAGEWISE_CAGES")?);
    let mut paths: Vec<PathBuf> = std::fs::read_dir(&folder)
        .unwrap_or_else(|e| panic!("CAGEWISE_CAGES names {}: {e}", folder.display()))
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "obj"))
        .collect();
    paths.sort();
    assert!(!paths.is_empty(), "no OBJ file in {}", folder.display());
    Some(paths.iter().map(|path| clean(path)).collect())
}

fn clean(path: &Path) -> Arc<Clean> {
    let cage = meshed(path);
    let name = path.file_stem().unwrap().to_string_lossy().into_owned();
    Arc::new(Clean {
        family: name.clone().leak(),
        name,
        intended: Intended::LimitOf(Arc::new(cage.clone())),
        cage,
        is_control: false,
    })
}

fn meshed(path: &Path) -> Meshed {
    let mut cage = Meshed::smooth(read_cage(path).unwrap().mesh);
    let table = path.with_extension("creases.csv");
    if table.exists() {
        let topology = Topology::new(&cage.mesh);
        let edge_of = |a: u32, b: u32| {
            let edge = topology.edge_between(a as usize, b as usize);
            edge.map(|e| e as u32)
        };
        let rows = read_creases(&table).unwrap();
        let found = resolve_creases(&rows, cage.mesh.vertex_count(), edge_of, &table).unwrap();
        let ends = |e: u32| topology.edge_vertices(e as usize).map(|v| v as u32);
        cage.crease_edges = found.edges.iter().map(|&(e, s)| (ends(e), s)).collect();
        cage.crease_vertices = found.vertices;
    }
    cage
}
