//! The program as its users meet it: exit codes, one-line errors, files all or none.
#![cfg(feature = "cli")]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use tempfile::TempDir;

/// A bollard head: a cube, and so without faults to find.
const BOLLARD: &str = "v -1 -1 -1\nv 1 -1 -1\nv -1 1 -1\nv 1 1 -1\nv -1 -1 1\nv 1 -1 1\n\
    v -1 1 1\nv 1 1 1\ns 1\nf 1 3 4 2\ns 2\nf 5 6 8 7\nf 1 2 6 5\nf 3 7 8 4\nf 1 5 7 3\nf 2 4 8 6\n";

/// Names of an assessment's files.
const FILES: [&str; 4] = ["preview.obj", "report.html", "risk.csv", "summary.json"];

/// A quay plate with a vertex pulled far out of its plane: a fault in the middle of flat ground.
fn plate() -> String {
    let mut text = String::new();
    for j in 0..7 {
        for i in 0..7 {
            let z = if (i, j) == (3, 3) { 0.8 } else { 0.0 };
            text += &format!("v {i} {j} {z}\n");
        }
    }
    for j in 0..6 {
        for i in 0..6 {
            let a = j * 7 + i + 1;
            text += &format!("f {} {} {} {}\n", a, a + 1, a + 8, a + 7);
        }
    }
    text
}

/// A folder with the two cages, in which the program runs.
struct Quay(TempDir);

impl Quay {
    fn new() -> Self {
        let quay = Self(tempfile::tempdir().unwrap());
        quay.put("bollard.obj", BOLLARD);
        quay.put("plate.obj", plate());
        quay
    }

    fn put(&self, name: &str, text: impl AsRef<[u8]>) {
        let path = self.path(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, text).unwrap();
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn read(&self, name: &str) -> String {
        fs::read_to_string(self.path(name)).unwrap()
    }

    fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_cagewise"));
        command.current_dir(self.0.path()).args(arguments);
        command.env_remove("NO_COLOR").stdin(Stdio::null());
        command
    }

    fn run(&self, arguments: &[&str]) -> Output {
        self.command(arguments).output().unwrap()
    }

    /// Runs, and expects exit code 2, one line on stderr and nothing on stdout.
    fn refusal(&self, arguments: &[&str]) -> String {
        let output = self.run(arguments);
        let line = stderr(&output);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}: {line}");
        assert_eq!(stdout(&output), "", "{arguments:?}");
        assert!(
            line.starts_with("cagewise: ") && line.ends_with('\n'),
            "{line:?}"
        );
        assert_eq!(line.lines().count(), 1, "{line}");
        assert!(!line.trim_end().chars().any(char::is_control), "{line:?}");
        line
    }

    /// Names of everything in the folder and below, files with their sizes.
    fn listing(&self) -> Vec<(String, u64)> {
        let mut found = Vec::new();
        list(self.0.path(), &mut found);
        found.sort();
        found
    }
}

fn list(folder: &Path, found: &mut Vec<(String, u64)>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            found.push((path.display().to_string(), 0));
            list(&path, found);
        } else {
            let size = fs::metadata(&path).unwrap().len();
            found.push((path.display().to_string(), size));
        }
    }
}

fn stdout(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).unwrap()
}

fn stderr(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).unwrap()
}

fn code(output: &Output) -> Option<i32> {
    output.status.code()
}

#[test]
fn assess_writes_four_files_and_tells_of_them() {
    let quay = Quay::new();
    let output = quay.run(&["assess", "plate.obj"]);
    assert_eq!((code(&output), stderr(&output)), (Some(0), String::new()));
    let text = stdout(&output);
    assert!(text.starts_with("plate.obj\n"), "{text}");
    assert!(
        text.contains("plate_assessment: risk.csv, preview.obj, summary.json, report.html"),
        "{text}"
    );
    assert!(!text.contains('\u{1b}'), "coloured though piped");
    assert!(text.lines().count() <= 34 && text.lines().all(|l| l.chars().count() <= 80));
    let rows = quay.read("plate_assessment/risk.csv");
    assert!(rows.starts_with("vertex,x,y,z,risk,band,cause,"));
    assert_eq!(rows.lines().count(), 1 + 49);
    assert!(!rows.contains("NaN") && !rows.contains("inf"));
    let summary: serde_json::Value =
        serde_json::from_str(&quay.read("plate_assessment/summary.json")).unwrap();
    assert_eq!(summary["input"]["file"], "plate.obj");
    assert_eq!(summary["input"]["vertices"], 49);
    let peak = summary["places"][0]["peak_vertex"].as_u64().unwrap();
    assert!(
        [25, 18, 24, 26, 32].contains(&peak),
        "not at the vertex pulled out: {peak}"
    );
    assert!(text.contains(&format!("%  {peak} ")), "{text}");
    let preview = quay.read("plate_assessment/preview.obj");
    let quads = preview
        .lines()
        .filter(|line| line.starts_with("f "))
        .count();
    assert_eq!(quads, 36 * 16);
    let name = quay.0.path().display().to_string();
    for file in FILES {
        let text = quay.read(&format!("plate_assessment/{file}"));
        assert!(
            !text.contains(&name),
            "{file} tells of the folder it was made in"
        );
    }
}

#[test]
fn no_page_leaves_the_page_out_and_takes_an_outdated_one_away() {
    let quay = Quay::new();
    quay.run(&["assess", "plate.obj"]);
    let page = quay.path("plate_assessment/report.html");
    assert!(page.exists());
    let text = stdout(&quay.run(&["assess", "plate.obj", "--no-page"]));
    assert!(!text.contains("report.html"), "{text}");
    assert!(!page.exists(), "it told of older figures");
    let summary = quay.read("plate_assessment/summary.json");
    assert!(!summary.contains("report.html"));
    // A page of somebody else's stays.
    quay.put("plate_assessment/report.html", "<p>notes");
    quay.run(&["assess", "plate.obj", "--no-page"]);
    assert_eq!(quay.read("plate_assessment/report.html"), "<p>notes");
}

#[test]
fn a_second_run_writes_the_same_bytes() {
    let quay = Quay::new();
    for out in ["a", "b"] {
        quay.run(&["assess", "plate.obj", "--level", "3", "--out", out]);
    }
    for file in FILES {
        let [a, b] = ["a", "b"].map(|out| quay.read(&format!("{out}/{file}")));
        assert!(a == b, "{file}");
    }
}

#[test]
fn a_risk_above_the_limit_gives_exit_code_1_and_the_files() {
    let quay = Quay::new();
    let output = quay.run(&["assess", "plate.obj", "--fail-above", "0.5"]);
    assert_eq!((code(&output), stderr(&output)), (Some(1), String::new()));
    assert!(quay.path("plate_assessment/risk.csv").exists());
    let output = quay.run(&["assess", "plate.obj", "--fail-above", "1"]);
    assert_eq!(code(&output), Some(0));
    let output = quay.run(&["assess", "bollard.obj", "--fail-above", "0.5"]);
    assert_eq!(code(&output), Some(0));
}

#[test]
fn quiet_prints_nothing() {
    let quay = Quay::new();
    let output = quay.run(&["assess", "plate.obj", "bollard.obj", "--quiet"]);
    assert_eq!(code(&output), Some(0));
    assert_eq!(stdout(&output) + &stderr(&output), "");
    assert!(quay.path("plate_assessment/summary.json").exists());
}

#[test]
fn cages_at_fault_are_refused_in_one_line_and_nothing_is_written() {
    let quay = Quay::new();
    quay.put("empty.obj", "");
    quay.put("no_faces.obj", "v 0 0 0\n");
    quay.put("range.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 4\n");
    quay.put("zero.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 0 1 2\n");
    quay.put("nan.obj", "v 0 0 nan\nv 1 0 0\nv 0 1 0\nf 1 2 3\n");
    quay.put("malformed.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 x\n");
    quay.put("picture.obj", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR");
    quay.put("archive.obj", b"PK\x03\x04\0\0\0\0");
    fs::create_dir(quay.path("folder.obj")).unwrap();
    let before = quay.listing();
    for (cage, told) in [
        ("missing.obj", "missing.obj: there is no such file"),
        ("empty.obj", "empty.obj: the file is empty"),
        ("no_faces.obj", "no_faces.obj: the file has no faces"),
        ("range.obj", "range.obj:4: "),
        ("zero.obj", "zero.obj:4: "),
        ("nan.obj", "nan.obj:1: "),
        ("malformed.obj", "malformed.obj:4: "),
        ("picture.obj", "picture.obj: this is a PNG picture"),
        ("archive.obj", "archive.obj: this is "),
        ("folder.obj", "folder.obj: this is a folder"),
    ] {
        let line = quay.refusal(&["assess", cage]);
        assert!(line.contains(told), "{line}");
        assert!(line.contains("; "), "no mend: {line}");
        let line = quay.refusal(&["smooth", cage, "--out", "out.obj"]);
        assert!(line.contains(told), "{line}");
    }
    assert_eq!(quay.listing(), before);
}

#[test]
fn wrong_options_are_refused_in_one_line() {
    let quay = Quay::new();
    let before = quay.listing();
    for arguments in [
        &[][..],
        &["assess"],
        &["asses", "plate.obj"],
        &["assess", "plate.obj", "--levle", "2"],
        &["assess", "plate.obj", "--level", "two"],
        &["assess", "plate.obj", "--level", "-1"],
        &["assess", "plate.obj", "--level", "31"],
        &["assess", "plate.obj", "--boundary", "soft"],
        &["assess", "plate.obj", "--fail-above", "NaN"],
        &["assess", "plate.obj", "--fail-above", "1.5"],
        &["assess", "plate.obj", "--fail-above", "-0.5"],
        &["assess", "plate.obj", "--creases"],
        &["assess", "plate.obj", "--level", "1", "--level", "2"],
        &["smooth", "plate.obj"],
        &["smooth", "plate.obj", "bollard.obj", "--out", "out.obj"],
        &["smooth", "--out", "out.obj"],
        &["explain", "pole", "bump"],
        &["completions", "nosuchshell"],
        &["completions"],
    ] {
        let line = quay.refusal(arguments);
        assert!(line.contains("--help"), "{line}");
    }
    let line = quay.refusal(&["explain", "wobble"]);
    assert!(
        line.contains("'wobble'") && line.contains("pinching"),
        "{line}"
    );
    assert_eq!(quay.listing(), before);
}

#[test]
fn a_level_that_does_not_fit_is_refused_with_its_size() {
    let quay = Quay::new();
    let before = quay.listing();
    let line = quay.refusal(&["assess", "plate.obj", "--level", "3", "--max-faces", "2303"]);
    assert!(
        line.contains("plate.obj: level 3 would have 2304 faces"),
        "{line}"
    );
    let line = quay.refusal(&["smooth", "plate.obj", "--level", "12", "--out", "out.obj"]);
    assert!(
        line.contains("level 12 would have 603979776 faces"),
        "{line}"
    );
    let huge = u64::MAX.to_string();
    let arguments = ["smooth", "plate.obj", "--level", "30", "--out", "out.obj"];
    let line = quay.refusal(&[&arguments[..], &["--max-faces", &huge]].concat());
    assert!(
        line.contains("faces, and 32-bit indices can't name"),
        "{line}"
    );
    assert_eq!(quay.listing(), before);
    let output = quay.run(&["assess", "plate.obj", "--level", "3", "--max-faces", "2304"]);
    assert_eq!(code(&output), Some(0));
}

#[test]
fn creases_at_fault_are_refused_and_name_the_cage() {
    let quay = Quay::new();
    quay.put("good.csv", "v0,v1,sharpness\n25,26,2.5\n24,,inf\n");
    quay.put("no_edge.csv", "v0,v1,sharpness\n1,8,2\n1,9,2\n");
    quay.put("broken.csv", "v0,v1,sharpness\n1,2,soft\n");
    let before = quay.listing();
    let line = quay.refusal(&["assess", "plate.obj", "--creases", "no_edge.csv"]);
    assert!(
        line.contains("no_edge.csv:3: no edge joins vertices 1 and 9"),
        "{line}"
    );
    assert!(line.contains("plate.obj"), "{line}");
    let line = quay.refusal(&["assess", "plate.obj", "--creases", "broken.csv"]);
    assert!(line.contains("broken.csv:2: sharpness"), "{line}");
    let line = quay.refusal(&["assess", "plate.obj", "--creases", "missing.csv"]);
    assert!(
        line.contains("missing.csv: there is no such file"),
        "{line}"
    );
    assert_eq!(quay.listing(), before);
    let output = quay.run(&["assess", "plate.obj", "--creases", "good.csv"]);
    assert_eq!(code(&output), Some(0), "{}", stderr(&output));
    let summary: serde_json::Value =
        serde_json::from_str(&quay.read("plate_assessment/summary.json")).unwrap();
    assert_eq!(summary["options"]["crease_edges"], 1);
    assert_eq!(summary["options"]["sharp_corners"], 1);
    assert_eq!(summary["options"]["creases"]["file"], "good.csv");
}

/// Position of vertex 1 of an OBJ file.
fn first_vertex(text: &str) -> Vec<f64> {
    let line = text.lines().find(|line| line.starts_with("v ")).unwrap();
    line.split(' ')
        .skip(1)
        .map(|x| x.parse().unwrap())
        .collect()
}

/// The cube of half-width 1 (Catmull & Clark 1978): vertex point 5/9, limit 1/2.
#[test]
fn smooth_writes_the_level_or_its_limit() {
    let quay = Quay::new();
    let smooth = ["smooth", "bollard.obj", "--level", "1", "--out", "out.obj"];
    let near = |found: Vec<f64>, wanted: f64| {
        assert_eq!(found.len(), 3);
        assert!(
            found.iter().all(|x| (x + wanted).abs() < 1e-15),
            "{found:?}"
        );
    };
    let output = quay.run(&smooth);
    assert_eq!((code(&output), stderr(&output)), (Some(0), String::new()));
    near(first_vertex(&quay.read("out.obj")), 5.0 / 9.0);
    quay.run(&[&smooth[..], &["--onto-limit"]].concat());
    near(first_vertex(&quay.read("out.obj")), 0.5);
}

#[test]
fn creases_can_be_had_from_smoothing_groups() {
    let quay = Quay::new();
    let smooth = ["smooth", "bollard.obj", "--level", "1", "--out", "out.obj"];
    quay.run(&[&smooth[..], &["--creases", "groups"]].concat());
    // The bottom alone is in group 1: its rim is a crease, (a + 6b + c) / 8 at its corners.
    assert_eq!(first_vertex(&quay.read("out.obj")), [-0.75, -0.75, -1.0]);
}

#[test]
fn no_output_replaces_an_input() {
    let quay = Quay::new();
    quay.put("creases.csv", "v0,v1,sharpness\n1,2,2\n");
    let before = quay.listing();
    let line = quay.refusal(&["smooth", "plate.obj", "--out", "./plate.obj"]);
    assert!(line.contains("it is an input"), "{line}");
    let creases = ["--creases", "creases.csv", "--out", "creases.csv"];
    quay.refusal(&[&["smooth", "plate.obj"][..], &creases].concat());
    quay.put("old/preview.obj", BOLLARD);
    quay.refusal(&["assess", "old/preview.obj", "--out", "old"]);
    assert_eq!(quay.read("plate.obj"), plate());
    assert_eq!(quay.read("old/preview.obj"), BOLLARD);
    assert_eq!(quay.listing().len(), before.len() + 2);
}

#[test]
fn an_output_that_cannot_be_written_leaves_earlier_results_untouched() {
    let quay = Quay::new();
    quay.put("results/risk.csv", "earlier");
    quay.put("results/preview.obj", "earlier");
    fs::create_dir(quay.path("results/summary.json")).unwrap();
    let before = quay.listing();
    let line = quay.refusal(&["assess", "plate.obj", "--out", "results"]);
    assert!(
        line.contains("results/summary.json: it is a folder"),
        "{line}"
    );
    assert_eq!(quay.read("results/risk.csv"), "earlier");
    assert_eq!(quay.listing(), before);
    let line = quay.refusal(&["assess", "plate.obj", "--out", "bollard.obj"]);
    assert!(line.contains("bollard.obj"), "{line}");
    assert_eq!(quay.read("bollard.obj"), BOLLARD);
    quay.put("broken.obj", "v 0 0 0\nf 1 1 2\n");
    quay.put("whole/risk.csv", "earlier");
    quay.refusal(&["assess", "broken.obj", "--out", "whole"]);
    assert_eq!(quay.read("whole/risk.csv"), "earlier");
}

#[test]
fn a_batch_gives_each_cage_a_folder_and_a_line_and_the_worst_exit_code() {
    let quay = Quay::new();
    quay.put("stores/plate.obj", plate());
    let cages = ["plate.obj", "bollard.obj", "stores/plate.obj"];
    let output = quay.run(&[&["assess"][..], &cages, &["--out", "out"]].concat());
    assert_eq!((code(&output), stderr(&output)), (Some(0), String::new()));
    assert_eq!(stdout(&output).lines().count(), 4, "{}", stdout(&output));
    for folder in [
        "plate_assessment",
        "bollard_assessment",
        "stores_plate_assessment",
    ] {
        assert!(
            stdout(&output).contains(&format!("out/{folder}")),
            "{folder}"
        );
        for file in FILES {
            assert!(
                quay.path(&format!("out/{folder}/{file}")).exists(),
                "{folder}/{file}"
            );
        }
    }
    let limited = [&["assess"][..], &cages, &["--fail-above", "0.5"]].concat();
    assert_eq!(code(&quay.run(&limited)), Some(1));
}

#[test]
fn a_cage_at_fault_does_not_stop_the_others() {
    let quay = Quay::new();
    let cages = [
        "missing.obj",
        "plate.obj",
        "also_missing.obj",
        "bollard.obj",
    ];
    let output = quay.run(&[&["assess"][..], &cages, &["--fail-above", "0.5"]].concat());
    assert_eq!(code(&output), Some(2));
    assert_eq!(stderr(&output).lines().count(), 2);
    let text = stdout(&output);
    assert_eq!(text.lines().count(), 5, "{text}");
    assert!(quay.path("bollard_assessment/risk.csv").exists());
    assert!(quay.path("plate_assessment/risk.csv").exists());
    assert!(!quay.path("missing_assessment").exists());
}

#[test]
fn help_and_version_are_no_faults() {
    let quay = Quay::new();
    for (arguments, told) in [
        (&["--version"][..], env!("CARGO_PKG_VERSION")),
        (&["--help"], "assess"),
        (&["assess", "--help"], "--fail-above"),
        (&["help", "smooth"], "--onto-limit"),
    ] {
        let output = quay.run(arguments);
        assert_eq!((code(&output), stderr(&output)), (Some(0), String::new()));
        assert!(stdout(&output).contains(told), "{}", stdout(&output));
    }
}

#[test]
fn measures_and_causes_are_explained() {
    let quay = Quay::new();
    let text = stdout(&quay.run(&["explain", "pinching"]));
    assert!(
        text.starts_with("pinching (cause)") && text.contains("what to do"),
        "{text}"
    );
    let list = stdout(&quay.run(&["explain"]));
    for about in cagewise::measure::about_all() {
        assert!(list.contains(about.name), "{}", about.name);
        let text = stdout(&quay.run(&["explain", about.name]));
        assert!(
            text.contains("formula") && text.contains("source"),
            "{text}"
        );
    }
}

#[test]
fn completions_and_manual_know_every_command() {
    let quay = Quay::new();
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        let text = stdout(&quay.run(&["completions", shell]));
        assert!(
            text.contains("assess") && text.contains("fail-above"),
            "{shell}"
        );
    }
    let page = stdout(&quay.run(&["manual"]));
    assert!(page.contains(".TH"), "{page}");
    let plain = page.replace('\\', "");
    for word in [
        "ASSESS",
        "SMOOTH",
        "EXPLAIN",
        "fail-above",
        "onto-limit",
        "EXIT STATUS",
    ] {
        assert!(plain.contains(word), "{word}: {page}");
    }
}

/// A reader that has gone away must not bring a panic's message.
#[test]
fn a_closed_pipe_is_no_fault() {
    let quay = Quay::new();
    let mut command = quay.command(&["completions", "bash"]);
    command.stdout(Stdio::piped()).stderr(Stdio::piped());
    let mut child = command.spawn().unwrap();
    drop(child.stdout.take());
    let output = child.wait_with_output().unwrap();
    assert_eq!((code(&output), stderr(&output)), (Some(0), String::new()));
}

#[cfg(unix)]
#[test]
fn names_that_are_no_utf_8_or_hold_control_characters_are_shown_escaped() {
    use std::os::unix::ffi::OsStrExt;
    let quay = Quay::new();
    let name = std::ffi::OsStr::from_bytes(b"c\xe2ble\x1b[31m.obj");
    fs::write(quay.0.path().join(name), plate()).unwrap();
    let output = quay.command(&["assess"]).arg(name).output().unwrap();
    assert_eq!(code(&output), Some(0), "{}", stderr(&output));
    assert!(
        stdout(&output).starts_with("c\\xe2ble\\u{1b}[31m.obj\n"),
        "{}",
        stdout(&output)
    );
}

#[test]
fn material_libraries_are_found_from_the_results() {
    let quay = Quay::new();
    quay.put("stores/hatch.obj", format!("mtllib paint.mtl\n{BOLLARD}"));
    quay.run(&["smooth", "stores/hatch.obj", "--out", "out/hatch.obj"]);
    assert!(
        quay.read("out/hatch.obj")
            .contains("\nmtllib ../stores/paint.mtl\n")
    );
    quay.run(&["smooth", "stores/hatch.obj", "--out", "stores/smooth.obj"]);
    assert!(
        quay.read("stores/smooth.obj")
            .contains("\nmtllib paint.mtl\n")
    );
}
