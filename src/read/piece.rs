//! Reads a log as it arrives, piece by piece, by the same readers as a whole file, so that it can be shown while a walk goes on. It is
//! measured from the whole file in the end, as only the whole tells which of its sentences, and which of two engines, are to be believed.

use crate::fix::Fix;
use crate::read::batch::{Batch, Limits};
use crate::read::nmea::addresses::Policy;
use crate::read::nmea::{self, Text};
use crate::read::sniff::{self, Form};
use crate::read::{tpv, ubx};

/// How much of the beginning is used to tell what kind of stream it is and which checksums count, bytes.
const HEAD: usize = 32 * 1024;
/// If more than this comes without the end of a line or message, it is garbage and is dropped, bytes.
const LONGEST: usize = 128 * 1024;

/// What one piece gave.
#[derive(Debug, Default)]
pub struct Piece {
    /// `clock_s` is the plain time of day. A position whose sentences came in two pieces is there twice.
    pub fixes: Vec<Fix>,
    /// Sentences or messages that were torn or have a wrong checksum.
    pub damaged: u64,
}

/// A stream that is being read: what is known of it so far, and the bytes that are not yet a whole record.
#[derive(Debug, Default)]
pub struct Pieces {
    head: Vec<u8>,
    form: Option<Form>,
    policy: Policy,
    /// The beginning of a line or message whose end has not come yet.
    held: Vec<u8>,
}

impl Pieces {
    /// Takes the bytes that have come, and reads the records that have become whole with them.
    pub fn take(&mut self, bytes: &[u8]) -> Piece {
        self.look(bytes);
        self.held.extend_from_slice(bytes);
        let limits = Limits {
            most_fixes: usize::MAX,
            keep_all: false,
        };
        let (batch, used) = match self.form {
            Some(Form::Ubx) => ubx::piece(&self.held, &limits),
            form => self.lines(form, &limits),
        };
        self.held.drain(..used);
        if self.held.len() > LONGEST {
            self.held.clear();
        }
        Piece {
            damaged: batch.tally.damaged(),
            fixes: batch.fixes,
        }
    }

    /// Judges again what kind of stream it is, as long as its beginning is still coming.
    fn look(&mut self, bytes: &[u8]) {
        let room = HEAD - self.head.len();
        if room == 0 {
            return;
        }
        self.head.extend(bytes.iter().take(room));
        self.form = sniff::form(&self.head).ok();
        self.policy = nmea::first_policy(&self.head);
    }

    /// Reads all whole lines, and gives how many bytes they are.
    fn lines(&self, form: Option<Form>, limits: &Limits) -> (Batch, usize) {
        let end = nmea::scan::end_of_line(&self.head);
        let used = memchr::memrchr(end, &self.held).map_or(0, |last| last + 1);
        let whole = &self.held[..used];
        let batch = match (used, form) {
            (0, _) => Batch::default(),
            (_, Some(Form::Gpsd)) => tpv::read(&mut &whole[..], 0, limits),
            _ => nmea::read(Text::Whole(whole), end, self.policy.clone(), 0, limits).batch,
        };
        (batch, used)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::read::{Input, read};

    fn all(bytes: &[u8], step: usize) -> Vec<Fix> {
        let mut pieces = Pieces::default();
        let mut fixes: Vec<Fix> = Vec::new();
        for piece in bytes.chunks(step) {
            for fix in pieces.take(piece).fixes {
                // The rest of an epoch may come in the next piece.
                match fixes.last() {
                    Some(last) if last.clock_s == fix.clock_s => {}
                    _ => fixes.push(fix),
                }
            }
        }
        fixes
    }

    /// However a stream is cut, its positions are those of the file.
    #[test]
    fn pieces_give_what_the_whole_gives() {
        for name in ["garden/lawn.nmea", "forms/lawn.ubx"] {
            let path = format!("{}/fixtures/{name}", env!("CARGO_MANIFEST_DIR"));
            let bytes = std::fs::read(&path).unwrap();
            let whole = read(&[Input::File(path.into())]).unwrap().fixes;
            for step in [1, 61, 256, 5000] {
                let fixes = all(&bytes, step);
                assert_eq!(fixes.len(), whole.len(), "{name} by {step}");
                for (piece, fix) in fixes.iter().zip(&whole) {
                    let off = (piece.lat_deg - fix.lat_deg).abs();
                    assert!(off < 2e-7, "{name} by {step}: {off}");
                    assert_eq!(piece.clock_s, fix.clock_s, "{name} by {step}");
                }
            }
        }
    }

    #[test]
    fn garbage_is_not_kept() {
        let mut pieces = Pieces::default();
        for _ in 0..40 {
            pieces.take(&[0xb5; 10_000]);
        }
        assert!(pieces.held.len() <= LONGEST && pieces.head.len() <= HEAD);
    }
}
