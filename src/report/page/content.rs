//! What the page knows: the summary, what measures and causes mean, names, and every figure.

use serde::Serialize;

use super::PageOptions;
use super::pack::{Packed, Section};
use super::shape::Shape;
use crate::assess::Assessment;
use crate::mesh::{Cage, NONE, NameTable};
use crate::picture::UpAxis;
use crate::report::Summary;
use crate::report::colour::STOPS;
use crate::report::explanation::tells;
use crate::risk::Cause;

/// Stands for 'no cause' among the numbers of causes.
const NO_CAUSE: u8 = u8::MAX;

/// The texts and figures before the packed sections.
#[derive(Debug, Serialize)]
struct Header<'a> {
    summary: &'a Summary,
    shape: Shape,
    /// The axis that points up at first.
    up: &'static str,
    /// The colours of risk: value and red, green, blue.
    stops: [(f64, [f32; 3]); STOPS.len()],
    causes: Vec<CauseText>,
    figures: Vec<FigureText>,
    names: Vec<NameTexts>,
    sections: &'a [Section],
}

#[derive(Debug, Serialize)]
struct CauseText {
    name: &'static str,
    tells: &'static str,
}

/// A column of figures, one per vertex, and the section that holds it.
#[derive(Debug, Serialize)]
struct FigureText {
    name: String,
    section: String,
    tells: String,
    unit: &'static str,
    range: &'static str,
    kind: &'static str,
}

/// Names of one kind, as far as they are text.
#[derive(Debug, Serialize)]
struct NameTexts {
    kind: &'static str,
    section: String,
    names: Vec<String>,
}

/// Everything that the page knows, as bytes: the length of the header (4 bytes, little-endian), the
/// header (JSON), the sections.
pub fn content(
    cage: &Cage,
    assessment: &Assessment,
    summary: &Summary,
    options: &PageOptions,
) -> Vec<u8> {
    let mut packed = Packed::default();
    let shape = Shape::pack(
        &mut packed,
        &assessment.surface,
        &cage.smoothing,
        options.level,
    );
    pack_halves(&mut packed, assessment);
    let figures = pack_figures(&mut packed, assessment);
    let names = pack_names(&mut packed, cage);
    let causes = Cause::ALL.map(|cause| CauseText {
        name: cause.name(),
        tells: tells(cause),
    });
    let header = Header {
        summary,
        shape,
        up: match options.up {
            UpAxis::Y => "y",
            UpAxis::Z => "z",
        },
        stops: STOPS,
        causes: causes.into(),
        figures,
        names,
        sections: &packed.sections,
    };
    // Everything in the header has a form in JSON: keys are text, and numbers that are not finite
    // become null.
    let header = serde_json::to_vec(&header).unwrap_or_default();
    let mut content = (header.len() as u32).to_le_bytes().to_vec();
    content.extend_from_slice(&header);
    content.append(&mut packed.bytes);
    content
}

fn pack_figures(packed: &mut Packed, assessment: &Assessment) -> Vec<FigureText> {
    let findings = &assessment.findings;
    let risks = &findings.risks;
    let causes: Vec<u8> = risks
        .cause
        .iter()
        .map(|cause| cause.map_or(NO_CAUSE, |cause| cause as u8))
        .collect();
    packed.bytes("causes", &causes);
    // 0 is none, so that most entries are small.
    let spots = findings.spots();
    let spots: Vec<u32> = spots
        .iter()
        .map(|s| s.map_or(0, |s| s as u32 + 1))
        .collect();
    packed.u32("spot", 1, &spots);
    // Not rounded further: its last digit can decide on the band.
    let total: Vec<f32> = risks.total.iter().map(|&r| r as f32).collect();
    packed.f32("risk", 1, &total);
    let mut texts = vec![FigureText {
        name: "risk".into(),
        section: "risk".into(),
        tells: "how likely the smoothed model shows a fault at the vertex".into(),
        unit: "",
        range: "0 to 1; from 0.25 watch, from 0.5 fault, from 0.75 severe",
        kind: "risk",
    }];
    for (cause, part) in Cause::ALL.iter().zip(&risks.by_cause) {
        let section = format!("risk_{}", cause.name());
        packed.f20(&section, part.iter().copied());
        texts.push(FigureText {
            name: format!("risk by {}", cause.name()),
            section,
            tells: tells(*cause).into(),
            unit: "",
            range: "0 to 1; the largest of all causes is the vertex's risk",
            kind: "part",
        });
    }
    for measure in &findings.measures {
        let about = measure.about;
        let section = about.column();
        packed.f20(&section, measure.values.iter().copied());
        texts.push(FigureText {
            name: about.name.replace('_', " "),
            section,
            tells: about.tells.into(),
            unit: match about.unit {
                crate::measure::Unit::Ratio | crate::measure::Unit::Count => "",
                unit => unit.in_words(),
            },
            range: about.range,
            kind: "measure",
        });
    }
    texts
}

/// Of a mirrored half: for each vertex of the whole the one of the half that it is or mirrors. All
/// figures are those of the half's vertices.
fn pack_halves(packed: &mut Packed, assessment: &Assessment) {
    if let Some(mirror) = &assessment.mirror {
        let map = &mirror.map;
        let in_half: Vec<u32> = (0..map.images.len())
            .map(|v| map.in_half(v) as u32)
            .collect();
        packed.u32("in half", 1, &in_half);
    }
}

fn pack_names(packed: &mut Packed, cage: &Cage) -> Vec<NameTexts> {
    let tables: [(&str, &NameTable); 3] = [
        ("object", &cage.objects),
        ("group", &cage.groups),
        ("material", &cage.materials),
    ];
    let stated = tables.into_iter().filter(|(_, t)| !t.names.is_empty());
    stated
        .map(|(kind, table)| {
            let section = format!("{kind} of face");
            // 0 is none, so that the most common entries are small.
            let of_face: Vec<u32> = table
                .of_face
                .iter()
                .map(|&name| if name == NONE { 0 } else { name + 1 })
                .collect();
            packed.u32(&section, 1, &of_face);
            let text = |name: &Vec<u8>| String::from_utf8_lossy(name).into_owned();
            NameTexts {
                kind,
                section,
                names: table.names.iter().map(text).collect(),
            }
        })
        .collect()
}
