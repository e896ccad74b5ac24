//! One survey's sheets as files in a folder.

use super::Sheet;
use crate::fault::Fault;
use crate::survey::Measured;
use crate::units::Units;
use std::io::Write;
use std::path::Path;

/// Writes every sheet into `folder`, which is made if it is not there, and gives the names of the files. Each file is
/// first written beside its place and then renamed, so that a reader never sees half of one.
///
/// # Errors
/// Where a number that must be written is not finite, or a file cannot be written.
pub fn write(measured: &Measured, units: Units, folder: &Path) -> Result<Vec<&'static str>, Fault> {
    let sheets = super::all(measured, units)?;
    files(folder, &sheets)?;
    Ok(sheets.iter().map(|sheet| sheet.name).collect())
}

/// Writes these files into `folder`, which is made if it is not there.
///
/// # Errors
/// Where one cannot be written.
pub fn files(folder: &Path, sheets: &[Sheet]) -> Result<(), Fault> {
    std::fs::create_dir_all(folder).map_err(|error| unwritable(folder, &error))?;
    for sheet in sheets {
        file(&folder.join(sheet.name), &sheet.bytes)?;
    }
    Ok(())
}

/// Writes one file whole or not at all.
///
/// # Errors
/// Where it cannot be written.
pub fn file(path: &Path, bytes: &[u8]) -> Result<(), Fault> {
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
pub fn told(folder: &Path, names: &[&str]) -> String {
    format!(
        "Wrote {} sheet{} to {}: {}",
        names.len(),
        if names.len() == 1 { "" } else { "s" },
        folder.display(),
        names.join(", ")
    )
}

fn unwritable(path: &Path, error: &std::io::Error) -> Fault {
    Fault::unreadable(
        "unwritable",
        format!("it cannot be written ({error})."),
        "Choose a folder you may write in, with room on its disk.",
    )
    .in_file(path.display().to_string())
}
