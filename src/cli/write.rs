//! Writes results to standard output, and checks where results in files may go. Nothing that is read, and nothing that this program did
//! not write, is ever replaced; the faults say what to type instead.

use super::{Stop, say};
use boundwalk::fault::Fault;
use boundwalk::write::inputs::Inputs;
use boundwalk::write::manifest::Holds;
use boundwalk::write::place::{Chosen, Wanted, choose, free};
use boundwalk::write::{InTheWay, Why};
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};

/// Writes a result to standard output. Where the reader has closed it, [`Stop::BrokenPipe`] comes back.
pub fn stdout(bytes: &[u8]) -> Result<(), Stop> {
    let mut out = std::io::stdout().lock();
    match out.write_all(bytes).and_then(|()| out.flush()) {
        Ok(()) => Ok(()),
        Err(error) if error.kind() == ErrorKind::BrokenPipe => Err(Stop::BrokenPipe),
        Err(error) => Err(Fault::unreadable(
            "unwritable",
            format!("the result could not be written to standard output ({error})."),
            "Check that the disk it goes to is not full.",
        )
        .into()),
    }
}

/// The code of the fault that standard output is a file that is read. Not even the fault may be printed there.
pub const INTO_INPUT: &str = "into-an-input";

/// Refuses a call whose standard output goes into a file that it reads, such as `inspect lawn.nmea >> lawn.nmea`.
pub fn stdout_spares(inputs: &Inputs) -> Result<(), Stop> {
    #[cfg(unix)]
    {
        use std::os::fd::AsFd;
        let into_input = std::io::stdout()
            .as_fd()
            .try_clone_to_owned()
            .and_then(|fd| inputs.holds_open(&std::fs::File::from(fd)))
            .unwrap_or(false);
        if into_input {
            return Err(Fault::usage(
                INTO_INPUT,
                "standard output goes into a file that is read by this run.",
                "Send it into another file: > result.txt",
            )
            .into());
        }
    }
    Ok(())
}

/// The folder that the results of `--out` go into. Where `out` holds anything else, that is a folder inside it called `own`.
pub fn folder(out: &Path, holds: Holds, own: &str, inputs: &Inputs) -> Result<Chosen, Stop> {
    Ok(choose(Wanted {
        out,
        holds,
        own: &boundwalk::day::name::folder(own),
        inputs,
        call: &|out| call_with("--out", out),
    })?)
}

/// Refuses a file of records that is read by this run, or that would lie in a folder of sheets, which is replaced as a whole.
pub fn records_spare(records: &Path, set: Option<&Chosen>, inputs: &Inputs) -> Result<(), Stop> {
    let beside = || {
        let stem = records.file_stem().unwrap_or("lawns".as_ref());
        let name = PathBuf::from(stem).with_extension("gpkg");
        match std::fs::symlink_metadata(&name) {
            Err(_) => name,
            Ok(_) => free(Path::new(stem)).with_extension("gpkg"),
        }
    };
    if inputs.holds(records) {
        let there = InTheWay {
            path: records.to_owned(),
            why: Why::Input,
        };
        return Err(there.told(&call_with("--records", &beside())).into());
    }
    let whole = |path: &Path| std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
    let folder = |path: &Path| path.canonicalize().unwrap_or_else(|_| whole(path));
    let around = whole(records).parent().map(folder).unwrap_or_default();
    if set.is_some_and(|set| around.starts_with(folder(set.path()))) {
        return Err(Fault::usage(
            "not-ours",
            "the records would lie among the sheets, which are replaced as a whole.",
            format!("Type: {}", call_with("--records", &beside())),
        )
        .in_file(records.display().to_string())
        .into());
    }
    Ok(())
}

/// Says where results go instead of the folder that was named, and what an earlier run left behind.
pub fn tell(note: Option<&str>, left: &[PathBuf]) {
    if let Some(note) = note {
        say::note(&format!("note: {note}"));
    }
    for path in left {
        say::note(&format!(
            "note: {} was left by an earlier run and may hold files of yours: look into it, then move or delete it",
            path.display()
        ));
    }
}

/// The call as it was typed, with another value for one of its options.
pub fn call_with(option: &str, value: &Path) -> String {
    let mut words = vec!["boundwalk".to_owned()];
    let mut typed = std::env::args_os().skip(1);
    let joined = format!("{option}=");
    while let Some(word) = typed.next() {
        let word = word.to_string_lossy();
        if word == option {
            typed.next();
        }
        if word == option || word.starts_with(&joined) {
            words.push(option.to_owned());
            words.push(quoted(&value.to_string_lossy()));
        } else {
            words.push(quoted(&word));
        }
    }
    words.join(" ")
}

/// A word as it must be typed in a shell: with quotes where it has other than plain letters and signs.
pub fn quoted(word: &str) -> String {
    let plain = |letter: char| letter.is_alphanumeric() || "-_./:=,+@%".contains(letter);
    if !word.is_empty() && word.chars().all(plain) {
        return word.to_owned();
    }
    format!("'{}'", word.replace('\'', "'\\''"))
}
