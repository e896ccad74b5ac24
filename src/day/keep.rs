//! The folder that a day's sheets go into. Each survey has a folder of its own in it with its set of sheets, which appears whole or not
//! at all, at whatever moment the program is killed. A list in each folder (the manifest) says what was written there; a folder
//! that has anything else in it is never replaced.

use super::name::{self, SHEETS};
use super::one::Fingerprint;
use crate::fault::Fault;
use crate::sheet::Sheet;
use crate::write::files::{first_in_the_way, publish};
use crate::write::inputs::Inputs;
use crate::write::manifest::{self, Holds, Look, Manifest, Stamp, hex};
use crate::write::place::{Chosen, Place, Set};
use crate::write::stage::Stage;
use crate::write::{InTheWay, Refused, Why, unwritable};
use rayon::prelude::*;
use serde_json::Value;
use sha2::{Digest, Sha256};
use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// The folder given with `--out`, held by this run so that no other writes into it.
#[derive(Debug)]
pub struct Folder {
    place: Place,
    /// A text for whatever changes the sheets but not the result, such as the units.
    style: String,
    inputs: Inputs,
}

/// An earlier result that was found in the folder.
#[derive(Debug)]
pub struct Kept {
    /// `result.json` as it lies there.
    pub document: Vec<u8>,
    /// The geometry of the net lawn, from `lawn.geojson`.
    pub geometry: Option<Value>,
    /// Why there is no area.
    pub reason: Option<String>,
}

/// Checks that all sheets of these surveys may be written; nothing is changed. `instead` is the call to suggest where they may not.
///
/// # Errors
/// Where something that this program did not write, or that the run reads, is in the way.
pub fn spared(root: &Path, surveys: &[&str], inputs: &Inputs, instead: &str) -> Result<(), Fault> {
    let first = || -> io::Result<Option<InTheWay>> {
        let own = Manifest::read(root).unwrap_or_else(|| Manifest::new(Holds::Day));
        let of_the_day = first_in_the_way(&own, root, SHEETS, inputs)?;
        if of_the_day.is_some() {
            return Ok(of_the_day);
        }
        surveys
            .par_iter()
            .map(|survey| in_a_set(&root.join(name::folder(survey)), inputs))
            .find_map_first(Result::transpose)
            .transpose()
    };
    match first() {
        Ok(None) => Ok(()),
        Ok(Some(there)) => Err(there.told(instead)),
        Err(error) => Err(unwritable(root, &error)),
    }
}

/// What keeps the folder of a set from being replaced; `None` where nothing does.
fn in_a_set(place: &Path, inputs: &Inputs) -> io::Result<Option<InTheWay>> {
    match fs::symlink_metadata(place) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
        Err(error) => return Err(error),
        Ok(meta) if !meta.is_dir() => {
            return Ok(Some(InTheWay {
                path: place.to_owned(),
                why: Why::NotOurs,
            }));
        }
        Ok(_) => {}
    }
    // Without a list, whatever is there was not written by this program.
    let list = Manifest::read(place).filter(|list| list.holds == Holds::Set);
    list.unwrap_or_else(|| Manifest::new(Holds::Set))
        .in_the_way(place, inputs, Look::Quick)
}

impl Folder {
    /// Takes the folder that was chosen: makes it if it is not there, and clears away what an interrupted run left half
    /// written.
    ///
    /// # Errors
    /// A folder that cannot be made or written, or that another run is writing into.
    pub fn open(chosen: Chosen, style: &str) -> Result<Folder, Fault> {
        let place = chosen.claim()?;
        let root = place.path();
        if Manifest::read(root).is_none() {
            // From here on the folder has a list, so that after a kill the next run knows that this program may write here.
            let none = SHEETS.iter().fold(Manifest::new(Holds::Day), |list, name| {
                list.with(name, Vec::new())
            });
            Stage::new(root, &Manifest::new(Holds::Files))
                .and_then(|stage| stage.put_manifest(root, &none))
                .map_err(|error| unwritable(root, &error))?;
        }
        Ok(Folder {
            place,
            style: style.to_owned(),
            inputs: Inputs::default(),
        })
    }

    /// Takes note of the files that will be read, which are never replaced, and checks that all sheets of these surveys may be written.
    ///
    /// # Errors
    /// As [`spared`].
    pub fn reads(&mut self, inputs: Inputs, surveys: &[&str]) -> Result<(), Fault> {
        spared(self.root(), surveys, &inputs, self.place.instead())?;
        self.inputs = inputs;
        Ok(())
    }

    /// The folder itself.
    #[must_use]
    pub fn root(&self) -> &Path {
        self.place.path()
    }

    /// The folder's path as the user gave it.
    #[must_use]
    pub fn shown(&self) -> &Path {
        self.place.shown()
    }

    /// Things that look like the rests of earlier runs but are not known to be; they were left as they are.
    #[must_use]
    pub fn left(&self) -> &[PathBuf] {
        self.place.left()
    }

    /// Whether there is a folder for this survey's set, whatever is in it.
    #[must_use]
    pub fn has(&self, survey: &str) -> bool {
        self.root().join(name::folder(survey)).is_dir()
    }

    /// Whether there is a set of this survey for which all inputs could be read at the time.
    #[must_use]
    pub fn has_result(&self, survey: &str) -> bool {
        Manifest::read(&self.root().join(name::folder(survey)))
            .is_some_and(|list| list.kept.is_some())
    }

    /// The earlier result of this survey, if its set was made from the same inputs and settings and in the same style, and is whole; else
    /// `None`.
    pub fn unchanged(&self, survey: &str, fingerprint: &Fingerprint) -> Option<Kept> {
        let place = self.root().join(name::folder(survey));
        let list = Manifest::read(&place)?;
        let kept = list.kept?;
        if kept.fingerprint != fingerprint.0 || kept.style != self.style {
            return None;
        }
        // A power cut may leave a file shorter than it was written.
        for (file, stamps) in &list.files {
            let bytes = fs::metadata(place.join(file)).ok()?.len();
            if !stamps.iter().any(|stamp| stamp.bytes == bytes) {
                return None;
            }
        }
        let map: Option<Value> = fs::read(place.join("lawn.geojson"))
            .ok()
            .and_then(|bytes| serde_json::from_slice(&bytes).ok());
        Some(Kept {
            document: fs::read(place.join("result.json")).ok()?,
            geometry: map.and_then(lawn_of),
            reason: kept.reason,
        })
    }

    /// Puts a survey's whole set in its place. Without a `fingerprint` the survey is measured again next time, whatever happens.
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
        let files: Vec<(&str, &[u8])> = sheets
            .iter()
            .map(|sheet| (sheet.name, sheet.bytes.as_slice()))
            .collect();
        let kept = fingerprint.map(|fingerprint| manifest::Kept {
            fingerprint: fingerprint.0.clone(),
            style: self.style.clone(),
            reason: reason.map(str::to_owned),
        });
        let set = Set {
            survey,
            files: &files,
            kept: kept.as_ref(),
        };
        let place = self.root().join(name::folder(survey));
        set.put(&place, None, &self.inputs)
            .map_err(|refused| refused.told(&place, self.place.instead()))
    }

    /// A temporary folder in which the day's own sheets grow until they are whole.
    ///
    /// # Errors
    /// When it cannot be made.
    pub fn begin(&self) -> Result<Stage, Fault> {
        let list = SHEETS
            .iter()
            .fold(Manifest::new(Holds::Files), |list, name| {
                list.with(name, Vec::new())
            });
        Stage::new(self.root(), &list).map_err(|error| unwritable(self.root(), &error))
    }

    /// Puts the day's own sheets in their places.
    ///
    /// # Errors
    /// Where an older one was changed meanwhile, or the disk takes no more; the older ones stay as they were.
    pub fn finish(&self, stage: &Stage, grown: Vec<Growing>) -> Result<(), Fault> {
        let root = self.root();
        let mut list = Manifest::new(Holds::Day);
        for growing in grown {
            let name = growing.name;
            list = list.with(name, vec![growing.finish()?]);
        }
        let put = || -> Result<(), Refused> {
            let older = Manifest::read(root).unwrap_or_else(|| Manifest::new(Holds::Day));
            if let Some(there) = first_in_the_way(&older, root, SHEETS, &self.inputs)? {
                return Err(there.into());
            }
            publish(stage, root, &older, &list)
        };
        put().map_err(|refused| refused.told(root, self.place.instead()))
    }
}

/// A file that is written row by row and appears whole at the end.
#[derive(Debug)]
pub struct Growing {
    name: &'static str,
    file: io::BufWriter<File>,
    hash: Sha256,
    bytes: u64,
    path: PathBuf,
}

impl Growing {
    /// Begins a file with this name.
    ///
    /// # Errors
    /// When it cannot be made.
    pub fn new(stage: &Stage, name: &'static str) -> Result<Growing, Fault> {
        let path = stage.path().join(name);
        let file = stage
            .begin(name)
            .map_err(|error| unwritable(&path, &error))?;
        Ok(Growing {
            name,
            file: io::BufWriter::with_capacity(64 * 1024, file),
            hash: Sha256::new(),
            bytes: 0,
            path,
        })
    }

    /// Adds these bytes at its end.
    ///
    /// # Errors
    /// When the disk takes no more.
    pub fn add(&mut self, bytes: &[u8]) -> Result<(), Fault> {
        self.hash.update(bytes);
        self.bytes += bytes.len() as u64;
        self.file
            .write_all(bytes)
            .map_err(|error| unwritable(&self.path, &error))
    }

    /// Writes out what is left; gives the file's size and hash for the folder's list.
    fn finish(mut self) -> Result<Stamp, Fault> {
        self.file
            .flush()
            .map_err(|error| unwritable(&self.path, &error))?;
        Ok(Stamp {
            bytes: self.bytes,
            sha256: hex(&self.hash.finalize()),
        })
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::write::place::{Wanted, choose};

    fn sheets(text: &str) -> Vec<Sheet> {
        let sheet = |name, text: &str| Sheet {
            name,
            bytes: text.as_bytes().to_vec(),
        };
        vec![sheet("result.json", text), sheet("report.txt", "a report")]
    }

    fn open(root: &Path, style: &str) -> Result<Folder, Fault> {
        let wanted = Wanted {
            out: root,
            holds: Holds::Day,
            own: "a-day",
            inputs: &Inputs::default(),
            call: &|out| format!("boundwalk day x --out {}", out.display()),
        };
        Folder::open(choose(wanted)?, style)
    }

    fn names(folder: &Path) -> Vec<String> {
        let mut names: Vec<String> = fs::read_dir(folder)
            .unwrap()
            .map(|e| e.unwrap().file_name().to_string_lossy().into_owned())
            .collect();
        names.sort();
        names
    }

    #[test]
    fn a_set_is_known_again_only_whole_and_from_the_same() {
        let temp = tempfile::tempdir().unwrap();
        let folder = open(temp.path(), "Metric").unwrap();
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
        let cut = temp.path().join("a--b/result.json");
        fs::write(&cut, "").unwrap();
        assert!(folder.unchanged("a/b", &print).is_none());
        fs::remove_file(cut).unwrap();
        // One without a fingerprint is never taken as done.
        folder.put("a/b", &sheets("{}"), None, None).unwrap();
        assert!(folder.unchanged("a/b", &print).is_none());
        drop(folder);
        let other_units = open(temp.path(), "Imperial").unwrap();
        other_units
            .put("a/b", &sheets("{}"), Some(&print), None)
            .unwrap();
        assert!(other_units.unchanged("a/b", &print).is_some());
    }

    #[test]
    fn what_is_not_ours_stays_and_is_told_of() {
        let temp = tempfile::tempdir().unwrap();
        let folder = open(temp.path(), "Metric").unwrap();
        folder.put("a", &sheets("{}"), None, None).unwrap();
        let set = temp.path().join("a");
        fs::write(set.join("photo.jpg"), "jpg").unwrap();
        let told = |fault: Fault| {
            assert_eq!(fault.kind(), crate::fault::Kind::Usage);
            fault.to_string()
        };
        let before = spared(temp.path(), &["b", "a"], &Inputs::default(), "CALL").unwrap_err();
        let text = told(before);
        assert!(
            text.contains("photo.jpg") && text.contains("CALL"),
            "{text}"
        );
        // Come at the last moment.
        let text = told(folder.put("a", &sheets("{1}"), None, None).unwrap_err());
        assert!(
            text.contains("photo.jpg") && text.contains("boundwalk day x --out"),
            "{text}"
        );
        assert_eq!(fs::read_to_string(set.join("result.json")).unwrap(), "{}");
        fs::remove_file(set.join("photo.jpg")).unwrap();
        // Changed by hand, to the same size.
        fs::write(set.join("result.json"), "[]").unwrap();
        let text = told(folder.put("a", &sheets("{1}"), None, None).unwrap_err());
        assert!(text.contains("has been changed since"), "{text}");
        assert_eq!(fs::read_to_string(set.join("result.json")).unwrap(), "[]");
        // A log lies where a set would go.
        fs::write(temp.path().join("b"), "$GPGGA").unwrap();
        assert!(folder.put("b", &sheets("{}"), None, None).is_err());
        assert_eq!(fs::read_to_string(temp.path().join("b")).unwrap(), "$GPGGA");
        drop(folder);
        assert_eq!(names(temp.path()), ["a", "b", manifest::NAME]);
    }

    #[cfg(unix)]
    #[test]
    fn two_runs_never_write_into_one_folder() {
        let temp = tempfile::tempdir().unwrap();
        let first = open(temp.path(), "Metric").unwrap();
        let refused = open(temp.path(), "Metric").err().unwrap();
        assert_eq!(refused.code(), "in-use");
        // The call is right: the results could not be written.
        assert_eq!(refused.kind(), crate::fault::Kind::Unreadable);
        drop(first);
        assert!(open(temp.path(), "Metric").is_ok());
    }

    #[test]
    fn the_days_own_sheets_appear_whole_and_only_over_their_own() {
        let temp = tempfile::tempdir().unwrap();
        let folder = open(temp.path(), "Metric").unwrap();
        let table = temp.path().join("day.csv");
        let write = |text: &str| {
            let stage = folder.begin().unwrap();
            let mut growing = Growing::new(&stage, "day.csv").unwrap();
            growing.add(text.as_bytes()).unwrap();
            folder.finish(&stage, vec![growing])
        };
        let stage = folder.begin().unwrap();
        Growing::new(&stage, "day.csv").unwrap().add(b"x").unwrap();
        drop(stage);
        assert_eq!(names(temp.path()), [manifest::NAME]);
        write("survey\r\n").unwrap();
        write("survey,status\r\n").unwrap();
        assert_eq!(fs::read(&table).unwrap(), b"survey,status\r\n");
        // A column was added to the table by hand.
        fs::write(&table, "survey,mine\r\n").unwrap();
        let fault = write("survey\r\n").unwrap_err();
        assert!(fault.to_string().contains("day.csv"), "{fault}");
        assert_eq!(fs::read(&table).unwrap(), b"survey,mine\r\n");
    }
}
