//! Zip archives, and KMZ files, which are zip archives too: every log in one is read as a file by itself. Nothing is unpacked to the disk,
//! and names from inside are only shown, so that a hostile name can do no harm.

use crate::fault::Fault;
use crate::read::input::{Input, Kept, Opened};
use crate::read::sniff::{self, Form};
use crate::regular;
use std::fs::File;
use std::io::{self, Cursor, Read, Seek};
use zip::ZipArchive;

/// The first bytes of an archive.
pub(crate) const MAGIC: &[u8] = b"PK\x03\x04";
/// The most files that are looked at in one archive.
const MOST_FILES: usize = 10_000;
/// The most bytes of one file, unpacked, and of an archive that comes through a pipe: twenty days at a fix a second.
const MOST_BYTES: u64 = 512 << 20;
/// How many bytes of a file in an archive are read to tell what it is.
const HEAD: u64 = 64 * 1024;

/// The logs that stand in the place of an archive; `None` of any other input, and of a pipe, which is read once.
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
        Input::Kept(_) => packed(input),
        Input::File(path) if path.is_file() || only_regular => packed(input),
        _ => Ok(None),
    }
}

/// The logs that stand in the place of an archive that comes through a pipe, which is then kept in a temporary file; `None` of any other
/// input.
///
/// # Errors
/// As [`unpacked`], and of an archive that goes on after [`MOST_BYTES`].
pub(crate) fn piped(input: &Input, opened: &mut Opened) -> Result<Option<Vec<Input>>, Fault> {
    if input.rereadable() || !opened.head().starts_with(MAGIC) {
        return Ok(None);
    }
    let kept = Kept::of(&mut opened.rest, MOST_BYTES).map_err(|error| broken(&error));
    match kept.map_err(|fault| fault.in_file(input.name()))? {
        Some(kept) => packed(&Input::Kept(kept)),
        None => Err(Fault::unreadable(
            "endless",
            "The archive goes on after 512 MB.",
            "Save it to a file, or unpack it and give the logs.",
        )
        .in_file(input.name())),
    }
}

fn packed(archive: &Input) -> Result<Option<Vec<Input>>, Fault> {
    let Some(file) = open(archive) else {
        return Ok(None);
    };
    let logs = logs(file).map_err(|fault| {
        fault.in_file(match archive {
            Input::File(path) => path.display().to_string(),
            other => other.name(),
        })
    })?;
    let member = |member| Input::Packed {
        archive: Box::new(archive.clone()),
        member,
    };
    Ok(Some(logs.into_iter().map(member).collect()))
}

/// An archive at its first byte; `None` where it is none or cannot be opened.
fn open(archive: &Input) -> Option<File> {
    let mut file = match archive {
        Input::File(path) => regular::open(path).ok()?,
        Input::Kept(kept) => kept.open().ok()?.0,
        _ => return None,
    };
    let mut first = [0; 4];
    file.read_exact(&mut first).ok()?;
    file.rewind().ok()?;
    (first == MAGIC).then_some(file)
}

/// The names of the logs in an archive, in their order; `None` where it is none or cannot be opened.
#[cfg(feature = "day")]
pub(crate) fn logs_in(path: &std::path::Path) -> Option<Result<Vec<String>, Fault>> {
    let file = open(&Input::File(path.to_owned()))?;
    Some(logs(file).map_err(|fault| fault.in_file(path.display().to_string())))
}

/// What a file in an archive holds.
///
/// # Errors
/// Where it cannot be unpacked, or is too large.
pub(crate) fn bytes(archive: &Input, member: &str) -> io::Result<Vec<u8>> {
    match open(archive) {
        Some(file) => member_of(file, member),
        None => Err(io::Error::new(
            io::ErrorKind::NotFound,
            "it is no archive any more",
        )),
    }
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
