//! The face statements of an OBJ file, and what stands between them.

use std::ops::Range;

use super::write::ObjContent;
use crate::io::block::Block;
use crate::mesh::{Cage, NONE, NameTable, Topology};
use crate::subdivision::{Numbering, RefinedFaces, RefinedUvs};

/// The faces of an OBJ file, to be formatted run by run: each run can be formatted by itself.
pub(super) struct FaceLines<'a> {
    cage: &'a Cage,
    source: Source<'a>,
}

enum Source<'a> {
    Cage,
    Quads {
        topology: &'a Topology,
        numbering: Numbering,
        quads: &'a [[u32; 4]],
        uvs: Option<&'a RefinedUvs>,
    },
}

impl<'a> FaceLines<'a> {
    pub fn new(content: &ObjContent<'a>) -> Self {
        let source = match &content.mesh.faces {
            RefinedFaces::Cage => Source::Cage,
            RefinedFaces::Quads(quads) => Source::Quads {
                topology: content.topology,
                numbering: Numbering::new(content.topology, content.mesh.level),
                quads,
                uvs: content.uvs,
            },
        };
        Self {
            cage: content.cage,
            source,
        }
    }

    /// Number of faces.
    pub fn count(&self) -> usize {
        match &self.source {
            Source::Cage => self.cage.mesh.face_count(),
            Source::Quads { quads, .. } => quads.len(),
        }
    }

    /// Appends the statements of a run of faces.
    pub fn format(&self, lines: Range<usize>, text: &mut Vec<u8>) {
        let mut block = Block::new();
        match &self.source {
            Source::Cage => {
                for f in lines {
                    self.push_changes(f, &mut block, text);
                    self.push_cage_face(f, &mut block, text);
                }
            }
            Source::Quads {
                topology,
                numbering,
                quads,
                uvs,
            } => {
                let mut at = lines.start;
                let mut f = parent(topology.face_count(), numbering, at);
                while at < lines.end {
                    let children = numbering.children(f);
                    if at == children.start {
                        self.push_changes(f, &mut block, text);
                    }
                    let end = children.end.min(lines.end);
                    for q in at..end {
                        let uv = uvs.and_then(|uvs| uvs.quads.get(q));
                        block.move_if_full(text);
                        push_quad(&mut block, &quads[q], uv);
                    }
                    at = end;
                    f += 1;
                }
            }
        }
        block.move_to(text);
    }

    fn push_cage_face(&self, f: usize, block: &mut Block, text: &mut Vec<u8>) {
        let corners = self.cage.mesh.face_corners(f);
        let uvs = self.cage.uvs.as_ref();
        let uvs = uvs.and_then(|layer| layer.of_corner.get(corners.clone()));
        let uvs = uvs.filter(|uvs| !uvs.contains(&NONE));
        block.move_if_full(text);
        block.push(b'f');
        for (j, &v) in self.cage.mesh.face(f).iter().enumerate() {
            block.push_index(b' ', v);
            if let Some(uvs) = uvs {
                block.push_index(b'/', uvs[j]);
            }
            block.move_if_full(text);
        }
        block.push(b'\n');
    }

    /// Appends the statements by which face `f` differs from the face before it.
    fn push_changes(&self, f: usize, block: &mut Block, text: &mut Vec<u8>) {
        let cage = self.cage;
        let named: [(&[u8], &NameTable); 3] = [
            (b"o ", &cage.objects),
            (b"g ", &cage.groups),
            (b"usemtl ", &cage.materials),
        ];
        for (keyword, table) in named {
            if !is_change(f, &table.of_face) {
                continue;
            }
            if let Some(name) = table.get(f) {
                // Names may be longer than a block.
                block.move_to(text);
                text.extend_from_slice(keyword);
                push_line(text, name);
            }
        }
        let groups = &cage.smoothing.of_face;
        if !cage.smoothing.stated || !is_change(f, groups) {
            return;
        }
        block.move_if_full(text);
        match groups.get(f) {
            None | Some(0) => block.push_word(b"s off"),
            Some(&group) => {
                block.push_word(b"s ");
                block.push_word(itoa::Buffer::new().format(group).as_bytes());
            }
        }
        block.push(b'\n');
    }
}

/// Whether face `f` has another entry than the face before it; the first face always has.
fn is_change(f: usize, of_face: &[u32]) -> bool {
    match f.checked_sub(1) {
        None => true,
        Some(before) => of_face.get(f) != of_face.get(before),
    }
}

/// The cage face that refined face `q` is a child of.
fn parent(face_count: usize, numbering: &Numbering, q: usize) -> usize {
    let (mut low, mut high) = (0, face_count);
    while low < high {
        let middle = low + (high - low) / 2;
        if numbering.children(middle).end <= q {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    low
}

fn push_quad(block: &mut Block, quad: &[u32; 4], uv: Option<&[u32; 4]>) {
    block.push(b'f');
    match uv {
        Some(uv) if uv[0] != NONE => {
            for (&v, &t) in quad.iter().zip(uv) {
                block.push_index(b' ', v);
                block.push_index(b'/', t);
            }
        }
        _ => {
            for &v in quad {
                block.push_index(b' ', v);
            }
        }
    }
    block.push(b'\n');
}

/// The bytes as the rest of a line; line breaks in them become blanks.
pub(super) fn push_line(text: &mut Vec<u8>, bytes: &[u8]) {
    let on_one_line = |&b: &u8| if matches!(b, b'\n' | b'\r') { b' ' } else { b };
    text.extend(bytes.iter().map(on_one_line));
    text.push(b'\n');
}
