//! Reads the sentences that carry position (GGA, RMC, GNS, GLL), accuracy (GST; GBS, of fault detection) and date (ZDA, RMC).
//! Field layouts: gpsd's NMEA notes.

use super::field::{Read, date};
use super::layout::{Fields, Layout};
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

/// How many there are.
const KINDS: usize = Kind::Zda as usize + 1;

impl Kind {
    /// From an address such as `GPGGA`: any talker of two characters, but not the makers' own sentences
    /// (`P...`, of which `PGRMC` is no RMC), `PQ` (QZSS) excepted.
    pub(crate) fn of(address: &[u8; 5]) -> Option<Kind> {
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

    /// The source of a fix from such a sentence; `None` where it has no position.
    pub(crate) fn source(self) -> Option<Source> {
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
    /// Whether the receiver says outright that its position is not to be used.
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

/// Reads sentences, and keeps from one to the next what makes that quick.
#[derive(Debug, Default)]
pub struct Parser {
    layouts: [Layout; KINDS],
    reading: Reading,
}

/// The sentences of one epoch (instant) repeat its time, and mostly its place, in the same characters. The last time, place and date are
/// kept with their texts, so that each is worked out once.
#[derive(Debug, Default)]
struct Reading {
    time: Last<i64, 2>,
    position: Last<Position, 4>,
    date: Option<([u8; 6], Date)>,
    /// What the present sentence says. It is lent to the caller from here, which is quicker than to copy it.
    parsed: Parsed,
}

/// A value that was read, and the text that it was read from, as so many 64-bit words. Half of them are from the beginning of the text and
/// half from its end, so that they may overlap.
#[derive(Debug)]
struct Last<T, const WORDS: usize> {
    text: [u64; WORDS],
    len: usize,
    value: Option<T>,
}

impl<T, const WORDS: usize> Default for Last<T, WORDS> {
    fn default() -> Last<T, WORDS> {
        Last {
            text: [0; WORDS],
            len: 0,
            value: None,
        }
    }
}

impl<T: Copy, const WORDS: usize> Last<T, WORDS> {
    /// The words of a text. `None` where it is shorter than half of the words, or longer than all of them, so that they would not cover it.
    #[inline]
    fn words(text: &[u8]) -> Option<[u64; WORDS]> {
        let mut words = [0; WORDS];
        let half = WORDS / 2;
        if text.len() > 8 * WORDS {
            return None;
        }
        let begin = text.get(..8 * half)?;
        let end = text.get(text.len() - 8 * half..)?;
        let parts = begin.as_chunks().0.iter().chain(end.as_chunks().0);
        for (word, part) in words.iter_mut().zip(parts) {
            *word = u64::from_le_bytes(*part);
        }
        Some(words)
    }

    /// The value, if the text is the same as the last; else `None`.
    #[inline]
    fn again(&self, text: &[u8]) -> Option<T> {
        let words = Self::words(text)?;
        (self.len == text.len() && self.text == words).then_some(self.value)?
    }

    /// Keeps a value, unless its text is of an unusual length.
    #[inline]
    fn keep(&mut self, text: &[u8], value: T) {
        if let Some(words) = Self::words(text) {
            (self.text, self.len, self.value) = (words, text.len(), Some(value));
        }
    }
}

impl Parser {
    /// Reads one body (address included, without `$` and `*hh`).
    ///
    /// # Errors
    /// What makes it unusable.
    pub(crate) fn parse(&mut self, kind: Kind, body: &[u8]) -> Result<&Parsed, Bad> {
        let reading = &mut self.reading;
        reading.parsed = Parsed::default();
        let layout = &mut self.layouts[kind as usize];
        layout.fit(body);
        let f = &Fields::new(body, layout);
        if kind != Kind::Gll {
            reading.time(f, 1)?;
        }
        match kind {
            Kind::Gga => reading.gga(f),
            Kind::Rmc => reading.rmc(f),
            Kind::Gns => reading.gns(f),
            Kind::Gll => reading.gll(f),
            Kind::Gst => reading.gst(f),
            Kind::Gbs => reading.gbs(f),
            Kind::Zda => reading.zda(f),
        }?;
        Ok(&reading.parsed)
    }
}

impl Reading {
    fn gga(&mut self, f: &Fields<'_>) -> Result<(), Bad> {
        self.position(f, 2)?;
        let parsed = &mut self.parsed;
        let quality = f.get(6).ok_or(Bad::Short)?.trim_ascii();
        parsed.quality = match quality {
            [] => None,
            [d] if d.is_ascii_digit() => Quality::from_gga(d - b'0'),
            _ => None,
        };
        parsed.void = parsed.quality == Some(Quality::NoFix);
        parsed.satellites = f.small(7).ok();
        parsed.hdop = dilution(f.number(8));
        parsed.altitude_m = f.number(9).ok();
        parsed.separation_m = f.number(11).ok();
        Ok(())
    }

    fn rmc(&mut self, f: &Fields<'_>) -> Result<(), Bad> {
        self.parsed.void = !f.at(2).trim_ascii().eq_ignore_ascii_case(b"A");
        self.position(f, 3)?;
        // Speed and course; after the date the magnetic variation.
        f.get(8).ok_or(Bad::Short)?;
        self.date(f.at(9));
        self.parsed.quality = mode(f.at(12));
        Ok(())
    }

    fn gns(&mut self, f: &Fields<'_>) -> Result<(), Bad> {
        self.position(f, 2)?;
        let parsed = &mut self.parsed;
        parsed.quality = mode(f.get(6).ok_or(Bad::Short)?);
        parsed.void = parsed.quality == Some(Quality::NoFix);
        parsed.satellites = f.small(7).ok();
        parsed.hdop = dilution(f.number(8));
        parsed.altitude_m = f.number(9).ok();
        parsed.separation_m = f.number(10).ok();
        Ok(())
    }

    fn gll(&mut self, f: &Fields<'_>) -> Result<(), Bad> {
        self.position(f, 1)?;
        self.time(f, 5)?;
        // Before NMEA 2.0 the sentence had no status.
        let status = f.at(6).trim_ascii();
        self.parsed.void = !status.is_empty() && !status.eq_ignore_ascii_case(b"A");
        self.parsed.quality = mode(f.at(7));
        Ok(())
    }

    fn gst(&mut self, f: &Fields<'_>) -> Result<(), Bad> {
        // The ellipse (fields 3 to 5) is often empty or contradicts the two sigmas: only those are used.
        self.parsed.sigma_north_m = sigma(f.number(6));
        self.parsed.sigma_east_m = sigma(f.number(7));
        Ok(())
    }

    fn gbs(&mut self, f: &Fields<'_>) -> Result<(), Bad> {
        // Some makers put a unit after each value; then these aren't the two sigmas.
        if !f.at(3).trim_ascii().eq_ignore_ascii_case(b"M") {
            self.parsed.sigma_north_m = sigma(f.number(2));
            self.parsed.sigma_east_m = sigma(f.number(3));
        }
        Ok(())
    }

    fn zda(&mut self, f: &Fields<'_>) -> Result<(), Bad> {
        self.parsed.date = match (f.small(2), f.small(3), f.number(4)) {
            (Read::Is(d), Read::Is(m), Read::Is(y)) if (1980.0..2100.0).contains(&y) => {
                Date::new(y as i16, m as i8, d as i8).ok()
            }
            _ => None,
        };
        Ok(())
    }

    #[inline]
    fn date(&mut self, text: &[u8]) {
        let six = text.first_chunk().filter(|_| text.len() == 6);
        self.parsed.date = match (six, self.date) {
            (Some(six), Some((last, date))) if *six == last => Some(date),
            _ => date(text),
        };
        self.date = six.copied().zip(self.parsed.date).or(self.date);
    }

    #[inline]
    fn time(&mut self, f: &Fields<'_>, field: usize) -> Result<(), Bad> {
        let text = f.at(field);
        self.parsed.time_us = self.time.again(text);
        if self.parsed.time_us.is_some() {
            return Ok(());
        }
        match f.time_us(field) {
            Read::Is(us) => {
                self.time.keep(text, us);
                self.parsed.time_us = Some(us);
                Ok(())
            }
            Read::Empty => Ok(()),
            Read::Bad => Err(Bad::Time),
        }
    }

    /// Reads the four fields of a position; where both numbers are empty, the sentence has no position.
    #[inline(never)]
    fn position(&mut self, f: &Fields<'_>, field: usize) -> Result<(), Bad> {
        let text = f.together(field, 4).unwrap_or(&[]);
        self.parsed.position = self.position.again(text);
        if self.parsed.position.is_some() {
            return Ok(());
        }
        let lat = f.degrees(field, *b"NS", 90);
        let lon = f.degrees(field + 2, *b"EW", 180);
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
                self.position.keep(text, position);
                self.parsed.position = Some(position);
                Ok(())
            }
            _ if f.get(field + 3).is_none() => Err(Bad::Short),
            (Read::Empty, Read::Empty) => Ok(()),
            _ => Err(Bad::Position),
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
