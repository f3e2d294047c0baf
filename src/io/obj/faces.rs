//! The face statements of an OBJ file, and what stands between them.

use std::ops::Range;

use super::write::ObjContent;
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
        match &self.source {
            Source::Cage => {
                for f in lines {
                    self.push_changes(f, text);
                    self.push_cage_face(f, text);
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
                        self.push_changes(f, text);
                    }
                    let end = children.end.min(lines.end);
                    for q in at..end {
                        let uv = uvs.and_then(|uvs| uvs.quads.get(q));
                        push_quad(text, &quads[q], uv);
                    }
                    at = end;
                    f += 1;
                }
            }
        }
    }

    fn push_cage_face(&self, f: usize, text: &mut Vec<u8>) {
        let corners = self.cage.mesh.face_corners(f);
        let uvs = self.cage.uvs.as_ref();
        let uvs = uvs.and_then(|layer| layer.of_corner.get(corners.clone()));
        let uvs = uvs.filter(|uvs| !uvs.contains(&NONE));
        text.push(b'f');
        for (j, &v) in self.cage.mesh.face(f).iter().enumerate() {
            push_index(text, b' ', v);
            if let Some(uvs) = uvs {
                push_index(text, b'/', uvs[j]);
            }
        }
        text.push(b'\n');
    }

    /// Appends the statements by which face `f` differs from the face before it.
    fn push_changes(&self, f: usize, text: &mut Vec<u8>) {
        let cage = self.cage;
        let named: [(&[u8], &NameTable); 3] = [
            (b"o", &cage.objects),
            (b"g", &cage.groups),
            (b"usemtl", &cage.materials),
        ];
        for (keyword, table) in named {
            let index = table.of_face.get(f);
            let before = f.checked_sub(1).and_then(|f| table.of_face.get(f));
            if index == before {
                continue;
            }
            if let Some(name) = table.get(f) {
                text.extend_from_slice(keyword);
                text.push(b' ');
                push_line(text, name);
            }
        }
        if !cage.smoothing.stated {
            return;
        }
        let groups = &cage.smoothing.of_face;
        let before = f.checked_sub(1).and_then(|f| groups.get(f));
        match groups.get(f) {
            group if group == before => {}
            Some(0) => text.extend_from_slice(b"s off\n"),
            Some(&group) => {
                text.push(b's');
                text.push(b' ');
                text.extend_from_slice(itoa::Buffer::new().format(group).as_bytes());
                text.push(b'\n');
            }
            None => {}
        }
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

fn push_quad(text: &mut Vec<u8>, quad: &[u32; 4], uv: Option<&[u32; 4]>) {
    text.push(b'f');
    match uv {
        Some(uv) if uv[0] != NONE => {
            for (&v, &t) in quad.iter().zip(uv) {
                push_index(text, b' ', v);
                push_index(text, b'/', t);
            }
        }
        _ => {
            for &v in quad {
                push_index(text, b' ', v);
            }
        }
    }
    text.push(b'\n');
}

/// A separator and an index, counted from 1.
fn push_index(text: &mut Vec<u8>, separator: u8, index: u32) {
    text.push(separator);
    let mut buffer = itoa::Buffer::new();
    text.extend_from_slice(buffer.format(index + 1).as_bytes());
}

/// The bytes as the rest of a line; line breaks in them become blanks.
pub(super) fn push_line(text: &mut Vec<u8>, bytes: &[u8]) {
    let on_one_line = |&b: &u8| if matches!(b, b'\n' | b'\r') { b' ' } else { b };
    text.extend(bytes.iter().map(on_one_line));
    text.push(b'\n');
}
