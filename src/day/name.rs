//! What a survey of the day is called, and the folder its sheets go into.
//!
//! A name never depends on what else is measured beside it, so that the records of a year ago and today's speak of the
//! same survey.

use crate::write::manifest;
use sha2::{Digest, Sha256};
use std::path::{Component, Path};

/// The day's own sheets.
pub const SHEETS: [&str; 4] = ["day.csv", "day.geojson", "day.ndjson", "day.html"];

/// Longest name of a folder, bytes: file systems stop at 255, and endings are added.
const LONGEST: usize = 120;

/// How the names under a folder or a file named in the call begin: the path as it was given, where that says something
/// wherever the call is made from; else (`.`, `..`, from the root) the folder's own name. A file from the root keeps its
/// whole path, as its own name says too little.
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

/// A path's parts with `/` between them, whatever the machine writes there; `.`, `..` and the root left out.
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

/// The name of what lies at `below` under a root; the root's own where that is empty.
#[must_use]
pub fn under(root: &str, below: &Path) -> String {
    match (root, joined(below)) {
        (root, below) if below.is_empty() => root.to_owned(),
        ("", below) => below,
        (root, below) => format!("{root}/{below}"),
    }
}

/// The folder of a survey's sheets. Two surveys never share one: where letters had to be replaced, or the name cut
/// short, part of the name's hash is added.
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
    // The day's own sheets lie beside the folders.
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
