//! Puts the logs in a zip archive in the place of the archive, so that each is read as a file by itself.

use crate::fault::Fault;
use crate::read::archive;
use crate::read::input::{Input, Kept, Opened};
use std::io::Cursor;

/// The logs that stand in the place of an archive; `None` of any other input, and of a pipe, which is read once.
///
/// # Errors
/// An archive that is broken or holds no log.
pub(crate) fn unpacked(input: &Input, only_regular: bool) -> Result<Option<Vec<Input>>, Fault> {
    match input {
        Input::Bytes { name, bytes } if bytes.starts_with(archive::MAGIC) => {
            let logs = archive::logs(Cursor::new(bytes.as_slice()))
                .map_err(|fault| fault.in_file(name))?;
            let all = logs.into_iter().map(|member| {
                let bytes = archive::member_of(Cursor::new(bytes.as_slice()), &member);
                let bytes = bytes.map_err(|error| archive::broken(&error).in_file(name))?;
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
/// As [`unpacked`], and of an archive that goes on after [`archive::MOST_BYTES`].
pub(crate) fn piped(input: &Input, opened: &mut Opened) -> Result<Option<Vec<Input>>, Fault> {
    if input.rereadable() || !opened.head().starts_with(archive::MAGIC) {
        return Ok(None);
    }
    let kept =
        Kept::of(&mut opened.rest, archive::MOST_BYTES).map_err(|error| archive::broken(&error));
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

/// The logs in an archive that is a file; `None` where it is no archive or cannot be opened.
fn packed(input: &Input) -> Result<Option<Vec<Input>>, Fault> {
    let Some(file) = input.archive() else {
        return Ok(None);
    };
    let logs = archive::logs(file).map_err(|fault| {
        fault.in_file(match input {
            Input::File(path) => path.display().to_string(),
            other => other.name(),
        })
    })?;
    let member = |member| Input::Packed {
        archive: Box::new(input.clone()),
        member,
    };
    Ok(Some(logs.into_iter().map(member).collect()))
}

/// The names of the logs in an archive, sorted; `None` where it is no archive or cannot be opened.
#[cfg(feature = "day")]
pub(crate) fn logs_in(path: &std::path::Path) -> Option<Result<Vec<String>, Fault>> {
    let file = Input::File(path.to_owned()).archive()?;
    Some(archive::logs(file).map_err(|fault| fault.in_file(path.display().to_string())))
}
