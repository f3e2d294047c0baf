//! `report.html`: one file to look at, that opens from disk and asks no network for anything.
//!
//! The file is the page's own text (`template.html`, `page.css`, the scripts in `js`, put together
//! here) and, in blocks of base64 that no browser runs, the content: compressed pieces of one array
//! of bytes (see [`content`]). No text of the cage's file stands in the HTML itself; the scripts read it
//! from the content and set it as plain text. A content security policy names the one script and
//! the one style sheet by their hashes and allows nothing else: no request, no other script.

mod content;
mod grid;
mod pack;
mod shape;

use std::io::{self, Write};

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use flate2::Compression;
use flate2::write::GzEncoder;
use rayon::prelude::*;
use sha2::{Digest, Sha256};

use crate::assess::Assessment;
use crate::mesh::Cage;
use crate::picture::UpAxis;
use crate::report::Summary;

/// The page without its parts; each `{{name}}` is one.
const TEMPLATE: &str = include_str!("template.html");

/// What stands near the head of every page, and tells that this program made it.
pub const PAGE_MARK: &str = "<meta name=\"generator\" content=\"cagewise\">";

/// The style sheet.
const STYLE: &str = include_str!("page.css");

/// The scripts, in the order they are joined in.
const SCRIPTS: [&str; 16] = [
    include_str!("js/algebra.js"),
    include_str!("js/data.js"),
    include_str!("js/mesh.js"),
    include_str!("js/palette.js"),
    include_str!("js/camera.js"),
    include_str!("js/sight.js"),
    include_str!("js/shaders.js"),
    include_str!("js/marks.js"),
    include_str!("js/form.js"),
    include_str!("js/painter.js"),
    include_str!("js/view.js"),
    include_str!("js/hand.js"),
    include_str!("js/scale.js"),
    include_str!("js/places.js"),
    include_str!("js/vertex.js"),
    include_str!("js/main.js"),
];

/// Bytes of content that are compressed together: enough to lose little at the seams, few enough
/// to share the work out.
const PIECE_LENGTH: usize = 1 << 18;

/// How thoroughly the content is compressed, from 1 to 9: what the highest take longer is not worth
/// the few percent they gain here.
const COMPRESSION: u32 = 1;

/// Digits that the page states its own size with.
const SIZE_DIGITS: usize = 12;

/// A picture that the page shows beside its tables where it can't draw.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StillPicture {
    /// What it shows, for its caption.
    pub title: String,
    /// The picture, a whole PNG file.
    pub png: Vec<u8>,
}

/// What goes into the page beside the assessment.
#[derive(Debug, Clone, Copy)]
pub struct PageOptions<'a> {
    /// Highest level shown, as far as the cage is small enough; the limit surface always is.
    pub level: usize,
    /// The axis that points up at first.
    pub up: UpAxis,
    /// Pictures to be embedded.
    pub stills: &'a [StillPicture],
}

/// Writes the page of an assessment of `cage`, whose summary is `summary`. Of a half that was mirrored
/// the page shows the whole. The bytes depend on nothing else.
///
/// # Errors
/// As `out`'s.
pub fn write_page(
    out: &mut impl Write,
    cage: &Cage,
    assessment: &Assessment,
    summary: &Summary,
    options: &PageOptions,
) -> io::Result<()> {
    let content = content::content(cage, assessment, summary, options);
    let script = SCRIPTS.concat();
    let policy = format!(
        "default-src 'none'; script-src '{}'; style-src '{}'; img-src data:; base-uri 'none'; \
         form-action 'none'",
        hash(&script),
        hash(STYLE)
    );
    let parts = [
        ("policy", policy),
        ("style", STYLE.to_owned()),
        ("script", script),
        ("stills", embedded_stills(options.stills)),
        ("content", embedded_content(&content)),
        ("size", "0".repeat(SIZE_DIGITS)),
    ];
    write_filled(out, &parts)
}

/// Writes the template with its parts filled in, the size last known of all.
fn write_filled(out: &mut impl Write, parts: &[(&str, String)]) -> io::Result<()> {
    let mut pieces: Vec<&str> = Vec::new();
    let mut rest = TEMPLATE;
    while let Some((before, after)) = rest.split_once("{{") {
        let (name, after) = after.split_once("}}").unwrap_or((after, ""));
        pieces.push(before);
        let part = parts.iter().find(|(part, _)| *part == name);
        pieces.push(part.map_or("", |(_, text)| text));
        rest = after;
    }
    pieces.push(rest);
    let size: usize = pieces.iter().map(|piece| piece.len()).sum();
    let size = format!("{size:0SIZE_DIGITS$}");
    let unknown = "0".repeat(SIZE_DIGITS);
    for piece in pieces {
        let piece = if piece == unknown { &size } else { piece };
        out.write_all(piece.as_bytes())?;
    }
    Ok(())
}

/// A text's hash as a content security policy names it.
fn hash(text: &str) -> String {
    format!("sha256-{}", STANDARD.encode(Sha256::digest(text)))
}

/// The content as blocks that no browser runs.
fn embedded_content(content: &[u8]) -> String {
    let blocks: Vec<String> = content
        .par_chunks(PIECE_LENGTH)
        .map(|piece| {
            let mut block = String::from("<script type=\"application/octet-stream;base64\">");
            STANDARD.encode_string(compressed(piece), &mut block);
            block.push_str("</script>\n");
            block
        })
        .collect();
    blocks.concat()
}

fn compressed(piece: &[u8]) -> Vec<u8> {
    let mut encoder = GzEncoder::new(Vec::new(), Compression::new(COMPRESSION));
    // Writing to memory cannot fail.
    let _ = encoder.write_all(piece);
    encoder.finish().unwrap_or_default()
}

/// Pictures as figures with data URIs; their titles are escaped.
fn embedded_stills(stills: &[StillPicture]) -> String {
    let mut html = String::new();
    for still in stills {
        let title = escaped(&still.title);
        html.push_str("<figure><img alt=\"");
        html.push_str(&title);
        html.push_str("\" src=\"data:image/png;base64,");
        STANDARD.encode_string(&still.png, &mut html);
        html.push_str("\"><figcaption>");
        html.push_str(&title);
        html.push_str("</figcaption></figure>\n");
    }
    html
}

fn escaped(text: &str) -> String {
    let mut out = String::new();
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            c => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests;
