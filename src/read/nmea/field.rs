//! The fields of a sentence: times, coordinates, plain numbers.

/// Walks the comma-separated fields of a body.
#[derive(Debug, Clone, Copy)]
pub struct Fields<'a> {
    rest: Option<&'a [u8]>,
}

impl<'a> Fields<'a> {
    pub fn new(body: &'a [u8]) -> Fields<'a> {
        Fields { rest: Some(body) }
    }

    /// The next field, empty where the sentence has no more.
    #[inline]
    pub fn field(&mut self) -> &'a [u8] {
        self.try_field().unwrap_or(&[])
    }

    /// The next field, `None` where the sentence has no more.
    #[inline]
    pub fn try_field(&mut self) -> Option<&'a [u8]> {
        let rest = self.rest?;
        match comma(rest) {
            Some(comma) => {
                let (field, after) = rest.split_at(comma);
                self.rest = after.get(1..);
                Some(field)
            }
            None => {
                self.rest = None;
                Some(rest)
            }
        }
    }

    /// What is left of the body.
    #[inline]
    pub fn rest(&self) -> &'a [u8] {
        self.rest.unwrap_or(&[])
    }

    /// Goes on after text that ends with a comma, where that is what comes next.
    #[inline]
    pub fn past(&mut self, text: &[u8]) -> bool {
        let after = self.rest.and_then(|rest| rest.strip_prefix(text));
        if after.is_some() {
            self.rest = after;
        }
        after.is_some()
    }

    pub fn skip(&mut self, n: usize) {
        for _ in 0..n {
            self.try_field();
        }
    }
}

/// The place of the first comma: eight bytes at a time, as long as there are eight.
#[inline]
pub(super) fn comma(text: &[u8]) -> Option<usize> {
    const EACH: u64 = 0x0101_0101_0101_0101;
    const HIGH: u64 = 0x8080_8080_8080_8080;
    let (words, tail) = text.as_chunks::<8>();
    for (i, word) in words.iter().enumerate() {
        let other = u64::from_le_bytes(*word) ^ (EACH * b',' as u64);
        // The lowest high bit is that of the first zero byte; borrows mark bytes only after it.
        let zeros = other.wrapping_sub(EACH) & !other & HIGH;
        if zeros != 0 {
            return Some(i * 8 + (zeros.trailing_zeros() / 8) as usize);
        }
    }
    let at = tail.iter().position(|b| *b == b',')?;
    Some(words.len() * 8 + at)
}

/// Something that is empty, readable, or neither.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Read<T> {
    Empty,
    Is(T),
    Bad,
}

impl<T> Read<T> {
    pub fn ok(self) -> Option<T> {
        match self {
            Read::Is(value) => Some(value),
            Read::Empty | Read::Bad => None,
        }
    }
}

#[inline]
fn digit(b: u8) -> Option<u64> {
    b.is_ascii_digit().then(|| u64::from(b - b'0'))
}

const fn powers_of_ten() -> [u64; 13] {
    let mut table = [1u64; 13];
    let mut i = 1;
    while i < 13 {
        table[i] = table[i - 1] * 10;
        i += 1;
    }
    table
}
const POW10: [u64; 13] = powers_of_ten();
/// Decimals of a minute read; the thirteenth is 2e-10 mm.
const DECIMALS: usize = 12;

/// `digits[.digits]` as whole part, fraction and number of decimals (at most [`DECIMALS`] are read).
#[inline]
fn decimal(text: &[u8]) -> Option<(u64, u64, usize)> {
    let mut whole = 0u64;
    let mut i = 0;
    while let Some(&b) = text.get(i) {
        if b == b'.' {
            break;
        }
        whole = whole * 10 + digit(b)?;
        i += 1;
        if i > 9 {
            return None;
        }
    }
    if i == 0 {
        return None;
    }
    let mut fraction = 0u64;
    let mut decimals = 0;
    for &b in text.get(i + 1..).unwrap_or(&[]) {
        let d = digit(b)?;
        if decimals < DECIMALS {
            fraction = fraction * 10 + d;
            decimals += 1;
        }
    }
    Some((whole, fraction, decimals))
}

/// `hhmmss[.sss]` as microseconds of the day; 60 seconds (a leap second) is allowed.
#[inline]
pub fn time_us(field: &[u8]) -> Read<i64> {
    let field = field.trim_ascii();
    if field.is_empty() {
        return Read::Empty;
    }
    let Some((whole, fraction, decimals)) = decimal(field) else {
        return Read::Bad;
    };
    let (h, m, s) = (whole / 10_000, whole / 100 % 100, whole % 100);
    let short = field.iter().position(|b| *b == b'.').unwrap_or(field.len()) < 5;
    if short || h > 23 || m > 59 || s > 60 {
        return Read::Bad;
    }
    let micros = if decimals <= 6 {
        fraction * POW10.get(6 - decimals).copied().unwrap_or(1)
    } else {
        fraction / POW10.get(decimals - 6).copied().unwrap_or(1)
    };
    Read::Is((((h * 60 + m) * 60 + s) * 1_000_000 + micros) as i64)
}

/// Degrees from `dddmm.mmmm` and its hemisphere letter, and the number of decimals of the minute.
/// `letters` are the positive and the negative one; `most_deg` is 90 or 180.
#[inline]
pub fn degrees(
    field: &[u8],
    hemisphere: &[u8],
    letters: [u8; 2],
    most_deg: u64,
) -> Read<(f64, u8)> {
    let (field, hemisphere) = (field.trim_ascii(), hemisphere.trim_ascii());
    if field.is_empty() {
        return Read::Empty;
    }
    let sign = match hemisphere {
        [b] if b.eq_ignore_ascii_case(&letters[0]) => 1.0,
        [b] if b.eq_ignore_ascii_case(&letters[1]) => -1.0,
        _ => return Read::Bad,
    };
    let Some((whole, fraction, decimals)) = decimal(field) else {
        return Read::Bad;
    };
    // A latitude has two digits of degrees: one with three is a longitude in the wrong place.
    let digits = field.iter().position(|b| *b == b'.').unwrap_or(field.len());
    if digits > 4 && most_deg < 100 {
        return Read::Bad;
    }
    let (deg, min) = (whole / 100, whole % 100);
    let scale = POW10.get(decimals).copied().unwrap_or(1);
    if min > 59 || deg > most_deg || (deg == most_deg && (min > 0 || fraction > 0)) {
        return Read::Bad;
    }
    // One exact integer divided once: right to the last bit for up to 11 decimals.
    let minutes = (deg * 60 + min) * scale + fraction;
    Read::Is((
        sign * (minutes as f64 / (60 * scale) as f64),
        decimals as u8,
    ))
}

/// A plain finite number.
#[inline]
pub fn number(field: &[u8]) -> Read<f64> {
    let field = field.trim_ascii();
    if field.is_empty() {
        return Read::Empty;
    }
    match fast_float2::parse::<f64, _>(field) {
        Ok(value) if value.is_finite() => Read::Is(value),
        _ => Read::Bad,
    }
}

/// A number of one to three digits.
#[inline]
pub fn small(field: &[u8]) -> Read<u8> {
    let field = field.trim_ascii();
    if field.is_empty() {
        return Read::Empty;
    }
    let mut value = 0u64;
    for &b in field {
        match digit(b) {
            Some(d) if value < 1000 => value = value * 10 + d,
            _ => return Read::Bad,
        }
    }
    u8::try_from(value).map_or(Read::Bad, Read::Is)
}

/// `ddmmyy`; years 80 to 99 are 1980 to 1999, as GPS time began in 1980.
pub fn date(field: &[u8]) -> Option<jiff::civil::Date> {
    let field = field.trim_ascii();
    if field.len() != 6 {
        return None;
    }
    let (whole, _, _) = decimal(field)?;
    let (d, m, y) = (whole / 10_000, whole / 100 % 100, whole % 100);
    let year = if y >= 80 { 1900 + y } else { 2000 + y };
    jiff::civil::Date::new(year as i16, m as i8, d as i8).ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    fn lat(text: &[u8], side: &[u8]) -> Read<(f64, u8)> {
        degrees(text, side, *b"NS", 90)
    }

    /// gpsd's NMEA notes: 4533.35 is 45 degrees 33'21"; 16708.033 is 167 degrees 08.033'.
    #[test]
    fn coordinates_as_the_notes_say() {
        let (deg, decimals) = lat(b"4533.35", b"N").ok().unwrap();
        assert_abs_diff_eq!(deg, 45.0 + 33.0 / 60.0 + 21.0 / 3600.0, epsilon = 1e-13);
        assert_eq!(decimals, 2);
        let (deg, _) = degrees(b"16708.033", b"w", *b"EW", 180).ok().unwrap();
        assert_abs_diff_eq!(deg, -(167.0 + 8.033 / 60.0), epsilon = 1e-12);
    }

    #[test]
    fn what_is_out_of_range_is_bad() {
        for (text, side) in [
            ("4860.000", "N"), // 60 minutes
            ("9000.001", "N"),
            ("-4807.0", "N"),
            ("4807.0", "E"),
            ("4807.0", ""),
            ("48x7.0", "N"),
            ("99nan", "N"),
            (".5", "N"),
            ("123456789012.0", "N"),
        ] {
            assert_eq!(lat(text.as_bytes(), side.as_bytes()), Read::Bad, "{text}");
        }
        assert_eq!(lat(b"", b"N"), Read::Empty);
        assert_eq!(lat(b"9000.000", b"S").ok().unwrap().0, -90.0);
    }

    #[test]
    fn the_first_comma_as_its_slow_twin_finds_it() {
        let mut bytes = *b"0123456789abcdefghijklm";
        for first in 0..=bytes.len() {
            for other in [b',', b'-', b'+', 0, 0xff, b',' | 0x80, b',' ^ 1] {
                let before = bytes;
                for at in [first, first + 1, first + 2, first + 9] {
                    if let Some(b) = bytes.get_mut(at) {
                        *b = if at == first { b',' } else { other };
                    }
                }
                for len in 0..=bytes.len() {
                    let text = &bytes[..len];
                    assert_eq!(comma(text), text.iter().position(|b| *b == b','));
                }
                bytes = before;
            }
        }
    }

    #[test]
    fn times() {
        assert_eq!(time_us(b"123519"), Read::Is(45_319_000_000));
        assert_eq!(time_us(b"123519.25"), Read::Is(45_319_250_000));
        assert_eq!(time_us(b"235960.00"), Read::Is(86_400_000_000));
        assert_eq!(time_us(b"240000"), Read::Bad);
        assert_eq!(time_us(b"1235"), Read::Bad);
        assert_eq!(time_us(b"12:35:19"), Read::Bad);
        assert_eq!(time_us(b""), Read::Empty);
    }

    #[test]
    fn numbers_must_be_finite() {
        assert_eq!(number(b"-34.25"), Read::Is(-34.25));
        assert_eq!(number(b"nan"), Read::Bad);
        assert_eq!(number(b"inf"), Read::Bad);
        assert_eq!(number(b"1e999"), Read::Bad);
        assert_eq!(small(b"08"), Read::Is(8));
        assert_eq!(small(b"300"), Read::Bad);
    }
}
