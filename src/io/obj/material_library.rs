//! Where a material library is found once the file that names it stands in another folder.

use std::path::{Component, Path, PathBuf};

/// The `mtllib` texts of a file, changed so that a file in the folder `to` finds the libraries that
/// `names` give for a file in the folder `from`.
///
/// A relative name is led over from one folder to the other by their paths as they are spelled
/// (symbolic links are not resolved). A text that names several libraries, parted by blanks, is led over name by name,
/// unless a library of the whole text's name exists. Absolute names, and names where no relative path leads from one
/// folder to the other, stay as they are.
pub fn relocated_libraries(names: &[Vec<u8>], from: &Path, to: &Path) -> Vec<Vec<u8>> {
    let Some(prefix) = way_between(to, from) else {
        return names.to_vec();
    };
    let relocate = |name: &Vec<u8>| {
        let whole = std::str::from_utf8(name).is_ok_and(|name| from.join(name).is_file());
        if whole || !name.contains(&b' ') {
            return relocated(name, &prefix);
        }
        let parts = name.split(|&b| b == b' ').filter(|part| !part.is_empty());
        let parts: Vec<_> = parts.map(|part| relocated(part, &prefix)).collect();
        parts.join(&b' ')
    };
    names.iter().map(relocate).collect()
}

fn relocated(name: &[u8], prefix: &str) -> Vec<u8> {
    let drive = name.get(1) == Some(&b':');
    let absolute = matches!(name.first(), Some(b'/' | b'\\')) || drive;
    if absolute || name.is_empty() {
        return name.to_vec();
    }
    [prefix.as_bytes(), name].concat()
}

/// The path from one folder to another, with `/` between and after its parts; empty if they are
/// the same. `None` if there is none, or if it can't be written as text.
fn way_between(start: &Path, end: &Path) -> Option<String> {
    let (start, end) = (plain_absolute(start)?, plain_absolute(end)?);
    let shared = start
        .components()
        .zip(end.components())
        .take_while(|(a, b)| a == b)
        .count();
    if shared == 0 {
        return None;
    }
    let mut way = "../".repeat(start.components().count() - shared);
    for part in end.components().skip(shared) {
        way.push_str(part.as_os_str().to_str()?);
        way.push('/');
    }
    Some(way)
}

/// The absolute path without `.` and `..`, taken as spelled.
fn plain_absolute(path: &Path) -> Option<PathBuf> {
    let path = if path.as_os_str().is_empty() {
        Path::new(".")
    } else {
        path
    };
    let mut plain = PathBuf::new();
    for part in std::path::absolute(path).ok()?.components() {
        match part {
            Component::CurDir => {}
            Component::ParentDir => {
                plain.pop();
            }
            part => plain.push(part),
        }
    }
    Some(plain)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn moved(name: &str, from: &str, to: &str) -> String {
        let names = [name.as_bytes().to_vec()];
        let moved = relocated_libraries(&names, Path::new(from), Path::new(to));
        String::from_utf8_lossy(&moved[0]).into_owned()
    }

    #[test]
    fn a_library_is_found_from_the_new_folder() {
        assert_eq!(moved("quay.mtl", "demo", "cleat_out"), "../demo/quay.mtl");
        assert_eq!(moved("quay.mtl", "", "out/cleat"), "../../quay.mtl");
        assert_eq!(moved("mats/quay.mtl", "demo/x", "demo"), "x/mats/quay.mtl");
    }

    #[test]
    fn a_library_beside_the_file_keeps_its_name() {
        assert_eq!(moved("quay.mtl", "demo", "demo/../demo/."), "quay.mtl");
        assert_eq!(moved("two words.mtl", "", "."), "two words.mtl");
    }

    #[test]
    fn every_library_of_a_line_is_led_over() {
        assert_eq!(moved("a.mtl b.mtl", "in", "out"), "../in/a.mtl ../in/b.mtl");
    }

    #[test]
    fn absolute_names_stay() {
        assert_eq!(moved("/mats/quay.mtl", "in", "out"), "/mats/quay.mtl");
        assert_eq!(moved("C:\\quay.mtl", "in", "out"), "C:\\quay.mtl");
    }
}
