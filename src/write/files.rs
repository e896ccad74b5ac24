//! Writes single files into a folder that may hold anything else. Each file appears whole or not at all: it is written into a stage (see
//! [`super::stage`]) and moved from there into its place.

use super::inputs::Inputs;
use super::manifest::{Holds, Look, Manifest, NAME, Stamp};
use super::stage::{Stage, clear_leftovers};
use super::{InTheWay, Refused, Why, unwritable};
use crate::fault::Fault;
use std::fs;
use std::io;
use std::path::Path;

/// The first of these files of a folder that is there and may not be replaced; `None` where all may.
///
/// # Errors
/// Where they cannot be looked at.
pub(crate) fn first_in_the_way<'a>(
    list: &Manifest,
    folder: &Path,
    files: impl IntoIterator<Item = &'a str>,
    inputs: &Inputs,
) -> io::Result<Option<InTheWay>> {
    for name in files {
        let there = list.file_in_the_way(folder, name, inputs, Look::Whole)?;
        if there.is_some() {
            return Ok(there);
        }
    }
    Ok(None)
}

/// Writes files into a folder among whatever else there is, each whole. All are checked before the first is written.
///
/// # Errors
/// Where one of these names is taken by something that is not ours, or the disk takes no more.
pub fn put_files(
    folder: &Path,
    files: &[(&str, &[u8])],
    inputs: &Inputs,
    instead: &str,
) -> Result<(), Fault> {
    let put = || -> Result<(), Refused> {
        let older = match Manifest::read(folder) {
            Some(list) if list.holds == Holds::Files => list,
            None if fs::symlink_metadata(folder.join(NAME)).is_err() => Manifest::new(Holds::Files),
            _ => {
                return Err(Refused::InTheWay(InTheWay {
                    path: folder.join(NAME),
                    why: Why::NotOurs,
                }));
            }
        };
        let own = files.iter().map(|(name, _)| *name);
        if folder.is_dir()
            && let Some(there) = first_in_the_way(&older, folder, own, inputs)?
        {
            return Err(there.into());
        }
        fs::create_dir_all(folder)?;
        clear_leftovers(folder)?;
        let (mut list, mut stage_list) = (older.clone(), Manifest::new(Holds::Files));
        for (name, bytes) in files {
            list.files
                .insert((*name).to_owned(), vec![Stamp::of(bytes)]);
            stage_list
                .files
                .insert((*name).to_owned(), vec![Stamp::of(bytes)]);
        }
        let stage = Stage::new(folder, &stage_list)?;
        for (name, bytes) in files {
            stage.write(name, bytes)?;
        }
        publish(&stage, folder, &older, &list)
    };
    put().map_err(|refused| refused.told(folder, instead))
}

/// Writes files into a folder, each whole. Where a name is taken, the file that is there stays as it is, and that is no error.
///
/// # Errors
/// When the disk takes no more.
pub fn put_new_files(folder: &Path, files: &[(&str, &[u8])]) -> Result<(), Fault> {
    let put = || -> io::Result<()> {
        fs::create_dir_all(folder)?;
        clear_leftovers(folder)?;
        let mut list = Manifest::new(Holds::Files);
        for (name, bytes) in files {
            list = list.with(name, vec![Stamp::of(bytes)]);
        }
        let stage = Stage::new(folder, &list)?;
        for (name, bytes) in files {
            stage.write(name, bytes)?;
            match stage.put_new(name, folder) {
                Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {}
                done => done?,
            }
        }
        Ok(())
    };
    put().map_err(|error| unwritable(folder, &error))
}

/// Moves those files of `list` that are in the stage into their places. The list beside them first names both the older and the newer
/// content of each file, and only the newer one at the end, so that whenever the program is killed it names what is there.
///
/// # Errors
/// When the disk refuses: each file is then there whole, either the older or the newer.
pub(crate) fn publish(
    stage: &Stage,
    folder: &Path,
    older: &Manifest,
    list: &Manifest,
) -> Result<(), Refused> {
    let mut either = list.clone();
    for (name, stamps) in &older.files {
        let all = either.files.entry(name.clone()).or_default();
        for stamp in stamps {
            if !all.contains(stamp) {
                all.push(stamp.clone());
            }
        }
    }
    stage.put_manifest(folder, &either)?;
    for name in list.files.keys() {
        if stage.path().join(name).is_file() {
            stage.put(name, folder)?;
        }
    }
    Ok(stage.put_manifest(folder, list)?)
}
