//! The files that a run reads, none of which it may write over. A file is known by what the system identifies it with, not by its name, so
//! that another spelling of the name or a link to it makes no difference.

use std::collections::HashSet;
use std::fs::{File, Metadata};
use std::io;
use std::path::{Path, PathBuf};

/// The numbers of the device and of the file on it (inode): all paths and links to a file have the same.
#[cfg(unix)]
type Id = (u64, u64);
/// The whole path with its links followed.
#[cfg(not(unix))]
type Id = PathBuf;

/// The files that a run reads.
#[derive(Debug, Clone, Default)]
pub struct Inputs {
    ids: HashSet<Id>,
    /// Path of the first one, with its links followed: the log or job sheet that the survey is made from.
    first: Option<PathBuf>,
}

impl Inputs {
    /// Those of `paths` that exist. One that does not exist cannot be harmed.
    pub fn of<P: AsRef<Path>>(paths: impl IntoIterator<Item = P>) -> Inputs {
        let mut inputs = Inputs::default();
        for path in paths {
            let path = path.as_ref();
            let Some(id) = id(path) else { continue };
            if inputs.first.is_none() {
                inputs.first = path.canonicalize().ok();
            }
            inputs.ids.insert(id);
        }
        inputs
    }

    /// Whether this is one of them, whatever it is called here.
    #[must_use]
    pub fn holds(&self, path: &Path) -> bool {
        !self.ids.is_empty() && id(path).is_some_and(|id| self.ids.contains(&id))
    }

    /// Whether an open file is one of them; false where the system cannot say.
    #[cfg(unix)]
    pub fn holds_open(&self, file: &File) -> io::Result<bool> {
        let meta = file.metadata()?;
        Ok(meta.is_file() && self.ids.contains(&of_meta(&meta)))
    }

    #[cfg(not(unix))]
    pub fn holds_open(&self, _file: &File) -> io::Result<bool> {
        Ok(false)
    }

    pub(crate) fn first(&self) -> Option<&Path> {
        self.first.as_deref()
    }
}

/// What the system identifies a file or folder with; `None` where there is none.
#[cfg(unix)]
fn id(path: &Path) -> Option<Id> {
    std::fs::metadata(path).ok().as_ref().map(of_meta)
}

#[cfg(unix)]
fn of_meta(meta: &Metadata) -> Id {
    use std::os::unix::fs::MetadataExt;
    (meta.dev(), meta.ino())
}

#[cfg(not(unix))]
fn id(path: &Path) -> Option<Id> {
    path.canonicalize().ok()
}

/// Whether two paths are the same file or folder.
pub(crate) fn same(one: &Path, other: &Path) -> bool {
    id(one).is_some_and(|one| id(other) == Some(one))
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;
    use std::fs;

    #[test]
    fn an_input_is_known_under_every_name() {
        let temp = tempfile::tempdir().unwrap();
        let at = |name: &str| temp.path().join(name);
        fs::create_dir(at("sub")).unwrap();
        for name in ["log", "copy"] {
            fs::write(at(name), "$GPGGA").unwrap();
        }
        std::os::unix::fs::symlink(at("log"), at("link")).unwrap();
        fs::hard_link(at("log"), at("hard")).unwrap();
        let inputs = Inputs::of([at("sub/../log"), at("gone")]);
        for name in ["log", "link", "hard", "./sub/.././log"] {
            assert!(inputs.holds(&at(name)), "{name}");
        }
        for name in ["copy", "gone", "sub"] {
            assert!(!inputs.holds(&at(name)), "{name}");
        }
        assert!(inputs.holds_open(&File::open(at("hard")).unwrap()).unwrap());
        assert!(!inputs.holds_open(&File::open(at("copy")).unwrap()).unwrap());
    }
}
