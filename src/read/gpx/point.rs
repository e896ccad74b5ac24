//! A point of a GPX or TCX file while it is read: which child elements matter, and what their texts mean.

use crate::fix::{Fix, Quality, Source};
use crate::process::Accuracy;
use crate::read::accuracy;
use crate::read::stamp::Stamp;

/// What a point is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Sort {
    Track,
    Route,
    Waypoint,
}

/// The child element whose text is being read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Field {
    /// Only of a TCX point, which has latitude and longitude as elements.
    Latitude,
    Longitude,
    Height,
    Separation,
    Time,
    Hdop,
    Satellites,
    Fix,
    Accuracy(Accuracy),
    Name,
    Comment,
    Description,
    /// Only of a file that this program wrote.
    Type,
    Keywords,
}

#[derive(Debug, Clone)]
pub(super) struct Point {
    pub sort: Sort,
    pub lat: Option<f64>,
    pub lon: Option<f64>,
    pub line: u32,
    pub height_m: Option<f64>,
    pub separation_m: Option<f64>,
    pub stamp: Option<Stamp>,
    pub hdop: Option<f32>,
    pub satellites: Option<u8>,
    pub quality: Quality,
    /// One sigma of each axis, metres, and which kind of figure it was worked out from.
    pub accuracy: Option<(Accuracy, f32)>,
    pub texts: [String; 3],
}

impl Point {
    pub(crate) fn new(sort: Sort, lat: Option<f64>, lon: Option<f64>, line: u32) -> Point {
        Point {
            sort,
            lat,
            lon,
            line,
            height_m: None,
            separation_m: None,
            stamp: None,
            hdop: None,
            satellites: None,
            quality: Quality::Unknown,
            accuracy: None,
            texts: Default::default(),
        }
    }

    /// Takes the text of a child, without space round it. `false` where it is a time that can't be read.
    pub(crate) fn set(&mut self, field: Field, text: &str) -> bool {
        match field {
            Field::Latitude => self.lat = number(text),
            Field::Longitude => self.lon = number(text),
            Field::Height => self.height_m = number(text),
            Field::Separation => self.separation_m = number(text),
            Field::Hdop => {
                let value = number(text).map(|v| v as f32);
                self.hdop = value.filter(|v| *v > 0.0 && *v < 99.0);
            }
            Field::Satellites => self.satellites = text.parse().ok(),
            Field::Fix => self.quality = quality(text),
            Field::Accuracy(kind) => {
                let metres = number(text).map(|v| v as f32);
                let figure_m = metres.filter(|v| *v > 0.0 && *v < 1.0e6);
                self.accuracy = figure_m.map(|m| (kind, kind.axis_m(m)));
            }
            Field::Time => {
                if !text.is_empty() {
                    self.stamp = Stamp::parse(text.as_bytes());
                    return self.stamp.is_some();
                }
            }
            Field::Name => self.texts[0] = text.to_string(),
            Field::Comment => self.texts[1] = text.to_string(),
            Field::Description => self.texts[2] = text.to_string(),
            Field::Type | Field::Keywords => {}
        }
        true
    }

    /// The point as a fix at this place; its track and segment are set by the caller.
    pub(crate) fn fix(&self, lat_deg: f64, lon_deg: f64, source: Source, file: u16) -> Fix {
        let sigma_m = self.accuracy.map(|(_, sigma_m)| sigma_m);
        Fix {
            lat_deg,
            lon_deg,
            height_m: self
                .height_m
                .map(|height_m| height_m + self.separation_m.unwrap_or(0.0)),
            clock_s: self.stamp.map(|s| s.tod_s),
            date: self.stamp.and_then(|s| s.date),
            quality: self.quality,
            satellites: self.satellites,
            hdop: self.hdop,
            sigma_east_m: sigma_m,
            sigma_north_m: sigma_m,
            source,
            file,
            line: self.line,
            track: 0,
            segment: 0,
        }
    }
}

/// What a child element of this name says; `None` where it does not matter. Among extensions only accuracies do.
pub(super) fn field(name: &[u8], in_extensions: bool) -> Option<Field> {
    let accuracy = || {
        Some(Field::Accuracy(accuracy::kind(
            std::str::from_utf8(name).ok()?,
        )?))
    };
    if in_extensions {
        return accuracy();
    }
    Some(match name {
        b"LatitudeDegrees" => Field::Latitude,
        b"LongitudeDegrees" => Field::Longitude,
        b"ele" | b"AltitudeMeters" => Field::Height,
        b"geoidheight" => Field::Separation,
        b"time" | b"Time" => Field::Time,
        b"hdop" => Field::Hdop,
        b"sat" => Field::Satellites,
        b"fix" => Field::Fix,
        b"name" => Field::Name,
        b"cmt" => Field::Comment,
        b"desc" => Field::Description,
        // Some programs write an accuracy beside the standard's elements rather than among the extensions.
        _ => return accuracy(),
    })
}

/// `lat` and `lon` from a tag's attributes, in any order and with either kind of quotes; `None` for one that is missing or no number.
pub(super) fn coordinates(attributes: &str) -> (Option<f64>, Option<f64>) {
    let (mut lat, mut lon) = (None, None);
    let mut rest = attributes.as_bytes();
    while let Some(equals) = rest.iter().position(|b| *b == b'=') {
        let (key, after) = rest.split_at(equals);
        let after = after.get(1..).unwrap_or(&[]).trim_ascii_start();
        let Some((quote, after)) = after.split_first() else {
            break;
        };
        let Some(end) = after.iter().position(|b| b == quote) else {
            break;
        };
        let (value, next) = after.split_at(end);
        let key = key.trim_ascii();
        let key = key
            .rsplit(|b| b.is_ascii_whitespace())
            .next()
            .unwrap_or(key);
        if key.eq_ignore_ascii_case(b"lat") {
            lat = number_of(value);
        } else if key.eq_ignore_ascii_case(b"lon") {
            lon = number_of(value);
        }
        rest = next.get(1..).unwrap_or(&[]);
    }
    (lat, lon)
}

pub(super) fn number_of(text: &[u8]) -> Option<f64> {
    let text = text.trim_ascii();
    let text = text.strip_prefix(b"+").unwrap_or(text);
    fast_float2::parse::<f64, _>(text)
        .ok()
        .filter(|v| v.is_finite())
}

fn number(text: &str) -> Option<f64> {
    number_of(text.as_bytes())
}

/// The quality that the text of an element `fix` means: GPX's own words, and those of programs that tell RTK as well.
fn quality(text: &str) -> Quality {
    match text.to_ascii_lowercase().as_str() {
        "none" => Quality::NoFix,
        "2d" | "3d" => Quality::Autonomous,
        "dgps" | "sbas" => Quality::Differential,
        "pps" => Quality::Pps,
        "rtk" | "rtk-fixed" | "rtk_fixed" | "fixed" => Quality::RtkFixed,
        "rtk-float" | "rtk_float" | "float" => Quality::RtkFloat,
        _ => Quality::Unknown,
    }
}
