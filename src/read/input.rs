//! Where a log comes from, and its bytes: they are opened, hashed as they are stored, unpacked where they are gzip, and brought to UTF-8 where
//! they are text.

use crate::fault::Fault;
use crate::read::archive;
use crate::read::batch::Batch;
use crate::read::encoding::Plain;
use crate::read::hash::{self, Hash};
use crate::regular;
use flate2::read::MultiGzDecoder;
use std::fs::{File, Metadata};
use std::io::{self, Cursor, IsTerminal, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Where a log comes from.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Input {
    /// A file by its path.
    File(PathBuf),
    /// Standard input, read as it comes.
    Stdin,
    /// Standard input, kept so that it can be read again.
    Kept(Kept),
    /// A file in a zip archive.
    Packed {
        /// The archive: a file, or a pipe that was kept.
        archive: Box<Input>,
        /// The file's own name in it.
        member: String,
    },
    /// Bytes that are in memory already, with the name that sheets call them by.
    Bytes {
        /// What it is called.
        name: String,
        /// Its content.
        bytes: Vec<u8>,
    },
}

impl Input {
    /// What sheets call it: the file's own name, without its folder.
    #[must_use]
    pub fn name(&self) -> String {
        match self {
            Input::File(path) => file_name(path),
            Input::Packed { archive, member } => format!("{}/{member}", archive.name()),
            Input::Stdin | Input::Kept(_) => "standard input".to_string(),
            Input::Bytes { name, .. } => name.clone(),
        }
    }

    /// The path of the file that it lies in; `None` where it lies in none that has a path.
    pub(crate) fn on_disk(&self) -> Option<&PathBuf> {
        match self {
            Input::File(path) => Some(path),
            Input::Packed { archive, .. } => archive.on_disk(),
            Input::Stdin | Input::Kept(_) | Input::Bytes { .. } => None,
        }
    }

    /// The SHA-256 of its stored bytes, in hexadecimal, without reading it for anything else; `None` where it cannot be read, or is
    /// a pipe that can be read only once.
    pub(crate) fn hash_on_disk(&self) -> Option<String> {
        match self {
            Input::File(path) => regular::open(path).and_then(hash::of).ok(),
            Input::Stdin => None,
            Input::Packed { archive, member } => member_of(archive, member)
                .and_then(|bytes| hash::of(bytes.as_slice()))
                .ok(),
            Input::Kept(kept) => kept.open().and_then(|(file, _)| hash::of(file)).ok(),
            Input::Bytes { bytes, .. } => hash::of(bytes.as_slice()).ok(),
        }
    }

    /// The archive that it is, at its first byte; `None` where it is none or cannot be opened.
    pub(crate) fn archive(&self) -> Option<File> {
        archive::of(match self {
            Input::File(path) => regular::open(path).ok()?,
            Input::Kept(kept) => kept.open().ok()?.0,
            Input::Stdin | Input::Packed { .. } | Input::Bytes { .. } => return None,
        })
    }

    /// Whether it can be read a second time from its start.
    pub(crate) fn rereadable(&self) -> bool {
        match self {
            Input::File(path) => path.is_file(),
            Input::Stdin => false,
            Input::Kept(_) | Input::Bytes { .. } | Input::Packed { .. } => true,
        }
    }

    /// Whether it is a pipe, which may never end.
    fn endless(&self) -> bool {
        match self {
            Input::File(path) => !path.is_file(),
            Input::Stdin => true,
            Input::Kept(_) | Input::Bytes { .. } | Input::Packed { .. } => false,
        }
    }
}

/// The content of a file in an archive.
fn member_of(archive: &Input, member: &str) -> io::Result<Vec<u8>> {
    match archive.archive() {
        Some(file) => archive::member_of(file, member),
        None => Err(io::Error::new(
            io::ErrorKind::NotFound,
            "it is no archive any more",
        )),
    }
}

/// What came through a pipe, kept in a temporary file without a name. The system removes the file when nobody uses it any more.
#[derive(Debug, Clone)]
pub struct Kept(Arc<File>);

impl Kept {
    /// Keeps all of `from`; `None` where it is longer than `most_bytes`.
    ///
    /// # Errors
    /// Where it can't be read, or the file can't be written.
    pub fn of(from: &mut dyn Read, most_bytes: u64) -> io::Result<Option<Kept>> {
        let mut file = tempfile::tempfile()?;
        let bytes = io::copy(&mut from.take(most_bytes + 1), &mut file)?;
        Ok((bytes <= most_bytes).then(|| Kept(Arc::new(file))))
    }

    /// The file at its first byte, and its length. Only one may read at a time, as all share their place in the file.
    pub(crate) fn open(&self) -> io::Result<(File, u64)> {
        let mut file = self.0.try_clone()?;
        file.seek(SeekFrom::Start(0))?;
        let bytes = file.metadata()?.len();
        Ok((file, bytes))
    }
}

impl PartialEq for Kept {
    fn eq(&self, other: &Kept) -> bool {
        Arc::ptr_eq(&self.0, &other.0)
    }
}

fn file_name(path: &Path) -> String {
    match path.file_name() {
        Some(name) => name.to_string_lossy().into_owned(),
        None => path.display().to_string(),
    }
}

/// How many bytes are looked at before the kind of file is decided.
pub(crate) const HEAD: usize = 256 * 1024;
/// Reading from a pipe may be asked to stop after so many fixes. A pipe that doesn't give them is given up after this many bytes, and for each
/// fix asked for this many more. A receiver that logs raw observations beside its positions writes some kB for each fix.
const ENDLESS: u64 = 512 << 20;
const ENDLESS_PER_FIX: u64 = 16 << 10;

/// An opened input, in plain UTF-8.
pub(crate) struct Opened {
    pub name: String,
    /// The whole of the content, the head included.
    pub rest: Ahead,
    hash: Hash,
}

impl Opened {
    /// The first bytes, at most [`HEAD`], until anything is taken from `rest`; they come again from there.
    pub(crate) fn head(&self) -> &[u8] {
        &self.rest.held
    }

    /// All of the content, where the head is all of it; else `None`.
    pub(crate) fn whole(&self) -> Option<&[u8]> {
        self.rest.ended.then_some(self.head())
    }

    /// Ends the reading and gives the SHA-256 of the stored bytes, in hexadecimal; empty where they can't be read any more. Where reading
    /// ended early, an input that can be read again is hashed anew to its end; of a pipe the hash is then of the part that was read.
    pub(crate) fn finish(self, input: &Input, batch: &Batch) -> String {
        drop(self.rest);
        let early = batch.stopped || batch.broken.is_some();
        if early && self.hash.is_of_passing() {
            let anew = match input {
                Input::File(path) if path.is_file() => Some(File::open(path).and_then(hash::of)),
                Input::Kept(kept) => Some(kept.open().and_then(|(file, _)| hash::of(file))),
                Input::Bytes { bytes, .. } => Some(hash::of(bytes.as_slice())),
                Input::Packed { .. } => input.hash_on_disk().map(Ok),
                _ => None,
            };
            if let Some(anew) = anew {
                return anew.unwrap_or_default();
            }
        }
        self.hash.finish()
    }
}

/// How an input is to be opened.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Wanted {
    /// Whether its hash is wanted; a second reading does without.
    pub hash: bool,
    /// How many fixes reading is to stop after.
    pub max_fixes: Option<u64>,
    /// Whether only a plain file may be opened, as it was named by a sheet or found in a folder.
    pub regular: bool,
}

/// An input's bytes as they are stored.
struct Stored {
    raw: Box<dyn Read>,
    /// How many bytes, where that is known.
    size: Option<u64>,
    /// The file itself, where its hash is wanted.
    on_disk: Option<File>,
}

impl Stored {
    fn of(bytes: Vec<u8>) -> Stored {
        Stored {
            size: Some(bytes.len() as u64),
            raw: Box::new(Cursor::new(bytes)),
            on_disk: None,
        }
    }
}

/// Opens an input as it is stored.
fn stored(input: &Input, wanted: Wanted) -> Result<Stored, Fault> {
    let refuse = |e: io::Error| cannot_open(&e).in_file(input.name());
    Ok(match input {
        Input::Bytes { bytes, .. } => Stored::of(bytes.clone()),
        Input::Stdin => Stored {
            raw: Box::new(io::stdin()),
            size: None,
            on_disk: None,
        },
        Input::Packed { archive, member } => {
            Stored::of(member_of(archive, member).map_err(refuse)?)
        }
        Input::Kept(kept) => {
            let (file, size) = kept.open().map_err(refuse)?;
            Stored {
                raw: Box::new(file),
                size: Some(size),
                on_disk: None,
            }
        }
        Input::File(path) => of_file(path, wanted)?,
    })
}

/// Whether it is a device that gives bytes for ever, as `/dev/zero` does. A serial line counts as a terminal and may be read.
#[cfg(unix)]
fn never_ends(file: &File, meta: &Metadata) -> bool {
    use std::os::unix::fs::FileTypeExt;
    meta.file_type().is_char_device() && !file.is_terminal()
}

#[cfg(not(unix))]
fn never_ends(_: &File, _: &Metadata) -> bool {
    false
}

fn of_file(path: &Path, wanted: Wanted) -> Result<Stored, Fault> {
    let shown = path.display().to_string();
    let refuse = |e: io::Error| cannot_open(&e).in_file(shown.clone());
    let folder = || {
        Fault::unreadable(
            "directory",
            "This is a folder, not a log.",
            "Name the log inside it, or measure all of a folder's surveys with `boundwalk day`.",
        )
        .in_file(shown.clone())
    };
    let opened = match wanted.regular {
        true => regular::open(path),
        false => File::open(path),
    };
    // Some systems refuse to open a folder, others open it; both are told in the same words.
    let file = opened.map_err(|e| match path.is_dir() {
        true => folder(),
        false => refuse(e),
    })?;
    let meta = file.metadata().map_err(refuse)?;
    if meta.is_dir() {
        return Err(folder());
    }
    if never_ends(&file, &meta) {
        let advice = "Name a log. A receiver on a serial line is measured while you walk by `boundwalk live`.";
        return Err(
            Fault::unreadable("device", "This is a device, not a log.", advice).in_file(shown),
        );
    }
    let on_disk = match meta.is_file() && wanted.hash {
        true => file.try_clone().ok(),
        false => None,
    };
    Ok(Stored {
        raw: Box::new(file),
        size: meta.is_file().then_some(meta.len()),
        on_disk,
    })
}

/// Opens an input, unzips it where it is gzip, and brings it to UTF-8.
pub(crate) fn open(input: &Input, wanted: Wanted) -> Result<Opened, Fault> {
    let name = input.name();
    let Stored { raw, size, on_disk } = stored(input, wanted)?;
    let raw: Box<dyn Read> = match wanted.max_fixes {
        Some(fixes) if input.endless() => Box::new(Patient {
            inner: raw,
            left: ENDLESS.saturating_add(fixes.saturating_mul(ENDLESS_PER_FIX)),
        }),
        _ => raw,
    };
    let (hash, raw) = match wanted.hash {
        true => Hash::start(raw, size, on_disk),
        false => (Hash::Unwanted, raw),
    };
    let mut stored = Ahead::new(raw);
    // A file may have been compressed twice on its way here. One that was more often is not unpacked further.
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
    let _ = plain.peek(HEAD);
    Ok(Opened {
        name,
        rest: plain,
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
        io::ErrorKind::Unsupported => (
            "cannot-read",
            "A sheet may name files only; name a pipe itself in the call.",
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

/// A reader whose next bytes can be looked at before they are read.
pub(crate) struct Ahead {
    inner: Box<dyn Read>,
    held: Vec<u8>,
    at: usize,
    /// Whether looking ahead came to the end.
    ended: bool,
    /// An error that was met while looking ahead. The reader gets it once it has read what came before it.
    broken: Option<io::Error>,
}

impl Ahead {
    fn new(inner: Box<dyn Read>) -> Ahead {
        Ahead {
            inner,
            held: Vec::new(),
            at: 0,
            ended: false,
            broken: None,
        }
    }

    /// The next `n` bytes or as many as there are; an error only where not one byte came before it.
    fn peek(&mut self, n: usize) -> io::Result<&[u8]> {
        // Most logs are shorter than the head, so that room is made ready step by step.
        const STEP: usize = 64 * 1024;
        self.held.reserve(n.saturating_sub(self.held.len()));
        while self.held.len() < n && self.broken.is_none() && !self.ended {
            let before = self.held.len();
            self.held.resize(n.min(before + STEP), 0);
            let got = self
                .inner
                .read(self.held.get_mut(before..).unwrap_or(&mut []));
            self.held.truncate(before + *got.as_ref().unwrap_or(&0));
            match got {
                Ok(0) => self.ended = true,
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

/// A pipe that is given up after a number of bytes: reading it then fails.
struct Patient {
    inner: Box<dyn Read>,
    left: u64,
}

impl Read for Patient {
    fn read(&mut self, out: &mut [u8]) -> io::Result<usize> {
        if self.left == 0 {
            return Err(io::Error::other(
                "it goes on and on without the positions asked for",
            ));
        }
        let n = self.inner.read(out)?;
        self.left = self.left.saturating_sub(n as u64);
        Ok(n)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Write;

    const WANTED: Wanted = Wanted {
        hash: true,
        max_fixes: None,
        regular: false,
    };

    fn bytes(name: &str, bytes: &[u8]) -> Input {
        Input::Bytes {
            name: name.to_string(),
            bytes: bytes.to_vec(),
        }
    }

    fn drain(input: &Input) -> (Vec<u8>, String) {
        let mut opened = open(input, WANTED).unwrap();
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

    /// A file on a disk is read ahead on another thread; its hash is of all of it, however much of it was read.
    #[test]
    fn a_long_file_is_read_and_hashed_whole() {
        let text: Vec<u8> = (0..2_000_003u64).map(|i| (i * i / 128) as u8).collect();
        let mut file = tempfile::NamedTempFile::new().unwrap();
        file.write_all(&text).unwrap();
        let input = Input::File(file.path().to_path_buf());
        let expected = hash::of(text.as_slice()).unwrap();
        let (all, hash) = drain(&input);
        assert_eq!(all, text);
        assert_eq!(hash, expected);
        for some in [0, 1, 700_000] {
            let mut opened = open(&input, WANTED).unwrap();
            let mut read = vec![0; some];
            opened.rest.read_exact(&mut read).unwrap();
            assert_eq!(read, text[..some]);
            let stopped = Batch {
                stopped: true,
                ..Batch::default()
            };
            assert_eq!(opened.finish(&input, &stopped), expected, "{some}");
        }
        // Nobody asks for the hash: nothing waits for it.
        drop(open(&input, WANTED).unwrap());
    }

    #[test]
    fn unzips_whatever_is_zipped() {
        let text = b"hello there, ".repeat(1000);
        let mut gz = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
        gz.write_all(&text).unwrap();
        let zipped = gz.finish().unwrap();
        assert_eq!(drain(&bytes("z", &zipped)).0, text);
        // Cut short: what came before the break is kept, and the break is met again.
        let mut cut = open(&bytes("z", &zipped[..zipped.len() - 12]), WANTED).unwrap();
        let mut some = Vec::new();
        assert!(cut.rest.read_to_end(&mut some).is_err());
        assert!(text.starts_with(&some));
    }

    #[test]
    fn a_missing_file_a_folder_and_a_device_are_named() {
        let fault = open(&Input::File("no/such/log.nmea".into()), WANTED)
            .err()
            .unwrap();
        assert_eq!(fault.code(), "no-such-file");
        assert!(fault.to_string().contains("no/such/log.nmea"));
        let fault = open(&Input::File("src".into()), WANTED).err().unwrap();
        assert_eq!(fault.code(), "directory");
        if cfg!(unix) {
            let fault = open(&Input::File("/dev/zero".into()), WANTED)
                .err()
                .unwrap();
            assert_eq!(fault.code(), "device");
        }
    }
}
