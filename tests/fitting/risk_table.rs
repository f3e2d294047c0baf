//! Prints how good the risk is on the held-out cages, in Markdown:
//! `CAGEWISE_CAGES=FOLDER cargo run --release --example risk_table`.
//!
//! `-- --rows FOLDER` also writes the rows of each part there, for looking at them in other programs:
//! `PART.f32` (evidence, row after row) and `PART.csv` (what is known of each row); `PART_once` has the part's mirrored
//! faults put in on one side only. `-- --draw N` draws all that is held out anew: see [`parts::Draw`].
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
mod mirrored;
mod naive_rules;
mod parts;
mod report;
mod rows;
mod support;

use std::io::Write;
use std::path::{Path, PathBuf};

use clap::Parser;

use parts::{Draw, Part};
use report::HeldOut;
use rows::Rows;

/// What the held-out parts are called, in the order of [`parts::HELD_OUT`], and whether harmless cages are
/// controls there.
const NAMES: [(&str, bool); 6] = [
    ("(a) drawn, same kinds", true),
    ("(b) drawn, other shapes and faults", true),
    ("(c) grown, other kit", false),
    ("(d) real, other cages", false),
    ("(e) grown, later kit", false),
    ("(f) grown, newest kit", false),
];

/// What is asked for.
#[derive(clap::Parser)]
struct Request {
    /// Folder to write the rows of each part to
    #[arg(long)]
    rows: Option<PathBuf>,
    /// Number of the draw
    #[arg(long, default_value_t = 0)]
    draw: u64,
}

fn main() {
    let Request { rows: folder, draw } = Request::parse();
    let draw = Draw(draw);
    let (fit, _) = parts::rows_of(Part::Fit, draw);
    let thresholds = report::simple_thresholds(&fit);
    let held: Vec<HeldOut> = parts::HELD_OUT
        .into_iter()
        .zip(NAMES)
        .map(|(part, (name, by_controls))| HeldOut {
            name,
            rows: parts::rows_of(part, draw).0,
            mirrored_once: parts::mirrored_once(part, draw),
            by_controls,
        })
        .filter(|held| !held.rows.labels.is_empty())
        .collect();
    if let Some(folder) = folder.as_deref() {
        std::fs::create_dir_all(folder).unwrap();
        write_rows(folder, "fit", &fit);
        write_rows(folder, "choose", &parts::rows_of(Part::Choose, draw).0);
        for part in &held {
            // The letter in brackets.
            let letter = &part.name[1..2];
            write_rows(folder, letter, &part.rows);
            write_rows(folder, &format!("{letter}_once"), &part.mirrored_once);
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
