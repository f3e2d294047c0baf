//! Writing results: all of them appear whole, or nothing changes.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::fs;
use std::io::{self, Write};
use std::path::Path;

use cagewise::io::{OutputSet, WriteError};

fn no_inputs() -> OutputSet {
    OutputSet::new::<&Path>(&[])
}

fn listing(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).unwrap();
    let mut names: Vec<String> = entries
        .map(|e| e.unwrap().file_name().to_string_lossy().into_owned())
        .collect();
    names.sort();
    names
}

fn write(set: &mut OutputSet, path: &Path, text: &str) {
    let file = set.create(path).unwrap();
    file.write_whole(|w| w.write_all(text.as_bytes())).unwrap();
}

fn refusal(set: &mut OutputSet, path: &Path) -> WriteError {
    let error = set.create(path).expect_err("was accepted");
    let message = error.to_string();
    assert!(
        message.starts_with("can't write ") && message.contains("; "),
        "{message}"
    );
    assert!(!message.chars().any(char::is_control), "{message:?}");
    error
}

#[test]
fn a_committed_set_is_in_place_and_alone() {
    let folder = tempfile::tempdir().unwrap();
    let [a, b] = ["risk.csv", "summary.json"].map(|name| folder.path().join(name));
    fs::write(&a, "old").unwrap();
    let mut set = no_inputs();
    write(&mut set, &a, "new");
    write(&mut set, &b, "{}");
    assert_eq!(fs::read_to_string(&a).unwrap(), "old");
    assert!(!b.exists());
    set.commit().unwrap();
    assert_eq!(fs::read_to_string(&a).unwrap(), "new");
    assert_eq!(listing(folder.path()), ["risk.csv", "summary.json"]);
}

#[test]
fn a_dropped_set_leaves_nothing_behind_and_earlier_results_untouched() {
    let folder = tempfile::tempdir().unwrap();
    let old = folder.path().join("risk.csv");
    fs::write(&old, "old").unwrap();
    let mut set = no_inputs();
    write(&mut set, &old, "new");
    write(
        &mut set,
        &folder.path().join("made/deep/preview.obj"),
        "v 0 0 0",
    );
    drop(set);
    assert_eq!(listing(folder.path()), ["risk.csv"]);
    assert_eq!(fs::read_to_string(&old).unwrap(), "old");
}

#[test]
fn missing_folders_are_made_and_kept_on_commit() {
    let folder = tempfile::tempdir().unwrap();
    let target = folder.path().join("made/deep/preview.obj");
    let mut set = no_inputs();
    write(&mut set, &target, "v 0 0 0");
    set.commit().unwrap();
    assert_eq!(fs::read_to_string(target).unwrap(), "v 0 0 0");
}

#[test]
fn folders_made_that_others_use_meanwhile_stay() {
    let folder = tempfile::tempdir().unwrap();
    let mut set = no_inputs();
    write(&mut set, &folder.path().join("made/preview.obj"), "x");
    fs::write(folder.path().join("made/note.txt"), "mine").unwrap();
    drop(set);
    assert_eq!(listing(&folder.path().join("made")), ["note.txt"]);
}

#[test]
fn a_set_with_an_unfinished_output_is_not_committed() {
    let folder = tempfile::tempdir().unwrap();
    let [a, b] = ["a.csv", "b.csv"].map(|name| folder.path().join(name));
    let mut set = no_inputs();
    write(&mut set, &a, "whole");
    let mut half = set.create(&b).unwrap();
    half.write_all(b"ha").unwrap();
    drop(half);
    assert!(matches!(set.commit(), Err(WriteError::Unfinished { .. })));
    assert!(listing(folder.path()).is_empty());
}

#[test]
fn a_failed_write_names_the_output() {
    let folder = tempfile::tempdir().unwrap();
    let mut set = no_inputs();
    let file = set.create(&folder.path().join("risk.csv")).unwrap();
    let error = file.write_whole(|_| Err(io::Error::other("no space left")));
    let message = error.unwrap_err().to_string();
    assert!(message.contains("risk.csv: no space left; "), "{message}");
}

#[test]
fn an_output_that_is_an_input_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let input = folder.path().join("cowl.obj");
    fs::write(&input, "v 0 0 0").unwrap();
    fs::create_dir(folder.path().join("sub")).unwrap();
    let mut set = OutputSet::new(&[&input]);
    for path in [input.clone(), folder.path().join("sub/../cowl.obj")] {
        assert!(matches!(
            refusal(&mut set, &path),
            WriteError::IsInput { .. }
        ));
    }
    assert_eq!(fs::read_to_string(&input).unwrap(), "v 0 0 0");
}

#[cfg(unix)]
#[test]
fn an_output_that_links_to_an_input_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let [input, hard, soft] = ["cowl.obj", "hard.obj", "soft.obj"].map(|n| folder.path().join(n));
    fs::write(&input, "v 0 0 0").unwrap();
    fs::hard_link(&input, &hard).unwrap();
    std::os::unix::fs::symlink(&input, &soft).unwrap();
    let mut set = OutputSet::new(&[&input]);
    assert!(matches!(
        refusal(&mut set, &hard),
        WriteError::IsInput { .. }
    ));
    assert!(matches!(
        refusal(&mut set, &soft),
        WriteError::IsInput { .. }
    ));
}

#[test]
fn an_output_that_is_a_folder_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    for path in [
        folder.path().to_owned(),
        folder.path().join("new/"),
        "..".into(),
    ] {
        let error = refusal(&mut no_inputs(), &path);
        assert!(matches!(error, WriteError::Folder { .. }), "{error}");
    }
    assert!(listing(folder.path()).is_empty());
}

#[test]
fn an_output_below_a_file_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("cowl.obj");
    fs::write(&file, "x").unwrap();
    let error = refusal(&mut no_inputs(), &file.join("risk.csv"));
    assert!(matches!(error, WriteError::FileForFolder { .. }), "{error}");
    let error = refusal(&mut no_inputs(), &file.join("deep/risk.csv"));
    assert!(matches!(error, WriteError::FileForFolder { .. }), "{error}");
    assert_eq!(listing(folder.path()), ["cowl.obj"]);
}

#[test]
fn the_same_output_twice_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let mut set = no_inputs();
    write(&mut set, &folder.path().join("a.csv"), "x");
    let error = refusal(&mut set, &folder.path().join("./a.csv"));
    assert!(matches!(error, WriteError::Twice { .. }), "{error}");
}

#[cfg(unix)]
#[test]
fn a_device_is_not_replaced() {
    let error = refusal(&mut no_inputs(), Path::new("/dev/null"));
    assert!(matches!(error, WriteError::NotRegular { .. }), "{error}");
}

#[test]
fn a_write_protected_result_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("risk.csv");
    fs::write(&path, "keep").unwrap();
    let mut permissions = fs::metadata(&path).unwrap().permissions();
    permissions.set_readonly(true);
    fs::set_permissions(&path, permissions).unwrap();
    let error = refusal(&mut no_inputs(), &path);
    assert!(matches!(error, WriteError::Protected { .. }), "{error}");
}

#[cfg(unix)]
#[test]
fn results_have_the_permissions_of_any_new_file() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().unwrap();
    let [ours, plain] = ["ours.csv", "plain.csv"].map(|name| folder.path().join(name));
    fs::write(&plain, "x").unwrap();
    let mut set = no_inputs();
    write(&mut set, &ours, "x");
    set.commit().unwrap();
    let mode = |path: &Path| fs::metadata(path).unwrap().permissions().mode();
    assert_eq!(mode(&ours), mode(&plain));
}

#[cfg(unix)]
#[test]
fn a_link_is_followed_not_replaced() {
    let folder = tempfile::tempdir().unwrap();
    let [real, link] = ["real.csv", "link.csv"].map(|name| folder.path().join(name));
    fs::write(&real, "old").unwrap();
    std::os::unix::fs::symlink(&real, &link).unwrap();
    let mut set = no_inputs();
    write(&mut set, &link, "new");
    set.commit().unwrap();
    assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
    assert_eq!(fs::read_to_string(&real).unwrap(), "new");
}

#[test]
fn a_bare_file_name_is_written_to_the_current_folder() {
    let name = format!("written-{}.tmp", std::process::id());
    let mut set = no_inputs();
    write(&mut set, Path::new(&name), "here");
    set.commit().unwrap();
    let text = fs::read_to_string(&name);
    fs::remove_file(&name).unwrap();
    assert_eq!(text.unwrap(), "here");
}
