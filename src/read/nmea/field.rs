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

    /// Goes on so many bytes further, where a field begins.
    #[inline]
    pub fn go_on(&mut self, bytes: usize) {
        self.rest = self.rest().get(bytes..);
    }

    #[inline]
    pub fn skip(&mut self, n: usize) {
        for _ in 0..n {
            self.try_field();
        }
    }

    /// Takes the field if it ends after so many bytes, with a comma or with the sentence.
    #[inline]
    fn ended(&mut self, bytes: usize) -> bool {
        match self.rest().get(bytes) {
            Some(b',') => self.go_on(bytes + 1),
            None if self.rest.is_some() => self.rest = None,
            _ => return false,
        }
        true
    }

    // Fields are nearly always plain digits. Those are read on the way to the comma; whatever else is there goes the
    // longer way, by its comma.

    /// The next field as [`time_us`].
    #[inline]
    pub fn time_us(&mut self) -> Read<i64> {
        let plain = plain(self.rest());
        match plain.and_then(|p| p.time_us()) {
            Some(us) if self.ended(plain.map_or(0, |p| p.len)) => Read::Is(us),
            _ => time_us(self.field()),
        }
    }

    /// The next field as [`number`].
    #[inline]
    pub fn number(&mut self) -> Read<f64> {
        let rest = self.rest();
        let (sign, digits) = match rest {
            [b',', after @ ..] => {
                self.rest = Some(after);
                return Read::Empty;
            }
            [b'-', digits @ ..] => (-1.0, digits),
            digits => (1.0, digits),
        };
        match plain(digits) {
            Some(plain) if self.ended(rest.len() - digits.len() + plain.len) => {
                Read::Is(sign * plain.value())
            }
            _ => number(self.field()),
        }
    }

    /// The next field as [`small`].
    #[inline]
    pub fn small(&mut self) -> Read<u8> {
        let (value, len) = digits(self.rest());
        match u8::try_from(value) {
            Ok(value) if (1..=3).contains(&len) && self.ended(len) => Read::Is(value),
            _ => small(self.field()),
        }
    }

    /// The next two fields as [`degrees`].
    #[inline]
    pub fn degrees(&mut self, letters: [u8; 2], most_deg: u64) -> Read<(f64, u8)> {
        let before = self.rest;
        if let Some(plain) = plain(self.rest())
            && self.ended(plain.len)
            && let [letter, b',', ..] = self.rest()
            && let Some(sign) = sign(*letter, letters)
            && let Some(read) = plain.degrees(sign, most_deg)
        {
            self.go_on(2);
            return Read::Is(read);
        }
        self.rest = before;
        degrees(self.field(), self.field(), letters, most_deg)
    }
}

/// Digits, perhaps with a point and more digits: what most fields are.
#[derive(Debug, Clone, Copy)]
struct Plain {
    whole: u64,
    fraction: u64,
    /// Digits before the point and after it, up to seven of each.
    whole_digits: usize,
    decimals: usize,
    /// Bytes it takes.
    len: usize,
}

/// What is plain at the beginning of the text: it may go on.
#[inline]
fn plain(text: &[u8]) -> Option<Plain> {
    let (whole, whole_digits) = digits(text);
    if whole_digits == 0 || whole_digits > 7 {
        return None;
    }
    let mut plain = Plain {
        whole,
        fraction: 0,
        whole_digits,
        decimals: 0,
        len: whole_digits,
    };
    if let Some(b'.') = text.get(whole_digits) {
        let after = text.get(whole_digits + 1..).unwrap_or(&[]);
        (plain.fraction, plain.decimals) = digits(after);
        plain.len += 1 + plain.decimals;
    }
    Some(plain)
}

impl Plain {
    /// Fifteen digits at the most make a whole number below 2^53, and ten to the eighth is exact too: their quotient is
    /// the number nearest to the text.
    #[inline]
    fn value(self) -> f64 {
        let scale = POW10.get(self.decimals).copied().unwrap_or(1);
        (self.whole * scale + self.fraction) as f64 / scale as f64
    }

    #[inline]
    fn time_us(self) -> Option<i64> {
        let us = self.fraction * POW10.get(6usize.checked_sub(self.decimals)?)?;
        if self.whole_digits != 6 {
            return None;
        }
        clock_us(self.whole, us)
    }

    #[inline]
    fn degrees(self, sign: f64, most_deg: u64) -> Option<(f64, u8)> {
        if self.whole_digits > 4 && most_deg < 100 {
            return None;
        }
        angle(self.whole, self.fraction, self.decimals, sign, most_deg)
    }
}

/// The number that up to eight digits make, and how many there are; eight may be the beginning of more.
#[inline]
fn digits(text: &[u8]) -> (u64, usize) {
    let mut value = 0;
    let mut count = 0;
    while count < 8
        && let Some(digit) = text.get(count).and_then(|b| digit(*b))
    {
        value = value * 10 + digit;
        count += 1;
    }
    (value, count)
}

/// The place of the first comma. Fields are short and alike: a plain loop, whose branches a processor foresees, is
/// faster than eight bytes at a time, after which it must wait to know where the next field begins.
#[inline]
pub(super) fn comma(text: &[u8]) -> Option<usize> {
    text.iter().position(|b| *b == b',')
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
    let short = field.iter().position(|b| *b == b'.').unwrap_or(field.len()) < 5;
    if short {
        return Read::Bad;
    }
    let micros = if decimals <= 6 {
        fraction * POW10.get(6 - decimals).copied().unwrap_or(1)
    } else {
        fraction / POW10.get(decimals - 6).copied().unwrap_or(1)
    };
    clock_us(whole, micros).map_or(Read::Bad, Read::Is)
}

/// From the number that `hhmmss` makes, and the microseconds of the second.
#[inline]
fn clock_us(hhmmss: u64, us: u64) -> Option<i64> {
    let (h, m, s) = (hhmmss / 10_000, hhmmss / 100 % 100, hhmmss % 100);
    let real = h < 24 && m < 60 && s <= 60;
    real.then_some((((h * 60 + m) * 60 + s) * 1_000_000 + us) as i64)
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
    angle(whole, fraction, decimals, sign, most_deg).map_or(Read::Bad, Read::Is)
}

#[inline]
fn sign(letter: u8, letters: [u8; 2]) -> Option<f64> {
    if letter.eq_ignore_ascii_case(&letters[0]) {
        Some(1.0)
    } else {
        letter.eq_ignore_ascii_case(&letters[1]).then_some(-1.0)
    }
}

/// Degrees from the number that `dddmm` makes and the decimals of the minute.
#[inline]
fn angle(
    dddmm: u64,
    fraction: u64,
    decimals: usize,
    sign: f64,
    most_deg: u64,
) -> Option<(f64, u8)> {
    let (deg, min) = (dddmm / 100, dddmm % 100);
    let scale = POW10.get(decimals).copied().unwrap_or(1);
    if min > 59 || deg > most_deg || (deg == most_deg && (min > 0 || fraction > 0)) {
        return None;
    }
    // One exact integer divided once: right to the last bit for up to 11 decimals.
    let minutes = (deg * 60 + min) * scale + fraction;
    Some((
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

    /// What is read on the way to the comma, and what is read by its comma, say the same of any text.
    #[test]
    fn the_short_way_reads_as_the_long_one() {
        let texts = [
            "",
            "0",
            "7",
            "08",
            "300",
            "1234",
            "120000",
            "120000.00",
            "120000.123456",
            "120000.1234567",
            "235960",
            "240000.0",
            "12000",
            "99999999",
            "5206.0000000",
            "00112.0105434",
            "9000.0",
            "18000.000",
            "4860.0",
            "5206.12345678",
            "5206.1234567890123",
            "-0.0",
            "-34.25",
            "79.993",
            ".5",
            "5.",
            "-",
            ".",
            "1.2.3",
            "+4",
            "1e3",
            "nan",
            " 12",
            "12 ",
            "12x",
            "9007199254740993",
            "1234567.12345678",
            "-1234567.1",
            "0.000000001",
        ];
        for text in texts {
            for after in [
                "", ",", ",N", ",N,", ",s,1", ",E,", ",W", ",,", ",NN,", ", n ,",
            ] {
                let body = format!("{text}{after}");
                let fields = || Fields::new(body.as_bytes());
                let (mut long, mut short) = (fields(), fields());
                assert_eq!(short.time_us(), time_us(long.field()), "{body}");
                assert_eq!(short.rest, long.rest, "{body}");
                let (mut long, mut short) = (fields(), fields());
                assert_eq!(short.small(), small(long.field()), "{body}");
                assert_eq!(short.rest, long.rest, "{body}");
                let (mut long, mut short) = (fields(), fields());
                assert_eq!(short.number(), number(long.field()), "{body}");
                assert_eq!(short.rest, long.rest, "{body}");
                for (letters, most_deg) in [(*b"NS", 90), (*b"EW", 180)] {
                    let (mut long, mut short) = (fields(), fields());
                    let by_commas = degrees(long.field(), long.field(), letters, most_deg);
                    assert_eq!(short.degrees(letters, most_deg), by_commas, "{body}");
                    assert_eq!(short.rest, long.rest, "{body}");
                }
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
