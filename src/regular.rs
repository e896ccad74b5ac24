//! Opens files that were named by a job sheet or found in a folder, not typed by the person at the keyboard, and only where they are
//! plain files.
//!
//! A job sheet may come from anywhere. A name in it may lead to a pipe, which holds up whoever opens it until somebody writes into
//! it, or to a device that never ends.

use std::fs::{self, File};
use std::io::{self, Read};
use std::path::Path;

/// Opens a plain file, or a link to one.
///
/// # Errors
/// Where it cannot be opened, or is a folder, a pipe, a socket or a device.
pub(crate) fn open(path: &Path) -> io::Result<File> {
    // Looked at before it is opened, as opening a device may already do something to it.
    plain(&fs::metadata(path)?)?;
    let file = options().open(path)?;
    // It is looked at again, as another file may have taken its place in between.
    plain(&file.metadata()?)?;
    Ok(file)
}

/// All bytes of a plain file. Of one that is longer than `most_bytes` it gives one byte more than that, by which the caller sees that
/// the file is too long.
///
/// # Errors
/// As [`open`], and where it cannot be read.
pub(crate) fn bytes(path: &Path, most_bytes: u64) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    open(path)?.take(most_bytes + 1).read_to_end(&mut bytes)?;
    Ok(bytes)
}

fn plain(meta: &fs::Metadata) -> io::Result<()> {
    match meta {
        meta if meta.is_file() => Ok(()),
        meta if meta.is_dir() => Err(io::Error::new(
            io::ErrorKind::IsADirectory,
            "it is a folder",
        )),
        _ => Err(io::Error::new(
            io::ErrorKind::Unsupported,
            "it is a pipe, a socket or a device, not a file",
        )),
    }
}

/// Opening a pipe for reading waits for a writer unless it is opened so as not to wait; for plain files that changes nothing.
#[cfg(unix)]
fn options() -> fs::OpenOptions {
    use rustix::fs::OFlags;
    use std::os::unix::fs::OpenOptionsExt;
    let mut options = fs::OpenOptions::new();
    options
        .read(true)
        .custom_flags((OFlags::NONBLOCK | OFlags::NOCTTY).bits() as i32);
    options
}

#[cfg(not(unix))]
fn options() -> fs::OpenOptions {
    let mut options = fs::OpenOptions::new();
    options.read(true);
    options
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn plain_files_are_read_up_to_a_bound() {
        let temp = tempfile::tempdir().unwrap();
        let file = temp.path().join("a");
        fs::write(&file, "12345").unwrap();
        assert_eq!(bytes(&file, 5).unwrap(), b"12345");
        assert_eq!(bytes(&file, 3).unwrap(), b"1234");
        let folder = open(temp.path()).unwrap_err();
        assert_eq!(folder.kind(), io::ErrorKind::IsADirectory);
    }

    #[cfg(unix)]
    #[test]
    fn neither_a_pipe_nor_a_device_is_opened() {
        use rustix::fs::{CWD, FileType, Mode, mknodat};
        let temp = tempfile::tempdir().unwrap();
        let pipe = temp.path().join("pipe");
        mknodat(CWD, &pipe, FileType::Fifo, Mode::RWXU, 0).unwrap();
        let link = temp.path().join("link");
        std::os::unix::fs::symlink("/dev/zero", &link).unwrap();
        for odd in [pipe.as_path(), link.as_path(), Path::new("/dev/zero")] {
            let told = open(odd).unwrap_err().to_string();
            assert!(told.contains("not a file"), "{told}");
        }
    }
}
