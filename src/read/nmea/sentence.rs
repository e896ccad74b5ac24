//! The sentences that carry position, time and accuracy: GGA, RMC, GNS, GLL, GST, GBS and ZDA.
//! Field layouts: gpsd's NMEA notes.

use super::field::{Fields, Read, date, degrees, number, small, time_us};
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
    time: Last<i64, 16>,
    position: Last<Position, 48>,
    date: Last<Date, 8>,
}

/// Something that was read and the text it was read from, with the comma after it.
#[derive(Debug)]
struct Last<T, const N: usize> {
    text: [u8; N],
    len: usize,
    value: Option<T>,
}

impl<T, const N: usize> Default for Last<T, N> {
    fn default() -> Last<T, N> {
        Last {
            text: [0; N],
            len: 0,
            value: None,
        }
    }
}

impl<T: Copy, const N: usize> Last<T, N> {
    /// What it says, if the same text comes next.
    #[inline]
    fn again(&self, f: &mut Fields<'_>) -> Option<T> {
        let value = self.value?;
        let text = self.text.get(..self.len)?;
        f.past(text).then_some(value)
    }

    /// Keeps it, unless its text is longer than usual or has no comma after it.
    fn keep(&mut self, before: &[u8], after: &Fields<'_>, value: T) {
        let len = before.len() - after.rest().len();
        let text = before.get(..len).filter(|text| text.ends_with(b","));
        if let Some(text) = text
            && let Some(place) = self.text.get_mut(..len)
        {
            place.copy_from_slice(text);
            (self.len, self.value) = (len, Some(value));
        }
    }
}

impl Parser {
    /// Reads one body (address included, without `$` and `*hh`).
    ///
    /// # Errors
    /// What makes it unusable.
    pub fn parse(&mut self, kind: Kind, body: &[u8]) -> Result<Parsed, Bad> {
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
        }
    }

    fn gga(&mut self, mut f: Fields<'_>) -> Result<Parsed, Bad> {
        let mut parsed = Parsed {
            time_us: self.time(&mut f)?,
            position: self.position(&mut f)?,
            ..Parsed::default()
        };
        let quality = f.try_field().ok_or(Bad::Short)?.trim_ascii();
        parsed.quality = match quality {
            [] => None,
            [d] if d.is_ascii_digit() => Quality::from_gga(d - b'0'),
            _ => None,
        };
        parsed.void = parsed.quality == Some(Quality::NoFix);
        parsed.satellites = small(f.field()).ok();
        parsed.hdop = dilution(f.field());
        parsed.altitude_m = number(f.field()).ok();
        f.skip(1);
        parsed.separation_m = number(f.field()).ok();
        Ok(parsed)
    }

    fn rmc(&mut self, mut f: Fields<'_>) -> Result<Parsed, Bad> {
        let time_us = self.time(&mut f)?;
        let status = f.field();
        let mut parsed = Parsed {
            time_us,
            position: self.position(&mut f)?,
            void: !status.trim_ascii().eq_ignore_ascii_case(b"A"),
            ..Parsed::default()
        };
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
        Ok(parsed)
    }

    fn gns(&mut self, mut f: Fields<'_>) -> Result<Parsed, Bad> {
        let mut parsed = Parsed {
            time_us: self.time(&mut f)?,
            position: self.position(&mut f)?,
            ..Parsed::default()
        };
        parsed.quality = mode(f.try_field().ok_or(Bad::Short)?);
        parsed.void = parsed.quality == Some(Quality::NoFix);
        parsed.satellites = small(f.field()).ok();
        parsed.hdop = dilution(f.field());
        parsed.altitude_m = number(f.field()).ok();
        parsed.separation_m = number(f.field()).ok();
        Ok(parsed)
    }

    fn gll(&mut self, mut f: Fields<'_>) -> Result<Parsed, Bad> {
        let position = self.position(&mut f)?;
        let time_us = self.time(&mut f)?;
        // Before NMEA 2.0 the status was not there at all.
        let status = f.field().trim_ascii();
        Ok(Parsed {
            time_us,
            position,
            void: !status.is_empty() && !status.eq_ignore_ascii_case(b"A"),
            quality: mode(f.field()),
            ..Parsed::default()
        })
    }

    fn gst(&mut self, mut f: Fields<'_>) -> Result<Parsed, Bad> {
        let time_us = self.time(&mut f)?;
        // The ellipse (fields 3 to 5) is often empty or contradicts the two sigmas: only those are used.
        f.skip(4);
        let sigma_north_m = sigma(f.field());
        Ok(Parsed {
            time_us,
            sigma_north_m,
            sigma_east_m: sigma(f.field()),
            ..Parsed::default()
        })
    }

    fn gbs(&mut self, mut f: Fields<'_>) -> Result<Parsed, Bad> {
        let time_us = self.time(&mut f)?;
        let (north, east) = (f.field(), f.field());
        // Some makers put a unit after each value; then these aren't the two sigmas.
        let plain = !east.trim_ascii().eq_ignore_ascii_case(b"M");
        Ok(Parsed {
            time_us,
            sigma_north_m: sigma(north).filter(|_| plain),
            sigma_east_m: sigma(east).filter(|_| plain),
            ..Parsed::default()
        })
    }

    fn zda(&mut self, mut f: Fields<'_>) -> Result<Parsed, Bad> {
        let time_us = self.time(&mut f)?;
        let (day, month, year) = (small(f.field()), small(f.field()), number(f.field()));
        let date = match (day, month, year) {
            (Read::Is(d), Read::Is(m), Read::Is(y)) if (1980.0..2100.0).contains(&y) => {
                Date::new(y as i16, m as i8, d as i8).ok()
            }
            _ => None,
        };
        Ok(Parsed {
            time_us,
            date,
            ..Parsed::default()
        })
    }

    fn time(&mut self, f: &mut Fields<'_>) -> Result<Option<i64>, Bad> {
        if let Some(us) = self.time.again(f) {
            return Ok(Some(us));
        }
        let before = f.rest();
        match time_us(f.field()) {
            Read::Is(us) => {
                self.time.keep(before, f, us);
                Ok(Some(us))
            }
            Read::Empty => Ok(None),
            Read::Bad => Err(Bad::Time),
        }
    }

    /// The four fields of a position; `None` where both numbers are empty.
    fn position(&mut self, f: &mut Fields<'_>) -> Result<Option<Position>, Bad> {
        if let Some(position) = self.position.again(f) {
            return Ok(Some(position));
        }
        let before = f.rest();
        let (lat, side) = (f.field(), f.field());
        let lat = degrees(lat, side, *b"NS", 90);
        let (lon, side) = (f.field(), f.try_field().ok_or(Bad::Short)?);
        let lon = degrees(lon, side, *b"EW", 180);
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
                Ok(Some(position))
            }
            (Read::Empty, Read::Empty) => Ok(None),
            _ => Err(Bad::Position),
        }
    }
}

/// A dilution of precision; some receivers write 99.99 or 0 for "don't know".
fn dilution(field: &[u8]) -> Option<f32> {
    number(field)
        .ok()
        .map(|value| value as f32)
        .filter(|value| *value > 0.0 && *value < 99.0)
}

/// One sigma in metres, above zero and below a thousand kilometres.
fn sigma(field: &[u8]) -> Option<f32> {
    number(field)
        .ok()
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
