//! From a file to a cage: load, clean, let `tobj` parse, assemble.

use std::path::Path;

use super::clean::{Cleaned, clean};
use super::error::ReadError;
use super::stream::{LayerPlan, Stream, write_stream};
use crate::io::source;
use crate::mesh::{Cage, MeshError, NONE, NormalLayer, PolygonMesh, UvLayer, Vec3};

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
    read_cage_from(&bytes, path)
}

/// Reads the cage in the bytes of an OBJ file, as [`read_cage`] does; `name` is the file's name
/// in messages.
///
/// # Errors
/// As [`read_cage`].
pub fn read_cage_from(bytes: &[u8], name: &Path) -> Result<Cage, ReadError> {
    let text = source::text_of(bytes, WANTED).map_err(|fault| ReadError::Source {
        path: name.to_owned(),
        fault,
    })?;
    let mut cleaned = clean(text).map_err(|(line, fault)| ReadError::Line {
        path: name.to_owned(),
        line,
        fault,
    })?;
    check_size(&cleaned, name)?;
    let stream = write_stream(&mut cleaned);
    let parsed = parse(&stream).map_err(|reason| parser_fault(name, reason))?;
    assemble(cleaned, &stream, parsed, name)
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

/// Lets `tobj` parse the stream, and takes the ordering polygon off its result.
fn parse(stream: &Stream) -> Result<tobj::Mesh, String> {
    let options = tobj::LoadOptions {
        triangulate: false,
        single_index: false,
        ..tobj::LoadOptions::default()
    };
    let no_materials = |_: &Path| Ok((Vec::new(), Default::default()));
    let (models, _) = tobj::load_obj_buf(&mut stream.text.as_slice(), &options, no_materials)
        .map_err(|error| error.to_string())?;
    let [model] = <[tobj::Model; 1]>::try_from(models)
        .map_err(|models| format!("{} parts instead of one", models.len()))?;
    let mut mesh = model.mesh;
    let extra = stream.ordering_corners;
    // An empty list of sides means that all faces are triangles.
    if !mesh.face_arities.is_empty() {
        mesh.face_arities.remove(0);
    }
    for indices in [
        &mut mesh.indices,
        &mut mesh.texcoord_indices,
        &mut mesh.normal_indices,
    ] {
        indices.drain(..extra.min(indices.len()));
    }
    Ok(mesh)
}

fn assemble(
    cleaned: Cleaned,
    stream: &Stream,
    parsed: tobj::Mesh,
    name: &Path,
) -> Result<Cage, ReadError> {
    check_agreement(&cleaned, stream, &parsed).map_err(|reason| parser_fault(name, reason))?;
    let positions = triples(&parsed.positions, false);
    let face_starts = cleaned.face_starts;
    let mesh =
        PolygonMesh::new(positions, face_starts, parsed.indices).map_err(|error| match error {
            MeshError::TooLarge { element, count } => ReadError::TooLarge {
                path: name.to_owned(),
                element,
                count,
            },
            other => parser_fault(name, other.to_string()),
        })?;
    let uvs = stream.uvs.present.then(|| UvLayer {
        coordinates: pairs(&parsed.texcoords, stream.uvs.stand_in),
        of_corner: entries_of(parsed.texcoord_indices, stream.uvs),
    });
    let normals = stream.normals.present.then(|| NormalLayer {
        vectors: triples(&parsed.normals, stream.normals.stand_in),
        of_corner: entries_of(parsed.normal_indices, stream.normals),
    });
    Ok(Cage {
        mesh,
        colours: cleaned.colours,
        objects: cleaned.objects,
        groups: cleaned.groups,
        materials: cleaned.materials,
        material_libraries: cleaned.material_libraries,
        smoothing: cleaned.smoothing,
        uvs,
        normals,
        vertex_lines: cleaned.vertex_lines,
        face_lines: cleaned.face_lines,
        skipped: cleaned.skipped,
    })
}

/// Holds what `tobj` returned against what the cleaner counted: a parser that drops or renumbers
/// an entry would otherwise move the cage's vertices without a word.
fn check_agreement(
    cleaned: &Cleaned,
    stream: &Stream,
    parsed: &tobj::Mesh,
) -> Result<(), &'static str> {
    if parsed.positions.len() != 3 * cleaned.vertices.count {
        return Err("another number of vertices");
    }
    if parsed.texcoords.len() != 2 * stream.uvs.count {
        return Err("another number of UVs");
    }
    if parsed.normals.len() != 3 * stream.normals.count {
        return Err("another number of normals");
    }
    let layers = [
        (stream.uvs, &cleaned.uvs, &parsed.texcoord_indices),
        (stream.normals, &cleaned.normals, &parsed.normal_indices),
    ];
    let layers_agree = layers.iter().all(|(plan, entries, indices)| {
        !plan.present || agree(indices, &entries.of_corner, |index| plan.entry(index))
    });
    if !layers_agree || !agree(&parsed.indices, &cleaned.vertices.of_corner, |index| index) {
        return Err("other face corners");
    }
    let mut sides = cleaned.face_starts.windows(2).map(|w| w[1] - w[0]);
    let sides_agree = if parsed.face_arities.is_empty() {
        sides.all(|n| n == 3)
    } else {
        sides.eq(parsed.face_arities.iter().copied())
    };
    if sides_agree {
        Ok(())
    } else {
        Err("other numbers of sides")
    }
}

fn agree(parsed: &[u32], cleaned: &[u32], entry: impl Fn(u32) -> u32) -> bool {
    let parsed = parsed.iter().map(|&index| entry(index));
    parsed.eq(cleaned.iter().copied())
}

fn entries_of(mut indices: Vec<u32>, plan: LayerPlan) -> Vec<u32> {
    if plan.stand_in {
        indices.iter_mut().for_each(|i| *i = plan.entry(*i));
    }
    indices
}

fn triples(flat: &[f64], skip_first: bool) -> Vec<Vec3> {
    let (entries, _) = flat.as_chunks::<3>();
    let entries = &entries[usize::from(skip_first).min(entries.len())..];
    entries
        .iter()
        .map(|&[x, y, z]| Vec3::new(x, y, z))
        .collect()
}

fn pairs(flat: &[f64], skip_first: bool) -> Vec<[f64; 2]> {
    let (entries, _) = flat.as_chunks::<2>();
    entries[usize::from(skip_first).min(entries.len())..].to_vec()
}
