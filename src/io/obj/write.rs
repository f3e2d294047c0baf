//! OBJ out: a refined mesh as text, formatted in parallel, written in order in one stream.

use std::io::{self, Write};

use super::faces::{FaceLines, push_line};
use crate::io::block::Block;
use crate::io::lines::write_lines;
use crate::mesh::{Cage, Topology};
use crate::subdivision::{RefinedMesh, RefinedUvs};

/// Steps of a colour channel that are told apart, as on any screen.
const COLOUR_STEPS: f32 = 255.0;

/// What an OBJ file is to hold.
#[derive(Debug, Clone, Copy)]
pub struct ObjContent<'a> {
    /// The mesh.
    pub mesh: &'a RefinedMesh,
    /// The cage that it was made of: its faces give objects, groups, materials and smoothing
    /// groups to their children.
    pub cage: &'a Cage,
    /// Adjacency of the cage.
    pub topology: &'a Topology,
    /// UVs of the refined mesh; those of the cage at level 0, where this is passed over.
    pub uvs: Option<&'a RefinedUvs>,
    /// Colour of each vertex of the mesh: red, green and blue in [0, 1], written in steps of
    /// 1/255 to three decimals.
    pub colours: Option<&'a [[f32; 3]]>,
    /// The `mtllib` statements' text, one line each; see [`relocated_libraries`].
    ///
    /// [`relocated_libraries`]: crate::io::relocated_libraries
    pub material_libraries: &'a [Vec<u8>],
}

/// Writes an OBJ file: a comment line with program and level, material libraries, vertices in the
/// mesh's order, UVs, faces in the cage's order with `o`, `g`, `usemtl` and `s` statements where
/// they change. Faces are wound as in the cage's file. Numbers are the shortest that read back
/// as the same double. At level 0 the faces are the cage's own, with its own UVs.
///
/// Names come out byte for byte, save that a line break in one (no file gives such a name) becomes
/// a blank. Faces with a UV at some corners only are written without. Statements that the format
/// does not need are left out: what stands before the first `o`, `g`, `usemtl` or `s` of the cage
/// has none here either.
///
/// The text depends on nothing but the content: not on the number of threads, the time or the
/// place.
///
/// # Errors
/// As `out`'s.
pub fn write_obj(out: &mut (impl Write + Send), content: &ObjContent) -> io::Result<()> {
    let level = content.mesh.level;
    writeln!(out, "# cagewise {}, level {level}", crate::VERSION)?;
    for library in content.material_libraries {
        let mut line = b"mtllib ".to_vec();
        push_line(&mut line, library);
        out.write_all(&line)?;
    }
    write_vertices(out, content)?;
    let uvs: &[[f64; 2]] = match (level, &content.cage.uvs, content.uvs) {
        (0, Some(layer), _) => &layer.coordinates,
        (1.., _, Some(refined)) => &refined.coordinates,
        _ => &[],
    };
    write_lines(out, uvs.len(), |lines, text| {
        let mut block = Block::new();
        for &[u, v] in &uvs[lines] {
            block.move_if_full(text);
            block.push_word(b"vt");
            block.push_number(b' ', u);
            block.push_number(b' ', v);
            block.push(b'\n');
        }
        block.move_to(text);
    })?;
    let faces = FaceLines::new(content);
    write_lines(out, faces.count(), |lines, text| faces.format(lines, text))
}

fn write_vertices(out: &mut (impl Write + Send), content: &ObjContent) -> io::Result<()> {
    let positions = &content.mesh.positions;
    let shades = shade_texts();
    write_lines(out, positions.len(), |lines, text| {
        let mut block = Block::new();
        for v in lines {
            block.move_if_full(text);
            block.push(b'v');
            for x in positions[v] {
                block.push_number(b' ', x);
            }
            if let Some(colour) = content.colours.and_then(|colours| colours.get(v)) {
                for channel in colour {
                    let shade = (channel.clamp(0.0, 1.0) * COLOUR_STEPS + 0.5) as usize;
                    block.push_word(&shades[shade]);
                }
            }
            block.push(b'\n');
        }
        block.move_to(text);
    })
}

/// The text of each step of a colour channel, with a blank before it.
fn shade_texts() -> Vec<[u8; 6]> {
    let steps = 0..=COLOUR_STEPS as u32;
    let text = |step: u32| {
        let thousandths = (step * 2000 / COLOUR_STEPS as u32).div_ceil(2);
        let digit = |unit: u32| b'0' + (thousandths / unit % 10) as u8;
        [b' ', digit(1000), b'.', digit(100), digit(10), digit(1)]
    };
    steps.map(text).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shades_run_from_0_to_1_in_steps_of_a_screen_s() {
        let texts = shade_texts();
        assert_eq!(texts.len(), 256);
        for (step, text) in texts.iter().enumerate() {
            let exact = step as f64 / 255.0;
            assert_eq!(String::from_utf8_lossy(text), format!(" {exact:.3}"));
        }
    }
}
