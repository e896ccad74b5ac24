//! Fields in plain digits, eight of them at a time; `None` is whatever is written otherwise, or too long. They say what
//! [`super::field`] says of the same text.

use super::field::{POW10, angle, clock_us, sign};

const EACH: u64 = 0x0101_0101_0101_0101;
const HIGH: u64 = EACH << 7;
const POINT: u8 = b'.' ^ b'0';
const SCALES: [f64; 8] = [1.0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7];

/// A number of up to eight characters, which begins and ends here. Eight digits and a power of ten are both exact: their
/// quotient is the number nearest to the text.
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
        // The digits before it move up into its place.
        let before = (point >> 7) - 1;
        let after = !(before << 8 | 0xff);
        digits = (digits & before) << 8 | digits & after;
        scale = SCALES[7 - (point.trailing_zeros() as usize / 8) % 8];
    }
    (above_nine(digits) == 0).then(|| f64::from(joined(digits)) / scale)
}

/// `hhmmss.s` to `hhmmss.ssssss`, microseconds of the day.
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

/// `ddmm.mmmm`, or `dddmm.mmmm` where degrees may be above 99, of up to eight decimals, and its hemisphere's letter: degrees
/// and the number of decimals.
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

/// The high bit of each byte that is a comma.
#[inline]
pub(crate) fn commas(text: &[u8; 8]) -> u64 {
    const LOW: u64 = !HIGH;
    let other = u64::from_le_bytes(*text) ^ (EACH * b',' as u64);
    !(((other & LOW) + LOW) | other | LOW)
}

/// Eight characters, the digits among them as the numbers they are.
#[inline]
fn digits(text: &[u8; 8]) -> u64 {
    u64::from_le_bytes(*text) ^ (EACH * b'0' as u64)
}

/// So many of them, from one to eight, at the end, after zeros.
#[inline]
fn last(digits: u64, count: usize) -> u64 {
    let others = 64 - 8 * count;
    digits >> others << others
}

/// The high bit of the byte of the first point.
#[inline]
fn first_point(digits: u64) -> u64 {
    let other = digits ^ (EACH * POINT as u64);
    // Borrows can mark bytes after a point as well, never before.
    let marked = other.wrapping_sub(EACH) & !other & HIGH;
    marked & marked.wrapping_neg()
}

/// Not zero where any byte is above nine.
#[inline]
fn above_nine(digits: u64) -> u64 {
    (digits.wrapping_add(EACH * (0x7f - 9)) | digits) & HIGH
}

/// Each two neighbours of eight digits as one number, in the lower byte of the two; the higher byte is something else.
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
