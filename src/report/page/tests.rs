//! The page read back: what its blocks hold, and what stands in its HTML.
#![allow(clippy::unwrap_used)]

use std::io::Read;

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use flate2::read::GzDecoder;
use serde_json::Value;

use super::pack::unpack;
use super::*;
use crate::assess::AssessOptions;
use crate::io::read_cage_from;
use crate::mesh::Vec3;
use crate::report::{CreaseOrigin, Request};
use crate::subdivision::{BoundaryRule, Samples, refine};

/// A mooring block: a cube with a triangle and a pentagon, a name that is markup and one that ends
/// a script.
const BLOCK: &str = "o <img src=x onerror=alert(1)>\ng </script><script>alert(2)</script>\n\
    usemtl \"'><svg/onload=alert(3)>\n\
    v -1 -1 -1\nv 1 -1 -1\nv 1 1 -1\nv -1 1 -1\nv -1 -1 1\nv 1 -1 1\nv 1 1 1\nv -1 1 1\nv 1 0 -1\n\
    s 1\nf 4 3 9 2 1\ns 2\nf 5 6 7 8\nf 1 2 6 5\nf 2 9 7 6\nf 9 3 7\nf 3 4 8 7\nf 4 1 5 8\n";

const HOSTILE_FILE: &str = "</script><script>alert(4)</script>{{content}}.obj";

struct Made {
    cage: Cage,
    assessment: Assessment,
    html: String,
}

fn made(stills: &[StillPicture]) -> Made {
    let cage = read_cage_from(BLOCK.as_bytes(), "block.obj".as_ref()).unwrap();
    let assessment = cage.assess(&AssessOptions::default());
    let request = Request {
        file: HOSTILE_FILE.to_owned(),
        level: 2,
        boundary: BoundaryRule::EdgeAndCorner,
        creases: CreaseOrigin::None,
        crease_counts: (0, 0),
        files: vec!["report.html".into()],
    };
    let summary = Summary::new(&cage, &assessment, request);
    let mut html = Vec::new();
    let options = PageOptions {
        level: 2,
        up: UpAxis::Y,
        stills,
    };
    write_page(&mut html, &cage, &assessment, &summary, &options).unwrap();
    let html = String::from_utf8(html).unwrap();
    Made {
        cage,
        assessment,
        html,
    }
}

/// The content of a page's blocks: header and sections.
fn unpacked(html: &str) -> (Value, Vec<u8>) {
    let mark = "<script type=\"application/octet-stream;base64\">";
    let mut bytes = Vec::new();
    for block in html.split(mark).skip(1) {
        let coded = STANDARD.decode(block.split('<').next().unwrap()).unwrap();
        GzDecoder::new(coded.as_slice())
            .read_to_end(&mut bytes)
            .unwrap();
    }
    let length = u32::from_le_bytes(bytes[..4].try_into().unwrap()) as usize;
    let header = serde_json::from_slice(&bytes[4..4 + length]).unwrap();
    (header, bytes.split_off(4 + length))
}

/// Count, width and bytes of a section.
fn section<'a>(header: &Value, bytes: &'a [u8], name: &str) -> (usize, usize, &'a [u8]) {
    let sections = header["sections"].as_array().unwrap();
    let found = sections.iter().find(|s| s["name"] == name).unwrap();
    let number = |key: &str| found[key].as_u64().unwrap() as usize;
    let start = number("start");
    let held = &bytes[start..start + number("bytes")];
    (number("count"), number("width"), held)
}

fn box_of(level: &Value) -> [Vec3; 2] {
    ["low", "extent"].map(|key| Vec3::from_fn(|k, _| level[key][k].as_f64().unwrap()))
}

#[test]
fn hostile_names_are_in_the_content_and_nowhere_in_the_html() {
    let page = made(&[]);
    let (header, _) = unpacked(&page.html);
    assert_eq!(header["summary"]["input"]["file"], HOSTILE_FILE);
    assert_eq!(
        header["names"][1]["names"][0],
        "</script><script>alert(2)</script>"
    );
    for word in ["alert(", "onerror", "onload", "<svg", "{{"] {
        assert!(!page.html.contains(word), "{word}");
    }
    // The blocks of content, and the one script that the policy names by its hash.
    let scripts = page.html.matches("<script").count();
    let blocks = page.html.matches("<script type=").count();
    assert_eq!(scripts, blocks + 1);
    assert_eq!(page.html.matches("</script").count(), scripts);
}

#[test]
fn the_policy_allows_the_page_s_own_script_and_style_and_nothing_else() {
    let page = made(&[]);
    let between = |from: &str, to: &str| {
        let start = page.html.rfind(from).unwrap() + from.len();
        &page.html[start..start + page.html[start..].find(to).unwrap()]
    };
    let policy = between("Content-Security-Policy\" content=\"", "\"");
    assert!(policy.starts_with("default-src 'none';"), "{policy}");
    assert!(!policy.contains("unsafe") && !policy.contains("http"));
    for (source, text) in [
        ("script-src", between("<script>", "</script>")),
        ("style-src", between("<style>", "</style>")),
    ] {
        let named = format!(
            "{source} 'sha256-{}'",
            STANDARD.encode(Sha256::digest(text))
        );
        assert!(policy.contains(&named), "{policy}");
    }
    // No address that a browser would fetch from, and no markup made from text.
    for word in [
        "http:",
        "https:",
        "innerHTML",
        "outerHTML",
        "insertAdjacent",
        "document.write",
        "eval(",
    ] {
        let rest = page.html.replace("http://www.w3.org/2000/svg", "");
        assert!(!rest.contains(word), "{word}");
    }
}

#[test]
fn positions_and_normals_come_back_within_what_16_bits_hold() {
    let page = made(&[]);
    let (header, bytes) = unpacked(&page.html);
    let frame = page.assessment.surface.control().frame();
    let level_of = |level: &Value| level["level"].as_u64().unwrap() as usize;
    let shape = &header["shape"];
    let mut forms: Vec<(String, &Value, Samples)> =
        vec![("limit".into(), &shape["limit"], Samples::Limit)];
    for level in shape["levels"].as_array().unwrap() {
        forms.push((
            format!("level {}", level_of(level)),
            level,
            Samples::Refined,
        ));
    }
    assert_eq!(forms.len(), 3);
    for (name, about, samples) in forms {
        let mesh = refine(&page.assessment.surface, level_of(about), samples);
        let (count, width, held) = section(&header, &bytes, &name);
        assert_eq!((count, width), (mesh.positions.len(), 3));
        let found = unpack::differences(held, count, width, 2);
        let [low, extent] = box_of(about);
        for (p, q) in mesh.positions.iter().zip(found.as_chunks::<3>().0) {
            let share = Vec3::from_fn(|k, _| f64::from(q[k]) / 65535.0);
            let off = low + share.component_mul(&extent) - frame.inward(Vec3::from(*p));
            // Half a step of the largest side, and rounding.
            assert!(
                off.amax() <= 0.5001 * extent.max() / 65535.0,
                "{name}: {off:?}"
            );
        }
    }
}

#[test]
fn every_figure_comes_back_to_12_bits() {
    let page = made(&[]);
    let (header, bytes) = unpacked(&page.html);
    let findings = &page.assessment.findings;
    let (count, _, held) = section(&header, &bytes, "risk");
    for (found, value) in unpack::floats(held, count, 4)
        .iter()
        .zip(&findings.risks.total)
    {
        assert!((f64::from(*found) - value).abs() <= value / f64::from(1 << 24));
    }
    let measures = findings.measures.iter();
    let measures = measures.map(|m| (m.about.column(), &m.values));
    for (name, values) in measures {
        let (count, _, held) = section(&header, &bytes, &name);
        assert_eq!(count, page.cage.mesh.vertex_count());
        for (found, value) in unpack::floats(held, count, 3).iter().zip(values) {
            let off = (f64::from(*found) - value).abs();
            let same = off <= value.abs() / 4096.0 || (found.is_nan() && value.is_nan());
            assert!(same, "{name}: {found} for {value}");
        }
    }
}

#[test]
fn each_side_of_a_sharp_edge_has_its_own_normal() {
    let cage = read_cage_from(BLOCK.as_bytes(), "block.obj".as_ref()).unwrap();
    let creases = crate::subdivision::smoothing_group_creases(
        &crate::mesh::Topology::new(&cage.mesh),
        &cage.smoothing,
    );
    assert!(!creases.edges.is_empty());
    let options = AssessOptions {
        creases,
        ..AssessOptions::default()
    };
    let assessment = cage.assess(&options);
    let mut packed = pack::Packed::default();
    shape::Shape::pack(&mut packed, &assessment.surface, &cage.smoothing, 2);
    let found = packed.sections.iter().find(|s| s.name == "split corners");
    // The bottom's rim of five edges is sharp, and the limit is sampled at level 4: each of the 15
    // vertices inside such an edge has two quad corners on either side, each end three at least.
    let wanted = 5 * 15 * 4 + 5 * 3;
    assert!(found.unwrap().count >= wanted, "{found:?}");
    let normals = packed
        .sections
        .iter()
        .find(|s| s.name == "split normals")
        .unwrap();
    let held = &packed.bytes[normals.start..normals.start + normals.bytes];
    let held = unpack::differences(held, normals.count, 2, 2);
    let (mut down, mut sideways) = (0, 0);
    for pair in held.as_chunks::<2>().0 {
        let [x, y] = pair.map(|v| (f64::from(v) - 1.0) / 32767.0 - 1.0);
        // The bottom is flat and faces down, which folds onto the corners of the square.
        match x.abs() + y.abs() {
            sum if sum > 1.99 => down += 1,
            _ => sideways += 1,
        }
    }
    assert_eq!(down, 5 * 15 * 2 + 5);
    assert!(sideways >= 5 * 15 * 2, "{sideways}");
}

#[test]
fn the_page_states_its_own_size_and_is_the_same_at_every_run() {
    let [first, second] = [made(&[]).html, made(&[]).html];
    assert!(first == second);
    let stated = first.split("data-bytes=\"").nth(1).unwrap();
    let stated: usize = stated.split('"').next().unwrap().parse().unwrap();
    assert_eq!(stated, first.len());
}

#[test]
fn the_page_does_not_depend_on_the_number_of_threads() {
    let with_threads = |count| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(count).build();
        pool.unwrap().install(|| made(&[]).html)
    };
    assert!(with_threads(1) == with_threads(5));
}

#[test]
fn still_pictures_are_embedded_with_their_titles_as_text() {
    let still = StillPicture {
        title: "front <b>& \"more\"".into(),
        png: b"\x89PNG\r\n".to_vec(),
    };
    let html = made(&[still]).html;
    assert!(html.contains("src=\"data:image/png;base64,iVBORw0K\""));
    assert!(html.contains("<figcaption>front &lt;b&gt;&amp; &quot;more&quot;</figcaption>"));
}
