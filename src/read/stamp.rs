//! Reads a date and time as GPX, point lists and other forms write it: `2026-05-14T09:30:00.25+01:00` and what is near it. It gives the
//! time in UTC.

use crate::fix::DAY_S;
use jiff::civil::Date;

/// A moment in UTC: its date, where it was written, and its time of day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stamp {
    pub date: Option<Date>,
    /// Seconds since midnight UTC, 0 to 86 401 (a leap second).
    pub tod_s: f64,
}

impl Stamp {
    /// Reads an xsd:dateTime, with a space for the `T`, slashes for dashes, and any offset; a time alone
    /// (`09:30:00`, `093000.25`); or seconds since 1970. Without an offset it is taken for UTC.
    pub(crate) fn parse(text: &[u8]) -> Option<Stamp> {
        let text = text.trim_ascii();
        if text.iter().all(|b| b.is_ascii_digit() || *b == b'.') {
            return of_digits(text);
        }
        let (date, rest) = match text {
            [
                a,
                b,
                c,
                d,
                b'-' | b'/' | b'.',
                m1,
                m2,
                b'-' | b'/' | b'.',
                d1,
                d2,
                rest @ ..,
            ] => {
                let year = two(*a, *b)? * 100 + two(*c, *d)?;
                let (month, day) = (two(*m1, *m2)?, two(*d1, *d2)?);
                let date = Date::new(year as i16, month as i8, day as i8).ok()?;
                let rest = rest
                    .strip_prefix(b"T")
                    .or_else(|| rest.strip_prefix(b"t"))
                    .unwrap_or(rest);
                (Some(date), rest.trim_ascii_start())
            }
            rest => (None, rest),
        };
        if rest.is_empty() {
            // A date without a time is no moment.
            return None;
        }
        let [h1, h2, b':', m1, m2, b':', s1, s2, rest @ ..] = rest else {
            return None;
        };
        let (h, m, s) = (two(*h1, *h2)?, two(*m1, *m2)?, two(*s1, *s2)?);
        if h > 24 || m > 59 || s > 60 || (h == 24 && (m > 0 || s > 0)) {
            return None;
        }
        let mut tod_s = f64::from(h * 3600 + m * 60 + s);
        let mut rest = rest;
        if let [b'.' | b',', digits @ ..] = rest {
            let end = digits
                .iter()
                .position(|b| !b.is_ascii_digit())
                .unwrap_or(digits.len());
            let (fraction, after) = digits.split_at(end);
            tod_s += fraction_of(fraction);
            rest = after;
        }
        let offset_s = offset(rest.trim_ascii())?;
        Some(Stamp { date, tod_s }.shifted(-offset_s))
    }

    /// A time of day that may lie up to a day before or after the date given.
    pub(crate) fn in_utc(date: Option<Date>, tod_s: f64) -> Stamp {
        Stamp { date, tod_s: 0.0 }.shifted(tod_s)
    }

    /// The moment so many seconds later, up to a day either way.
    fn shifted(self, by_s: f64) -> Stamp {
        if by_s == 0.0 {
            return self;
        }
        let mut tod_s = self.tod_s + by_s;
        let mut date = self.date;
        if tod_s < 0.0 {
            tod_s += DAY_S;
            date = date.and_then(|d| d.yesterday().ok());
        } else if tod_s >= DAY_S {
            tod_s -= DAY_S;
            date = date.and_then(|d| d.tomorrow().ok());
        }
        Stamp { date, tod_s }
    }
}

fn two(a: u8, b: u8) -> Option<u32> {
    (a.is_ascii_digit() && b.is_ascii_digit())
        .then(|| u32::from(a - b'0') * 10 + u32::from(b - b'0'))
}

/// The value of digits after a decimal point, of which nine count.
fn fraction_of(digits: &[u8]) -> f64 {
    let mut value = 0u64;
    let mut scale = 1u64;
    for d in digits.iter().take(9) {
        value = value * 10 + u64::from(d - b'0');
        scale *= 10;
    }
    value as f64 / scale as f64
}

/// Seconds east of UTC; `None` where it can't be read.
fn offset(text: &[u8]) -> Option<f64> {
    let (sign, digits) = match text {
        [] | [b'Z' | b'z'] | b"UTC" | b"GMT" => return Some(0.0),
        [b'+', digits @ ..] => (1.0, digits),
        [b'-', digits @ ..] => (-1.0, digits),
        _ => return None,
    };
    let (h, m) = match digits {
        [a, b] => (two(*a, *b)?, 0),
        [a, b, c, d] | [a, b, b':', c, d] => (two(*a, *b)?, two(*c, *d)?),
        _ => return None,
    };
    (h <= 14 && m < 60).then(|| sign * f64::from(h * 3600 + m * 60))
}

/// `hhmmss[.s]` or seconds since 1970 (ten digits; thirteen are milliseconds).
fn of_digits(text: &[u8]) -> Option<Stamp> {
    let whole = text.iter().position(|b| *b == b'.').unwrap_or(text.len());
    let value: f64 = fast_float2::parse(text).ok()?;
    match whole {
        6 => {
            let clock = value.floor() as u32;
            let (h, m, s) = (clock / 10_000, clock / 100 % 100, clock % 100);
            (h < 24 && m < 60 && s < 61).then(|| Stamp {
                date: None,
                tod_s: f64::from(h * 3600 + m * 60 + s) + value.fract(),
            })
        }
        9..=13 => {
            let seconds = if whole > 11 { value / 1000.0 } else { value };
            let days = (seconds / DAY_S).floor();
            let epoch = Date::new(1970, 1, 1).ok()?;
            let date = epoch
                .checked_add(jiff::Span::new().try_days(days as i64).ok()?)
                .ok()?;
            Some(Stamp {
                date: Some(date),
                tod_s: seconds - days * DAY_S,
            })
        }
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stamp(text: &str) -> (String, f64) {
        let s = Stamp::parse(text.as_bytes()).unwrap_or_else(|| panic!("{text}"));
        (s.date.map(|d| d.to_string()).unwrap_or_default(), s.tod_s)
    }

    /// The lexical forms of xsd:dateTime (W3C XML Schema 1.1 part 2, 3.3.7), and looser ones.
    #[test]
    fn forms() {
        let day = "2026-05-14".to_string();
        assert_eq!(stamp("2026-05-14T09:30:00Z"), (day.clone(), 34_200.0));
        assert_eq!(
            stamp(" 2026-05-14T09:30:00.250Z "),
            (day.clone(), 34_200.25)
        );
        assert_eq!(stamp("2026-05-14T10:30:00+01:00"), (day.clone(), 34_200.0));
        assert_eq!(stamp("2026-05-14 09:30:00"), (day.clone(), 34_200.0));
        assert_eq!(stamp("2026/05/14 09:30:00"), (day.clone(), 34_200.0));
        assert_eq!(stamp("2026-05-15T00:30:00+0100"), (day.clone(), 84_600.0));
        assert_eq!(stamp("2026-05-13T20:00:00-05:00"), (day.clone(), 3600.0));
        assert_eq!(stamp("09:30:00"), (String::new(), 34_200.0));
        assert_eq!(stamp("093000.5"), (String::new(), 34_200.5));
        assert_eq!(stamp("1000000000"), ("2001-09-09".to_string(), 6400.0));
        assert_eq!(stamp("2016-12-31T23:59:60Z").1, 86_400.0);
    }

    #[test]
    fn what_is_no_time() {
        for text in [
            "",
            "today",
            "2026-05-14",
            "2026-13-14T09:30:00Z",
            "25:00:00",
            "2026-05-14T09:30",
        ] {
            assert_eq!(Stamp::parse(text.as_bytes()), None, "{text}");
        }
    }
}
