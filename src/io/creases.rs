//! Crease tables: a CSV file with the columns `v0,v1,sharpness`.
//!
//! Vertices are numbered from 1 as in the OBJ; a row without `v1` makes `v0` a sharp corner.
//! Sharpness counts levels, and from 10 on is infinite, as in the open USD mesh schema
//! (`UsdGeomMesh`, `SHARPNESS_INFINITE`).

use std::collections::HashMap;
use std::path::Path;

use thiserror::Error;

use super::quote::{counted, quoted};
use super::table::{self, TableError, TableRow};

/// Sharpness, in levels, from which an edge or corner is infinitely sharp (open USD mesh schema).
pub const INFINITE_SHARPNESS: f64 = 10.0;

/// One row of a crease table.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CreaseRow {
    /// Line of the file, from 1.
    pub line: u64,
    /// First vertex, from 0 (the file counts from 1).
    pub v0: u32,
    /// Second vertex, from 0, or `None` where `v0` is a sharp corner.
    pub v1: Option<u32>,
    /// Sharpness in levels, from 0; [`f64::INFINITY`] for [`INFINITE_SHARPNESS`] and more.
    pub sharpness: f64,
}

/// The edges and vertices of a mesh that a crease table makes sharp.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ResolvedCreases {
    /// Edge index and sharpness in levels; each edge once, in the table's order.
    pub edges: Vec<(u32, f64)>,
    /// Vertex index (from 0) and sharpness in levels; each vertex once, in the table's order.
    pub vertices: Vec<(u32, f64)>,
}

/// Why a crease table can't be used.
pub type CreaseError = TableError<CreaseFault>;

/// What is wrong with one line of a crease table; vertices are numbered from 1. The message is a
/// fault and its mend, without file and line.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum CreaseFault {
    /// The first line is not the header.
    #[error("the header is {found}; write v0,v1,sharpness, each once, in any order")]
    Header {
        /// The line as it stands, quoted.
        found: String,
    },
    /// A row has another number of fields than the header.
    #[error(
        "the row has {}; write 3, with v1 left empty for a sharp corner",
        counted(*found, "field", "fields")
    )]
    FieldCount {
        /// How many it has.
        found: usize,
    },
    /// A vertex is not a whole number.
    #[error("{token} in column {column} is not a vertex number; write a whole number from 1")]
    VertexMalformed {
        /// The column.
        column: &'static str,
        /// The field, quoted.
        token: String,
    },
    /// A sharpness is not a number from 0.
    #[error("sharpness {token} is not usable; write a number from 0, or inf")]
    Sharpness {
        /// The field, quoted.
        token: String,
    },
    /// A vertex is beyond the cage's last.
    #[error("vertex {vertex} does not exist, the cage has {count} vertices; correct the number")]
    VertexOutOfRange {
        /// The vertex.
        vertex: u64,
        /// Number of vertices of the cage.
        count: usize,
    },
    /// Both vertices are the same.
    #[error("v0 and v1 are both vertex {vertex}; leave v1 empty to make it a sharp corner")]
    SameVertex {
        /// The vertex.
        vertex: u64,
    },
    /// No edge joins the two vertices.
    #[error("no edge joins vertices {v0} and {v1}; name the two ends of one edge")]
    NoEdge {
        /// First vertex.
        v0: u64,
        /// Second vertex.
        v1: u64,
    },
    /// An edge or corner that an earlier row gives another sharpness.
    #[error("line {earlier} gives this {what} sharpness {before}, not {now}; keep one of the rows")]
    Contradiction {
        /// Edge or corner.
        what: &'static str,
        /// Line of the earlier row.
        earlier: u64,
        /// Its sharpness in levels.
        before: f64,
        /// The sharpness of this row.
        now: f64,
    },
}

/// Reads a crease table.
///
/// # Errors
/// [`CreaseError`] if the file can't be read, if its header is not `v0,v1,sharpness` in some
/// order, or if a row is malformed. Whether the rows fit a mesh is [`resolve_creases`]'s matter.
pub fn read_creases(path: &Path) -> Result<Vec<CreaseRow>, CreaseError> {
    table::read(path)
}

/// Reads the crease table in the bytes of a file, as [`read_creases`] does; `name` is the file's
/// name in messages.
///
/// # Errors
/// As [`read_creases`].
pub fn read_creases_from(bytes: &[u8], name: &Path) -> Result<Vec<CreaseRow>, CreaseError> {
    table::read_from(bytes, name)
}

impl TableRow<3> for CreaseRow {
    type Fault = CreaseFault;

    const WANTED: &'static str = "a crease table (CSV)";

    const COLUMNS: [&'static str; 3] = ["v0", "v1", "sharpness"];

    fn header_fault(found: String) -> CreaseFault {
        CreaseFault::Header { found }
    }

    fn field_count_fault(found: usize) -> CreaseFault {
        CreaseFault::FieldCount { found }
    }

    fn of([v0, v1, sharpness]: [&[u8]; 3], line: u64) -> Result<Self, CreaseFault> {
        Ok(Self {
            line,
            v0: vertex_of(v0, Self::COLUMNS[0])?,
            v1: if v1.is_empty() {
                None
            } else {
                Some(vertex_of(v1, Self::COLUMNS[1])?)
            },
            sharpness: sharpness_of(sharpness)?,
        })
    }
}

/// A vertex number, less one.
fn vertex_of(field: &[u8], column: &'static str) -> Result<u32, CreaseFault> {
    let text = std::str::from_utf8(field).ok();
    let number = text.and_then(|t| t.parse::<u32>().ok());
    number
        .and_then(|n| n.checked_sub(1))
        .ok_or_else(|| CreaseFault::VertexMalformed {
            column,
            token: quoted(field),
        })
}

fn sharpness_of(field: &[u8]) -> Result<f64, CreaseFault> {
    let text = std::str::from_utf8(field).ok();
    match text.and_then(|t| t.parse::<f64>().ok()) {
        Some(levels) if levels >= INFINITE_SHARPNESS => Ok(f64::INFINITY),
        // Adding zero turns -0 into 0.
        Some(levels) if levels >= 0.0 => Ok(levels + 0.0),
        _ => Err(CreaseFault::Sharpness {
            token: quoted(field),
        }),
    }
}

/// Finds the mesh's edges and vertices that the rows name. `edge_of` gives the edge that joins
/// two vertices (from 0, in either order) of a mesh of `vertex_count` vertices; `path` is the
/// table's name in messages. A row that repeats another's edge or corner with the same sharpness
/// adds nothing.
///
/// # Errors
/// [`CreaseError::Line`] if a row names a vertex that does not exist, no edge, the same vertex
/// twice, or an edge or corner to which an earlier row gives another sharpness.
pub fn resolve_creases(
    rows: &[CreaseRow],
    vertex_count: usize,
    edge_of: impl Fn(u32, u32) -> Option<u32>,
    path: &Path,
) -> Result<ResolvedCreases, CreaseError> {
    let mut edges = Sharpened::new("edge");
    let mut vertices = Sharpened::new("corner");
    for row in rows {
        check_vertices(row, vertex_count)
            .and_then(|()| match row.v1 {
                None => vertices.add(row.v0, row),
                Some(v1) => {
                    let edge = edge_of(row.v0, v1).ok_or(CreaseFault::NoEdge {
                        v0: u64::from(row.v0) + 1,
                        v1: u64::from(v1) + 1,
                    })?;
                    edges.add(edge, row)
                }
            })
            .map_err(|fault| CreaseError::Line {
                path: path.to_owned(),
                line: row.line,
                fault,
            })?;
    }
    Ok(ResolvedCreases {
        edges: edges.found,
        vertices: vertices.found,
    })
}

fn check_vertices(row: &CreaseRow, vertex_count: usize) -> Result<(), CreaseFault> {
    for vertex in [Some(row.v0), row.v1].into_iter().flatten() {
        if vertex as usize >= vertex_count {
            return Err(CreaseFault::VertexOutOfRange {
                vertex: u64::from(vertex) + 1,
                count: vertex_count,
            });
        }
    }
    if row.v1 == Some(row.v0) {
        return Err(CreaseFault::SameVertex {
            vertex: u64::from(row.v0) + 1,
        });
    }
    Ok(())
}

/// Elements made sharp, each once.
struct Sharpened {
    what: &'static str,
    found: Vec<(u32, f64)>,
    /// Line and sharpness of the first row of each element.
    first: HashMap<u32, (u64, f64)>,
}

impl Sharpened {
    fn new(what: &'static str) -> Self {
        Self {
            what,
            found: Vec::new(),
            first: HashMap::new(),
        }
    }

    fn add(&mut self, element: u32, row: &CreaseRow) -> Result<(), CreaseFault> {
        let now = row.sharpness;
        match self.first.get(&element) {
            None => {
                self.first.insert(element, (row.line, now));
                self.found.push((element, now));
                Ok(())
            }
            Some(&(_, before)) if before == now => Ok(()),
            Some(&(earlier, before)) => Err(CreaseFault::Contradiction {
                what: self.what,
                earlier,
                before,
                now,
            }),
        }
    }
}
