//! The SHA-256 of a log's stored bytes (FIPS 180-4), worked out beside the reading.

use sha2::{Digest, Sha256};
use std::fs::File;
use std::io::{self, Read};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::thread::JoinHandle;

/// Below this a file is hashed where it is read: a thread costs more than it saves.
const INLINE: u64 = 512 * 1024;

/// The hash of all that is left to read, in hexadecimal.
///
/// # Errors
/// Those of `from`.
pub(crate) fn of(from: impl Read) -> io::Result<String> {
    of_all(from, &AtomicBool::new(false)).map(text)
}

fn text(hasher: Sha256) -> String {
    let digest = hasher.finalize();
    digest.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Of all that is left to read, unless it is told to stop.
fn of_all(mut from: impl Read, stop: &AtomicBool) -> io::Result<Sha256> {
    let mut hasher = Sha256::new();
    let mut block = vec![0; 64 * 1024];
    while !stop.load(Ordering::Relaxed) {
        match from.read(&mut block) {
            Ok(0) => break,
            Ok(n) => hasher.update(block.get(..n).unwrap_or(&[])),
            Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
            Err(e) => return Err(e),
        }
    }
    Ok(hasher)
}

/// A hash that is being worked out.
pub(crate) enum Hash {
    /// Where the bytes are read, as they pass.
    Inline(Receiver<Sha256>),
    /// On a thread, which is handed the bytes as they pass.
    Handed(JoinHandle<Sha256>),
    /// On a thread, which reads the file on its own: that spares the reader a copy of every byte.
    Beside {
        handle: JoinHandle<io::Result<Sha256>>,
        /// It stops where the reading failed and nobody asks for the hash.
        _stop: StopOnDrop,
    },
    Unwanted,
}

pub(crate) struct StopOnDrop(Arc<AtomicBool>);

impl Drop for StopOnDrop {
    fn drop(&mut self) {
        self.0.store(true, Ordering::Relaxed);
    }
}

impl Hash {
    /// Of an input of `size` bytes, where that is known; `path` where it is a file that can be opened again. Reading
    /// goes through the reader that is given back.
    pub fn start(
        raw: Box<dyn Read>,
        size: Option<u64>,
        path: Option<&Path>,
    ) -> (Hash, Box<dyn Read>) {
        if size.is_some_and(|n| n < INLINE) {
            let (tx, rx) = sync_channel(1);
            let to = TeeTo::Inline(Sha256::new(), tx);
            return (Hash::Inline(rx), Box::new(Tee { inner: raw, to }));
        }
        if let Some(path) = path {
            let path = path.to_path_buf();
            let stop = Arc::new(AtomicBool::new(false));
            let told = Arc::clone(&stop);
            let hash = Hash::Beside {
                handle: std::thread::spawn(move || of_all(File::open(path)?, &told)),
                _stop: StopOnDrop(stop),
            };
            return (hash, raw);
        }
        let (tx, rx) = sync_channel::<Vec<u8>>(4);
        let (back, returned) = sync_channel::<Vec<u8>>(8);
        let handle = std::thread::spawn(move || {
            let mut hasher = Sha256::new();
            for block in rx {
                hasher.update(&block);
                // A full or closed way back only means that the block isn't used again.
                let _ = back.try_send(block);
            }
            hasher
        });
        let to = TeeTo::Handed(tx, returned);
        (Hash::Handed(handle), Box::new(Tee { inner: raw, to }))
    }

    /// Whether it is of what was read, rather than of all there is.
    pub fn is_of_passing(&self) -> bool {
        matches!(self, Hash::Inline(_) | Hash::Handed(_))
    }

    /// In hexadecimal, once the reader is dropped; empty where there is none.
    pub fn finish(self) -> String {
        let hasher = match self {
            Hash::Inline(hashed) => hashed.recv().ok(),
            Hash::Handed(handle) => handle.join().ok(),
            Hash::Beside { handle, .. } => handle.join().ok().and_then(Result::ok),
            Hash::Unwanted => None,
        };
        hasher.map(text).unwrap_or_default()
    }
}

/// Hands on what it reads.
struct Tee {
    inner: Box<dyn Read>,
    to: TeeTo,
}

enum TeeTo {
    Inline(Sha256, SyncSender<Sha256>),
    Handed(SyncSender<Vec<u8>>, Receiver<Vec<u8>>),
}

impl Read for Tee {
    fn read(&mut self, out: &mut [u8]) -> io::Result<usize> {
        let n = self.inner.read(out)?;
        let got = out.get(..n).unwrap_or(&[]);
        match &mut self.to {
            TeeTo::Inline(hasher, _) => hasher.update(got),
            TeeTo::Handed(tx, returned) => {
                let mut block = returned.try_recv().unwrap_or_default();
                block.clear();
                block.extend_from_slice(got);
                if !block.is_empty() {
                    let _ = tx.send(block);
                }
            }
        }
        Ok(n)
    }
}

impl Drop for Tee {
    fn drop(&mut self) {
        if let TeeTo::Inline(hasher, tx) = &mut self.to {
            let _ = tx.try_send(std::mem::take(hasher));
        }
    }
}
