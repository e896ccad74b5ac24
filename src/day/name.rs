//! The name of a survey of the day, which comes from where it lies, and the folder that its sheets go into.
//!
//! A name never depends on what else is measured beside it, so that the records of a year ago and today's speak of the
//! same survey.

use crate::write::manifest;
use sha2::{Digest, Sha256};
use std::path::{Component, Path};

/// The file names of the day's own sheets.
pub const SHEETS: [&str; 4] = ["day.csv", "day.geojson", "day.ndjson", "day.html"];

/// Longest name of a folder, bytes. File systems allow 255, and something may still be added to it.
const LONGEST: usize = 120;

/// How the names of all surveys under a folder or a file given in the call begin. It is the path as it was given, if that means the same
/// wherever the call is made from. Else (for `.`, `..` or a path from the root) it is the folder's own name; a file given from the root
/// keeps its whole path, as its own name says too little.
pub fn root(given: &Path) -> String {
    let plain = given
        .components()
        .all(|part| matches!(part, Component::Normal(_) | Component::CurDir));
    let written = joined(given);
    if plain && !written.is_empty() {
        return written;
    }
    if given.is_dir() {
        let whole = given.canonicalize().unwrap_or_else(|_| given.to_owned());
        return whole
            .file_name()
            .map_or_else(String::new, |own| own.to_string_lossy().into_owned());
    }
    written
}

/// A path's parts with `/` between them on any system; `.`, `..` and the root are left out.
#[must_use]
pub fn joined(path: &Path) -> String {
    let parts: Vec<_> = path
        .components()
        .filter_map(|part| match part {
            Component::Normal(part) => Some(part.to_string_lossy()),
            _ => None,
        })
        .collect();
    parts.join("/")
}

/// The name of what lies at the path `below` under a root; the root's own name where that path is empty.
#[must_use]
pub fn under(root: &str, below: &Path) -> String {
    match (root, joined(below)) {
        (root, below) if below.is_empty() => root.to_owned(),
        ("", below) => below,
        (root, below) => format!("{root}/{below}"),
    }
}

/// The name of the folder for a survey's sheets. Two surveys never share one: where letters had to be replaced, or the name cut
/// short, a part of the name's hash is added.
#[must_use]
pub fn folder(name: &str) -> String {
    let mut plain = String::new();
    let mut changed = name.contains("--") || name.is_empty();
    for (at, letter) in name.chars().enumerate() {
        match letter {
            '/' => plain.push_str("--"),
            '.' if at == 0 => {
                changed = true;
                plain.push('_');
            }
            letter if letter.is_alphanumeric() || matches!(letter, '-' | '_' | '.' | '+') => {
                plain.push(letter);
            }
            _ => {
                changed = true;
                plain.push('_');
            }
        }
    }
    if plain.len() > LONGEST {
        changed = true;
        let mut cut = LONGEST;
        while !plain.is_char_boundary(cut) {
            cut -= 1;
        }
        plain.truncate(cut);
    }
    // The day's own sheets and the list lie beside the folders, so no folder may have their names.
    let taken = SHEETS.contains(&plain.as_str()) || plain == manifest::NAME;
    if changed || taken || plain.ends_with('.') {
        let hash: String = Sha256::digest(name.as_bytes())
            .iter()
            .take(4)
            .map(|byte| format!("{byte:02x}"))
            .collect();
        plain.push('-');
        plain.push_str(&hash);
    }
    plain
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_paths_as_given() {
        assert_eq!(root(Path::new("monday/")), "monday");
        assert_eq!(root(Path::new("./a/b.nmea")), "a/b.nmea");
        assert_eq!(root(Path::new("/no/such/b.nmea")), "no/such/b.nmea");
        assert_eq!(under("monday", Path::new("J-1/front")), "monday/J-1/front");
        assert_eq!(under("monday", Path::new("")), "monday");
    }

    #[test]
    fn here_and_its_name_are_the_same() {
        let folder = tempfile::tempdir().unwrap();
        let own = folder.path().canonicalize().unwrap();
        let own = own.file_name().unwrap().to_str().unwrap();
        assert_eq!(root(folder.path()), own);
        assert_eq!(root(&folder.path().join(".")), own);
    }

    #[test]
    fn folders_are_plain_and_never_shared() {
        assert_eq!(folder("monday/J-0417"), "monday--J-0417");
        let names = [
            "monday/J-0417",
            "monday--J-0417",
            "monday/J 0417",
            "monday/J_0417",
            "monday/J:0417",
            ".monday",
            "_monday",
            "day.csv",
            "",
            "\u{e9}t\u{e9}",
            &"x/".repeat(200),
            &"x/".repeat(201),
        ];
        let mut folders: Vec<String> = names.iter().map(|name| folder(name)).collect();
        assert!(
            folders
                .iter()
                .all(|f| f.len() < 140 && !f.starts_with('.') && !f.contains('/'))
        );
        folders.sort();
        folders.dedup();
        assert_eq!(folders.len(), names.len());
    }
}
