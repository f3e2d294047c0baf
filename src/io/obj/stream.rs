//! The plain streams that `tobj` parses: one for positions, one for UVs, one for normals.
//!
//! `tobj` numbers entries by first use and drops what nothing uses. So a stream gives all entries,
//! then one polygon that names every entry in order and after that the corners of all faces: first
//! use is the file's order. One polygon instead of one per face spares `tobj` a line, a list and a
//! record per face, which took it longer than the indices; where faces start is known already.
//! In a stream of its own each kind of entry can be a plain vertex to `tobj`: the kinds are parsed
//! side by side, and a corner without UV, which would take the previous corner's, names a stand-in
//! entry instead.

use super::clean::Entries;
use crate::mesh::NONE;

/// One kind of entry and the entry at each corner, as `tobj` returns them.
#[derive(Debug)]
pub(super) struct Layer {
    /// One per entry of the file, in its order.
    pub entries: Vec<[f64; 3]>,
    /// One per corner: index into `entries`, or [`NONE`].
    pub of_corner: Vec<u32>,
}

/// Lets `tobj` parse one kind of entry and the faces that name it; takes the entries' text.
/// The error says how `tobj` disagrees with the cleaner: a parser that drops or renumbers an
/// entry would otherwise move the cage's vertices without a word.
pub(super) fn parse_layer(entries: &mut Entries) -> Result<Layer, String> {
    let stand_in = entries.of_corner.contains(&NONE);
    let count = entries.count + usize::from(stand_in);
    let text = write_stream(entries, count, stand_in);
    let parsed = parse(&text)?;
    drop(text);

    let (positions, _) = parsed.positions.as_chunks::<3>();
    if positions.len() != count {
        return Err(format!("{} entries instead of {count}", positions.len()));
    }
    let mut of_corner = parsed.indices;
    of_corner.drain(..count.min(of_corner.len()));
    if stand_in {
        // The stand-in is 0 and becomes `NONE`, which is `u32::MAX`.
        of_corner.iter_mut().for_each(|i| *i = i.wrapping_sub(1));
    }
    if of_corner != entries.of_corner {
        return Err("other face corners".to_owned());
    }
    Ok(Layer {
        entries: positions[usize::from(stand_in)..].to_vec(),
        of_corner,
    })
}

/// The `count` entries, the stand-in among them, and the polygon.
fn write_stream(entries: &mut Entries, count: usize, stand_in: bool) -> Vec<u8> {
    let mut text = std::mem::take(&mut entries.text);
    let mut shift = 1;
    if stand_in {
        text.splice(0..0, *b"v 0 0 0\n");
        shift = 2;
    }
    text.push(b'f');
    let mut digits = itoa::Buffer::new();
    let mut push = |number: u32| {
        text.push(b' ');
        text.extend_from_slice(digits.format(number).as_bytes());
    };
    (1..=count as u32).for_each(&mut push);
    // `NONE` is `u32::MAX`: it wraps to the stand-in, which is 1.
    let corners = entries.of_corner.iter().map(|i| i.wrapping_add(shift));
    corners.for_each(&mut push);
    text.push(b'\n');
    text
}

fn parse(text: &[u8]) -> Result<tobj::Mesh, String> {
    let options = tobj::LoadOptions {
        triangulate: false,
        single_index: false,
        ..tobj::LoadOptions::default()
    };
    let no_materials = |_: &std::path::Path| Ok((Vec::new(), Default::default()));
    let mut text = text;
    let (models, _) =
        tobj::load_obj_buf(&mut text, &options, no_materials).map_err(|error| error.to_string())?;
    let [model] = <[tobj::Model; 1]>::try_from(models)
        .map_err(|models| format!("{} parts instead of one", models.len()))?;
    Ok(model.mesh)
}
