//! Looks into zip archives, and KMZ files, which are zip archives too: which logs lie in one, and what each holds. Nothing is unpacked to the
//! disk, and names from inside are only shown, so that a hostile name can do no harm.

use crate::fault::Fault;
use crate::read::sniff::{self, Form};
use std::fs::File;
use std::io::{self, Read, Seek};
use zip::ZipArchive;

/// The first bytes of an archive.
pub(crate) const MAGIC: &[u8] = b"PK\x03\x04";
/// The most files that are looked at in one archive.
const MOST_FILES: usize = 10_000;
/// The most bytes of one file, unpacked, and of an archive that comes through a pipe: twenty days at a fix a second.
pub(crate) const MOST_BYTES: u64 = 512 << 20;
/// How many bytes of a file in an archive are read to tell what it is.
const HEAD: u64 = 64 * 1024;

/// An archive at its first byte; `None` where the file is none.
pub(crate) fn of(mut file: File) -> Option<File> {
    let mut first = [0; 4];
    file.read_exact(&mut first).ok()?;
    file.rewind().ok()?;
    (first == MAGIC).then_some(file)
}

/// What a file in an archive holds.
///
/// # Errors
/// Where it cannot be unpacked, or is too large.
pub(crate) fn member_of(archive: impl Read + Seek, member: &str) -> io::Result<Vec<u8>> {
    let mut archive = ZipArchive::new(archive)?;
    let file = archive.by_name(member)?;
    let mut bytes = Vec::new();
    file.take(MOST_BYTES + 1).read_to_end(&mut bytes)?;
    match bytes.len() as u64 > MOST_BYTES {
        true => Err(io::Error::other("it is larger than 512 MB, unpacked")),
        false => Ok(bytes),
    }
}

pub(crate) fn broken(error: &dyn std::fmt::Display) -> Fault {
    Fault::unreadable(
        "broken-zip",
        format!("The archive is damaged ({error})."),
        "Copy it again, or unpack it and give the logs.",
    )
}

/// The names of the files in an archive that look like logs, sorted.
///
/// # Errors
/// An archive that is broken or holds no log.
pub(crate) fn logs(archive: impl Read + Seek) -> Result<Vec<String>, Fault> {
    let mut archive = ZipArchive::new(archive).map_err(|error| broken(&error))?;
    let mut logs: Vec<String> = Vec::new();
    for number in 0..archive.len().min(MOST_FILES) {
        let Ok(file) = archive.by_index(number) else {
            continue;
        };
        let Ok(name) = file.name().map(String::from) else {
            continue;
        };
        // Folders, and what some systems add beside the files.
        if name.ends_with('/') || name.starts_with("__MACOSX") || name.contains("/.") {
            continue;
        }
        let mut head = Vec::new();
        // A file whose beginning cannot be unpacked is kept in the list, so that its damage is told when it is read.
        let whole = file.take(HEAD).read_to_end(&mut head).is_ok();
        let is_log = match sniff::form(&head) {
            Ok(Form::Nmea) => sniff::has_sentence(&head),
            Ok(_) => true,
            Err(_) => false,
        };
        if is_log || !whole {
            logs.push(name);
        }
    }
    logs.sort();
    logs.dedup();
    match logs.is_empty() {
        false => Ok(logs),
        true => Err(Fault::unreadable(
            "not-a-log",
            "There is no log in this archive, or it is an office document.",
            "Export positions as NMEA, GPX, KML or CSV.",
        )),
    }
}
