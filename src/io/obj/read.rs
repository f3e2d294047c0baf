//! From a file to a cage: load, clean, let `tobj` parse, assemble.

use std::path::Path;

use super::clean::{Cleaned, Entries, clean};
use super::error::ReadError;
use super::stream::{Layer, parse_layer};
use crate::io::source;
use crate::mesh::{Cage, NONE, NormalLayer, PolygonMesh, UvLayer, Vec3};

/// What the file should be, as messages say it.
const WANTED: &str = "an OBJ text";

/// Reads the cage in an OBJ file.
///
/// The whole file is one mesh: vertex `k` is its k-th `v` statement and face `k` its k-th `f`
/// statement, whatever objects, groups and materials they stand in, and vertices that no face
/// names are kept. Lines end with LF, CRLF or CR; a backslash continues a line; a byte-order mark
/// is passed over; names may hold any bytes. A `w` is dropped; `l`, `p`, free-form statements,
/// render attributes and unknown statements are skipped and counted.
///
/// # Errors
/// [`ReadError`] if the file can't be read, is no OBJ text, has no faces, or if a statement is
/// malformed, names an entry that does not exist or holds a number that is not finite.
pub fn read_cage(path: &Path) -> Result<Cage, ReadError> {
    let bytes = source::load(path).map_err(|fault| ReadError::Source {
        path: path.to_owned(),
        fault,
    })?;
    let cleaned = clean_bytes(&bytes, path)?;
    // The parser needs as much memory again.
    drop(bytes);
    build(cleaned, path)
}

/// Reads the cage in the bytes of an OBJ file, as [`read_cage`] does; `name` is the file's name
/// in messages.
///
/// # Errors
/// As [`read_cage`].
///
/// # Examples
/// ```
/// use std::path::Path;
///
/// let text = b"v 0 0 0\nv 1 0 0\nv 1 1 0\nf 1 2 3\n";
/// let cage = cagewise::io::read_cage_from(text, Path::new("sail.obj"))?;
/// assert_eq!(cage.mesh.face(0), [0, 1, 2]);
///
/// let error = cagewise::io::read_cage_from(b"v 0 0 0\nf 1 1 2\n", Path::new("sail.obj"));
/// assert_eq!(
///     error.unwrap_err().to_string(),
///     "sail.obj:2: the face names vertex 2, but the file has 1 vertex; correct the index"
/// );
/// # Ok::<(), cagewise::io::ReadError>(())
/// ```
pub fn read_cage_from(bytes: &[u8], name: &Path) -> Result<Cage, ReadError> {
    build(clean_bytes(bytes, name)?, name)
}

fn clean_bytes(bytes: &[u8], name: &Path) -> Result<Cleaned, ReadError> {
    let text = source::text_of(bytes, WANTED).map_err(|fault| ReadError::Source {
        path: name.to_owned(),
        fault,
    })?;
    clean(text).map_err(|(line, fault)| ReadError::Line {
        path: name.to_owned(),
        line,
        fault,
    })
}

fn build(mut cleaned: Cleaned, name: &Path) -> Result<Cage, ReadError> {
    check_size(&cleaned, name)?;
    let layers = parse(&mut cleaned).map_err(|reason| parser_fault(name, reason))?;
    assemble(cleaned, layers, name)
}

fn check_size(cleaned: &Cleaned, name: &Path) -> Result<(), ReadError> {
    if cleaned.face_lines.is_empty() {
        return Err(ReadError::NoFaces {
            path: name.to_owned(),
            vertices: cleaned.vertices.count,
        });
    }
    for (element, count) in [
        ("vertices", cleaned.vertices.count),
        ("UVs", cleaned.uvs.count),
        ("normals", cleaned.normals.count),
        ("corners", cleaned.vertices.of_corner.len()),
    ] {
        // One less than 32 bits allow leaves room for the stand-in entry.
        if count >= NONE as usize - 1 {
            return Err(ReadError::TooLarge {
                path: name.to_owned(),
                element,
                count,
            });
        }
    }
    Ok(())
}

fn parser_fault(name: &Path, reason: impl Into<String>) -> ReadError {
    ReadError::Parser {
        path: name.to_owned(),
        reason: reason.into(),
    }
}

/// The three kinds of entries, parsed side by side; UVs and normals only if a corner names one.
fn parse(cleaned: &mut Cleaned) -> Result<(Layer, Option<Layer>, Option<Layer>), String> {
    let vertices = &mut cleaned.vertices;
    let (uvs, normals) = (&mut cleaned.uvs, &mut cleaned.normals);
    let optional = |entries: &mut Entries| {
        let is_used = entries.is_used();
        is_used.then(|| parse_layer(entries)).transpose()
    };
    let (vertices, (uvs, normals)) = rayon::join(
        || parse_layer(vertices),
        || rayon::join(|| optional(uvs), || optional(normals)),
    );
    Ok((vertices?, uvs?, normals?))
}

fn assemble(
    cleaned: Cleaned,
    (vertices, uvs, normals): (Layer, Option<Layer>, Option<Layer>),
    name: &Path,
) -> Result<Cage, ReadError> {
    let positions = vectors(&vertices.entries);
    let face_starts = cleaned.face_starts;
    let mesh = PolygonMesh::new(positions, face_starts, vertices.of_corner)
        .map_err(|error| parser_fault(name, error.to_string()))?;
    Ok(Cage {
        mesh,
        colours: cleaned.colours,
        objects: cleaned.objects,
        groups: cleaned.groups,
        materials: cleaned.materials,
        material_libraries: cleaned.material_libraries,
        smoothing: cleaned.smoothing,
        uvs: uvs.map(|layer| UvLayer {
            coordinates: layer.entries.iter().map(|&[u, v, _]| [u, v]).collect(),
            of_corner: layer.of_corner,
        }),
        normals: normals.map(|layer| NormalLayer {
            vectors: vectors(&layer.entries),
            of_corner: layer.of_corner,
        }),
        vertex_lines: cleaned.vertex_lines,
        face_lines: cleaned.face_lines,
        skipped: cleaned.skipped,
    })
}

fn vectors(entries: &[[f64; 3]]) -> Vec<Vec3> {
    entries.iter().copied().map(Vec3::from).collect()
}
