//! The scanner against a slow and obvious twin: on real logs where they are at hand, on the seeds of the fuzz targets,
//! and on thousands of damaged copies, handed over in pieces of any size.

use crate::seeded::Seeded;
use boundwalk::read::nmea::scan::{Checksum, Found, LONGEST, Scanned, end_of_line, scan, whole};
use std::io::Read;
use std::path::Path;

#[derive(Debug, Clone, PartialEq)]
enum Seen {
    Sentence(Vec<u8>, Checksum),
    Torn(Vec<u8>),
    TooLong,
}

/// What a sentence is, byte by byte: from `$` over printable characters to `*` and two digits, or to the line's end.
fn slowly(bytes: &[u8], end_of_line: u8) -> (Vec<(u64, Seen)>, Scanned) {
    let mut seen = Vec::new();
    let (mut line, mut strays) = (1u64, 0u64);
    let (mut filled, mut sentence) = (false, false);
    let mut at = 0;
    while at < bytes.len() {
        if bytes[at] == end_of_line {
            strays += u64::from(filled && !sentence);
            (filled, sentence) = (false, false);
            line += 1;
            at += 1;
            continue;
        }
        if bytes[at] != b'$' {
            filled |= !bytes[at].is_ascii_whitespace();
            at += 1;
            continue;
        }
        sentence = true;
        let mut body = Vec::new();
        at += 1;
        while at < bytes.len() && (b' '..=b'~').contains(&bytes[at]) && !b"*$".contains(&bytes[at])
        {
            body.push(bytes[at]);
            at += 1;
        }
        let long = body.len() >= LONGEST;
        let digits = bytes.get(at + 1..at + 3).and_then(|two| {
            let text = std::str::from_utf8(two).ok()?;
            let hex = text.bytes().all(|b| b.is_ascii_hexdigit());
            hex.then(|| u8::from_str_radix(text, 16).ok())?
        });
        let found = match (bytes.get(at), digits) {
            _ if long => Seen::TooLong,
            (Some(b'*'), Some(said)) => {
                at += 3;
                let sum = body.iter().fold(0, |sum, b| sum ^ b);
                let right = said == sum;
                let checksum = if right {
                    Checksum::Right
                } else {
                    Checksum::Wrong
                };
                Seen::Sentence(body, checksum)
            }
            (None | Some(b'\r' | b'\n'), _) => Seen::Sentence(body, Checksum::Missing),
            _ => Seen::Torn(body),
        };
        seen.push((line, found));
    }
    strays += u64::from(filled && !sentence);
    let begun = bytes.last().is_some_and(|last| *last != end_of_line);
    let scanned = Scanned {
        bytes: bytes.len() as u64,
        lines: line - 1 + u64::from(begun),
        strays,
    };
    (seen, scanned)
}

/// Hands its bytes out in pieces of up to so many.
struct Pieces<'a>(&'a [u8], usize, Seeded);

impl Read for Pieces<'_> {
    fn read(&mut self, out: &mut [u8]) -> std::io::Result<usize> {
        let n = (1 + self.2.below(self.1)).min(out.len()).min(self.0.len());
        out[..n].copy_from_slice(&self.0[..n]);
        self.0 = &self.0[n..];
        Ok(n)
    }
}

fn seen(line: u64, found: Found<'_>) -> (u64, Seen) {
    let found = match found {
        Found::Sentence { body, checksum } => Seen::Sentence(body.to_vec(), checksum),
        Found::Torn { body } => Seen::Torn(body.to_vec()),
        Found::TooLong { .. } => Seen::TooLong,
    };
    (line, found)
}

fn alike(what: &str, bytes: &[u8], piece: usize) {
    let end = end_of_line(bytes);
    let slow = slowly(bytes, end);
    let mut found = Vec::new();
    let mut from = Pieces(bytes, piece, Seeded(piece as u64));
    let (scanned, outcome) = scan(&mut from, end, &mut |line, what| {
        found.push(seen(line, what));
        true
    });
    assert!(outcome.is_ok());
    same(what, (found, scanned), &slow);
    let mut found = Vec::new();
    let scanned = whole(bytes, end, &mut |line, what| {
        found.push(seen(line, what));
        true
    });
    same(what, (found, scanned), &slow);
}

fn same(what: &str, fast: (Vec<(u64, Seen)>, Scanned), slow: &(Vec<(u64, Seen)>, Scanned)) {
    for (fast, slow) in fast.0.iter().zip(&slow.0) {
        assert_eq!(fast, slow, "{what}");
    }
    assert_eq!(fast.0.len(), slow.0.len(), "{what}");
    assert_eq!(fast.1, slow.1, "{what}");
}

fn all_of(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let mut all: Vec<(String, Vec<u8>)> = std::fs::read_dir(folder)
        .into_iter()
        .flatten()
        .map(|entry| {
            let path = entry.unwrap().path();
            (path.display().to_string(), std::fs::read(path).unwrap())
        })
        .collect();
    all.sort();
    all
}

#[test]
fn real_logs() {
    let home = Path::new(env!("CARGO_MANIFEST_DIR"));
    let logs = ["../shared/corpus", "../../shared/corpus"].map(|folder| all_of(&home.join(folder)));
    let logs = logs.concat();
    if logs.is_empty() {
        println!("skipped: no folder of real logs beside the project");
    }
    for (name, bytes) in logs {
        for piece in [7, 600, 1 << 20] {
            alike(&name, &bytes, piece);
        }
    }
}

#[test]
fn damaged_logs() {
    let seeds = all_of(&Path::new(env!("CARGO_MANIFEST_DIR")).join("fuzz/seeds/nmea"));
    assert!(seeds.len() > 10);
    let mut dice = Seeded(44);
    const TOKENS: [&[u8]; 8] = [b"$", b"*", b"\r", b"\n", b"\0", b"\xff", b"*4", b"$GPGGA,"];
    for number in 0..3_000 {
        let mut bytes = seeds[dice.below(seeds.len())].1.clone();
        for _ in 0..=dice.below(12) {
            let from = dice.below(bytes.len() + 1);
            let to = (from + dice.below(30)).min(bytes.len());
            let token = TOKENS[dice.below(TOKENS.len())];
            match dice.below(4) {
                0 => drop(bytes.drain(from..to)),
                1 => drop(bytes.splice(from..from, token.iter().copied())),
                2 => drop(bytes.splice(from..to, token.iter().copied())),
                _ => drop(bytes.splice(from..from, std::iter::repeat_n(b'7', dice.below(1_200)))),
            }
        }
        let piece = [1, 9, 300, 1 << 20][dice.below(4)];
        alike(&format!("damaged copy {number}"), &bytes, piece);
    }
}

/// Bodies about as long as may be, and far longer than the scanner's buffer, ending in every way wherever they are cut.
#[test]
fn long_bodies() {
    for len in [
        LONGEST - 2,
        LONGEST - 1,
        LONGEST,
        LONGEST + 1,
        263_166,
        263_167,
        263_168,
        700_000,
    ] {
        for end in ["", "*", "*4", "*44", "\r\n", "$", "*44\r\n$GPGLL,*51\r\n"] {
            let bytes = format!("x\n${}{end}", "1".repeat(len));
            for piece in [1_000, LONGEST + 2, 1 << 20] {
                alike(&format!("{len} {end:?}"), bytes.as_bytes(), piece);
            }
        }
    }
}
