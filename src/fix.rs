//! A fix: one position as the receiver reported it, with its time, what the receiver claims of its accuracy, and the file and line that it
//! was read from. Every reader of a log format gives fixes, and everything after the readers starts from them.

use serde::Serialize;

/// Length of a day as the clock shows it, seconds. A day with a leap second is one second longer, which is left out of account.
pub const DAY_S: f64 = 86_400.0;

/// How the receiver says it got a position: the GGA quality indicator
/// (NMEA 0183 GGA field 6), extended by "unknown" for logs that say nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Quality {
    /// 0: the receiver had no position.
    NoFix,
    /// 1: from the codes of the satellites' signals alone, without any correction; out by some metres.
    Autonomous,
    /// 2: from codes, with corrections of a reference station (differential) or of a correction satellite (SBAS).
    Differential,
    /// 3: the precise (military) service.
    Pps,
    /// 4: from the phase of the carrier wave (RTK), with the number of whole waves to each satellite settled; out by centimetres.
    RtkFixed,
    /// 5: from the phase of the carrier wave (RTK), with those numbers not settled; out by decimetres.
    RtkFloat,
    /// 6: dead reckoning: carried on from the last position by speed and direction, so it is no measurement.
    DeadReckoning,
    /// 7: typed in by hand.
    Manual,
    /// 8: made up by a simulator.
    Simulator,
    /// The log does not say how the position was found.
    Unknown,
}

impl Quality {
    /// The quality that a digit of GGA field 6 stands for; `None` outside 0 to 8.
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
    /// Sentences of NMEA 0183, the text format that receivers speak.
    GGA,
    RMC,
    GNS,
    GLL,
    /// A point of a track or of a route in a GPX file.
    #[serde(rename = "trkpt")]
    Trkpt,
    #[serde(rename = "rtept")]
    Rtept,
    /// A row of a point list, or a vertex of GeoJSON or WKT.
    #[serde(rename = "point")]
    Point,
    /// A vertex of a drawn line that has its own time.
    #[serde(rename = "vertex")]
    Vertex,
    /// A binary message of a u-blox receiver.
    #[serde(rename = "NAV-PVT")]
    Ubx,
    /// A row of a post-processed solution.
    #[serde(rename = "pos")]
    Pos,
    /// A position report of gpsd, the service that passes a receiver's data on to other programs.
    TPV,
    /// A `Fix` line of a logger on an Android phone.
    #[serde(rename = "Fix")]
    Phone,
}

impl Source {
    /// Whether records of this kind carry a date with their time.
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

/// One position, merged from all sentences of its epoch (the instant that it was measured at).
#[derive(Debug, Clone, PartialEq)]
pub struct Fix {
    /// WGS 84, degrees, -90 to 90.
    pub lat_deg: f64,
    /// WGS 84, degrees, -180 to below 180.
    pub lon_deg: f64,
    /// Metres above the ellipsoid where the log gives the geoid separation (how far sea level lies above the ellipsoid), else as the
    /// log gives it. `None` where the log gives none.
    pub height_m: Option<f64>,
    /// Seconds on the log's own clock: the time of day (UTC), counted on over midnight so that it
    /// runs on through the log. Zero is midnight before the first fix. `None` where the log has no time.
    pub clock_s: Option<f64>,
    /// The date that the log claims for this fix. Fixes are never sorted or dropped by it, as real logs claim absurd ones.
    pub date: Option<jiff::civil::Date>,
    pub quality: Quality,
    pub satellites: Option<u8>,
    /// Horizontal dilution of precision: how many times the layout of the satellites multiplies an error of the signals. No unit;
    /// about 1 under an open sky.
    pub hdop: Option<f32>,
    /// One sigma (standard deviation) of the position, metres, as the log claims it (GST, GBS, an extension of GPX).
    pub sigma_east_m: Option<f32>,
    pub sigma_north_m: Option<f32>,
    pub source: Source,
    /// Index into [`crate::read::Log::files`].
    pub file: u16,
    /// Line of that file, from 1.
    pub line: u32,
    /// Track and segment of a GPX file, counted on through all files of the log; 0 in other formats.
    pub track: u16,
    pub segment: u16,
}

impl Fix {
    /// How far east and north this fix lies of another, metres, as [`flat_m`] works it out.
    pub(crate) fn off_m(&self, from: &Fix) -> (f64, f64) {
        flat_m([self.lat_deg, self.lon_deg], [from.lat_deg, from.lon_deg])
    }

    /// Distance to another fix, metres, as [`flat_m`] works it out.
    pub(crate) fn apart_m(&self, other: &Fix) -> f64 {
        let (east, north) = other.off_m(self);
        east.hypot(north)
    }
}

/// How far east and north one place lies of another, metres, from latitude and longitude, degrees. The earth is taken for flat, with 111 320 m
/// to the degree: good to 1 % over a lawn, where nothing better is asked.
pub(crate) fn flat_m(place_deg: [f64; 2], from_deg: [f64; 2]) -> (f64, f64) {
    // A degree of longitude at the equator of WGS 84, metres.
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
