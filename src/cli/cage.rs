//! A cage read from its file, with its creases settled.

use std::fmt::Display;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use cagewise::io::{CreaseRow, read_cage, read_creases, resolve_creases};
use cagewise::mesh::{Cage, Mirrored, PolygonMesh, Topology};
use cagewise::report::{
    PreviewOptions, check_size, shown_name, write_half_preview, write_preview, write_whole_preview,
};
use cagewise::subdivision::{Creases, Surface, mirrored_creases, smoothing_group_creases};

use super::args::{CreaseSource, Subdividing, Surfacing};
use super::failure::Failure;

/// A cage ready for work.
pub struct ReadyCage {
    /// The cage as its file has it.
    pub cage: Cage,
    /// Adjacency of what is to be subdivided: the cage, or the whole that it is mirrored to.
    pub topology: Topology,
    /// Creases of what is to be subdivided.
    pub creases: Creases,
    /// Number of crease edges and of sharp corners of the cage itself.
    pub crease_counts: (usize, usize),
    /// The whole, if the cage is a half.
    pub mirrored: Option<Mirrored>,
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
    /// Reads a cage, mirrors it if asked to, and settles its creases.
    pub fn read(
        path: &Path,
        creases: &RequestedCreases,
        surfacing: &Surfacing,
    ) -> Result<Self, Failure> {
        let cage = read_cage(path)?;
        let topology = Topology::new(&cage.mesh);
        match surfacing.mirror {
            None => Self::plain(cage, topology, creases, path),
            Some(plane) => {
                let mirrored = Mirrored::new(&cage, topology, plane);
                let mirrored = mirrored.map_err(|error| at_fault(path, error))?;
                Self::mirrored(cage, mirrored, creases, path)
            }
        }
    }

    /// As [`ReadyCage::read`], and checks that the level asked for can be made.
    pub fn read_to_refine(
        path: &Path,
        creases: &RequestedCreases,
        subdividing: &Subdividing,
    ) -> Result<Self, Failure> {
        let ready = Self::read(path, creases, &subdividing.surfacing)?;
        check_size(&ready.topology, subdividing.level, subdividing.max_faces)
            .map_err(|error| at_fault(path, error))?;
        Ok(ready)
    }

    fn plain(
        cage: Cage,
        topology: Topology,
        creases: &RequestedCreases,
        path: &Path,
    ) -> Result<Self, Failure> {
        let creases = creases.resolve(&cage, &topology, path)?;
        Ok(Self {
            cage,
            topology,
            crease_counts: (creases.edges.len(), creases.vertices.len()),
            creases,
            mirrored: None,
        })
    }

    /// Crease tables name the half's vertices; smoothing groups are those of the whole, so that
    /// faces without smoothing are hard along the centre line as well.
    fn mirrored(
        cage: Cage,
        mirrored: Mirrored,
        creases: &RequestedCreases,
        path: &Path,
    ) -> Result<Self, Failure> {
        let whole = Topology::new(&mirrored.whole.mesh);
        let (creases, crease_counts) = match creases {
            RequestedCreases::Groups => {
                let creases = creases.resolve(&mirrored.whole, &whole, path)?;
                let of_half = |(e, _): &&(u32, f64)| {
                    let first = whole.edge_corner(*e as usize);
                    whole.face_of(first) < mirrored.map.half_faces
                };
                let edges = creases.edges.iter().filter(of_half).count();
                (creases, (edges, 0))
            }
            RequestedCreases::None | RequestedCreases::File(..) => {
                let half = creases.resolve(&cage, &mirrored.half_topology, path)?;
                let counts = (half.edges.len(), half.vertices.len());
                (mirrored_creases(&half, &mirrored, &whole), counts)
            }
        };
        Ok(Self {
            cage,
            topology: whole,
            creases,
            crease_counts,
            mirrored: Some(mirrored),
        })
    }
}

/// The mesh that is to be subdivided: the cage's, or that of the whole that it is mirrored to.
pub fn mesh_of<'a>(cage: &'a Cage, mirrored: Option<&'a Mirrored>) -> &'a PolygonMesh {
    &mirrored.map_or(cage, |mirrored| &mirrored.whole).mesh
}

fn at_fault(path: &Path, error: impl Display) -> Failure {
    Failure::new(format!("{}: {error}", shown_name(path)))
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

/// Writes the smoothed cage: of a half that is mirrored, the half or the `whole`. The risks in
/// `options` are those of the cage as read.
pub fn write_smoothed(
    out: &mut (impl Write + Send),
    (cage, mirrored): (&Cage, Option<&Mirrored>),
    surface: &Surface,
    options: &PreviewOptions,
    whole: bool,
) -> io::Result<()> {
    match mirrored {
        None => write_preview(out, cage, surface, options),
        Some(mirrored) if whole => write_whole_preview(out, mirrored, surface, options),
        Some(mirrored) => write_half_preview(out, cage, mirrored, surface, options),
    }
}
