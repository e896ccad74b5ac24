//! Reads the fields of a sentence (the texts between its commas): times, coordinates, numbers. As they are nearly always written in plain
//! digits,
//! `plain.rs`, which is quicker, is tried first; this reads all that can be read.

/// What a field holds: nothing, a value, or something that cannot be read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Read<T> {
    Empty,
    Is(T),
    Bad,
}

impl<T> Read<T> {
    pub(crate) fn ok(self) -> Option<T> {
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
pub(super) const POW10: [u64; 13] = powers_of_ten();
/// How many decimals of a minute of arc are read; the thirteenth is worth 2e-10 m.
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
#[inline(never)]
pub(crate) fn time_us(field: &[u8]) -> Read<i64> {
    let field = field.trim_ascii();
    if field.is_empty() {
        return Read::Empty;
    }
    let Some((whole, fraction, decimals)) = decimal(field) else {
        return Read::Bad;
    };
    let short = field.iter().position(|b| *b == b'.').unwrap_or(field.len()) < 5;
    if short {
        return Read::Bad;
    }
    let micros = if decimals <= 6 {
        fraction * POW10.get(6 - decimals).copied().unwrap_or(1)
    } else {
        fraction / POW10.get(decimals - 6).copied().unwrap_or(1)
    };
    let (h, m, s) = (whole / 10_000, whole / 100 % 100, whole % 100);
    clock_us(h, m, s, micros).map_or(Read::Bad, Read::Is)
}

/// Hours, minutes, seconds and microseconds as microseconds of the day, if they are a time.
#[inline]
pub(super) fn clock_us(h: u64, m: u64, s: u64, us: u64) -> Option<i64> {
    let real = h < 24 && m < 60 && s <= 60;
    real.then_some((((h * 60 + m) * 60 + s) * 1_000_000 + us) as i64)
}

/// Degrees from `dddmm.mmmm` and its hemisphere letter, and the number of decimals of the minute.
/// `letters` are the positive and the negative one; `most_deg` is 90 or 180.
#[inline(never)]
pub(crate) fn degrees(
    field: &[u8],
    hemisphere: &[u8],
    letters: [u8; 2],
    most_deg: u64,
) -> Read<(f64, u8)> {
    let (field, hemisphere) = (field.trim_ascii(), hemisphere.trim_ascii());
    if field.is_empty() {
        return Read::Empty;
    }
    let [letter] = hemisphere else {
        return Read::Bad;
    };
    let Some(sign) = sign(*letter, letters) else {
        return Read::Bad;
    };
    let Some((whole, fraction, decimals)) = decimal(field) else {
        return Read::Bad;
    };
    // A latitude has two digits of degrees: one with three is a longitude in the wrong place.
    let digits = field.iter().position(|b| *b == b'.').unwrap_or(field.len());
    if digits > 4 && most_deg < 100 {
        return Read::Bad;
    }
    let whole = (whole / 100, whole % 100);
    angle(whole, fraction, decimals, sign, most_deg).map_or(Read::Bad, Read::Is)
}

/// 1 for the first of the two letters, -1 for the second, in either case; `None` for any other.
#[inline]
pub(super) fn sign(letter: u8, letters: [u8; 2]) -> Option<f64> {
    if letter.eq_ignore_ascii_case(&letters[0]) {
        Some(1.0)
    } else {
        letter.eq_ignore_ascii_case(&letters[1]).then_some(-1.0)
    }
}

/// Degrees from whole degrees and minutes and the decimals of the minute.
#[inline]
pub(super) fn angle(
    (deg, min): (u64, u64),
    fraction: u64,
    decimals: usize,
    sign: f64,
    most_deg: u64,
) -> Option<(f64, u8)> {
    let scale = POW10.get(decimals).copied().unwrap_or(1);
    if min > 59 || deg > most_deg || (deg == most_deg && (min > 0 || fraction > 0)) {
        return None;
    }
    // An exact whole number is divided once, so that the result is right to the last bit for up to 11 decimals.
    let minutes = (deg * 60 + min) * scale + fraction;
    Some((
        sign * (minutes as i64 as f64 / (60 * scale) as i64 as f64),
        decimals as u8,
    ))
}

/// A finite number, in any notation with a decimal point.
#[inline(never)]
pub(crate) fn number(field: &[u8]) -> Read<f64> {
    let field = field.trim_ascii();
    if field.is_empty() {
        return Read::Empty;
    }
    match fast_float2::parse::<f64, _>(field) {
        Ok(value) if value.is_finite() => Read::Is(value),
        _ => Read::Bad,
    }
}

/// A whole number from 0 to 255.
#[inline(never)]
pub(crate) fn small(field: &[u8]) -> Read<u8> {
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

/// A date written as `ddmmyy`. Years 80 to 99 are 1980 to 1999, as GPS time began in 1980. `None` where it is no date.
pub(crate) fn date(field: &[u8]) -> Option<jiff::civil::Date> {
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
