//! Prints how good the risk is on the held-out cages, in Markdown:
//! `CAGEWISE_CAGES=FOLDER cargo run --release --example risk_table`.
//!
//! `-- --rows FOLDER` also writes the rows of each part there, for looking at them in other programs:
//! `PART.f32` (evidence, row after row) and `PART.csv` (what is known of each row).
#![allow(
    dead_code,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout
)]

#[path = "../corpus/mod.rs"]
mod corpus;
mod figures;
mod naive_rules;
mod parts;
mod report;
mod rows;
mod support;

use std::io::Write;
use std::path::Path;

use parts::Part;
use report::HeldOut;
use rows::Rows;

/// The held-out parts, what they are called, and whether harmless cages are controls there.
const HELD_OUT: [(Part, &str, bool); 6] = [
    (Part::SameKinds, "(a) drawn, same kinds", true),
    (Part::OtherKinds, "(b) drawn, other shapes and faults", true),
    (Part::OtherKit, "(c) grown, other kit", false),
    (Part::RealHeld, "(d) real, other cages", false),
    (Part::LaterKit, "(e) grown, later kit", false),
    (Part::NewestKit, "(f) grown, newest kit", false),
];

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let folder = match arguments.as_slice() {
        [flag, folder] if flag == "--rows" => Some(Path::new(folder)),
        _ => None,
    };
    let (fit, _) = parts::rows_of(Part::Fit);
    let thresholds = report::simple_thresholds(&fit);
    let held: Vec<HeldOut> = HELD_OUT
        .iter()
        .map(|&(part, name, by_controls)| HeldOut {
            name,
            rows: parts::rows_of(part).0,
            by_controls,
        })
        .filter(|held| !held.rows.labels.is_empty())
        .collect();
    if let Some(folder) = folder {
        std::fs::create_dir_all(folder).unwrap();
        write_rows(folder, "fit", &fit);
        write_rows(folder, "choose", &parts::rows_of(Part::Choose).0);
        for part in &held {
            // The letter in brackets.
            write_rows(folder, &part.name[1..2], &part.rows);
        }
    }
    println!("{}", report::tables(&held, &thresholds).unwrap());
}

fn write_rows(folder: &Path, name: &str, rows: &Rows) {
    let bytes: Vec<u8> = rows.evidence.iter().flat_map(|x| x.to_le_bytes()).collect();
    std::fs::write(folder.join(format!("{name}.f32")), bytes).unwrap();
    std::fs::write(folder.join("quantities.txt"), rows.names.join("\n")).unwrap();
    let mut file =
        std::io::BufWriter::new(std::fs::File::create(folder.join(format!("{name}.csv"))).unwrap());
    writeln!(
        file,
        "case,family,vertex,faulty,kind,mirrored,clean_cage,control,risk,sure,name"
    )
    .unwrap();
    for l in &rows.labels {
        let (name, family) = &rows.cases[l.case as usize];
        writeln!(
            file,
            "{},{family},{},{},{},{},{},{},{},{},\"{name}\"",
            l.case,
            l.vertex,
            l.faulty.map_or(-1, i32::from),
            l.kind.map_or("", |k| k.name()),
            u8::from(l.mirrored),
            u8::from(l.of_clean_cage),
            u8::from(l.of_control),
            l.risk,
            l.sure
        )
        .unwrap();
    }
}
