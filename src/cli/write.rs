//! Results to standard output and to files.

use super::Stop;
use boundwalk::fault::Fault;
use boundwalk::sheet::Sheet;
use std::io::{ErrorKind, Write};
use std::path::Path;

/// Writes a result to standard output.
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

/// Writes every sheet into `folder`, which is made if it is not there. Each file is first written beside its place
/// and then renamed, so that a reader never sees half of one.
pub fn folder(folder: &Path, sheets: &[Sheet]) -> Result<(), Stop> {
    std::fs::create_dir_all(folder).map_err(|error| unwritable(folder, &error))?;
    for sheet in sheets {
        file(&folder.join(sheet.name), &sheet.bytes)?;
    }
    Ok(())
}

/// Writes one file whole or not at all.
pub fn file(path: &Path, bytes: &[u8]) -> Result<(), Stop> {
    let beside = match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    let mut builder = tempfile::Builder::new();
    builder.prefix(".boundwalk-");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // As any new file: the umask takes off what the user does not grant.
        builder.permissions(std::fs::Permissions::from_mode(0o666));
    }
    let written = builder.tempfile_in(beside).and_then(|mut temporary| {
        temporary.write_all(bytes)?;
        temporary.persist(path).map_err(|error| error.error)
    });
    written.map(drop).map_err(|error| unwritable(path, &error))
}

/// "Wrote 5 sheets to DIR: a, b, c".
pub fn told(folder: &Path, sheets: &[Sheet]) -> String {
    let names: Vec<&str> = sheets.iter().map(|sheet| sheet.name).collect();
    format!(
        "Wrote {} sheet{} to {}: {}",
        names.len(),
        if names.len() == 1 { "" } else { "s" },
        folder.display(),
        names.join(", ")
    )
}

fn unwritable(path: &Path, error: &std::io::Error) -> Stop {
    Fault::unreadable(
        "unwritable",
        format!("it cannot be written ({error})."),
        "Choose a folder you may write in, with room on its disk.",
    )
    .in_file(path.display().to_string())
    .into()
}
