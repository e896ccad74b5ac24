//! The binary messages of u-blox receivers, alone or among anything else: NAV-PVT (position, time and quality), with the finer digits of
//! NAV-HPPOSLLH and the dilution of NAV-DOP where these are of the same moment.
//!
//! A message is `b5 62`, class and number, length (two bytes, the lower first), content, and two bytes of checksum (the 8-bit
//! Fletcher of RFC 1145 over all but the first two). Fields and their places are those of the makers' public interface
//! descriptions, from memory; the tests hold them against messages that someone else's encoder made.

use crate::fix::{Quality, Source};
use crate::left_out::LeftOut;
use crate::process::Accuracy;
use crate::read::batch::{Batch, Limits};
use crate::read::record::Record;
use crate::read::stamp::Stamp;
use jiff::civil::Date;
use std::io::{self, Read};

/// The two bytes that every message begins with; after them the class and number of the messages that are read.
const SYNC: [u8; 2] = [0xb5, 0x62];
const PVT: [u8; 2] = [0x01, 0x07];
const HPPOSLLH: [u8; 2] = [0x01, 0x14];
const DOP: [u8; 2] = [0x01, 0x04];
/// Bytes of a message beside its content.
const FRAME: usize = 8;
/// The longest message: its length has two bytes.
const LONGEST: usize = FRAME + u16::MAX as usize;
const BLOCK: usize = 256 * 1024;

/// Whether positions of this form stand in the first bytes of a file.
pub(crate) fn has_positions(head: &[u8]) -> bool {
    has(head, |kind, content| kind == PVT && content.len() >= 84)
}

/// Whether any whole message stands in the first bytes of a file.
pub(crate) fn has_messages(head: &[u8]) -> bool {
    has(head, |_, _| true)
}

fn has(head: &[u8], wanted: impl Fn([u8; 2], &[u8]) -> bool) -> bool {
    let mut at = 0;
    while let Some(from) = next_sync(head, at) {
        match message(&head[from..]) {
            Look::Message { kind, content } if wanted(kind, content) => return true,
            Look::Message { content, .. } => at = from + content.len() + FRAME,
            // Where the message seems to run past the end, its length may be garbage, so the search goes on within it.
            Look::Short | Look::Wrong => at = from + 1,
        }
    }
    false
}

/// Reads one file.
pub(crate) fn read(from: &mut dyn Read, file: u16, limits: &Limits) -> Batch {
    let mut epochs = Epochs {
        batch: Batch::default(),
        file,
        limits,
        pending: None,
        count: 0,
    };
    // What is left of one reading is the beginning of a message, so that there is always room for more.
    let mut held = vec![0; BLOCK + LONGEST];
    let mut filled = 0;
    loop {
        let got = read_some(from, held.get_mut(filled..).unwrap_or(&mut []));
        filled += *got.as_ref().unwrap_or(&0);
        let ended = match got {
            Ok(got) => got == 0,
            Err(error) => {
                epochs.batch.broken = Some(error);
                true
            }
        };
        let used = epochs.messages(held.get(..filled).unwrap_or(&[]), ended);
        held.copy_within(used..filled, 0);
        filled -= used;
        if epochs.batch.fixes.len() >= limits.most_fixes {
            epochs.batch.stopped = true;
            break;
        }
        if ended {
            break;
        }
    }
    if !epochs.batch.stopped {
        epochs.flush();
    }
    epochs.batch.lines = u64::from(epochs.count);
    epochs.batch
}

/// Reads the whole messages at the beginning of these bytes, and gives how many bytes are done with.
#[cfg(feature = "live")]
pub(crate) fn piece(bytes: &[u8], limits: &Limits) -> (Batch, usize) {
    let mut epochs = Epochs {
        batch: Batch::default(),
        file: 0,
        limits,
        pending: None,
        count: 0,
    };
    let mut used = 0;
    loop {
        used += epochs.messages(&bytes[used..], false);
        // A message with a garbage length would hold up all that comes after it. A whole message behind its beginning shows that it is
        // garbage.
        match bytes.get(used + SYNC.len()..) {
            Some(behind) if has_message(behind) => used += SYNC.len(),
            _ => break,
        }
    }
    epochs.flush();
    (epochs.batch, used)
}

/// Whether a whole message stands among these bytes.
#[cfg(feature = "live")]
fn has_message(bytes: &[u8]) -> bool {
    let mut at = 0;
    while let Some(from) = next_sync(bytes, at) {
        if let Look::Message { .. } = message(&bytes[from..]) {
            return true;
        }
        at = from + SYNC.len();
    }
    false
}

fn read_some(from: &mut dyn Read, into: &mut [u8]) -> io::Result<usize> {
    loop {
        match from.read(into) {
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            done => return done,
        }
    }
}

/// Where the next message may begin, from `at` on.
fn next_sync(bytes: &[u8], at: usize) -> Option<usize> {
    let rest = bytes.get(at..)?;
    // Nearly always the next message begins where the last one ended.
    if rest.starts_with(&SYNC) {
        return Some(at);
    }
    memchr::memmem::find(rest, &SYNC).map(|found| at + found)
}

/// The two bytes of checksum of these bytes. The first is the sum of the bytes; the second is the sum of all values that the first takes on
/// the way. Over a stretch of n bytes the second grows by n times the first before it, and by each byte as often as it is in the first.
/// Worked out by stretches, no byte has to wait for the one before, which is quicker.
fn sums(bytes: &[u8]) -> [u8; 2] {
    const AT_ONCE: usize = 32;
    let (stretches, rest) = bytes.as_chunks::<AT_ONCE>();
    let (mut a, mut b) = (0u16, 0u16);
    for stretch in stretches {
        let (mut sum, mut counted) = (0u16, 0u16);
        for (i, byte) in stretch.iter().enumerate() {
            sum = sum.wrapping_add(u16::from(*byte));
            counted = counted.wrapping_add((AT_ONCE - i) as u16 * u16::from(*byte));
        }
        b = b
            .wrapping_add((AT_ONCE as u16).wrapping_mul(a))
            .wrapping_add(counted);
        a = a.wrapping_add(sum);
    }
    let (mut a, mut b) = (a as u8, b as u8);
    for byte in rest {
        a = a.wrapping_add(*byte);
        b = b.wrapping_add(a);
    }
    [a, b]
}

enum Look<'a> {
    Message {
        kind: [u8; 2],
        content: &'a [u8],
    },
    /// Not all of it is there yet.
    Short,
    /// Its checksum is wrong.
    Wrong,
}

/// The message that these bytes begin with.
fn message(bytes: &[u8]) -> Look<'_> {
    let &[_, _, class, number, low, high, ref rest @ ..] = bytes else {
        return Look::Short;
    };
    let length = usize::from(u16::from_le_bytes([low, high]));
    let (Some(content), Some(sum)) = (rest.get(..length), rest.get(length..length + 2)) else {
        return Look::Short;
    };
    match sum == sums(&bytes[2..6 + length]) {
        true => Look::Message {
            kind: [class, number],
            content,
        },
        false => Look::Wrong,
    }
}

/// Puts the messages of one moment (epoch) together.
struct Epochs<'a> {
    batch: Batch,
    file: u16,
    limits: &'a Limits,
    /// The moment being read: its time of week, milliseconds, and what is known of it.
    pending: Option<(u32, Epoch)>,
    count: u32,
}

/// What the messages of one moment have said so far.
#[derive(Default)]
struct Epoch {
    record: Option<Record>,
    /// Latitude and longitude, degrees, and `hAcc`, metres, of NAV-HPPOSLLH.
    fine: Option<(f64, f64, f32)>,
    hdop: Option<f32>,
}

impl Epochs<'_> {
    /// Takes all whole messages, and gives how many bytes are done with. `ended` says that no more bytes will come.
    fn messages(&mut self, bytes: &[u8], ended: bool) -> usize {
        let mut at = 0;
        while let Some(from) = next_sync(bytes, at) {
            match message(&bytes[from..]) {
                Look::Message { kind, content } => {
                    at = from + content.len() + FRAME;
                    self.message(kind, content);
                    if self.batch.fixes.len() >= self.limits.most_fixes {
                        return at;
                    }
                }
                Look::Short if !ended => return from,
                // A length that runs past the end may be garbage that hides messages behind it.
                Look::Short | Look::Wrong => {
                    if matches!(bytes.get(from + 2..from + 4), Some([0x01, _])) {
                        self.batch
                            .tally
                            .add(LeftOut::WrongChecksum, self.file, self.count + 1);
                    }
                    at = from + SYNC.len();
                }
            }
        }
        // The last byte may be the first of the two that a message begins with.
        bytes.len().saturating_sub(1).max(at)
    }

    /// Takes one message. One of another moment than the last ends that.
    fn message(&mut self, kind: [u8; 2], content: &[u8]) {
        let week_at = match kind {
            PVT | DOP => 0,
            HPPOSLLH => 4,
            _ => return,
        };
        let Some(week_ms) = u32_at(content, week_at) else {
            return;
        };
        if self.pending.as_ref().is_some_and(|(ms, _)| *ms != week_ms) {
            self.flush();
        }
        let (_, epoch) = self.pending.get_or_insert((week_ms, Epoch::default()));
        match kind {
            PVT if content.len() >= 84 => {
                self.count += 1;
                epoch.record = pvt(content, self.count);
            }
            HPPOSLLH => epoch.fine = fine(content),
            DOP => epoch.hdop = u16_at(content, 12).map(|hundredths| f32::from(hundredths) / 100.0),
            _ => {}
        }
    }

    /// Ends the moment being read: takes its position, the finer one where there is one, as a record.
    fn flush(&mut self) {
        let Some((_, epoch)) = self.pending.take() else {
            return;
        };
        let Some(mut record) = epoch.record else {
            return;
        };
        if let Some((lat_deg, lon_deg, radius_m)) = epoch.fine {
            (record.lat_deg, record.lon_deg) = (lat_deg, lon_deg);
            record.state(H_ACC, [radius_m; 2]);
        }
        record.hdop = epoch.hdop;
        self.batch.take(record, self.file, self.limits);
    }
}

/// The record of a NAV-PVT message; `None` where the content is too short.
fn pvt(content: &[u8], number: u32) -> Option<Record> {
    let degrees = |at| i32_at(content, at).map(|value| f64::from(value) * 1e-7);
    let mut record = Record::new(degrees(28)?, degrees(24)?, Source::Ubx, number);
    record.height_m = i32_at(content, 32).map(|mm| f64::from(mm) / 1000.0);
    record.satellites = content.get(23).copied();
    if let Some(radius_mm) = u32_at(content, 40) {
        record.state(H_ACC, [radius_mm as f32 / 1000.0; 2]);
    }
    let (fix, flags) = (*content.get(20)?, *content.get(21)?);
    record.quality = match (fix, flags & 1, flags >> 6, flags & 2) {
        (1, ..) => Quality::DeadReckoning,
        (2..=4, 1, 2, _) => Quality::RtkFixed,
        (2..=4, 1, 1, _) => Quality::RtkFloat,
        (2..=4, 1, _, 2) => Quality::Differential,
        (2..=4, 1, ..) => Quality::Autonomous,
        _ => Quality::NoFix,
    };
    record.stamp = stamp(content);
    Some(record)
}

/// The time in UTC; `None` where the receiver does not know it. The field of nanoseconds may be negative, by up to half a second.
fn stamp(content: &[u8]) -> Option<Stamp> {
    // Bit 1 says that the time of day is valid.
    if content.get(11)? & 2 == 0 {
        return None;
    }
    let year = i16::try_from(u16_at(content, 4)?).ok()?;
    let &[month, day, hour, minute, second] = content.get(6..11)?.first_chunk::<5>()?;
    let date = Date::new(year, i8::try_from(month).ok()?, i8::try_from(day).ok()?).ok();
    let whole_s = f64::from(hour) * 3600.0 + f64::from(minute) * 60.0 + f64::from(second);
    Some(Stamp::in_utc(
        date,
        whole_s + f64::from(i32_at(content, 16)?) * 1e-9,
    ))
}

/// Latitude and longitude, degrees, and `hAcc`, metres, of NAV-HPPOSLLH; `None` where it says that they are not valid.
fn fine(content: &[u8]) -> Option<(f64, f64, f32)> {
    // Bit 0 of the flags: this position is not valid.
    if content.get(3)? & 1 == 1 {
        return None;
    }
    let degrees = |coarse, rest: usize| {
        let rest = f64::from(i8::from_le_bytes([*content.get(rest)?]));
        Some(f64::from(i32_at(content, coarse)?) * 1e-7 + rest * 1e-9)
    };
    let radius_m = u32_at(content, 28)? as f32 / 10_000.0;
    Some((degrees(12, 25)?, degrees(8, 24)?, radius_m))
}

/// What `hAcc` is taken for: one figure for both axes, the radius that holds the true position 68 times in 100.
const H_ACC: Accuracy = Accuracy::Radius68;

fn u16_at(content: &[u8], at: usize) -> Option<u16> {
    Some(u16::from_le_bytes(*content.get(at..)?.first_chunk()?))
}

fn u32_at(content: &[u8], at: usize) -> Option<u32> {
    Some(u32::from_le_bytes(*content.get(at..)?.first_chunk()?))
}

fn i32_at(content: &[u8], at: usize) -> Option<i32> {
    Some(i32::from_le_bytes(*content.get(at..)?.first_chunk()?))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 1145, section 3, byte by byte: both sums over all bytes in turn.
    fn in_turn(bytes: &[u8]) -> [u8; 2] {
        bytes.iter().fold([0, 0], |[a, b], byte| {
            let a = a.wrapping_add(*byte);
            [a, b.wrapping_add(a)]
        })
    }

    #[test]
    fn the_sums_are_those_of_each_byte_in_turn() {
        let all: Vec<u8> = (0..3000u32).map(|i| (i * i / 7 + 200) as u8).collect();
        for length in (0..140).chain([1000, 2999]) {
            for from in [0, 1, 17] {
                let bytes = &all[from.min(length)..length];
                assert_eq!(sums(bytes), in_turn(bytes), "{length}");
            }
        }
        assert_eq!(sums(&[255; 5000]), in_turn(&[255; 5000]));
    }
}
