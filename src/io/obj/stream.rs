//! The one plain stream that `tobj` parses.
//!
//! `tobj` numbers vertices, UVs and normals by first use and drops what nothing uses. So the
//! stream gives all entries first, then one polygon that uses every entry in order, then the
//! faces: first use is the file's order. A corner without UV would take the previous corner's, so
//! it names a stand-in entry instead.

use super::clean::{Cleaned, Entries};
use crate::mesh::NONE;

/// Corners the ordering polygon has at least: with fewer it would be a point or line to `tobj`.
const FEWEST_CORNERS: usize = 3;

/// How one kind of entry stands in the stream.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct LayerPlan {
    /// Whether the stream has these entries at all.
    pub present: bool,
    /// Whether a stand-in for "none" precedes them.
    pub stand_in: bool,
    /// Number of entries in the stream, the stand-in included.
    pub count: usize,
}

impl LayerPlan {
    fn new(entries: &Entries) -> Self {
        let present = entries.is_used();
        let stand_in = present && entries.of_corner.contains(&NONE);
        Self {
            present,
            stand_in,
            count: if present {
                entries.count + usize::from(stand_in)
            } else {
                0
            },
        }
    }

    /// The number (from 1) by which the stream names entry `index` or the stand-in.
    fn number(self, index: u32) -> u32 {
        if index == NONE {
            1
        } else {
            index + 1 + u32::from(self.stand_in)
        }
    }

    /// The entry (from 0, or [`NONE`]) that the stream's entry `index` (from 0) is.
    pub fn entry(self, index: u32) -> u32 {
        if !self.stand_in {
            index
        } else {
            // The stand-in is 0 and becomes `NONE`, which is `u32::MAX`.
            index.wrapping_sub(1)
        }
    }
}

/// The stream and how to read its numbers back.
#[derive(Debug)]
pub(super) struct Stream {
    pub text: Vec<u8>,
    pub uvs: LayerPlan,
    pub normals: LayerPlan,
    /// Corners of the ordering polygon, which comes back as the first face.
    pub ordering_corners: usize,
}

/// Writes the stream; takes the entries' text out of `cleaned`.
pub(super) fn write_stream(cleaned: &mut Cleaned) -> Stream {
    let uvs = LayerPlan::new(&cleaned.uvs);
    let normals = LayerPlan::new(&cleaned.normals);
    let mut text = std::mem::take(&mut cleaned.vertices.text);
    append_entries(&mut text, &mut cleaned.uvs, uvs, b"vt 0 0\n");
    append_entries(&mut text, &mut cleaned.normals, normals, b"vn 0 0 0\n");

    let mut writer = FaceWriter {
        text,
        digits: itoa::Buffer::new(),
        uvs: uvs.present,
        normals: normals.present,
    };
    let vertex_count = cleaned.vertices.count;
    let ordering_corners = vertex_count
        .max(uvs.count)
        .max(normals.count)
        .max(FEWEST_CORNERS);
    writer.start();
    for i in 1..=ordering_corners {
        let [v, vt, vn] = [vertex_count, uvs.count, normals.count].map(|n| i.min(n) as u32);
        writer.corner(v, vt, vn);
    }
    let starts = &cleaned.face_starts;
    for face in starts.windows(2) {
        writer.start();
        for c in face[0] as usize..face[1] as usize {
            writer.corner(
                cleaned.vertices.of_corner[c] + 1,
                uvs.number(cleaned.uvs.of_corner[c]),
                normals.number(cleaned.normals.of_corner[c]),
            );
        }
    }
    writer.text.push(b'\n');
    Stream {
        text: writer.text,
        uvs,
        normals,
        ordering_corners,
    }
}

fn append_entries(text: &mut Vec<u8>, entries: &mut Entries, plan: LayerPlan, stand_in: &[u8]) {
    let own = std::mem::take(&mut entries.text);
    if !plan.present {
        return;
    }
    if plan.stand_in {
        text.extend_from_slice(stand_in);
    }
    text.extend_from_slice(&own);
}

struct FaceWriter {
    text: Vec<u8>,
    digits: itoa::Buffer,
    uvs: bool,
    normals: bool,
}

impl FaceWriter {
    fn start(&mut self) {
        self.text.extend_from_slice(b"\nf");
    }

    fn corner(&mut self, v: u32, vt: u32, vn: u32) {
        self.text.push(b' ');
        self.number(v);
        if self.uvs {
            self.text.push(b'/');
            self.number(vt);
        }
        if self.normals {
            let slashes: &[u8] = if self.uvs { b"/" } else { b"//" };
            self.text.extend_from_slice(slashes);
            self.number(vn);
        }
    }

    fn number(&mut self, number: u32) {
        let digits = self.digits.format(number);
        self.text.extend_from_slice(digits.as_bytes());
    }
}
