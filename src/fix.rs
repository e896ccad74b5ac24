//! One position as the receiver reported it, with where it came from.

use serde::Serialize;

/// Of a day as the clock shows it, seconds; one with a leap second is longer.
pub const DAY_S: f64 = 86_400.0;

/// How the receiver says it got a position: the GGA quality indicator
/// (NMEA 0183 GGA field 6), extended by "unknown" for logs that say nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Quality {
    /// 0: the receiver had no position.
    NoFix,
    /// 1: code positions from the satellites alone.
    Autonomous,
    /// 2: code positions with differential or SBAS corrections.
    Differential,
    /// 3: the precise (military) service.
    Pps,
    /// 4: carrier phase, ambiguities resolved to whole numbers.
    RtkFixed,
    /// 5: carrier phase, ambiguities not resolved.
    RtkFloat,
    /// 6: dead reckoning, not a measurement.
    DeadReckoning,
    /// 7: typed in by hand.
    Manual,
    /// 8: made up by a simulator.
    Simulator,
    /// The log says nothing about it.
    Unknown,
}

impl Quality {
    /// From the digit of GGA field 6. `None` outside 0 to 8.
    #[must_use]
    pub fn from_gga(digit: u8) -> Option<Quality> {
        use Quality::*;
        Some(match digit {
            0 => NoFix,
            1 => Autonomous,
            2 => Differential,
            3 => Pps,
            4 => RtkFixed,
            5 => RtkFloat,
            6 => DeadReckoning,
            7 => Manual,
            8 => Simulator,
            _ => return None,
        })
    }

    /// The GGA digit, or `None` where the log said nothing.
    #[must_use]
    pub fn digit(self) -> Option<u8> {
        (self != Quality::Unknown).then_some(self as u8)
    }
}

/// What kind of record a fix was read from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
pub enum Source {
    /// NMEA 0183 sentences.
    GGA,
    RMC,
    GNS,
    GLL,
    /// GPX track point, route point.
    #[serde(rename = "trkpt")]
    Trkpt,
    #[serde(rename = "rtept")]
    Rtept,
    /// A row of a point list, or a vertex of GeoJSON or WKT.
    #[serde(rename = "point")]
    Point,
    /// A place of a drawing that has its own time.
    #[serde(rename = "vertex")]
    Vertex,
    /// Binary, of a u-blox receiver.
    #[serde(rename = "NAV-PVT")]
    Ubx,
    /// A row of a post-processed solution.
    #[serde(rename = "pos")]
    Pos,
    /// A report of gpsd.
    TPV,
    /// A line of an Android logger.
    #[serde(rename = "Fix")]
    Phone,
}

impl Source {
    /// Whether its records say their date with their time.
    pub(crate) fn is_dated(self) -> bool {
        !matches!(self, Source::GGA | Source::RMC | Source::GNS | Source::GLL)
    }

    pub(crate) fn name(self) -> &'static str {
        match self {
            Source::GGA => "GGA",
            Source::RMC => "RMC",
            Source::GNS => "GNS",
            Source::GLL => "GLL",
            Source::Trkpt => "trkpt",
            Source::Rtept => "rtept",
            Source::Point => "point",
            Source::Vertex => "vertex",
            Source::Ubx => "NAV-PVT",
            Source::Pos => "pos",
            Source::TPV => "TPV",
            Source::Phone => "Fix",
        }
    }
}

/// One position, merged from all sentences of its epoch.
#[derive(Debug, Clone, PartialEq)]
pub struct Fix {
    /// WGS 84, degrees, -90 to 90.
    pub lat_deg: f64,
    /// WGS 84, degrees, -180 to below 180.
    pub lon_deg: f64,
    /// Metres above the ellipsoid where the log gives the geoid separation, else as the log gives it.
    pub height_m: Option<f64>,
    /// Seconds on the log's own clock: the time of day (UTC), counted on over midnight so that it
    /// runs on through the log. Zero is midnight before the first fix. `None` where the log has no time.
    pub clock_s: Option<f64>,
    /// The date the log claims for this fix. Never used for sorting or dropping: real logs claim absurd ones.
    pub date: Option<jiff::civil::Date>,
    pub quality: Quality,
    pub satellites: Option<u8>,
    /// Horizontal dilution of precision, no unit.
    pub hdop: Option<f32>,
    /// One sigma, metres, as claimed by the log (GST, GBS, GPX accuracy extension).
    pub sigma_east_m: Option<f32>,
    pub sigma_north_m: Option<f32>,
    pub source: Source,
    /// Index into [`crate::read::Log::files`].
    pub file: u16,
    /// Line of that file, from 1.
    pub line: u32,
    /// Track and segment of a GPX file (counted through the whole log); 0 elsewhere.
    pub track: u16,
    pub segment: u16,
}

impl Fix {
    /// How far east and north it lies of another, metres: [`flat_m`].
    pub(crate) fn off_m(&self, from: &Fix) -> (f64, f64) {
        flat_m([self.lat_deg, self.lon_deg], [from.lat_deg, from.lon_deg])
    }

    /// How far it lies from another, metres: [`flat_m`].
    pub(crate) fn apart_m(&self, other: &Fix) -> f64 {
        let (east, north) = other.off_m(self);
        east.hypot(north)
    }
}

/// How far east and north one place lies of another, metres, from latitude and longitude, degrees. The earth is taken for flat, with 111 320 m
/// to the degree: good to 1 % over a lawn, where nothing better is asked.
pub(crate) fn flat_m(place_deg: [f64; 2], from_deg: [f64; 2]) -> (f64, f64) {
    const DEGREE_M: f64 = 111_320.0;
    let ([lat_deg, lon_deg], [from_lat_deg, from_lon_deg]) = (place_deg, from_deg);
    let mut turn = lon_deg - from_lon_deg;
    if turn > 180.0 {
        turn -= 360.0;
    } else if turn < -180.0 {
        turn += 360.0;
    }
    let east = turn * DEGREE_M * from_lat_deg.to_radians().cos();
    (east, (lat_deg - from_lat_deg) * DEGREE_M)
}
