//! `risk.csv`: one row per cage vertex.

use std::io::{self, Write};

use super::csv_fields::{write_index, write_number, write_vector};
use crate::assess::Assessment;
use crate::io::lines::write_lines;
use crate::mesh::Cage;
use crate::risk::{Band, Cause};

/// Columns that stand before the risks of the single causes.
const FIRST_COLUMNS: [&str; 8] = ["vertex", "x", "y", "z", "risk", "band", "cause", "spot"];

/// Columns that stand between the risks and the measures.
const LIMIT_COLUMNS: [&str; 6] = [
    "limit_x", "limit_y", "limit_z", "normal_x", "normal_y", "normal_z",
];

/// Writes the table of a cage's vertices (RFC 4180, lines ending with LF), in the order of the
/// file's `v` lines, unreferenced vertices included.
///
/// | column | what it holds |
/// |---|---|
/// | `vertex` | number of the vertex, from 1 as in the OBJ |
/// | `x,y,z` | its position in the cage, file units |
/// | `risk` | its risk, in [0, 1] |
/// | `band` | how the risk reads: `clean`, `watch`, `fault` or `severe` |
/// | `cause` | the leading cause; empty where the vertex is clean |
/// | `spot` | number of the place that the vertex belongs to, from 1 in the order of the summary; empty where it is clean |
/// | `risk_*` | the part of each cause in [0, 1], of which the largest is the risk |
/// | `limit_x,limit_y,limit_z` | its limit point, file units |
/// | `normal_x,normal_y,normal_z` | its unit limit normal |
/// | the rest | the measures, by [`About::column`](crate::measure::About::column) |
///
/// Numbers are the shortest that read back as the same double. What is not defined is an empty
/// field.
///
/// # Errors
/// As `out`'s.
pub fn write_risk_csv(
    out: &mut (impl Write + Send),
    cage: &Cage,
    assessment: &Assessment,
) -> io::Result<()> {
    let mut header = csv::Writer::from_writer(&mut *out);
    header.write_record(columns(assessment))?;
    header.flush()?;
    drop(header);
    let spots = assessment.findings.spots();
    write_lines(out, cage.mesh.vertex_count(), |vertices, text| {
        // Writing to memory cannot fail.
        let mut rows = csv::Writer::from_writer(text);
        for v in vertices {
            let _ = write_row(&mut rows, v, (cage, assessment, &spots));
        }
        let _ = rows.flush();
    })
}

fn columns(assessment: &Assessment) -> Vec<String> {
    let first = FIRST_COLUMNS.iter().map(|name| (*name).to_owned());
    let risks = Cause::ALL.iter().map(|c| format!("risk_{}", c.name()));
    let limit = LIMIT_COLUMNS.iter().map(|name| (*name).to_owned());
    let measures = assessment.findings.measures.iter();
    let measures = measures.map(|m| m.about.column());
    first.chain(risks).chain(limit).chain(measures).collect()
}

fn write_row<W: Write>(
    rows: &mut csv::Writer<W>,
    v: usize,
    (cage, assessment, spots): (&Cage, &Assessment, &[Option<usize>]),
) -> csv::Result<()> {
    let findings = &assessment.findings;
    let risks = &findings.risks;
    write_index(rows, Some(v))?;
    write_vector(rows, cage.mesh.positions().get(v))?;
    let risk = risks.total.get(v).copied();
    write_number(rows, risk)?;
    rows.write_field(risk.map_or("", |risk| Band::of(risk).name()))?;
    let cause = risks.cause.get(v).copied().flatten();
    rows.write_field(cause.map_or("", Cause::name))?;
    write_index(rows, spots.get(v).copied().flatten())?;
    for part in &risks.by_cause {
        write_number(rows, part.get(v).copied())?;
    }
    for vectors in [&assessment.limit_positions, &assessment.limit_normals] {
        write_vector(rows, vectors.get(v).and_then(Option::as_ref))?;
    }
    for measure in &findings.measures {
        write_number(rows, measure.values.get(v).copied())?;
    }
    rows.write_record(None::<&[u8]>)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;
    use crate::report::testing::{assessed_quad, with_loose_vertex};

    fn table(cage: &Cage, assessment: &Assessment) -> Vec<String> {
        let mut text = Vec::new();
        write_risk_csv(&mut text, cage, assessment).unwrap();
        let text = String::from_utf8(text).unwrap();
        assert!(text.ends_with('\n') && !text.contains('\r'));
        text.lines().map(str::to_owned).collect()
    }

    #[test]
    fn a_row_holds_position_risk_parts_limit_and_measures() {
        let (cage, assessment) = assessed_quad();
        let table = table(&cage, &assessment);
        assert_eq!(
            table[0],
            "vertex,x,y,z,risk,band,cause,spot,risk_pole,risk_pinching,risk_spacing,risk_warp,\
             risk_facet,risk_border,risk_fold,risk_support,risk_shrinkage,risk_bump,limit_x,limit_y,limit_z,\
             normal_x,normal_y,normal_z,swing_deg,gap_units"
        );
        assert_eq!(
            table[1],
            "1,0,0,0,0.1,clean,,,0,0,0,0,0,0,0,0,0,0.1,0,0,0,0,0,1,0.5,1"
        );
        assert_eq!(
            table[3],
            "3,1,1,0,0.8,severe,bump,1,0,0,0,0,0,0,0,0,0,0.8,1,1,0,,,,2.5,"
        );
        assert_eq!(table.len(), 5);
    }

    #[test]
    fn a_loose_vertex_keeps_its_row() {
        let (cage, assessment) = with_loose_vertex();
        let table = table(&cage, &assessment);
        assert_eq!(table[5], "5,7,8,9,0,clean,,,0,0,0,0,0,0,0,0,0,0,,,,,,,,");
    }
}
