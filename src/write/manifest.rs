//! The list of files, or manifest, that lies beside what this program wrote: the name, size and hash of each file. A file that it does not
//! name, or that has changed since, is not ours to replace.

use super::inputs::Inputs;
use super::{InTheWay, Why, is_litter, names};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{self, Read};
use std::path::Path;
use std::time::SystemTime;

/// What the list is called in its folder.
pub(crate) const NAME: &str = "boundwalk-files.json";
/// How the text of a list begins. By it a list is known that was cut short while it was written.
const BEGINNING: &str = "{\"schema\":\"boundwalk/files/1\"";
const SCHEMA: &str = "boundwalk/files/1";

/// What kind of folder it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Holds {
    /// One survey's sheets and nothing else; replaced as a whole.
    Set,
    /// A day's own sheets, and a folder for each survey's.
    Day,
    /// Some files of ours among whatever else lies there.
    Files,
}

/// A file's size and content.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Stamp {
    pub bytes: u64,
    pub sha256: String,
}

/// What a survey's set was made from, so that it need not be made again.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Kept {
    pub fingerprint: String,
    /// What changes the sheets but not the result, such as the units.
    pub style: String,
    pub reason: Option<String>,
}

/// The list.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Manifest {
    schema: String,
    pub holds: Holds,
    /// Whose sheets they are.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub survey: Option<String>,
    /// A hash that tells whether a set is of the same log or job sheet as another of this name.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub made_from: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub kept: Option<Kept>,
    /// The files by name. A file has two stamps while it is being replaced, and none while it is being written.
    pub files: BTreeMap<String, Vec<Stamp>>,
    /// When the list was written.
    #[serde(skip)]
    written: Option<SystemTime>,
}

/// How closely files are looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Look {
    /// A file's content is read only where the file is newer than the list; else its size is enough.
    Quick,
    /// A file's content is always read and compared by its hash.
    Whole,
}

impl Stamp {
    pub(crate) fn of(bytes: &[u8]) -> Stamp {
        Stamp {
            bytes: bytes.len() as u64,
            sha256: hex(&Sha256::digest(bytes)),
        }
    }

    fn of_file(path: &Path) -> io::Result<Stamp> {
        let mut file = File::open(path)?;
        let mut hash = Sha256::new();
        let mut block = vec![0; 64 * 1024];
        let mut bytes = 0;
        loop {
            match file.read(&mut block)? {
                0 => break,
                n => {
                    bytes += n as u64;
                    hash.update(block.get(..n).unwrap_or_default());
                }
            }
        }
        Ok(Stamp {
            bytes,
            sha256: hex(&hash.finalize()),
        })
    }
}

/// Bytes as hexadecimal digits.
pub(crate) fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

impl Manifest {
    pub(crate) fn new(holds: Holds) -> Manifest {
        Manifest {
            schema: SCHEMA.into(),
            holds,
            survey: None,
            made_from: None,
            kept: None,
            files: BTreeMap::new(),
            written: None,
        }
    }

    /// The list in this folder; `None` where there is none of ours.
    pub(crate) fn read(folder: &Path) -> Option<Manifest> {
        /// The longest list that is read, bytes: some thousands of files.
        const LARGEST: u64 = 1 << 20;
        let path = folder.join(NAME);
        let meta = fs::symlink_metadata(&path).ok()?;
        if !meta.is_file() || meta.len() > LARGEST {
            return None;
        }
        let mut manifest: Manifest = serde_json::from_slice(&fs::read(path).ok()?).ok()?;
        manifest.written = meta.modified().ok();
        (manifest.schema == SCHEMA).then_some(manifest)
    }

    /// The list of a folder that holds sheets and nothing else; `None` where there is none.
    pub(crate) fn of_sheets(folder: &Path) -> Option<Manifest> {
        Manifest::read(folder).filter(|list| list.holds != Holds::Files)
    }

    /// What lies in a folder of sheets, or in the sets in it, and was not written there by this program.
    #[cfg(feature = "day")]
    pub(crate) fn strangers(&self, folder: &Path) -> Vec<std::path::PathBuf> {
        let mut found = Vec::new();
        for name in names(folder).unwrap_or_default() {
            let path = folder.join(&name);
            let own = name.to_string_lossy();
            let ours = name == NAME || own.starts_with('.') || self.files.contains_key(&*own);
            match Manifest::of_sheets(&path) {
                _ if ours || is_litter(folder, &name) => {}
                Some(inner) => found.extend(inner.strangers(&path)),
                None => found.push(path),
            }
        }
        found
    }

    pub(crate) fn bytes(&self) -> io::Result<Vec<u8>> {
        let mut bytes = crate::visible::in_json(serde_json::to_vec(self)?);
        bytes.push(b'\n');
        Ok(bytes)
    }

    pub(crate) fn with(mut self, name: &str, stamps: Vec<Stamp>) -> Manifest {
        self.files.insert(name.to_owned(), stamps);
        self
    }

    /// The first thing in a set's folder that this program may not replace.
    pub(crate) fn in_the_way(
        &self,
        folder: &Path,
        inputs: &Inputs,
        look: Look,
    ) -> io::Result<Option<InTheWay>> {
        for name in names(folder)? {
            if name == NAME || is_litter(folder, &name) {
                continue;
            }
            let there = match name.to_str() {
                Some(name) => self.file_in_the_way(folder, name, inputs, look)?,
                None => Some(InTheWay {
                    path: folder.join(&name),
                    why: Why::NotOurs,
                }),
            };
            if there.is_some() {
                return Ok(there);
            }
        }
        Ok(None)
    }

    /// What keeps one file from being replaced; `None` where nothing does, or it is not there.
    pub(crate) fn file_in_the_way(
        &self,
        folder: &Path,
        name: &str,
        inputs: &Inputs,
        look: Look,
    ) -> io::Result<Option<InTheWay>> {
        let path = folder.join(name);
        let meta = match fs::symlink_metadata(&path) {
            Ok(meta) => meta,
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
            Err(error) => return Err(error),
        };
        let why = match self.files.get(name) {
            _ if inputs.holds(&path) => Some(Why::Input),
            Some(_) if !meta.is_file() => Some(Why::NotOurs),
            None => Some(Why::NotOurs),
            Some(stamps) if self.is_as_written(&path, &meta, stamps, look)? => None,
            Some(_) => Some(Why::Changed),
        };
        Ok(why.map(|why| InTheWay { path, why }))
    }

    /// Whether a file is as one of its stamps says. With [`Look::Quick`] the size is enough for a file that is not newer than the list.
    fn is_as_written(
        &self,
        path: &Path,
        meta: &fs::Metadata,
        stamps: &[Stamp],
        look: Look,
    ) -> io::Result<bool> {
        if !stamps.iter().any(|stamp| stamp.bytes == meta.len()) {
            return Ok(false);
        }
        // The list is written after its files, so that a file that is no newer has not been changed since.
        let older =
            matches!((meta.modified(), self.written), (Ok(file), Some(list)) if file <= list);
        if look == Look::Quick && older {
            return Ok(true);
        }
        Ok(stamps.contains(&Stamp::of_file(path)?))
    }

    /// Whether a file in a stage is one that this program was writing there: the list has its name, and it is either shorter than it was to
    /// become or as it was to become.
    pub(super) fn was_writing(&self, path: &Path, name: &str) -> io::Result<bool> {
        let meta = fs::symlink_metadata(path)?;
        let Some(stamps) = self.files.get(name).filter(|_| meta.is_file()) else {
            return Ok(false);
        };
        Ok(stamps.is_empty()
            || stamps.iter().any(|stamp| meta.len() < stamp.bytes)
            || stamps.contains(&Stamp::of_file(path)?))
    }
}

/// Whether a file is a list of ours that was cut short.
pub(super) fn is_cut_short(path: &Path) -> io::Result<bool> {
    if !fs::symlink_metadata(path)?.is_file() {
        return Ok(false);
    }
    let mut head = Vec::new();
    File::open(path)?
        .take(BEGINNING.len() as u64)
        .read_to_end(&mut head)?;
    Ok(BEGINNING.as_bytes().starts_with(&head))
}
