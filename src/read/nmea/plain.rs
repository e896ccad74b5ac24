//! Reads fields that are written in plain digits, eight of them at a time, as the bytes of one 64-bit number (the first character in the
//! lowest byte). It is several times as quick as [`super::field`], and gives the same for the same text. `None` comes back for whatever is
//! written otherwise, or is too long, and `field` then reads it.

use super::field::{POW10, angle, clock_us, sign};

/// One in each byte; [`HIGH`] is the high bit of each byte.
const EACH: u64 = 0x0101_0101_0101_0101;
const HIGH: u64 = EACH << 7;
/// What [`digits`] makes of a decimal point.
const POINT: u8 = b'.' ^ b'0';
const SCALES: [f64; 8] = [1.0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7];

/// The number of up to eight characters that stands from `start` to `end` in the body. Eight digits and a power of ten are both exact in an
/// `f64`, so that their quotient is the number nearest to the text.
#[inline]
pub(crate) fn number(body: &[u8], start: usize, end: usize) -> Option<f64> {
    let len = end.wrapping_sub(start);
    if !(1..=8).contains(&len) {
        return None;
    }
    let eight = body.get(end.wrapping_sub(8)..)?.first_chunk()?;
    let mut digits = last(digits(eight), len);
    let mut scale = 1.0;
    let point = first_point(digits);
    if point != 0 {
        if len == 1 {
            return None;
        }
        // The digits before the point move up by one, into its place.
        let before = (point >> 7) - 1;
        let after = !(before << 8 | 0xff);
        digits = (digits & before) << 8 | digits & after;
        scale = SCALES[7 - (point.trailing_zeros() as usize / 8) % 8];
    }
    (above_nine(digits) == 0).then(|| f64::from(joined(digits)) / scale)
}

/// A time of day from `hhmmss.s` to `hhmmss.ssssss`, in microseconds.
#[inline]
pub(crate) fn time_us(text: &[u8]) -> Option<i64> {
    let first = digits(text.first_chunk()?);
    let decimals = text.len() - 7;
    let us_each = *POW10.get(6usize.checked_sub(decimals)?)?;
    let clock = first << 16;
    let fraction = last(digits(text.last_chunk()?), decimals);
    let point = (first >> 48) as u8 == POINT;
    if !point || (above_nine(clock) | above_nine(fraction)) != 0 {
        return None;
    }
    let pairs = in_pairs(clock);
    let (h, m, s) = (pairs >> 16 & 0xff, pairs >> 32 & 0xff, pairs >> 48 & 0xff);
    clock_us(h, m, s, u64::from(joined(fraction)) * us_each)
}

/// Degrees, and the number of decimals of the minute, from `ddmm.mmmm`, or `dddmm.mmmm` where degrees may be above 99, with up to eight
/// decimals, and the letter of the hemisphere.
#[inline]
pub(crate) fn degrees(
    text: &[u8],
    side: &[u8],
    letters: [u8; 2],
    most_deg: u64,
) -> Option<(f64, u8)> {
    let before = if most_deg < 100 { 4 } else { 5 };
    let first = digits(text.first_chunk()?);
    let decimals = text.len() - before - 1;
    let ([letter], 1..=8) = (side, decimals) else {
        return None;
    };
    let whole = first << (64 - 8 * before);
    let fraction = last(digits(text.last_chunk()?), decimals);
    let point = (first >> (8 * before)) as u8 == POINT;
    if !point || (above_nine(whole) | above_nine(fraction)) != 0 {
        return None;
    }
    let pairs = in_pairs(whole);
    let deg = (pairs >> 32 & 0xff) + 100 * (pairs >> 16 & 0xff);
    let min = pairs >> 48 & 0xff;
    let sign = sign(*letter, letters)?;
    angle(
        (deg, min),
        joined(fraction).into(),
        decimals,
        sign,
        most_deg,
    )
}

/// Sets the high bit of each byte that is a comma; all other bits are 0.
#[inline]
pub(crate) fn commas(text: &[u8; 8]) -> u64 {
    const LOW: u64 = !HIGH;
    let other = u64::from_le_bytes(*text) ^ (EACH * b',' as u64);
    !(((other & LOW) + LOW) | other | LOW)
}

/// Eight characters as bytes, in which each digit has become the number from 0 to 9.
#[inline]
fn digits(text: &[u8; 8]) -> u64 {
    u64::from_le_bytes(*text) ^ (EACH * b'0' as u64)
}

/// The last `count` of eight digits, from one to eight, with zeros in the place of the others.
#[inline]
fn last(digits: u64, count: usize) -> u64 {
    let others = 64 - 8 * count;
    digits >> others << others
}

/// The high bit of the byte that is the first decimal point; 0 where there is none.
#[inline]
fn first_point(digits: u64) -> u64 {
    let other = digits ^ (EACH * POINT as u64);
    // By borrowing, the subtraction can mark bytes after a point as well, but never before one; so the lowest mark is right.
    let marked = other.wrapping_sub(EACH) & !other & HIGH;
    marked & marked.wrapping_neg()
}

/// Anything but 0 where any byte is above nine, and so was no digit.
#[inline]
fn above_nine(digits: u64) -> u64 {
    (digits.wrapping_add(EACH * (0x7f - 9)) | digits) & HIGH
}

/// Of each digit and the next the number that both make. The number of the first and second digit is in the first byte, that of the third
/// and fourth in the third, and so on; the bytes between are not used.
#[inline]
fn in_pairs(digits: u64) -> u64 {
    digits.wrapping_mul(10).wrapping_add(digits >> 8)
}

/// The number that eight digits make, the first of them in the lowest byte: neighbours are put together, then pairs, then
/// fours.
#[inline]
fn joined(digits: u64) -> u32 {
    const PAIRS: u64 = 0x0000_00ff_0000_00ff;
    let pairs = in_pairs(digits);
    let first = (pairs & PAIRS).wrapping_mul(100 + (1_000_000 << 32));
    let second = (pairs >> 16 & PAIRS).wrapping_mul(1 + (10_000 << 32));
    (first.wrapping_add(second) >> 32) as u32
}
