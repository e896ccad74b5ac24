//! Brings text of any encoding to UTF-8: UTF-16, which is known by its byte-order mark or its zero bytes, UTF-8 with a mark, and Latin-1
//! where the bytes are not UTF-8. NMEA logs hold binary between sentences, so only text that begins like XML, has a mark or is UTF-16 is
//! touched; the rest passes through byte for byte.

use std::io::{self, Read};

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Coding {
    Utf16Le,
    Utf16Be,
    Latin1,
    /// UTF-8, where a byte that isn't is taken for Latin-1.
    Utf8,
}

/// A reader that gives UTF-8.
pub(crate) struct Plain {
    inner: Box<dyn Read>,
    coding: Coding,
    /// Undecoded bytes left from the last block.
    tail: Vec<u8>,
    /// Decoded bytes, and how many of them have been handed out.
    ready: Vec<u8>,
    at: usize,
    /// Bytes of a byte-order mark still to drop.
    mark: usize,
    ended: bool,
}

const BLOCK: usize = 64 * 1024;

impl Plain {
    /// Wraps `inner`, whose first bytes are `first`, so that it gives UTF-8. Returns it as it is where
    /// that is what it gives already, or where it isn't text.
    pub(crate) fn wrap(first: &[u8], inner: Box<dyn Read>) -> Box<dyn Read> {
        let (coding, mark) = if first.starts_with(&[0xff, 0xfe]) {
            (Coding::Utf16Le, 2)
        } else if first.starts_with(&[0xfe, 0xff]) {
            (Coding::Utf16Be, 2)
        } else if first.starts_with(&[0xef, 0xbb, 0xbf]) {
            (Coding::Utf8, 3)
        } else if let Some(coding) = without_mark(first) {
            (coding, 0)
        } else {
            return inner;
        };
        Box::new(Plain {
            inner,
            coding,
            tail: Vec::new(),
            ready: Vec::new(),
            at: 0,
            mark,
            ended: false,
        })
    }

    /// Reads one more block straight into `out` and gives its length, where it is UTF-8 already, as nearly all text is. Gives 0 where the
    /// block must be decoded; its bytes are then in `tail`.
    fn as_it_is(&mut self, out: &mut [u8]) -> io::Result<usize> {
        let before = self.tail.len();
        let Some(room) = out.get_mut(before..).filter(|_| before < CHARACTER) else {
            return Ok(0);
        };
        let got = self.inner.read(room)?;
        if got == 0 {
            return Ok(0);
        }
        if let Some(start) = out.get_mut(..before) {
            start.copy_from_slice(&self.tail);
        }
        let block = out.get(..before + got).unwrap_or(&[]);
        let good = match std::str::from_utf8(block) {
            Ok(_) => block.len(),
            // The only fault is a character that the end of the block cuts through.
            Err(e) if e.error_len().is_none() => e.valid_up_to(),
            Err(_) => 0,
        };
        self.tail.clear();
        self.tail
            .extend_from_slice(block.get(good..).unwrap_or(&[]));
        Ok(good)
    }

    /// Decodes one more block into `ready`.
    fn decode(&mut self) -> io::Result<()> {
        self.ready.clear();
        self.at = 0;
        let before = self.tail.len();
        self.tail.resize(before + BLOCK, 0);
        let got = self
            .inner
            .read(self.tail.get_mut(before..).unwrap_or(&mut []));
        self.tail.truncate(before + *got.as_ref().unwrap_or(&0));
        self.ended = got? == 0;
        let drop = self.mark.min(self.tail.len());
        self.tail.drain(..drop);
        self.mark -= drop;
        let used = match self.coding {
            Coding::Utf16Le => utf16(&self.tail, u16::from_le_bytes, self.ended, &mut self.ready),
            Coding::Utf16Be => utf16(&self.tail, u16::from_be_bytes, self.ended, &mut self.ready),
            Coding::Latin1 => {
                latin1(&self.tail, &mut self.ready);
                self.tail.len()
            }
            Coding::Utf8 => utf8(&self.tail, self.ended, &mut self.ready),
        };
        self.tail.drain(..used.min(self.tail.len()));
        Ok(())
    }
}

/// The coding of text without a byte-order mark; `None` where its bytes are to be left as they are. It is UTF-16 where nine in ten of the
/// first pairs of bytes are a plain character and a zero.
fn without_mark(first: &[u8]) -> Option<Coding> {
    let pairs = first.as_chunks::<2>().0;
    let pairs = pairs.get(..64.min(pairs.len())).unwrap_or(&[]);
    let share = |test: fn(&[u8; 2]) -> bool| pairs.iter().filter(|p| test(p)).count() * 10;
    let texty = |b: u8| b == b'\r' || b == b'\n' || b == b'\t' || (0x20..0x7f).contains(&b);
    if pairs.len() >= 2 {
        let most = pairs.len() * 9;
        let low = pairs.iter().filter(|p| texty(p[0]) && p[1] == 0).count() * 10;
        let high = pairs.iter().filter(|p| texty(p[1]) && p[0] == 0).count() * 10;
        if low >= most && share(|p| p[1] == 0) >= most {
            return Some(Coding::Utf16Le);
        }
        if high >= most && share(|p| p[0] == 0) >= most {
            return Some(Coding::Utf16Be);
        }
    }
    let start = first.trim_ascii_start();
    if !start.starts_with(b"<") {
        return None;
    }
    let declared = start
        .split(|b| *b == b'>')
        .next()
        .unwrap_or(&[])
        .to_ascii_lowercase();
    let says = |name: &[u8]| declared.windows(name.len()).any(|w| w == name);
    if declared.starts_with(b"<?xml")
        && (says(b"iso-8859") || says(b"windows-125") || says(b"latin"))
    {
        return Some(Coding::Latin1);
    }
    Some(Coding::Utf8)
}

/// Decodes UTF-16, and gives how many bytes are done with. `ended` says that no more will come.
fn utf16(from: &[u8], unit: fn([u8; 2]) -> u16, ended: bool, to: &mut Vec<u8>) -> usize {
    let (pairs, odd) = from.as_chunks::<2>();
    let mut used = pairs.len() * 2;
    let mut units: Vec<u16> = pairs.iter().map(|p| unit(*p)).collect();
    // The first half of a surrogate pair waits for its second.
    if !ended && units.last().is_some_and(|u| (0xd800..0xdc00).contains(u)) {
        units.pop();
        used -= 2;
    }
    let mut four = [0u8; 4];
    for c in char::decode_utf16(units) {
        let c = c.unwrap_or(char::REPLACEMENT_CHARACTER);
        to.extend_from_slice(c.encode_utf8(&mut four).as_bytes());
    }
    if ended { used + odd.len() } else { used }
}

/// Decodes Latin-1, in which each byte is the character of that number.
fn latin1(from: &[u8], to: &mut Vec<u8>) {
    let mut four = [0u8; 4];
    for b in from {
        to.extend_from_slice(char::from(*b).encode_utf8(&mut four).as_bytes());
    }
}

/// Copies UTF-8, with bytes that are not taken for Latin-1, and gives how many bytes are done with. `ended` says that no more will come.
fn utf8(from: &[u8], ended: bool, to: &mut Vec<u8>) -> usize {
    let mut at = 0;
    while let Some(left) = from.get(at..) {
        match std::str::from_utf8(left) {
            Ok(text) => {
                to.extend_from_slice(text.as_bytes());
                return from.len();
            }
            Err(e) => {
                let good = e.valid_up_to();
                to.extend_from_slice(left.get(..good).unwrap_or(&[]));
                at += good;
                let bad = match e.error_len() {
                    Some(n) => n,
                    // A character cut by the end of the block waits for its rest.
                    None if !ended => return at,
                    None => left.len() - good,
                };
                latin1(from.get(at..at + bad).unwrap_or(&[]), to);
                at += bad;
            }
        }
    }
    from.len()
}

/// The longest character of UTF-8, bytes.
const CHARACTER: usize = 4;

impl Read for Plain {
    fn read(&mut self, out: &mut [u8]) -> io::Result<usize> {
        while self.at >= self.ready.len() {
            if self.ended {
                return Ok(0);
            }
            if self.coding == Coding::Utf8 && self.mark == 0 && out.len() > CHARACTER {
                match self.as_it_is(out)? {
                    0 => {}
                    n => return Ok(n),
                }
            }
            self.decode()?;
        }
        let left = self.ready.get(self.at..).unwrap_or(&[]);
        let n = left.len().min(out.len());
        if let (Some(to), Some(from)) = (out.get_mut(..n), left.get(..n)) {
            to.copy_from_slice(from);
        }
        self.at += n;
        Ok(n)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Cursor;

    /// Hands out one byte at a time, so that every character is cut by a block's end.
    struct Drip(Cursor<Vec<u8>>);
    impl Read for Drip {
        fn read(&mut self, out: &mut [u8]) -> io::Result<usize> {
            let n = out.len().min(1);
            self.0.read(&mut out[..n])
        }
    }

    fn plain(bytes: Vec<u8>) -> String {
        let mut text = String::new();
        Plain::wrap(&bytes.clone(), Box::new(Drip(Cursor::new(bytes))))
            .read_to_string(&mut text)
            .unwrap();
        text
    }

    const SAMPLE: &str = "<gpx><name>Bérénice 木 𝛼</name></gpx>\r\n";

    #[test]
    fn utf16_both_ways_with_and_without_mark() {
        let le: Vec<u8> = SAMPLE.encode_utf16().flat_map(u16::to_le_bytes).collect();
        let be: Vec<u8> = SAMPLE.encode_utf16().flat_map(u16::to_be_bytes).collect();
        assert_eq!(plain([vec![0xff, 0xfe], le.clone()].concat()), SAMPLE);
        assert_eq!(plain([vec![0xfe, 0xff], be.clone()].concat()), SAMPLE);
        let ascii = "$GPGGA,123519,4807.038,N,01131.000,E\r\n";
        let le: Vec<u8> = ascii.encode_utf16().flat_map(u16::to_le_bytes).collect();
        let be: Vec<u8> = ascii.encode_utf16().flat_map(u16::to_be_bytes).collect();
        assert_eq!(plain(le), ascii);
        assert_eq!(plain(be), ascii);
    }

    #[test]
    fn latin1_declared_or_not() {
        let declared = b"<?xml version=\"1.0\" encoding=\"ISO-8859-1\"?><name>B\xe9r\xe9</name>";
        assert!(plain(declared.to_vec()).ends_with("<name>Béré</name>"));
        let undeclared = b"<gpx><name>B\xe9r\xe9</name></gpx>";
        assert_eq!(plain(undeclared.to_vec()), "<gpx><name>Béré</name></gpx>");
        assert_eq!(plain(SAMPLE.as_bytes().to_vec()), SAMPLE);
        let marked = [vec![0xef, 0xbb, 0xbf], SAMPLE.as_bytes().to_vec()].concat();
        assert_eq!(plain(marked), SAMPLE);
    }

    #[test]
    fn binary_is_left_alone() {
        let bytes = vec![0xb5, 0x62, 1, 7, 0, 0, b'$', b'G', 0xff, 0x80];
        let mut out = Vec::new();
        Plain::wrap(&bytes, Box::new(Cursor::new(bytes.clone())))
            .read_to_end(&mut out)
            .unwrap();
        assert_eq!(out, bytes);
    }
}
