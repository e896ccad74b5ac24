//! Zip archives, and KMZ, which are such: every log in one is a file by itself. Nothing is written anywhere, and names from inside
//! are only shown.

use crate::fault::Fault;
use crate::read::input::Input;
use crate::read::sniff::{self, Form};
use crate::regular;
use std::fs::File;
use std::io::{self, Cursor, Read, Seek};
use std::path::Path;
use zip::ZipArchive;

/// How an archive begins.
pub(crate) const MAGIC: &[u8] = b"PK\x03\x04";
/// Files looked at in one archive.
const MOST_FILES: usize = 10_000;
/// Bytes of one file, unpacked: twenty days at a fix a second.
const MOST_BYTES: u64 = 512 << 20;
/// Bytes that are read to tell what a file is.
const HEAD: u64 = 64 * 1024;

/// The logs that stand in the place of an archive; `None` of any other input.
///
/// # Errors
/// An archive that is broken or holds no log.
pub(crate) fn unpacked(input: &Input, only_regular: bool) -> Result<Option<Vec<Input>>, Fault> {
    match input {
        Input::Bytes { name, bytes } if bytes.starts_with(MAGIC) => {
            let logs = logs(Cursor::new(bytes.as_slice())).map_err(|fault| fault.in_file(name))?;
            let all = logs.into_iter().map(|member| {
                let bytes = member_of(Cursor::new(bytes.as_slice()), &member);
                let bytes = bytes.map_err(|error| broken(&error).in_file(name))?;
                let name = format!("{name}/{member}");
                Ok(Input::Bytes { name, bytes })
            });
            all.collect::<Result<_, Fault>>().map(Some)
        }
        // A pipe is read once, by whoever reads it; so is what a sheet may not name.
        Input::File(path) if path.is_file() || only_regular => {
            let packed = |member| Input::Packed {
                archive: path.clone(),
                member,
            };
            let logs = logs_in(path).transpose()?;
            Ok(logs.map(|logs| logs.into_iter().map(packed).collect()))
        }
        _ => Ok(None),
    }
}

/// The names of the logs in an archive, in their order; `None` where it is none or cannot be opened.
pub(crate) fn logs_in(path: &Path) -> Option<Result<Vec<String>, Fault>> {
    let mut file = regular::open(path).ok()?;
    let mut first = [0; 4];
    file.read_exact(&mut first).ok()?;
    (first == MAGIC).then(|| logs(file).map_err(|fault| fault.in_file(path.display().to_string())))
}

/// What a file in an archive holds.
///
/// # Errors
/// Where it cannot be unpacked, or is too large.
pub(crate) fn bytes(archive: &Path, member: &str) -> io::Result<Vec<u8>> {
    member_of(File::open(archive)?, member)
}

fn member_of(archive: impl Read + Seek, member: &str) -> io::Result<Vec<u8>> {
    let mut archive = ZipArchive::new(archive)?;
    let file = archive.by_name(member)?;
    let mut bytes = Vec::new();
    file.take(MOST_BYTES + 1).read_to_end(&mut bytes)?;
    match bytes.len() as u64 > MOST_BYTES {
        true => Err(io::Error::other("it is larger than 512 MB, unpacked")),
        false => Ok(bytes),
    }
}

fn broken(error: &dyn std::fmt::Display) -> Fault {
    Fault::unreadable(
        "broken-zip",
        format!("The archive is damaged ({error})."),
        "Copy it again, or unpack it and give the logs.",
    )
}

fn logs(archive: impl Read + Seek) -> Result<Vec<String>, Fault> {
    let mut archive = ZipArchive::new(archive).map_err(|error| broken(&error))?;
    let mut logs: Vec<String> = Vec::new();
    for number in 0..archive.len().min(MOST_FILES) {
        let Ok(file) = archive.by_index(number) else {
            continue;
        };
        let Ok(name) = file.name().map(String::from) else {
            continue;
        };
        // What a system adds beside the files.
        if name.ends_with('/') || name.starts_with("__MACOSX") || name.contains("/.") {
            continue;
        }
        let mut head = Vec::new();
        // One that cannot be unpacked is told when it is read, if its name says that it is a log.
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
