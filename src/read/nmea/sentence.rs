//! The sentences that carry position, time and accuracy: GGA, RMC, GNS, GLL, GST, GBS and ZDA.
//! Field layouts: gpsd's NMEA notes.

use super::field::{Fields, Read, date, number};
use crate::fix::{Quality, Source};
use jiff::civil::Date;

/// The sentence types read for fixes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    Gga,
    Rmc,
    Gns,
    Gll,
    Gst,
    Gbs,
    Zda,
}

impl Kind {
    /// From an address such as `GPGGA`: any talker of two characters, but not the makers' own sentences
    /// (`P...`, of which `PGRMC` is no RMC), `PQ` (QZSS) excepted.
    pub fn of(address: &[u8; 5]) -> Option<Kind> {
        let [first, second, formatter @ ..] = address;
        if *first == b'P' && *second != b'Q' {
            return None;
        }
        Some(match formatter {
            b"GGA" => Kind::Gga,
            b"RMC" => Kind::Rmc,
            b"GNS" => Kind::Gns,
            b"GLL" => Kind::Gll,
            b"GST" => Kind::Gst,
            b"GBS" => Kind::Gbs,
            b"ZDA" => Kind::Zda,
            _ => return None,
        })
    }

    pub fn source(self) -> Option<Source> {
        match self {
            Kind::Gga => Some(Source::GGA),
            Kind::Rmc => Some(Source::RMC),
            Kind::Gns => Some(Source::GNS),
            Kind::Gll => Some(Source::GLL),
            Kind::Gst | Kind::Gbs | Kind::Zda => None,
        }
    }
}

/// A position in degrees, and how finely it was written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Position {
    pub lat_deg: f64,
    pub lon_deg: f64,
    /// Decimals of the minute.
    pub decimals: u8,
}

/// One parsed sentence. What it doesn't say is `None`.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Parsed {
    pub time_us: Option<i64>,
    pub position: Option<Position>,
    /// The receiver says outright that its position is not to be used.
    pub void: bool,
    pub quality: Option<Quality>,
    pub satellites: Option<u8>,
    pub hdop: Option<f32>,
    pub altitude_m: Option<f64>,
    pub separation_m: Option<f64>,
    pub sigma_east_m: Option<f32>,
    pub sigma_north_m: Option<f32>,
    pub date: Option<Date>,
}

/// What makes a sentence unusable.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bad {
    Time,
    Position,
    /// Fewer fields than it needs.
    Short,
}

/// Reads sentences. The sentences of one epoch repeat its time and mostly its place to the letter: the last of each
/// is kept with its text, so that it is worked out once.
#[derive(Debug, Default)]
pub struct Parser {
    time: Last<i64, 2>,
    position: Last<Position, 5>,
    date: Last<Date, 1>,
    /// What the present sentence says: it stays where it was written, which is faster than handing it on.
    parsed: Parsed,
}

/// Something that was read and the text it was read from, with the comma after it: up to so many times eight bytes, in
/// which those that don't belong to it are masked.
#[derive(Debug)]
struct Last<T, const WORDS: usize> {
    text: [u64; WORDS],
    mask: [u64; WORDS],
    len: usize,
    value: Option<T>,
}

impl<T, const WORDS: usize> Default for Last<T, WORDS> {
    fn default() -> Last<T, WORDS> {
        Last {
            text: [0; WORDS],
            mask: [0; WORDS],
            len: 0,
            value: None,
        }
    }
}

impl<T: Copy, const WORDS: usize> Last<T, WORDS> {
    /// What it says, if the same text comes next. Near the end of a sentence nobody looks: it is read anew.
    #[inline]
    fn again(&self, f: &mut Fields<'_>) -> Option<T> {
        let value = self.value?;
        let next = f.rest().as_chunks::<8>().0.get(..WORDS)?;
        let mut other = 0;
        for ((bytes, text), mask) in next.iter().zip(&self.text).zip(&self.mask) {
            other |= (u64::from_le_bytes(*bytes) & mask) ^ text;
        }
        if other != 0 {
            return None;
        }
        f.go_on(self.len);
        Some(value)
    }

    /// Keeps it, unless its text is longer than usual or has no comma after it.
    #[inline]
    fn keep(&mut self, before: &[u8], after: &Fields<'_>, value: T) {
        let len = before.len() - after.rest().len();
        let comma = before.get(..len).is_some_and(|text| text.ends_with(b","));
        let Some(words) = before.as_chunks::<8>().0.get(..WORDS) else {
            return;
        };
        if !comma || len > 8 * WORDS {
            return;
        }
        for (i, (bytes, (text, mask))) in words
            .iter()
            .zip(self.text.iter_mut().zip(&mut self.mask))
            .enumerate()
        {
            let inside = len.saturating_sub(8 * i);
            *mask = match inside {
                0 => 0,
                1..8 => (1 << (8 * inside)) - 1,
                _ => u64::MAX,
            };
            *text = u64::from_le_bytes(*bytes) & *mask;
        }
        (self.len, self.value) = (len, Some(value));
    }
}

impl Parser {
    /// Reads one body (address included, without `$` and `*hh`).
    ///
    /// # Errors
    /// What makes it unusable.
    pub fn parse(&mut self, kind: Kind, body: &[u8]) -> Result<&Parsed, Bad> {
        self.parsed = Parsed::default();
        let mut f = Fields::new(body);
        f.skip(1);
        match kind {
            Kind::Gga => self.gga(f),
            Kind::Rmc => self.rmc(f),
            Kind::Gns => self.gns(f),
            Kind::Gll => self.gll(f),
            Kind::Gst => self.gst(f),
            Kind::Gbs => self.gbs(f),
            Kind::Zda => self.zda(f),
        }?;
        Ok(&self.parsed)
    }

    fn gga(&mut self, mut f: Fields<'_>) -> Result<(), Bad> {
        self.time(&mut f)?;
        self.position(&mut f)?;
        let parsed = &mut self.parsed;
        let quality = f.try_field().ok_or(Bad::Short)?.trim_ascii();
        parsed.quality = match quality {
            [] => None,
            [d] if d.is_ascii_digit() => Quality::from_gga(d - b'0'),
            _ => None,
        };
        parsed.void = parsed.quality == Some(Quality::NoFix);
        parsed.satellites = f.small().ok();
        parsed.hdop = dilution(f.number());
        parsed.altitude_m = f.number().ok();
        f.skip(1);
        parsed.separation_m = f.number().ok();
        Ok(())
    }

    fn rmc(&mut self, mut f: Fields<'_>) -> Result<(), Bad> {
        self.time(&mut f)?;
        self.parsed.void = !f.field().trim_ascii().eq_ignore_ascii_case(b"A");
        self.position(&mut f)?;
        let parsed = &mut self.parsed;
        f.skip(1); // speed
        f.try_field().ok_or(Bad::Short)?; // course
        parsed.date = self.date.again(&mut f);
        if parsed.date.is_none() {
            let before = f.rest();
            parsed.date = date(f.field());
            if let Some(date) = parsed.date {
                self.date.keep(before, &f, date);
            }
        }
        f.skip(2); // magnetic variation
        parsed.quality = mode(f.field());
        Ok(())
    }

    fn gns(&mut self, mut f: Fields<'_>) -> Result<(), Bad> {
        self.time(&mut f)?;
        self.position(&mut f)?;
        let parsed = &mut self.parsed;
        parsed.quality = mode(f.try_field().ok_or(Bad::Short)?);
        parsed.void = parsed.quality == Some(Quality::NoFix);
        parsed.satellites = f.small().ok();
        parsed.hdop = dilution(f.number());
        parsed.altitude_m = f.number().ok();
        parsed.separation_m = f.number().ok();
        Ok(())
    }

    fn gll(&mut self, mut f: Fields<'_>) -> Result<(), Bad> {
        self.position(&mut f)?;
        self.time(&mut f)?;
        // Before NMEA 2.0 the status was not there at all.
        let status = f.field().trim_ascii();
        self.parsed.void = !status.is_empty() && !status.eq_ignore_ascii_case(b"A");
        self.parsed.quality = mode(f.field());
        Ok(())
    }

    fn gst(&mut self, mut f: Fields<'_>) -> Result<(), Bad> {
        self.time(&mut f)?;
        // The ellipse (fields 3 to 5) is often empty or contradicts the two sigmas: only those are used.
        f.skip(4);
        self.parsed.sigma_north_m = sigma(f.number());
        self.parsed.sigma_east_m = sigma(f.number());
        Ok(())
    }

    fn gbs(&mut self, mut f: Fields<'_>) -> Result<(), Bad> {
        self.time(&mut f)?;
        let (north, east) = (f.field(), f.field());
        // Some makers put a unit after each value; then these aren't the two sigmas.
        if !east.trim_ascii().eq_ignore_ascii_case(b"M") {
            self.parsed.sigma_north_m = sigma(number(north));
            self.parsed.sigma_east_m = sigma(number(east));
        }
        Ok(())
    }

    fn zda(&mut self, mut f: Fields<'_>) -> Result<(), Bad> {
        self.time(&mut f)?;
        let (day, month, year) = (f.small(), f.small(), f.number());
        self.parsed.date = match (day, month, year) {
            (Read::Is(d), Read::Is(m), Read::Is(y)) if (1980.0..2100.0).contains(&y) => {
                Date::new(y as i16, m as i8, d as i8).ok()
            }
            _ => None,
        };
        Ok(())
    }

    #[inline]
    fn time(&mut self, f: &mut Fields<'_>) -> Result<(), Bad> {
        self.parsed.time_us = self.time.again(f);
        if self.parsed.time_us.is_some() {
            return Ok(());
        }
        let before = f.rest();
        match f.time_us() {
            Read::Is(us) => {
                self.time.keep(before, f, us);
                self.parsed.time_us = Some(us);
                Ok(())
            }
            Read::Empty => Ok(()),
            Read::Bad => Err(Bad::Time),
        }
    }

    /// The four fields of a position; none where both numbers are empty.
    #[inline]
    fn position(&mut self, f: &mut Fields<'_>) -> Result<(), Bad> {
        self.parsed.position = self.position.again(f);
        if self.parsed.position.is_some() {
            return Ok(());
        }
        let (before, mut fields) = (f.rest(), *f);
        let lat = f.degrees(*b"NS", 90);
        let lon = f.degrees(*b"EW", 180);
        match (lat, lon) {
            (Read::Is((lat_deg, a)), Read::Is((lon_deg, b))) => {
                let position = Position {
                    lat_deg,
                    lon_deg: if lon_deg >= 180.0 {
                        lon_deg - 360.0
                    } else {
                        lon_deg
                    },
                    decimals: a.min(b),
                };
                self.position.keep(before, f, position);
                self.parsed.position = Some(position);
                Ok(())
            }
            (lat, lon) => {
                fields.skip(3);
                fields.try_field().ok_or(Bad::Short)?;
                match (lat, lon) {
                    (Read::Empty, Read::Empty) => Ok(()),
                    _ => Err(Bad::Position),
                }
            }
        }
    }
}

/// A dilution of precision; some receivers write 99.99 or 0 for "don't know".
fn dilution(read: Read<f64>) -> Option<f32> {
    read.ok()
        .map(|value| value as f32)
        .filter(|value| *value > 0.0 && *value < 99.0)
}

/// One sigma in metres, above zero and below a thousand kilometres.
fn sigma(read: Read<f64>) -> Option<f32> {
    read.ok()
        .map(|value| value as f32)
        .filter(|value| *value > 0.0 && *value < 1.0e6)
}

/// The mode letters of RMC, GLL (one) and GNS (one for each constellation): the best of them.
fn mode(letters: &[u8]) -> Option<Quality> {
    let rank = |quality: Quality| match quality {
        Quality::RtkFixed => 9,
        Quality::RtkFloat => 8,
        Quality::Pps => 7,
        Quality::Differential => 6,
        Quality::Autonomous => 5,
        Quality::DeadReckoning => 4,
        Quality::Manual => 3,
        Quality::Simulator => 2,
        Quality::NoFix => 1,
        Quality::Unknown => 0,
    };
    letters
        .trim_ascii()
        .iter()
        .filter_map(|letter| {
            Some(match letter.to_ascii_uppercase() {
                b'R' => Quality::RtkFixed,
                b'F' => Quality::RtkFloat,
                b'P' => Quality::Pps,
                b'D' => Quality::Differential,
                b'A' => Quality::Autonomous,
                b'E' => Quality::DeadReckoning,
                b'M' => Quality::Manual,
                b'S' => Quality::Simulator,
                b'N' => Quality::NoFix,
                _ => return None,
            })
        })
        .max_by_key(|quality| rank(*quality))
}
