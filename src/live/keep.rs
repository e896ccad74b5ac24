//! The stream as it was received, in a file of its own that nothing overwrites.

use super::Event;
use crate::fault::Fault;
use crate::write::unwritable;
use std::fs::{self, File, OpenOptions};
use std::io::{self, ErrorKind, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::SyncSender;
use std::sync::{Arc, Weak};
use std::thread;
use std::time::Duration;

/// How often what was written is brought from the system's memory to the disk.
const SYNCED: Duration = Duration::from_millis(500);
/// So much is held where the disk takes no more, bytes: some ten minutes of a receiver.
const MOST_HELD: usize = 4 << 20;

/// The file that is being written.
#[derive(Debug)]
pub struct Keep {
    path: PathBuf,
    file: Arc<File>,
    unsynced: Arc<AtomicBool>,
    /// What the disk has not taken yet.
    held: Vec<u8>,
    bytes: u64,
}

impl Keep {
    /// Makes the file: `20260514-083000.log`, by the date and time (UTC), with a number where that is taken.
    ///
    /// # Errors
    /// Where the folder cannot be written in.
    pub fn new(folder: &Path, now: jiff::Timestamp) -> Result<Keep, Fault> {
        fs::create_dir_all(folder).map_err(|error| unwritable(folder, &error))?;
        let stem = now.strftime("%Y%m%d-%H%M%S").to_string();
        for number in 1..1000 {
            let name = match number {
                1 => format!("{stem}.log"),
                _ => format!("{stem}-{number}.log"),
            };
            let path = folder.join(name);
            // The job sheet beside it has its name, too.
            if path.with_extension("toml").exists() {
                continue;
            }
            match OpenOptions::new().append(true).create_new(true).open(&path) {
                Ok(file) => {
                    return Ok(Keep {
                        path,
                        file: Arc::new(file),
                        unsynced: Arc::default(),
                        held: Vec::new(),
                        bytes: 0,
                    });
                }
                Err(error) if error.kind() == ErrorKind::AlreadyExists => {}
                Err(error) => return Err(unwritable(&path, &error)),
            }
        }
        Err(unwritable(folder, &ErrorKind::AlreadyExists.into()))
    }

    /// Where it lies.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// How much it has, bytes.
    #[must_use]
    pub fn bytes(&self) -> u64 {
        self.bytes
    }

    /// Brings to the disk what was written, again and again, on a thread of its own: a slow disk holds nothing up. It ends with this
    /// value.
    pub fn sync(&self, to: SyncSender<Event>) {
        let file: Weak<File> = Arc::downgrade(&self.file);
        let unsynced = Arc::clone(&self.unsynced);
        thread::spawn(move || {
            loop {
                thread::sleep(SYNCED);
                let Some(file) = file.upgrade() else { return };
                if unsynced.swap(false, Ordering::AcqRel)
                    && let Err(error) = file.sync_data()
                    && to.send(Event::Unkept(error)).is_err()
                {
                    return;
                }
            }
        });
    }

    /// Writes what came, after what the disk did not take before. Gives back what is in the file now, and was not before: only
    /// that may be looked at.
    pub fn write(&mut self, bytes: &[u8]) -> (Vec<u8>, io::Result<()>) {
        self.held.extend_from_slice(bytes);
        let mut written = 0;
        let mut told = Ok(());
        while written < self.held.len() && told.is_ok() {
            match (&*self.file).write(&self.held[written..]) {
                Ok(0) => told = Err(ErrorKind::WriteZero.into()),
                Ok(more) => written += more,
                Err(error) if error.kind() == ErrorKind::Interrupted => {}
                Err(error) => told = Err(error),
            }
        }
        if written > 0 {
            self.unsynced.store(true, Ordering::Release);
        }
        self.bytes += written as u64;
        (self.held.drain(..written).collect(), told)
    }

    /// How much the disk has not taken, bytes.
    #[must_use]
    pub fn held(&self) -> usize {
        self.held.len()
    }

    /// Whether no more can be held.
    #[must_use]
    pub fn is_full(&self) -> bool {
        self.held.len() > MOST_HELD
    }

    /// Brings everything to the disk. A file that nothing came for is taken away again.
    ///
    /// # Errors
    /// Where the disk did not take all of it.
    pub fn end(mut self) -> Result<PathBuf, Fault> {
        let (_, told) = self.write(&[]);
        let told = told.and_then(|()| self.file.sync_all());
        if self.bytes == 0 && self.held.is_empty() {
            // Ours, and empty.
            let _ = fs::remove_file(&self.path);
        }
        match told {
            Ok(()) => Ok(self.path),
            Err(error) => Err(unwritable(&self.path, &error)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_is_written_over() {
        let folder = tempfile::tempdir().unwrap();
        let now = "2026-05-14T08:30:00Z".parse().unwrap();
        let mut first = Keep::new(folder.path(), now).unwrap();
        assert!(first.write(b"one").1.is_ok());
        let mut second = Keep::new(folder.path(), now).unwrap();
        assert_eq!(second.write(b"two").0, b"two");
        let [first, second] = [first.end().unwrap(), second.end().unwrap()];
        assert_eq!(first.file_name().unwrap(), "20260514-083000.log");
        assert_eq!(second.file_name().unwrap(), "20260514-083000-2.log");
        assert_eq!(fs::read(&first).unwrap(), b"one");
        let empty = Keep::new(folder.path(), now).unwrap().end().unwrap();
        assert!(!empty.exists());
        fs::write(folder.path().join("20260514-083001.toml"), "").unwrap();
        let later = "2026-05-14T08:30:01Z".parse().unwrap();
        let beside = Keep::new(folder.path(), later).unwrap();
        assert!(beside.path().ends_with("20260514-083001-2.log"));
    }
}
