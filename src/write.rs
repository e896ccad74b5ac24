//! Everything this program writes goes through here: a file or a set of files appears whole or not at all, and nothing that
//! this program did not write is ever replaced, moved or deleted.
//!
//! A folder that is written has a [`manifest`] with the size and hash of each file put there. A file is replaced only if
//! the manifest names it as it lies there now, and never if this run reads it ([`inputs`]). A [`place`] is chosen, and
//! refused where need be, before anything is measured; a [`stage`] is where files are written before they take their place.

pub mod files;
pub mod inputs;
pub mod manifest;
pub mod place;
pub mod stage;

use crate::fault::Fault;
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};

/// Files that file browsers leave in any folder that they show. They are nobody's work, so a folder that holds nothing else counts as
/// empty. Where a folder is replaced, they are copied into the new one.
const LITTER: [&str; 3] = [".DS_Store", "Thumbs.db", "desktop.ini"];

/// Why something is not written.
#[derive(Debug)]
pub enum Refused {
    /// A file in the way is not to be replaced.
    InTheWay(InTheWay),
    /// The disk or the operating system refuses.
    System(io::Error),
}

/// A file or folder in the way, and why it stays.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct InTheWay {
    pub path: PathBuf,
    pub why: Why,
}

/// Why a file stays: this program did not write it, it was changed since, or this run reads it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Why {
    NotOurs,
    Changed,
    Input,
}

impl From<io::Error> for Refused {
    fn from(error: io::Error) -> Refused {
        Refused::System(error)
    }
}

impl From<InTheWay> for Refused {
    fn from(there: InTheWay) -> Refused {
        Refused::InTheWay(there)
    }
}

impl Refused {
    /// The refusal as a fault. `instead` is a command that would work, and is part of the advice.
    pub(crate) fn told(&self, place: &Path, instead: &str) -> Fault {
        match self {
            Refused::InTheWay(there) => there.told(instead),
            Refused::System(error) => unwritable(place, error),
        }
    }
}

impl InTheWay {
    /// The refusal as a fault; `instead` is a command that would work.
    #[must_use]
    pub fn told(&self, instead: &str) -> Fault {
        let (code, what, first) = match self.why {
            Why::NotOurs => (
                "not-ours",
                "boundwalk did not write this, so it is neither replaced nor moved.",
                "Move it elsewhere",
            ),
            Why::Changed => (
                "not-ours",
                "this has been changed since boundwalk wrote it, so it is not replaced.",
                "Move it elsewhere to keep it",
            ),
            Why::Input => (
                "is-an-input",
                "this file is read by this run, so it is not replaced.",
                "Move it elsewhere",
            ),
        };
        Fault::usage(code, what, format!("{first}, or type: {instead}"))
            .in_file(self.path.display().to_string())
    }
}

/// The fault of a file or folder that the operating system does not let us write.
#[must_use]
pub fn unwritable(path: &Path, error: &io::Error) -> Fault {
    let (what, advice) = match error.kind() {
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded | ErrorKind::FileTooLarge => (
            format!("there is no room left to write it ({error})."),
            "What was finished before is kept: make room and run again, and it goes on from there.",
        ),
        ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem => (
            format!("it may not be written ({error})."),
            "Choose a folder you may write in.",
        ),
        _ => (
            format!("it cannot be written ({error})."),
            "Check the folder and its disk, then run again: it goes on from there.",
        ),
    };
    Fault::unreadable("unwritable", what, advice).in_file(path.display().to_string())
}

/// The folder a path lies in.
fn parent(path: &Path) -> &Path {
    match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    }
}

/// The names in a folder, sorted.
fn names(folder: &Path) -> io::Result<Vec<std::ffi::OsString>> {
    let mut names = std::fs::read_dir(folder)?
        .map(|entry| entry.map(|entry| entry.file_name()))
        .collect::<io::Result<Vec<_>>>()?;
    names.sort();
    Ok(names)
}

/// Whether this is one of the files that file browsers leave ([`LITTER`]).
fn is_litter(folder: &Path, name: &std::ffi::OsStr) -> bool {
    LITTER.iter().any(|litter| name == *litter)
        && std::fs::symlink_metadata(folder.join(name)).is_ok_and(|meta| meta.is_file())
}
