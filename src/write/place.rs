//! The folder results go into, chosen before anything is measured.
//!
//! A folder that is new, empty, or of ours is taken as it was asked for. One that holds anything else, such as the logs
//! when somebody types `--out .`, stays as it is: the results go into a folder of their own inside it, with a name that is
//! the same the next time.

use super::files::first_in_the_way;
use super::inputs::{self, Inputs};
use super::manifest::{Holds, Kept, Look, Manifest, NAME, Stamp, hex};
use super::stage::{Lock, Stage, clear_leftovers};
use super::{InTheWay, Refused, Why, is_litter, names, parent, unwritable};
use crate::fault::Fault;
use sha2::{Digest, Sha256};
use std::fs;
use std::io;
use std::path::{Component, Path, PathBuf};

/// Where results are asked to go, and what is needed to judge whether they may.
#[derive(Clone, Copy)]
pub struct Wanted<'a> {
    /// The folder named in the call.
    pub out: &'a Path,
    pub holds: Holds,
    /// Name of the folder inside `out` that the results get where `out` itself cannot be used.
    pub own: &'a str,
    pub inputs: &'a Inputs,
    /// The call as it would be typed with another folder.
    pub call: &'a dyn Fn(&Path) -> String,
}

/// A folder that may be written. Nothing has been done to it yet.
#[derive(Debug)]
pub struct Chosen {
    path: PathBuf,
    holds: Holds,
    /// Why it is not the folder that was asked for.
    note: Option<String>,
    made_from: Option<String>,
    /// A call that would do where something comes in the way after all.
    instead: String,
}

/// A folder that this run holds, so that no other run writes into it.
#[derive(Debug)]
pub struct Place {
    path: PathBuf,
    /// As the user named it.
    shown: PathBuf,
    made_from: Option<String>,
    instead: String,
    /// What was left here that looks like an earlier run's, but may not be ours.
    left: Vec<PathBuf>,
    /// Folders that were made on the way to it, outermost first. Those that stay empty are removed again.
    made: Vec<PathBuf>,
    _lock: Lock,
}

/// What is in a folder that was asked for.
enum There {
    Nothing,
    Ours(Box<Manifest>),
    /// Something else, of which this is an example.
    Others(PathBuf),
}

/// Chooses the folder, or says why not.
///
/// # Errors
/// Where what is there may not be replaced.
pub fn choose(wanted: Wanted<'_>) -> Result<Chosen, Fault> {
    let out = wanted.out;
    match look(out, &wanted)? {
        There::Ours(list) if list.holds == wanted.holds => {
            if wanted.holds == Holds::Set && is_here(out) {
                return Err(Fault::usage(
                    "in-use",
                    "this is the folder you are in, and its sheets are replaced as a whole.",
                    format!(
                        "Go up one (cd ..) and name it from there, or type: {}",
                        (wanted.call)(&free(out))
                    ),
                )
                .in_file(out.display().to_string()));
            }
            spared(out, &list, &wanted)?;
            Ok(chosen(out, &wanted, None))
        }
        There::Nothing if wanted.holds == Holds::Set && is_here(out) => {
            inside(&wanted, "it is the folder you are in".into())
        }
        There::Nothing if wanted.holds == Holds::Set && !may_be_replaced(out) => inside(
            &wanted,
            "the folder above it cannot be written, or is on another disk".into(),
        ),
        There::Nothing => Ok(chosen(out, &wanted, None)),
        There::Ours(_) => inside(&wanted, "it holds other sheets".into()),
        There::Others(first) if Manifest::of_sheets(&first).is_some() => {
            inside(&wanted, "it holds other sheets".into())
        }
        There::Others(first) => {
            let first = first.file_name().unwrap_or_default().to_string_lossy();
            inside(
                &wanted,
                format!("it holds files that boundwalk did not write, such as {first}"),
            )
        }
    }
}

/// Chooses a folder of its own inside the one that was asked for; `why` says why that one was not taken.
fn inside(wanted: &Wanted<'_>, why: String) -> Result<Chosen, Fault> {
    // The `./` of a path in the present folder is left out, as it tells the reader nothing.
    let place = match wanted.out == Path::new(".") {
        true => PathBuf::from(wanted.own),
        false => wanted.out.join(wanted.own),
    };
    let instead = || (wanted.call)(&free(&place));
    let there = look(&place, wanted)?;
    let made_from = made_from(wanted.out, wanted.inputs);
    match there {
        There::Nothing => {}
        There::Ours(list) if list.holds == wanted.holds => {
            if wanted.holds == Holds::Set && list.made_from != made_from {
                return Err(Fault::usage(
                    "not-ours",
                    "this folder has the sheets of another survey of the same name.",
                    format!("They stay; type: {}", instead()),
                )
                .in_file(place.display().to_string()));
            }
            spared(&place, &list, wanted)?;
        }
        There::Ours(_) => {
            return Err(Fault::usage(
                "not-ours",
                "this folder has sheets of another kind.",
                format!("They stay; type: {}", instead()),
            )
            .in_file(place.display().to_string()));
        }
        There::Others(path) => {
            return Err(InTheWay {
                path,
                why: Why::NotOurs,
            }
            .told(&instead()));
        }
    }
    let note = format!(
        "{} stays as it is ({why}): the sheets go into {}",
        wanted.out.display(),
        place.display()
    );
    Ok(chosen(&place, wanted, Some(note)))
}

fn chosen(place: &Path, wanted: &Wanted<'_>, note: Option<String>) -> Chosen {
    Chosen {
        path: place.to_owned(),
        holds: wanted.holds,
        note,
        made_from: made_from(parent(place), wanted.inputs),
        instead: (wanted.call)(&free(place)),
    }
}

/// What is in a folder, which need not exist yet; an error where it can be no folder for sheets.
fn look(folder: &Path, wanted: &Wanted<'_>) -> Result<There, Fault> {
    let meta = match fs::metadata(folder) {
        Ok(meta) => meta,
        Err(error) if error.kind() == io::ErrorKind::NotFound => {
            return match fs::symlink_metadata(folder) {
                Ok(_) => Err(no_folder(folder, "this is a link to nothing.", wanted)),
                // The path goes up (`..`) from a folder that is not there, so nobody knows where it leads.
                Err(_) if leads_up_from_nowhere(folder) => {
                    let what = "a folder on the way there does not exist.";
                    Err(no_folder(folder, what, wanted))
                }
                Err(_) => Ok(There::Nothing),
            };
        }
        Err(error) => return Err(unwritable(folder, &error)),
    };
    if !meta.is_dir() {
        let what = "this is a file, and sheets go into a folder.";
        return Err(no_folder(folder, what, wanted));
    }
    if let Some(list) = Manifest::read(folder) {
        return Ok(There::Ours(Box::new(list)));
    }
    let names = names(folder).map_err(|error| unwritable(folder, &error))?;
    let mut paths = names
        .iter()
        .filter(|name| !is_litter(folder, name))
        .map(|name| folder.join(name));
    // Other sheets of ours are named only where there is nothing else.
    let first = paths.clone().next();
    let others = paths.find(|path| Manifest::of_sheets(path).is_none());
    Ok(others.or(first).map_or(There::Nothing, There::Others))
}

/// Whether the part of a path that does not exist yet goes up again (`..`).
fn leads_up_from_nowhere(path: &Path) -> bool {
    let there = path
        .ancestors()
        .find(|above| above.as_os_str().is_empty() || above.exists());
    let rest = there.and_then(|there| path.strip_prefix(there).ok());
    rest.is_some_and(|rest| rest.components().any(|part| part == Component::ParentDir))
}

fn no_folder(path: &Path, what: &str, wanted: &Wanted<'_>) -> Fault {
    let beside = PathBuf::from(wanted.own);
    let call = (wanted.call)(&match fs::symlink_metadata(&beside) {
        Err(_) => beside,
        Ok(_) => free(&beside),
    });
    Fault::usage("not-a-folder", what, format!("Type: {call}")).in_file(path.display().to_string())
}

/// Succeeds where none of the files that would be replaced in this folder is in the way.
fn spared(folder: &Path, list: &Manifest, wanted: &Wanted<'_>) -> Result<(), Fault> {
    let there = match wanted.holds {
        Holds::Set => list.in_the_way(folder, wanted.inputs, Look::Quick),
        Holds::Day | Holds::Files => first_in_the_way(
            list,
            folder,
            list.files.keys().map(String::as_str),
            wanted.inputs,
        ),
    };
    match there {
        Ok(None) => Ok(()),
        Ok(Some(there)) => Err(there.told(&(wanted.call)(&free(folder)))),
        Err(error) => Err(unwritable(folder, &error)),
    }
}

/// Whether the user's shell is in this folder or below it. Were it replaced as a whole, the shell would be left in a folder that is gone.
fn is_here(folder: &Path) -> bool {
    std::env::current_dir()
        .is_ok_and(|here| here.ancestors().any(|above| inputs::same(above, folder)))
}

/// Whether another folder can be put in the place of this one, if it is there: both have to be on one disk.
#[cfg(unix)]
fn may_be_replaced(folder: &Path) -> bool {
    use rustix::fs::{Access, access};
    use std::os::unix::fs::MetadataExt;
    let (Ok(folder), Ok(above)) = (fs::metadata(folder), folder.join("..").canonicalize()) else {
        return true;
    };
    access(&above, Access::WRITE_OK).is_ok()
        && fs::metadata(&above).is_ok_and(|above| above.dev() == folder.dev())
}

#[cfg(not(unix))]
fn may_be_replaced(_folder: &Path) -> bool {
    true
}

/// A name beside this folder that is free.
#[must_use]
pub fn free(folder: &Path) -> PathBuf {
    let (beside, own) = match folder.components().next_back() {
        Some(Component::Normal(own)) => (parent(folder).to_owned(), own.to_owned()),
        // `.` and `..` have a name of their own only once they are looked up.
        _ => {
            let whole = folder.canonicalize().unwrap_or_default();
            let own = whole.file_name().unwrap_or("sheets".as_ref()).to_owned();
            (folder.join(".."), own)
        }
    };
    let own = own.to_string_lossy();
    let mut count = 2;
    loop {
        let name = format!("{own}-{count}");
        // Without `./` in front it is shorter to read and to type.
        let path = match beside.as_os_str() == "." {
            true => PathBuf::from(name),
            false => beside.join(name),
        };
        if fs::symlink_metadata(&path).is_err() {
            return path;
        }
        count += 1;
    }
}

/// A short hash that stands for the log or job sheet that a set in `folder` is made from. It is of the path from the folder to it, so that
/// both may be moved together. Only a hash is kept, as sheets are handed on to others, who are not to see the path.
fn made_from(folder: &Path, inputs: &Inputs) -> Option<String> {
    let folder = folder.canonicalize().ok()?;
    let first = inputs.first()?;
    let shared = folder
        .components()
        .zip(first.components())
        .take_while(|(one, other)| one == other)
        .count();
    let up = folder.components().count() - shared;
    let mut hash = Sha256::new();
    hash.update("../".repeat(up));
    for part in first.components().skip(shared) {
        hash.update(part.as_os_str().as_encoded_bytes());
        hash.update("/");
    }
    Some(hex(&hash.finalize().as_slice()[..8]))
}

impl Chosen {
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// A sentence on where the results go instead of where they were asked to go, and why; `None` where they go there.
    #[must_use]
    pub fn note(&self) -> Option<&str> {
        self.note.as_deref()
    }

    #[must_use]
    pub fn instead(&self) -> &str {
        &self.instead
    }

    /// Makes the folder if it is not there, holds it, and clears away what killed runs left half written.
    ///
    /// # Errors
    /// A folder that cannot be written, or that another run is writing into.
    pub fn claim(self) -> Result<Place, Fault> {
        let unwritable = |error: io::Error| unwritable(&self.path, &error);
        let mut made: Vec<PathBuf> = self
            .path
            .ancestors()
            .take_while(|above| {
                !above.as_os_str().is_empty() && fs::symlink_metadata(above).is_err()
            })
            .map(Path::to_owned)
            .collect();
        made.reverse();
        fs::create_dir_all(&self.path).map_err(unwritable)?;
        let lock = Lock::on(&self.path);
        if matches!(lock, Lock::Busy) {
            return Err(Fault::unreadable(
                "in-use",
                "another run of boundwalk is writing into this folder.",
                format!("Wait for it to end, or type: {}", self.instead),
            )
            .in_file(self.path.display().to_string()));
        }
        // Links are followed, as it is the folder that is replaced, not a link to it.
        let path = self.path.canonicalize().map_err(unwritable)?;
        let around = match self.holds {
            Holds::Set => parent(&path),
            Holds::Day | Holds::Files => &path,
        };
        let left = clear_leftovers(around).map_err(unwritable)?;
        // A stage is made and removed again, to find out now, before anything is measured, whether the folder can be written.
        Stage::new(around, &Manifest::new(Holds::Files)).map_err(unwritable)?;
        Ok(Place {
            path,
            shown: self.path,
            made_from: self.made_from,
            instead: self.instead,
            left,
            made,
            _lock: lock,
        })
    }
}

impl Place {
    #[cfg(feature = "day")]
    pub(crate) fn path(&self) -> &Path {
        &self.path
    }

    /// As the user named it.
    #[must_use]
    pub fn shown(&self) -> &Path {
        &self.shown
    }

    #[cfg(feature = "day")]
    pub(crate) fn instead(&self) -> &str {
        &self.instead
    }

    /// What was left here that looks like an earlier run's, but is not known to be ours.
    #[must_use]
    pub fn left(&self) -> &[PathBuf] {
        &self.left
    }

    /// Writes a set of sheets in the place of an older one, all of it or nothing. Gives the name of the survey that the older set was of, if
    /// there was one.
    ///
    /// # Errors
    /// Where something is in the way after all, or the disk takes no more: the older set stays as it was.
    pub fn put(&self, set: &Set<'_>, inputs: &Inputs) -> Result<Option<String>, Fault> {
        let older = Manifest::read(&self.path).and_then(|list| list.survey);
        set.put(&self.path, self.made_from.clone(), inputs)
            .map_err(|refused| refused.told(&self.shown, &self.instead))?;
        Ok(older)
    }
}

/// Removes the folders that were made and stayed empty.
impl Drop for Place {
    fn drop(&mut self) {
        for folder in self.made.iter().rev() {
            // The system does not remove a folder with anything in it.
            let _ = fs::remove_dir(folder);
        }
    }
}

/// One survey's sheets.
#[derive(Debug, Clone, Copy)]
pub struct Set<'a> {
    pub survey: &'a str,
    /// Names and contents.
    pub files: &'a [(&'a str, &'a [u8])],
    pub kept: Option<&'a Kept>,
}

impl Set<'_> {
    /// Writes it in the place of `place`.
    ///
    /// # Errors
    /// As [`Stage::take_place`], and where the disk takes no more.
    pub(crate) fn put(
        &self,
        place: &Path,
        made_from: Option<String>,
        inputs: &Inputs,
    ) -> Result<(), Refused> {
        let mut list = Manifest::new(Holds::Set);
        list.survey = Some(self.survey.to_owned());
        list.made_from = made_from;
        list.kept = self.kept.cloned();
        for (name, bytes) in self.files {
            debug_assert!(*name != NAME);
            list = list.with(name, vec![Stamp::of(bytes)]);
        }
        let stage = Stage::new(parent(place), &list)?;
        for (name, bytes) in self.files {
            stage.write(name, bytes)?;
        }
        stage.take_place(place, inputs)
    }
}
