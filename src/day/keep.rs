//! The folder of sheets: each survey's set appears whole under its name or not at all, whatever the moment this program
//! is killed.
//!
//! A set is written under a temporary name beside its place, then takes the place in one step. On Linux and macOS an
//! older set is exchanged with the new one in a single call; elsewhere, and on file systems that cannot, it is moved
//! aside first, and an interruption between the two steps is put right by the next run.

use super::name;
use super::one::Fingerprint;
use crate::fault::Fault;
use crate::sheet::Sheet;
use serde_json::{Value, json};
use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// How temporary names begin.
const BEING_WRITTEN: &str = ".boundwalk-";
/// How an older set moved aside is called; its own name follows.
const ASIDE: &str = ".boundwalk-aside-";
/// Held while a run writes here.
const LOCK: &str = ".boundwalk.lock";
/// What a set was made from, in its folder.
const KEPT: &str = ".kept.json";

/// The folder given with `--out`.
#[derive(Debug)]
pub struct Folder {
    root: PathBuf,
    /// Whatever else changes the sheets but not the result, such as the units.
    style: String,
    /// Released when this is dropped, or by the system when the program ends in any way.
    _lock: File,
}

/// An earlier result found in its place.
#[derive(Debug)]
pub struct Kept {
    /// `result.json` as it lies there.
    pub document: Vec<u8>,
    /// The `lawn` of `lawn.geojson`.
    pub geometry: Option<Value>,
    pub reason: Option<String>,
}

impl Folder {
    /// Makes the folder if it is not there, and clears away what an interrupted run left half written.
    ///
    /// # Errors
    /// A folder that cannot be made or written, or that another run is writing into.
    pub fn open(root: &Path, style: &str) -> Result<Folder, Fault> {
        fs::create_dir_all(root).map_err(|error| unwritable(root, &error))?;
        let path = root.join(LOCK);
        let lock = File::options()
            .create(true)
            .truncate(false)
            .write(true)
            .open(&path)
            .map_err(|error| unwritable(root, &error))?;
        if !take(&lock) {
            return Err(Fault::unreadable(
                "in-use",
                "another run of boundwalk is writing into this folder.",
                "Wait for it to end, or name another folder.",
            )
            .in_file(root.display().to_string()));
        }
        let folder = Folder {
            root: root.to_owned(),
            style: style.to_owned(),
            _lock: lock,
        };
        folder.tidy().map_err(|error| unwritable(root, &error))?;
        Ok(folder)
    }

    pub fn root(&self) -> &Path {
        &self.root
    }

    fn tidy(&self) -> io::Result<()> {
        for entry in fs::read_dir(&self.root)? {
            let entry = entry?;
            let own = entry.file_name();
            let Some(own) = own.to_str().filter(|own| own.starts_with(BEING_WRITTEN)) else {
                continue;
            };
            if let Some(place) = own.strip_prefix(ASIDE) {
                let place = self.root.join(place);
                if !place.exists() {
                    fs::rename(entry.path(), place)?;
                    continue;
                }
            }
            if entry.file_type()?.is_dir() {
                fs::remove_dir_all(entry.path())?;
            } else {
                fs::remove_file(entry.path())?;
            }
        }
        Ok(())
    }

    /// Whether there is a set of this survey, of whatever it was made.
    pub fn has(&self, survey: &str) -> bool {
        self.root.join(name::folder(survey)).is_dir()
    }

    /// Whether there is a set of this survey that was made from all of its inputs, whatever they were.
    pub fn has_result(&self, survey: &str) -> bool {
        self.root.join(name::folder(survey)).join(KEPT).is_file()
    }

    /// The set of this survey, where it was made from the same and is whole.
    pub fn unchanged(&self, survey: &str, fingerprint: &Fingerprint) -> Option<Kept> {
        let place = self.root.join(name::folder(survey));
        let kept: Value = serde_json::from_slice(&fs::read(place.join(KEPT)).ok()?).ok()?;
        if kept.get("fingerprint")?.as_str()? != fingerprint.0
            || kept.get("style")?.as_str()? != self.style
        {
            return None;
        }
        // A power cut may leave a file shorter than it was written.
        for (file, size) in kept.get("files")?.as_object()? {
            if fs::metadata(place.join(file)).ok()?.len() != size.as_u64()? {
                return None;
            }
        }
        let map: Option<Value> = fs::read(place.join("lawn.geojson"))
            .ok()
            .and_then(|bytes| serde_json::from_slice(&bytes).ok());
        Some(Kept {
            document: fs::read(place.join("result.json")).ok()?,
            geometry: map.and_then(lawn_of),
            reason: kept.get("reason")?.as_str().map(str::to_owned),
        })
    }

    /// Puts a survey's whole set in its place. `fingerprint` is `None` for one to be tried again next time.
    ///
    /// # Errors
    /// When it cannot be written: nothing of it is left then, and an older set stays as it was.
    pub fn put(
        &self,
        survey: &str,
        sheets: &[Sheet],
        fingerprint: Option<&Fingerprint>,
        reason: Option<&str>,
    ) -> Result<(), Fault> {
        let place = self.root.join(name::folder(survey));
        let written = || -> io::Result<()> {
            let mut builder = tempfile::Builder::new();
            builder.prefix(BEING_WRITTEN);
            #[cfg(unix)]
            {
                use std::os::unix::fs::PermissionsExt;
                // As any new folder: the umask takes off what the user does not grant.
                builder.permissions(fs::Permissions::from_mode(0o777));
            }
            let new = builder.tempdir_in(&self.root)?;
            let mut sizes = serde_json::Map::new();
            for sheet in sheets {
                fs::write(new.path().join(sheet.name), &sheet.bytes)?;
                sizes.insert(sheet.name.to_owned(), sheet.bytes.len().into());
            }
            if let Some(fingerprint) = fingerprint {
                let kept = json!({
                    "fingerprint": fingerprint.0,
                    "style": self.style,
                    "reason": reason,
                    "files": sizes,
                });
                fs::write(new.path().join(KEPT), kept.to_string())?;
            }
            self.swap_in(new, &place)
        };
        written().map_err(|error| unwritable(&place, &error))
    }

    fn swap_in(&self, new: tempfile::TempDir, place: &Path) -> io::Result<()> {
        if !place.exists() {
            fs::rename(new.path(), place)?;
            let _ = new.keep();
            return Ok(());
        }
        if exchange(new.path(), place) {
            // What `new` names now is the older set, which goes with it.
            return new.close();
        }
        let aside = self.root.join(format!(
            "{ASIDE}{}",
            place.file_name().unwrap_or_default().to_string_lossy()
        ));
        fs::rename(place, &aside)?;
        if let Err(error) = fs::rename(new.path(), place) {
            // Back to how it was; the first error is the one to tell.
            let _ = fs::rename(&aside, place);
            return Err(error);
        }
        let _ = new.keep();
        fs::remove_dir_all(aside)
    }

    /// A file of the day's, to be filled and then put in its place.
    ///
    /// # Errors
    /// When it cannot be made.
    pub fn begin(&self, name: &'static str) -> Result<Growing, Fault> {
        let mut builder = tempfile::Builder::new();
        builder.prefix(BEING_WRITTEN);
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            builder.permissions(fs::Permissions::from_mode(0o666));
        }
        let place = self.root.join(name);
        let file = builder
            .tempfile_in(&self.root)
            .map_err(|error| unwritable(&place, &error))?;
        Ok(Growing {
            file: io::BufWriter::with_capacity(64 * 1024, file),
            place,
        })
    }
}

/// A file that is written row by row and appears whole at the end.
#[derive(Debug)]
pub struct Growing {
    file: io::BufWriter<tempfile::NamedTempFile>,
    place: PathBuf,
}

impl Growing {
    /// # Errors
    /// When the disk takes no more.
    pub fn add(&mut self, bytes: &[u8]) -> Result<(), Fault> {
        self.file
            .write_all(bytes)
            .map_err(|error| unwritable(&self.place, &error))
    }

    /// Puts it in its place.
    ///
    /// # Errors
    /// When the disk takes no more; an older file stays as it was.
    pub fn finish(self) -> Result<(), Fault> {
        let Growing { file, place } = self;
        file.into_inner()
            .map_err(|error| error.into_error())
            .and_then(|file| file.persist(&place).map_err(|error| error.error))
            .map(drop)
            .map_err(|error| unwritable(&place, &error))
    }
}

/// The geometry of the net lawn in a survey's map.
fn lawn_of(map: Value) -> Option<Value> {
    let features = map.get("features")?.as_array()?;
    features
        .iter()
        .find(|feature| {
            feature.pointer("/properties/role").and_then(Value::as_str) == Some("lawn")
        })?
        .get("geometry")
        .cloned()
}

fn unwritable(path: &Path, error: &io::Error) -> Fault {
    let (what, advice) = match error.kind() {
        io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded | io::ErrorKind::FileTooLarge => {
            (
                format!("there is no room left to write it ({error})."),
                "What was finished before is kept: make room and run again, and it goes on from there.",
            )
        }
        io::ErrorKind::PermissionDenied | io::ErrorKind::ReadOnlyFilesystem => (
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

#[cfg(unix)]
fn take(lock: &File) -> bool {
    use rustix::fs::{FlockOperation, flock};
    // A file system without locks is taken to have one user.
    !matches!(
        flock(lock, FlockOperation::NonBlockingLockExclusive),
        Err(rustix::io::Errno::WOULDBLOCK)
    )
}

#[cfg(not(unix))]
fn take(_lock: &File) -> bool {
    true
}

/// Lets two folders change names in one step; false where the system or the disk cannot.
#[cfg(any(target_os = "linux", target_os = "macos"))]
fn exchange(one: &Path, other: &Path) -> bool {
    use rustix::fs::{CWD, RenameFlags, renameat_with};
    renameat_with(CWD, one, CWD, other, RenameFlags::EXCHANGE).is_ok()
}

#[cfg(not(any(target_os = "linux", target_os = "macos")))]
fn exchange(_one: &Path, _other: &Path) -> bool {
    false
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sheets(text: &str) -> Vec<Sheet> {
        let sheet = |name, text: &str| Sheet {
            name,
            bytes: text.as_bytes().to_vec(),
        };
        vec![sheet("result.json", text), sheet("report.txt", "a report")]
    }

    #[test]
    fn a_set_is_known_again_only_whole_and_from_the_same() {
        let temp = tempfile::tempdir().unwrap();
        let folder = Folder::open(temp.path(), "Metric").unwrap();
        let print = Fingerprint("abc".into());
        folder
            .put("a/b", &sheets("{}"), Some(&print), Some("why"))
            .unwrap();
        let kept = folder.unchanged("a/b", &print).unwrap();
        assert_eq!(
            (kept.document.as_slice(), kept.reason.as_deref()),
            (&b"{}"[..], Some("why"))
        );
        assert!(
            folder
                .unchanged("a/b", &Fingerprint("abd".into()))
                .is_none()
        );
        assert!(folder.unchanged("a/c", &print).is_none());
        // Replaced whole: nothing of the older set stays.
        folder
            .put("a/b", &sheets("{\"n\": 2}")[..1], Some(&print), None)
            .unwrap();
        assert_eq!(
            folder.unchanged("a/b", &print).unwrap().document,
            b"{\"n\": 2}"
        );
        assert!(!temp.path().join("a--b/report.txt").exists());
        // Cut short by a power cut.
        fs::write(temp.path().join("a--b/result.json"), "").unwrap();
        assert!(folder.unchanged("a/b", &print).is_none());
        // One without a fingerprint is never taken as done.
        folder.put("a/b", &sheets("{}"), None, None).unwrap();
        assert!(folder.unchanged("a/b", &print).is_none());
        drop(folder);
        let other_units = Folder::open(temp.path(), "Imperial").unwrap();
        other_units
            .put("a/b", &sheets("{}"), Some(&print), None)
            .unwrap();
        assert!(other_units.unchanged("a/b", &print).is_some());
    }

    #[test]
    fn what_a_killed_run_left_is_cleared_or_put_back() {
        let temp = tempfile::tempdir().unwrap();
        let at = |name: &str| temp.path().join(name);
        fs::create_dir_all(at(".boundwalk-x1y2/deep")).unwrap();
        fs::write(at(".boundwalk-half.csv"), "survey").unwrap();
        // Killed between moving the old set aside and the new one into its place.
        fs::create_dir_all(at(".boundwalk-aside-monday--J1")).unwrap();
        fs::write(at(".boundwalk-aside-monday--J1/report.txt"), "old").unwrap();
        // Killed after both.
        fs::create_dir_all(at(".boundwalk-aside-monday--J2")).unwrap();
        fs::create_dir_all(at("monday--J2")).unwrap();
        let _folder = Folder::open(temp.path(), "Metric").unwrap();
        let mut left: Vec<String> = fs::read_dir(temp.path())
            .unwrap()
            .map(|e| e.unwrap().file_name().to_string_lossy().into_owned())
            .collect();
        left.sort();
        assert_eq!(left, [".boundwalk.lock", "monday--J1", "monday--J2"]);
        assert_eq!(
            fs::read_to_string(at("monday--J1/report.txt")).unwrap(),
            "old"
        );
    }

    #[cfg(unix)]
    #[test]
    fn two_runs_never_write_into_one_folder() {
        let temp = tempfile::tempdir().unwrap();
        let first = Folder::open(temp.path(), "Metric").unwrap();
        let refused = Folder::open(temp.path(), "Metric").err().unwrap();
        assert_eq!(refused.code(), "in-use");
        // The call is right: the results could not be written.
        assert_eq!(refused.kind(), crate::fault::Kind::Unreadable);
        drop(first);
        assert!(Folder::open(temp.path(), "Metric").is_ok());
    }

    #[test]
    fn a_file_of_the_day_appears_whole() {
        let temp = tempfile::tempdir().unwrap();
        let folder = Folder::open(temp.path(), "Metric").unwrap();
        let mut growing = folder.begin("day.csv").unwrap();
        growing.add(b"survey\r\n").unwrap();
        assert!(!temp.path().join("day.csv").exists());
        growing.finish().unwrap();
        assert_eq!(
            fs::read(temp.path().join("day.csv")).unwrap(),
            b"survey\r\n"
        );
    }
}
