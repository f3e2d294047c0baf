//! The pages that people read against the program they describe.
//!
//! The blocks of demo/README.md that show what the program prints are written anew by
//! `UPDATE_DEMO_PAGE=1 cargo test --test documentation`.
#![cfg(feature = "cli")]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use cagewise::measure::about_all;
use cagewise::risk::Cause;

const PAGES: [&str; 5] = [
    "README.md",
    "DEVELOPERS.md",
    "CHANGELOG.md",
    "demo/README.md",
    "reference-data/README.md",
];

/// Columns of `risk.csv` that stand before the causes' and before the measures'.
const FIRST_COLUMNS: [&str; 8] = ["vertex", "x", "y", "z", "risk", "band", "cause", "spot"];
const LIMIT_COLUMNS: [&str; 6] = [
    "limit_x", "limit_y", "limit_z", "normal_x", "normal_y", "normal_z",
];

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn page(name: &str) -> String {
    fs::read_to_string(root().join(name)).unwrap_or_else(|e| panic!("{name}: {e}"))
}

fn printed(arguments: &[&str]) -> String {
    let output = Command::new(env!("CARGO_BIN_EXE_cagewise"))
        .args(arguments)
        .current_dir(root())
        .output()
        .unwrap();
    assert!(output.status.success(), "{arguments:?}: {output:?}");
    String::from_utf8(output.stdout).unwrap()
}

/// The cells of a table's row, without the bars.
fn cells(line: &str) -> Vec<&str> {
    let inner = line.trim().trim_matches('|');
    inner.split('|').map(str::trim).collect()
}

/// The words between backticks.
fn quoted(text: &str) -> impl Iterator<Item = &str> {
    text.split('`').skip(1).step_by(2)
}

/// The rows of the README's tables of columns.
fn column_rows(readme: &str) -> Vec<Vec<&str>> {
    let tables = readme.split("\n## What the files hold").nth(1).unwrap();
    let tables = tables.split("\n## ").next().unwrap();
    let rows = tables.lines().filter(|line| line.starts_with("| `"));
    rows.map(cells).collect()
}

#[test]
fn the_readme_names_every_column_of_risk_csv_in_its_order() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().to_str().unwrap();
    printed(&["assess", "demo/crate.obj", "--quiet", "--out", out]);
    let table = fs::read_to_string(folder.path().join("risk.csv")).unwrap();
    let written: Vec<&str> = table.lines().next().unwrap().split(',').collect();

    let first = FIRST_COLUMNS.iter().map(|c| (*c).to_owned());
    let causes = Cause::ALL.iter().map(|c| format!("risk_{}", c.name()));
    let limit = LIMIT_COLUMNS.iter().map(|c| (*c).to_owned());
    let measures = about_all().iter().map(|about| about.column());
    let expected: Vec<String> = first.chain(causes).chain(limit).chain(measures).collect();
    assert_eq!(written, expected);

    let readme = page("README.md");
    let rows = column_rows(&readme);
    let firsts = rows
        .iter()
        .flat_map(|row| row[0].trim_matches('`').split(','));
    assert_eq!(firsts.collect::<Vec<_>>(), expected);
}

#[test]
fn the_readme_describes_each_measure_as_explain_does() {
    let readme = page("README.md");
    let rows = column_rows(&readme);
    for about in about_all() {
        let name = format!("`{}`", about.column());
        let row = rows.iter().find(|row| row[0] == name).unwrap();
        assert_eq!(row[1..3], [about.unit.in_words(), about.tells], "{name}");
        // The page may leave out an aside.
        let range = row[3];
        let start = range.split(';').next().unwrap();
        assert!(about.range.starts_with(start), "{name}: {range}");
    }
}

/// What a source cites: pairs of a name and a year, or the number of a report.
fn citations(source: &str) -> Vec<(String, String)> {
    let parts = source.split("; ");
    let cited = parts.map(|part| part.rsplit_once(": ").map_or(part, |(_, after)| after));
    cited
        .filter_map(|part| {
            let digits = |c: char| !c.is_ascii_digit();
            let year = part
                .split(digits)
                .find(|n| n.len() == 4 && (n.starts_with("19") || n.starts_with("20")))?;
            if part.starts_with("SAND") {
                return Some((part.to_owned(), year.to_owned()));
            }
            let ends = [" &", ",", " et al", &format!(" {year}")].map(|mark| part.find(mark));
            let end = ends.into_iter().flatten().min()?;
            Some((part[..end].to_owned(), year.to_owned()))
        })
        .collect()
}

#[test]
fn citations_are_told_from_other_words() {
    let pair = |a: &str, b: &str| (a.to_owned(), b.to_owned());
    assert_eq!(
        citations(
            "eigenvalues: Ball & Storry 1988; growth: Peters & Reif, Surfaces, 2008, section 6"
        ),
        [pair("Ball", "1988"), pair("Peters", "2008")]
    );
    assert_eq!(
        citations("quad skew: SAND2007-1751"),
        [pair("SAND2007-1751", "2007")]
    );
    assert_eq!(
        citations("forms: do Carmo, Surfaces, 1976"),
        [pair("do Carmo", "1976")]
    );
    assert_eq!(citations("common practice, no published source"), []);
}

#[test]
fn every_source_that_explain_names_is_in_the_list_of_references() {
    let developers = page("DEVELOPERS.md");
    let references = developers.split("\n## References").nth(1).unwrap();
    let entries: Vec<&str> = references.lines().filter(|l| l.starts_with("- ")).collect();
    let mut found = BTreeSet::new();
    for about in about_all() {
        for (name, year) in citations(about.source) {
            let listed = |entry: &&&str| entry.contains(&name) && entry.contains(&year);
            let entry = entries.iter().find(listed);
            assert!(
                entry.is_some(),
                "{}: {name} {year} is not listed",
                about.name
            );
            found.insert(name);
        }
    }
    assert!(found.len() >= 8, "only {found:?} were taken for citations");
}

#[test]
fn the_readme_names_every_command() {
    let readme = page("README.md");
    let help = printed(&["--help"]);
    let commands = help.split("Commands:\n").nth(1).unwrap();
    let commands = commands.split("\n\n").next().unwrap();
    // Names stand two columns in; what continues a description stands further in.
    let named = commands
        .lines()
        .filter(|line| line.starts_with("  ") && !line.starts_with("   "));
    let names: Vec<&str> = named
        .filter_map(|line| line.split_whitespace().next())
        .collect();
    assert!(names.len() > 4, "{names:?}");
    // `help` comes with every program of this kind.
    for name in names.into_iter().filter(|name| *name != "help") {
        assert!(readme.contains(&format!("cagewise {name}")), "{name}");
    }
}

#[test]
fn the_changelog_names_the_version() {
    let heading = format!("## {}", cagewise::VERSION);
    let changelog = page("CHANGELOG.md");
    let named = changelog.lines().any(|line| {
        let rest = line.strip_prefix(&heading);
        rest.is_some_and(|rest| rest.is_empty() || rest.starts_with(','))
    });
    assert!(named, "no heading '{heading}'");
}

#[test]
fn relative_links_resolve() {
    let mut followed = 0;
    for name in PAGES {
        let text = page(name);
        for target in text.split("](").skip(1) {
            let target = target.split(')').next().unwrap();
            let target = target.split('#').next().unwrap();
            if target.is_empty() || target.contains("://") {
                continue;
            }
            let path = root().join(name).parent().unwrap().join(target);
            assert!(path.exists(), "{name}: {target}");
            followed += 1;
        }
    }
    assert!(followed > 3);
}

#[test]
fn files_that_the_pages_name_exist_and_every_test_file_is_described() {
    let roots = ["src/", "tests/", "demo/", "reference-data/", ".ci/"];
    for name in PAGES {
        let text = page(name);
        for path in quoted(&text).filter(|word| roots.iter().any(|r| word.starts_with(r))) {
            assert!(root().join(path).exists(), "{name}: {path}");
        }
    }
    let developers = page("DEVELOPERS.md");
    for entry in fs::read_dir(root().join("tests")).unwrap() {
        let file = entry.unwrap().file_name().into_string().unwrap();
        if file.ends_with(".rs") {
            assert!(
                developers.contains(&format!("| `tests/{file}` |")),
                "{file}"
            );
        }
    }
    for entry in fs::read_dir(root().join("src")).unwrap() {
        let entry = entry.unwrap();
        let folder = entry.file_name().into_string().unwrap();
        if entry.file_type().unwrap().is_dir() {
            assert!(
                developers.contains(&format!("| `src/{folder}` |")),
                "{folder}"
            );
        }
    }
}

/// What the program prints of a demo's worst places, as a fenced block.
fn worst_places(demo: &str) -> String {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().to_str().unwrap();
    let screen = printed(&["assess", &format!("demo/{demo}.obj"), "--out", out]);
    let starts = |line: &&str| line.contains(" worst of ") || line.contains("lace");
    let lines = screen.lines().skip_while(|line| !starts(line));
    let ends = |line: &str| line == "What to do" || line.starts_with("  written");
    let block: Vec<&str> = lines.take_while(|line| !ends(line)).collect();
    assert!(!block.is_empty(), "{screen}");
    format!("```text\n{}\n```\n", block.join("\n"))
}

#[test]
fn the_demo_page_shows_what_the_program_prints() {
    let path: PathBuf = root().join("demo/README.md");
    let update = std::env::var_os("UPDATE_DEMO_PAGE").is_some();
    let mut text = page("demo/README.md");
    for demo in ["cowl", "cleat", "bell", "crate"] {
        let start = format!("<!-- {demo}: as printed -->\n");
        let from = text.find(&start).expect("a mark on the page") + start.len();
        let length = text[from..].find("<!-- end as printed -->").unwrap();
        let block = worst_places(demo);
        if update {
            text.replace_range(from..from + length, &block);
        } else {
            assert_eq!(
                text[from..from + length],
                block,
                "{demo}: see the head of this test"
            );
        }
    }
    if update {
        fs::write(path, text).unwrap();
    }
}
