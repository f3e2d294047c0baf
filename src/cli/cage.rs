//! A cage read from its file, with its creases settled.

use std::path::{Path, PathBuf};

use cagewise::io::{CreaseRow, read_cage, read_creases, resolve_creases};
use cagewise::mesh::{Cage, Topology};
use cagewise::report::{check_size, shown_name};
use cagewise::subdivision::{Creases, smoothing_group_creases};

use super::args::{CreaseSource, Subdividing};
use super::failure::Failure;

/// A cage ready for work.
pub struct ReadyCage {
    /// The cage.
    pub cage: Cage,
    /// Its adjacency.
    pub topology: Topology,
    /// Its creases.
    pub creases: Creases,
}

/// The creases asked for, as far as they can be read without a cage.
pub enum RequestedCreases<'a> {
    /// None.
    None,
    /// From smoothing groups.
    Groups,
    /// The rows of a file.
    File(&'a Path, Vec<CreaseRow>),
}

impl<'a> RequestedCreases<'a> {
    /// Reads what the flags name.
    pub fn read(source: Option<&'a CreaseSource>) -> Result<Self, Failure> {
        Ok(match source {
            None => Self::None,
            Some(CreaseSource::Groups) => Self::Groups,
            Some(CreaseSource::File(path)) => Self::File(path, read_creases(path)?),
        })
    }

    fn resolve(&self, cage: &Cage, topology: &Topology, path: &Path) -> Result<Creases, Failure> {
        match self {
            Self::None => Ok(Creases::default()),
            Self::Groups => Ok(smoothing_group_creases(topology, &cage.smoothing)),
            Self::File(file, rows) => {
                let edge_of = |a: u32, b: u32| {
                    let edge = topology.edge_between(a as usize, b as usize)?;
                    u32::try_from(edge).ok()
                };
                let resolved = resolve_creases(rows, topology.vertex_count(), edge_of, file);
                let resolved = resolved.map_err(|error| {
                    Failure::new(format!("{error} (cage {})", shown_name(path)))
                })?;
                Ok(Creases {
                    edges: resolved.edges,
                    vertices: resolved.vertices,
                })
            }
        }
    }
}

impl ReadyCage {
    /// Reads a cage and settles its creases.
    pub fn read(path: &Path, creases: &RequestedCreases) -> Result<Self, Failure> {
        let cage = read_cage(path)?;
        let topology = Topology::new(&cage.mesh);
        let creases = creases.resolve(&cage, &topology, path)?;
        Ok(Self {
            cage,
            topology,
            creases,
        })
    }

    /// As [`ReadyCage::read`], and checks that the level asked for can be made.
    pub fn read_to_refine(
        path: &Path,
        creases: &RequestedCreases,
        subdividing: &Subdividing,
    ) -> Result<Self, Failure> {
        let ready = Self::read(path, creases)?;
        check_size(&ready.topology, subdividing.level, subdividing.max_faces)
            .map_err(|error| Failure::new(format!("{}: {error}", shown_name(path))))?;
        Ok(ready)
    }
}

/// The files that no output may replace.
pub fn inputs<'a>(cages: &'a [PathBuf], creases: Option<&'a CreaseSource>) -> Vec<&'a Path> {
    let mut inputs: Vec<&Path> = cages.iter().map(PathBuf::as_path).collect();
    if let Some(CreaseSource::File(path)) = creases {
        inputs.push(path);
    }
    inputs
}

/// The folder that a file stands in.
pub fn folder_of(file: &Path) -> &Path {
    file.parent().unwrap_or(Path::new(""))
}
