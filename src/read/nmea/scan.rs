//! Finds NMEA sentences in any bytes: between binary, after a logger's prefix, in torn and merged lines.
//!
//! A sentence begins at `$`, its body runs over printable characters and ends at `*` or at the first character
//! that isn't printable. A `$` inside a body means that the sentence before it was torn: it is
//! dropped and reading goes on at the inner `$`. Source: NMEA 0183, sentence layout, as described in gpsd's
//! NMEA notes (the standard itself is not public).

use memchr::{memchr, memchr_iter};
use std::io::{self, Read};

/// The longest sentence, bytes. NMEA 0183 allows 82; real high-precision logs reach 120.
pub const LONGEST: usize = 1024;
const BLOCK: usize = 256 * 1024;

/// What the two hexadecimal digits after `*` say of the sentence: they must be the exclusive or of its bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Checksum {
    Right,
    Wrong,
    Missing,
}

/// Something that began with `$`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Found<'a> {
    /// What stands between `$` and `*` or the end of the line.
    Sentence {
        body: &'a [u8],
        checksum: Checksum,
    },
    /// Cut short by the `$` of the next sentence, or by bytes that are no text.
    Torn {
        body: &'a [u8],
    },
    TooLong {
        body: &'a [u8],
    },
}

/// Counts kept by the scanner.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Scanned {
    pub bytes: u64,
    /// Lines, with a last one that has no line end.
    pub lines: u64,
    /// Lines with something in them but no sentence: comments, binary.
    pub strays: u64,
}

/// Reads `from` to its end and calls `each` with every sentence and its line, from 1. `each` returns `false`
/// to stop. `end_of_line` is `\n`, or `\r` for files that have no other.
///
/// # Errors
/// Those of `from`, after every sentence before the break was handed over.
pub fn scan(
    from: &mut dyn Read,
    end_of_line: u8,
    each: &mut impl FnMut(u64, Found<'_>) -> bool,
) -> (Scanned, io::Result<()>) {
    let mut buffer = vec![0u8; BLOCK + LONGEST];
    let mut held = 0;
    let mut walk = Walk::new(end_of_line);
    let mut bytes = 0u64;
    let mut outcome = Ok(());
    loop {
        let got = match from.read(buffer.get_mut(held..).unwrap_or(&mut [])) {
            Ok(n) => n,
            Err(e) if e.kind() == io::ErrorKind::Interrupted => continue,
            Err(e) => {
                outcome = Err(e);
                0
            }
        };
        bytes += got as u64;
        let filled = held + got;
        let last = got == 0;
        let window = buffer.get(..filled).unwrap_or(&[]);
        let (used, go_on) = walk.window(window, last, each);
        if last || !go_on {
            break;
        }
        buffer.copy_within(used..filled, 0);
        held = filled - used;
    }
    (walk.scanned(bytes), outcome)
}

/// As [`scan`], of a text that is in memory: no byte of it is copied.
pub fn whole(
    text: &[u8],
    end_of_line: u8,
    each: &mut impl FnMut(u64, Found<'_>) -> bool,
) -> Scanned {
    let mut walk = Walk::new(end_of_line);
    walk.window(text, true, each);
    walk.scanned(text.len() as u64)
}

/// Where the scanner is in the text.
struct Walk {
    line: u64,
    end_of_line: u8,
    strays: u64,
    /// Whether the present line has any byte yet.
    begun: bool,
    /// Whether it has any byte but white space, and whether it has a sentence.
    filled: bool,
    sentence: bool,
}

impl Walk {
    fn new(end_of_line: u8) -> Walk {
        Walk {
            line: 1,
            end_of_line,
            strays: 0,
            begun: false,
            filled: false,
            sentence: false,
        }
    }

    fn scanned(&self, bytes: u64) -> Scanned {
        Scanned {
            bytes,
            lines: self.line - 1 + u64::from(self.begun),
            strays: self.strays + u64::from(self.filled && !self.sentence),
        }
    }

    /// Goes through one window; returns how much of it was used up and whether to go on.
    fn window(
        &mut self,
        window: &[u8],
        last: bool,
        each: &mut impl FnMut(u64, Found<'_>) -> bool,
    ) -> (usize, bool) {
        let mut at = 0;
        while let Some(rest) = window.get(at..)
            && let Some(&first) = rest.first()
        {
            if first != b'$' {
                at += self.between(rest);
                continue;
            }
            let body = rest.get(1..).unwrap_or(&[]);
            let (len, sum) = span(body);
            let Some(&stop) = body.get(len) else {
                // The window ends within the body: wait for more, unless there is no more or it is too long for a sentence.
                if !last && rest.len() <= LONGEST {
                    return (at, true);
                }
                self.begun = true;
                self.sentence = true;
                at += rest.len();
                let found = if rest.len() > LONGEST {
                    Found::TooLong { body }
                } else {
                    Found::Sentence {
                        body,
                        checksum: Checksum::Missing,
                    }
                };
                if !each(self.line, found) {
                    return (at, false);
                }
                continue;
            };
            // The checksum is not all in the window: wait for it. The bound on the length leaves room for it in the buffer.
            if stop == b'*' && len < LONGEST && body.len() < len + 3 && !last {
                return (at, true);
            }
            self.begun = true;
            self.sentence = true;
            let (found, further) = ended(body, len, stop, sum);
            at += 1 + len + further;
            if !each(self.line, found) {
                return (at, false);
            }
            // A shortcut for what nearly always follows: the end of the line, and then the next sentence.
            if let Some([b'\r', b'\n', b'$']) = window.get(at..).and_then(|rest| rest.first_chunk())
                && self.end_of_line == b'\n'
            {
                self.end_line();
                at += 2;
            }
        }
        (at, true)
    }

    /// Goes through what stands before the next `$`; returns its length, at least 1.
    fn between(&mut self, rest: &[u8]) -> usize {
        let len = memchr(b'$', rest).unwrap_or(rest.len()).max(1);
        let gap = rest.get(..len).unwrap_or(rest);
        let mut from = 0;
        for end in memchr_iter(self.end_of_line, gap) {
            self.stretch(gap.get(from..end).unwrap_or(&[]));
            self.end_line();
            from = end + 1;
        }
        self.stretch(gap.get(from..).unwrap_or(&[]));
        len
    }

    fn end_line(&mut self) {
        self.strays += u64::from(self.filled && !self.sentence);
        self.line += 1;
        (self.begun, self.filled, self.sentence) = (false, false, false);
    }

    fn stretch(&mut self, part: &[u8]) {
        self.begun |= !part.is_empty();
        self.filled = self.filled || part.iter().any(|b| !b.is_ascii_whitespace());
    }
}

/// Judges a sentence that ends after `len` bytes at the byte `stop`; `sum` is the exclusive or of its bytes. Also gives how many further
/// bytes belong to it, which is three for `*` and a checksum.
#[inline]
fn ended(body: &[u8], len: usize, stop: u8, sum: u8) -> (Found<'_>, usize) {
    let text = body.get(..len).unwrap_or(&[]);
    let sentence = |checksum| Found::Sentence {
        body: text,
        checksum,
    };
    match stop {
        _ if len >= LONGEST => (Found::TooLong { body: text }, 0),
        b'*' => match body.get(len + 1..).and_then(|after| said(after, sum)) {
            Some(checksum) => (sentence(checksum), 3),
            None => (Found::Torn { body: text }, 0),
        },
        b'\r' | b'\n' => (sentence(Checksum::Missing), 0),
        _ => (Found::Torn { body: text }, 0),
    }
}

/// Length of the body that begins here, and the exclusive or of its bytes (NMEA 0183's checksum).
///
/// It goes eight bytes at a time. Only where one of them may end the body are they looked at byte by byte.
#[inline]
fn span(body: &[u8]) -> (usize, u8) {
    let (words, tail) = body.as_chunks::<8>();
    let mut sums = 0u64;
    for (i, bytes) in words.iter().enumerate() {
        let word = u64::from_le_bytes(*bytes);
        let unusual = unusual(word);
        if unusual != 0 {
            let before = unusual.trailing_zeros() / 8;
            if let Some(more) = bytes
                .iter()
                .skip(before as usize)
                .position(|b| ends_body(*b))
            {
                let len = before as usize + more;
                sums ^= word & ((1u64 << (8 * len)) - 1);
                return (i * 8 + len, folded(sums));
            }
        }
        sums ^= word;
    }
    let mut sum = folded(sums);
    for (i, &b) in tail.iter().enumerate() {
        if ends_body(b) {
            return (words.len() * 8 + i, sum);
        }
        sum ^= b;
    }
    (body.len(), sum)
}

/// Sets the high bit of the first byte that may end a body, as it is no letter, digit, comma, point or the like; 0 where there is none. By
/// borrows and carries, bytes after it can be marked as well, but never one before it.
#[inline]
fn unusual(word: u64) -> u64 {
    const EACH: u64 = 0x0101_0101_0101_0101;
    const HIGH: u64 = 0x8080_8080_8080_8080;
    // The three parts mark bytes up to `*`, bytes of 0x80 or more, and 0x7f.
    (word.wrapping_sub(EACH * (b'*' as u64 + 1)) | word | word.wrapping_add(EACH)) & HIGH
}

/// Whether a byte ends the body of a sentence: `*`, `$`, or one that is not printable.
#[inline]
fn ends_body(b: u8) -> bool {
    matches!(b, b'*' | b'$') || !(0x20..0x7f).contains(&b)
}

/// The exclusive or of the eight bytes of a word.
#[inline]
fn folded(mut sums: u64) -> u8 {
    sums ^= sums >> 32;
    sums ^= sums >> 16;
    (sums ^ sums >> 8) as u8
}

/// Whether the two digits of a checksum are this sum; `None` where they are no hexadecimal digits.
#[inline]
fn said(digits: &[u8], sum: u8) -> Option<Checksum> {
    let digits = digits.first_chunk::<2>()?;
    if *digits == HEX[usize::from(sum)] {
        return Some(Checksum::Right);
    }
    let hex = |b: u8| char::from(b).to_digit(16);
    let said = hex(digits[0])? << 4 | hex(digits[1])?;
    Some(if said == u32::from(sum) {
        Checksum::Right
    } else {
        Checksum::Wrong
    })
}

/// The two digits for each sum in capital letters, as nearly all logs write them.
const HEX: [[u8; 2]; 256] = {
    let digits = b"0123456789ABCDEF";
    let mut table = [[0; 2]; 256];
    let mut sum = 0;
    while sum < 256 {
        table[sum] = [digits[sum >> 4], digits[sum & 15]];
        sum += 1;
    }
    table
};

/// `\r` where the text has no `\n` at all, else `\n`.
#[must_use]
pub fn end_of_line(head: &[u8]) -> u8 {
    if memchr(b'\n', head).is_none() && memchr(b'\r', head).is_some() {
        b'\r'
    } else {
        b'\n'
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What [`span`] gives, worked out byte by byte.
    fn byte_by_byte(body: &[u8]) -> (usize, u8) {
        let len = body.iter().take_while(|b| !ends_body(**b)).count();
        (len, body[..len].iter().fold(0, |sum, b| sum ^ b))
    }

    /// Every byte in every place of a word, before every other kind of byte.
    #[test]
    fn a_body_ends_where_its_slow_twin_says() {
        for at in 0..40 {
            for byte in 0..=255u8 {
                for next in [b'A', b'*', b'$', 0, 0x1f, 0x20, 0x7e, 0x7f, 0x80, 0xff] {
                    let mut body = *b"GPGGA,120000,5206.01234,N,00112.04321,E,";
                    body[at] = byte;
                    if let Some(after) = body.get_mut(at + 1) {
                        *after = next;
                    }
                    for len in [body.len(), at + 1] {
                        let body = &body[..len];
                        assert_eq!(span(body), byte_by_byte(body), "{body:?}");
                    }
                }
            }
        }
    }

    /// NMEA 0183's usual example of a sentence with its checksum.
    #[test]
    fn sums_as_the_standard_does() {
        let body = b"GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,";
        assert_eq!(span(&[&body[..], b"*47"].concat()), (body.len(), 0x47));
    }
}
