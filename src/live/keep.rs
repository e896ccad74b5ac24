//! Keeps the receiver's stream, just as it comes, in a new file that nothing overwrites. Where the disk takes no more, bytes are held in
//! memory for a while and tried again.

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

/// How often what was written is forced from the system's memory to the disk.
const SYNCED: Duration = Duration::from_millis(500);
/// The most bytes that are held where the disk takes no more: some ten minutes of a receiver.
const MOST_HELD: usize = 4 << 20;

/// The file that is being written.
#[derive(Debug)]
pub struct Keep {
    path: PathBuf,
    file: Arc<File>,
    /// Whether something was written that was not yet forced to the disk.
    unsynced: Arc<AtomicBool>,
    /// What the disk has not taken yet.
    held: Vec<u8>,
    /// How much is in the file.
    bytes: u64,
}

impl Keep {
    /// Makes the file. Its name is the date and time (UTC), as in `20260514-083000.log`, with a number where that name is taken.
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
            // The job sheet beside it will have the same name, so that must be free too.
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

    /// The file's path.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// How much is in the file, bytes.
    #[must_use]
    pub fn bytes(&self) -> u64 {
        self.bytes
    }

    /// Starts a thread that forces what was written to the disk again and again, so that a slow disk holds up nothing else. The thread
    /// ends when this value is dropped.
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

    /// Writes what came, after what the disk did not take before. Gives back what this call added to the file, which is all that may be
    /// looked at, and whether the disk took everything.
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

    /// How much the disk has not taken yet, bytes.
    #[must_use]
    pub fn held(&self) -> usize {
        self.held.len()
    }

    /// Whether no more can be held.
    #[must_use]
    pub fn is_full(&self) -> bool {
        self.held.len() > MOST_HELD
    }

    /// Writes what is still held and forces everything to the disk; gives the file's path. An empty file is deleted.
    ///
    /// # Errors
    /// Where the disk did not take all of it.
    pub fn end(mut self) -> Result<PathBuf, Fault> {
        let (_, told) = self.write(&[]);
        let told = told.and_then(|()| self.file.sync_all());
        if self.bytes == 0 && self.held.is_empty() {
            // The file was made by this run and is empty.
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
