//! The SHA-256 hash (FIPS 180-4) of a log's bytes as they are stored, worked out while the log is read. Of a large log it is worked out on a
//! thread of its own, so that reading need not wait for it.

use sha2::{Digest, Sha256};
use std::fs::File;
use std::io::{self, Read};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::thread::JoinHandle;

/// A file smaller than this, bytes, is hashed where it is read: a thread costs more than it saves.
const INLINE: u64 = 512 * 1024;

/// The hash of all that is left to read, in hexadecimal.
///
/// # Errors
/// Those of `from`.
pub(crate) fn of(mut from: impl Read) -> io::Result<String> {
    let mut hasher = Sha256::new();
    let mut block = vec![0; 64 * 1024];
    loop {
        match from.read(&mut block) {
            Ok(0) => return Ok(text(hasher)),
            Ok(n) => hasher.update(block.get(..n).unwrap_or(&[])),
            Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
            Err(e) => return Err(e),
        }
    }
}

fn text(hasher: Sha256) -> String {
    let digest = hasher.finalize();
    digest.iter().map(|byte| format!("{byte:02x}")).collect()
}

const BLOCK: usize = 256 * 1024;
/// The most blocks that wait for the reader.
const BLOCKS_AHEAD: usize = 2;

/// Reads all of a file in blocks, each of which is sent to the reader and hashed at the same time. Where the reader has had enough, the rest
/// is hashed all the same, until `stop` is set.
fn ahead(
    mut file: File,
    to: &SyncSender<io::Result<Arc<Vec<u8>>>>,
    stop: &AtomicBool,
) -> io::Result<Sha256> {
    let mut hasher = Sha256::new();
    let mut blocks: Vec<Arc<Vec<u8>>> = Vec::new();
    let mut wanted = true;
    while !stop.load(Ordering::Relaxed) {
        // A block that the reader is done with is used again; where there is none, a new one is made.
        let free = blocks
            .iter()
            .position(|block| Arc::strong_count(block) == 1);
        let mut block = free.map_or_else(Arc::default, |free| blocks.swap_remove(free));
        let Some(bytes) = Arc::get_mut(&mut block) else {
            continue;
        };
        bytes.resize(BLOCK, 0);
        match file.read(bytes) {
            Ok(0) => break,
            Ok(n) => bytes.truncate(n),
            Err(e) if e.kind() == io::ErrorKind::Interrupted => continue,
            Err(e) => {
                let again = io::Error::new(e.kind(), e.to_string());
                let _ = to.send(Err(e));
                return Err(again);
            }
        }
        wanted = wanted && to.send(Ok(Arc::clone(&block))).is_ok();
        hasher.update(block.as_slice());
        blocks.push(block);
    }
    Ok(hasher)
}

/// Reads from the blocks that the other thread has read.
struct Blocks {
    from: Receiver<io::Result<Arc<Vec<u8>>>>,
    block: Arc<Vec<u8>>,
    at: usize,
}

impl Blocks {
    fn new(from: Receiver<io::Result<Arc<Vec<u8>>>>) -> Blocks {
        Blocks {
            from,
            block: Arc::default(),
            at: 0,
        }
    }
}

impl Read for Blocks {
    fn read(&mut self, out: &mut [u8]) -> io::Result<usize> {
        if self.at >= self.block.len() {
            // Nothing comes any more: the thread has come to the end of the file.
            let Ok(block) = self.from.recv() else {
                return Ok(0);
            };
            (self.block, self.at) = (block?, 0);
        }
        let n = self.block.get(self.at..).unwrap_or(&[]).read(out)?;
        self.at += n;
        Ok(n)
    }
}

/// A hash that is being worked out.
pub(crate) enum Hash {
    /// Worked out where the bytes are read, as they pass.
    Inline(Receiver<Sha256>),
    /// Worked out on a thread, which is handed the bytes as they pass.
    Handed(JoinHandle<Sha256>),
    /// Worked out on a thread that reads the file ahead of the reader, so that it is read from the disk once for both.
    Ahead {
        handle: JoinHandle<io::Result<Sha256>>,
        /// Ends the thread when this is dropped, which is where the reading failed and nobody asks for the hash.
        _stop: StopOnDrop,
    },
    Unwanted,
}

/// Tells the thread that reads ahead to stop, when it is dropped.
pub(crate) struct StopOnDrop(Arc<AtomicBool>);

impl Drop for StopOnDrop {
    fn drop(&mut self) {
        self.0.store(true, Ordering::Relaxed);
    }
}

impl Hash {
    /// Begins the hash of an input of `size` bytes, where that is known; `file` is the file itself, at its first byte, where it lies on a
    /// disk. The input must then be read through the reader that is given back.
    pub(crate) fn start(
        raw: Box<dyn Read>,
        size: Option<u64>,
        file: Option<File>,
    ) -> (Hash, Box<dyn Read>) {
        if size.is_some_and(|n| n < INLINE) {
            let (tx, rx) = sync_channel(1);
            let to = TeeTo::Inline(Sha256::new(), tx);
            return (Hash::Inline(rx), Box::new(Tee { inner: raw, to }));
        }
        if let Some(file) = file {
            let stop = Arc::new(AtomicBool::new(false));
            let told = Arc::clone(&stop);
            let (tx, rx) = sync_channel(BLOCKS_AHEAD);
            let hash = Hash::Ahead {
                handle: std::thread::spawn(move || ahead(file, &tx, &told)),
                _stop: StopOnDrop(stop),
            };
            return (hash, Box::new(Blocks::new(rx)));
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

    /// Whether the hash covers only the bytes that were read. Where reading ends early it is then not the hash of the whole file.
    pub(crate) fn is_of_passing(&self) -> bool {
        matches!(self, Hash::Inline(_) | Hash::Handed(_))
    }

    /// The hash in hexadecimal; empty where there is none, or the file could not be read to its end. The reader must have been dropped
    /// before, or this waits for it.
    pub(crate) fn finish(self) -> String {
        let hasher = match self {
            Hash::Inline(hashed) => hashed.recv().ok(),
            Hash::Handed(handle) => handle.join().ok(),
            Hash::Ahead { handle, .. } => handle.join().ok().and_then(Result::ok),
            Hash::Unwanted => None,
        };
        hasher.map(text).unwrap_or_default()
    }
}

/// A reader that passes what it reads to the hash as well.
struct Tee {
    inner: Box<dyn Read>,
    to: TeeTo,
}

/// Where the bytes go: into a hash that is sent off at the end, or as blocks to a thread, which sends them back to be used again.
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
