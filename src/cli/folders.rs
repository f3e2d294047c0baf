//! Which folder each cage's results go to.

use std::collections::{HashMap, HashSet};
use std::ffi::{OsStr, OsString};
use std::path::{Path, PathBuf};

use super::cage::folder_of;

/// The folder for each cage's results. One cage gets `out` itself, several get a folder each under
/// `out`, and without it each gets one in the current folder: `CAGE_assessment` for `CAGE.obj`.
/// Cages whose names are alike (capitals aside: some disks don't tell them apart) get the name of
/// the folder they stand in before theirs, and if that doesn't part them a number after it.
pub fn result_folders(cages: &[PathBuf], out: Option<&Path>) -> Vec<PathBuf> {
    if let ([_], Some(out)) = (cages, out) {
        return vec![out.to_owned()];
    }
    let mut uses = HashMap::<OsString, usize>::new();
    for cage in cages {
        *uses.entry(stem(cage).to_ascii_lowercase()).or_default() += 1;
    }
    let mut taken = HashSet::new();
    let mut name = |cage: &PathBuf| {
        let own = stem(cage).to_owned();
        let alone = uses.get(&own.to_ascii_lowercase()) == Some(&1);
        let parent = folder_of(cage).file_name();
        let base = match parent {
            Some(parent) if !alone => joined(&[parent, OsStr::new("_"), &own]),
            _ => own,
        };
        let mut name = base.clone();
        let mut number = 2;
        while !taken.insert(name.to_ascii_lowercase()) {
            name = joined(&[&base, OsStr::new(&format!("-{number}"))]);
            number += 1;
        }
        let folder = joined(&[&name, OsStr::new("_assessment")]);
        out.unwrap_or(Path::new("")).join(folder)
    };
    cages.iter().map(&mut name).collect()
}

fn stem(cage: &Path) -> &OsStr {
    cage.file_stem().unwrap_or(OsStr::new("cage"))
}

fn joined(parts: &[&OsStr]) -> OsString {
    let mut whole = OsString::new();
    parts.iter().for_each(|part| whole.push(part));
    whole
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folders(cages: &[&str], out: Option<&str>) -> Vec<String> {
        let cages: Vec<PathBuf> = cages.iter().map(PathBuf::from).collect();
        let folders = result_folders(&cages, out.map(Path::new));
        let text = folders.iter().map(|f| f.to_string_lossy().into_owned());
        text.collect()
    }

    #[test]
    fn one_cage_gets_the_folder_asked_for() {
        assert_eq!(folders(&["demo/cowl.obj"], Some("out")), ["out"]);
        assert_eq!(folders(&["demo/cowl.obj"], None), ["cowl_assessment"]);
    }

    #[test]
    fn several_cages_get_a_folder_each() {
        assert_eq!(
            folders(&["a/bell.obj", "cleat.obj"], Some("out")),
            ["out/bell_assessment", "out/cleat_assessment"]
        );
        assert_eq!(
            folders(&["bell.obj", "cleat.obj"], None),
            ["bell_assessment", "cleat_assessment"]
        );
    }

    #[test]
    fn cages_of_one_name_get_folders_apart() {
        assert_eq!(
            folders(
                &["a/bell.obj", "b/Bell.obj", "bell.obj", "a/bell.obj"],
                None
            ),
            [
                "a_bell_assessment",
                "b_Bell_assessment",
                "bell_assessment",
                "a_bell-2_assessment"
            ]
        );
        assert_eq!(
            folders(&["x/y/bell.obj", "z/y/bell.obj", "y_bell.obj"], None),
            [
                "y_bell_assessment",
                "y_bell-2_assessment",
                "y_bell-3_assessment"
            ]
        );
    }
}
