//! Results to standard output and to files.

use super::Stop;
use boundwalk::fault::Fault;
use boundwalk::sheet::set;
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

/// Writes one file whole or not at all.
pub fn file(path: &Path, bytes: &[u8]) -> Result<(), Stop> {
    Ok(set::file(path, bytes)?)
}
