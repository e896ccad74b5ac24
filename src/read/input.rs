//! Where a log comes from, and its bytes: opened, hashed on another thread, unzipped, in UTF-8.

use crate::fault::Fault;
use crate::read::batch::Batch;
use crate::read::encoding::Plain;
use flate2::read::MultiGzDecoder;
use sha2::{Digest, Sha256};
use std::fs::File;
use std::io::{self, Cursor, Read};
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::thread::JoinHandle;

/// Where a log comes from.
#[derive(Debug, Clone, PartialEq)]
pub enum Input {
    File(PathBuf),
    /// Standard input, read as it comes.
    Stdin,
    /// Already read (a test), with the name sheets call it by.
    Bytes {
        name: String,
        bytes: Vec<u8>,
    },
}

impl Input {
    /// What sheets call it: the file's own name, without its folder.
    pub fn name(&self) -> String {
        match self {
            Input::File(path) => file_name(path),
            Input::Stdin => "standard input".to_string(),
            Input::Bytes { name, .. } => name.clone(),
        }
    }

    /// Whether it can be read a second time from its start.
    pub(crate) fn rereadable(&self) -> bool {
        match self {
            Input::File(path) => path.is_file(),
            Input::Stdin => false,
            Input::Bytes { .. } => true,
        }
    }
}

fn file_name(path: &Path) -> String {
    match path.file_name() {
        Some(name) => name.to_string_lossy().into_owned(),
        None => path.display().to_string(),
    }
}

/// Bytes looked at before the kind of file is decided.
pub(crate) const HEAD: usize = 256 * 1024;
/// Below this a file is hashed where it is read: a thread costs more than it saves.
const HASHED_INLINE: u64 = 512 * 1024;

/// An opened input: its first bytes in plain UTF-8 and the rest to come.
pub(crate) struct Opened {
    pub name: String,
    /// The first bytes, at most [`HEAD`]; they come again from `rest`.
    pub head: Vec<u8>,
    /// The whole of the content, the head included.
    pub rest: Box<dyn Read>,
    hash: Hash,
}

impl Opened {
    /// The SHA-256 of the stored bytes, in hexadecimal. Ends the reading. Where it ended early, a file is gone
    /// through once more; of standard input it is then what was read.
    pub fn finish(self, input: &Input, batch: &Batch) -> String {
        drop(self.rest);
        let hasher = self.hash.finish();
        let early = batch.stopped || batch.broken.is_some();
        let whole = match input {
            Input::File(path) if early && path.is_file() => of_file(path).unwrap_or(hasher),
            Input::Bytes { bytes, .. } if early => Sha256::new_with_prefix(bytes),
            _ => hasher,
        };
        whole
            .finalize()
            .iter()
            .map(|byte| format!("{byte:02x}"))
            .collect()
    }
}

fn of_file(path: &Path) -> io::Result<Sha256> {
    let mut file = File::open(path)?;
    let mut hasher = Sha256::new();
    let mut block = vec![0; 64 * 1024];
    loop {
        match file.read(&mut block)? {
            0 => return Ok(hasher),
            n => hasher.update(block.get(..n).unwrap_or(&[])),
        }
    }
}

/// Opens an input, unzips it where it is gzip, and brings it to UTF-8.
pub(crate) fn open(input: &Input) -> Result<Opened, Fault> {
    let name = input.name();
    let (raw, size): (Box<dyn Read>, Option<u64>) = match input {
        Input::Bytes { bytes, .. } => (
            Box::new(Cursor::new(bytes.clone())),
            Some(bytes.len() as u64),
        ),
        Input::Stdin => (Box::new(io::stdin()), None),
        Input::File(path) => {
            let shown = path.display().to_string();
            let refuse = |e: io::Error| cannot_open(&e).in_file(shown.clone());
            let meta = std::fs::metadata(path).map_err(refuse)?;
            if meta.is_dir() {
                return Err(Fault::unreadable(
                    "directory",
                    "This is a folder, not a log.",
                    "Name the log inside it, or measure all of a folder's surveys with `boundwalk day`.",
                )
                .in_file(shown));
            }
            let file = File::open(path).map_err(refuse)?;
            (Box::new(file), meta.is_file().then_some(meta.len()))
        }
    };
    let (hash, tee) = Hash::start(size);
    let mut stored = Ahead::new(Box::new(Tee { inner: raw, tee }));
    // A file may have been zipped twice on its way here; more is no honest log.
    for _ in 0..2 {
        let first = stored.peek(2).map_err(|e| cannot_open(&e).in_file(&name))?;
        if !first.starts_with(&[0x1f, 0x8b]) {
            break;
        }
        stored = Ahead::new(Box::new(MultiGzDecoder::new(stored)));
    }
    let first = match stored.peek(4096) {
        Ok(first) => first.to_vec(),
        Err(e) => return Err(cannot_open(&e).in_file(&name)),
    };
    let mut plain = Ahead::new(Plain::wrap(&first, Box::new(stored)));
    // A break inside the head is met again by the reader, which keeps what came before it.
    let head = match plain.peek(HEAD) {
        Ok(head) => head.to_vec(),
        Err(_) => plain.held().to_vec(),
    };
    Ok(Opened {
        name,
        head,
        rest: Box::new(plain),
        hash,
    })
}

fn cannot_open(e: &io::Error) -> Fault {
    let (code, advice) = match e.kind() {
        io::ErrorKind::NotFound => ("no-such-file", "Check the name and the folder."),
        io::ErrorKind::PermissionDenied => (
            "not-permitted",
            "Ask for permission to read it, or copy it somewhere you can.",
        ),
        io::ErrorKind::InvalidInput | io::ErrorKind::UnexpectedEof => (
            "broken-gzip",
            "The compressed file is damaged: copy it from the logger again.",
        ),
        _ => ("cannot-read", "Copy it from the logger again."),
    };
    let what = match e.kind() {
        io::ErrorKind::NotFound => "There is no such file.".to_string(),
        io::ErrorKind::PermissionDenied => "The file may not be read.".to_string(),
        _ => format!("The file could not be read ({e})."),
    };
    Fault::unreadable(code, what, advice)
}

/// Looks ahead without consuming.
struct Ahead {
    inner: Box<dyn Read>,
    held: Vec<u8>,
    at: usize,
    /// An error met while looking ahead, to be met again in its place.
    broken: Option<io::Error>,
}

impl Ahead {
    fn new(inner: Box<dyn Read>) -> Ahead {
        Ahead {
            inner,
            held: Vec::new(),
            at: 0,
            broken: None,
        }
    }

    /// The next `n` bytes or as many as there are; an error only where not one byte came before it.
    fn peek(&mut self, n: usize) -> io::Result<&[u8]> {
        while self.held.len() < n && self.broken.is_none() {
            let before = self.held.len();
            self.held.resize(n, 0);
            let got = self
                .inner
                .read(self.held.get_mut(before..).unwrap_or(&mut []));
            self.held.truncate(before + *got.as_ref().unwrap_or(&0));
            match got {
                Ok(0) => break,
                Ok(_) => {}
                Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
                Err(e) => self.broken = Some(e),
            }
        }
        match self.broken.take() {
            Some(e) if self.held.is_empty() => Err(e),
            other => {
                self.broken = other;
                Ok(&self.held)
            }
        }
    }

    fn held(&self) -> &[u8] {
        &self.held
    }
}

impl Read for Ahead {
    fn read(&mut self, out: &mut [u8]) -> io::Result<usize> {
        let left = self.held.get(self.at..).unwrap_or(&[]);
        if !left.is_empty() {
            let n = left.len().min(out.len());
            if let (Some(to), Some(from)) = (out.get_mut(..n), left.get(..n)) {
                to.copy_from_slice(from);
            }
            self.at += n;
            if self.at == self.held.len() {
                self.held = Vec::new();
                self.at = 0;
            }
            return Ok(n);
        }
        match self.broken.take() {
            Some(e) => Err(e),
            None => self.inner.read(out),
        }
    }
}

/// Hashing beside the reading.
enum Hash {
    Inline(Receiver<Sha256>),
    Thread(JoinHandle<Sha256>),
}

enum TeeTo {
    Inline(Sha256, SyncSender<Sha256>),
    Thread(SyncSender<Vec<u8>>, Receiver<Vec<u8>>),
}

struct Tee {
    inner: Box<dyn Read>,
    tee: TeeTo,
}

impl Hash {
    fn start(size: Option<u64>) -> (Hash, TeeTo) {
        if size.is_some_and(|n| n < HASHED_INLINE) {
            let (tx, rx) = sync_channel(1);
            return (Hash::Inline(rx), TeeTo::Inline(Sha256::new(), tx));
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
        (Hash::Thread(handle), TeeTo::Thread(tx, returned))
    }

    fn finish(self) -> Sha256 {
        match self {
            Hash::Inline(rx) => rx.recv().unwrap_or_default(),
            Hash::Thread(handle) => handle.join().unwrap_or_default(),
        }
    }
}

impl Read for Tee {
    fn read(&mut self, out: &mut [u8]) -> io::Result<usize> {
        let n = self.inner.read(out)?;
        let got = out.get(..n).unwrap_or(&[]);
        match &mut self.tee {
            TeeTo::Inline(hasher, _) => hasher.update(got),
            TeeTo::Thread(tx, returned) => {
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
        if let TeeTo::Inline(hasher, tx) = &mut self.tee {
            let _ = tx.try_send(std::mem::take(hasher));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Write;

    fn bytes(name: &str, bytes: &[u8]) -> Input {
        Input::Bytes {
            name: name.to_string(),
            bytes: bytes.to_vec(),
        }
    }

    fn drain(input: &Input) -> (Vec<u8>, String) {
        let mut opened = open(input).unwrap();
        let mut all = Vec::new();
        opened.rest.read_to_end(&mut all).unwrap();
        (all, opened.finish(input, &Batch::default()))
    }

    /// FIPS 180-2, appendix B.1: the digest of "abc"; B.3: of a million "a".
    #[test]
    fn hashes_as_the_standard_says() {
        let (all, hash) = drain(&bytes("abc", b"abc"));
        assert_eq!(all, b"abc");
        assert_eq!(
            hash,
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
        let million = vec![b'a'; 1_000_000];
        let (all, hash) = drain(&bytes("million", &million));
        assert_eq!(all.len(), 1_000_000);
        assert_eq!(
            hash,
            "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0"
        );
    }

    #[test]
    fn unzips_whatever_is_zipped() {
        let text = b"hello there, ".repeat(1000);
        let mut gz = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
        gz.write_all(&text).unwrap();
        let zipped = gz.finish().unwrap();
        assert_eq!(drain(&bytes("z", &zipped)).0, text);
        // Cut short: what came before the break is kept, and the break is met again.
        let mut cut = open(&bytes("z", &zipped[..zipped.len() - 12])).unwrap();
        let mut some = Vec::new();
        assert!(cut.rest.read_to_end(&mut some).is_err());
        assert!(text.starts_with(&some));
    }

    #[test]
    fn a_missing_file_and_a_folder_are_named() {
        let fault = open(&Input::File("no/such/log.nmea".into())).err().unwrap();
        assert_eq!(fault.code(), "no-such-file");
        assert!(fault.to_string().contains("no/such/log.nmea"));
        let fault = open(&Input::File("src".into())).err().unwrap();
        assert_eq!(fault.code(), "directory");
    }
}
