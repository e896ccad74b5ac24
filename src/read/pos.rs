//! Post-processed solutions (positions that were worked out after the walk) as open processing software writes them (`.pos`): a header of
//! lines with `%`, then a row for each moment. Positions are in degrees; in degrees, minutes and seconds; geocentric (metres along axes
//! from the Earth's centre); or a baseline from a reference position in the header. Times are times of day, or GPS weeks and seconds. The
//! columns and the numbers of `Q` are from memory of that software's manual.

use crate::fault::Fault;
use crate::fix::{DAY_S, Quality, Source};
use crate::left_out::LeftOut;
use crate::process::Accuracy;
use crate::read::batch::{Batch, Limits};
use crate::read::points::row::post_quality;
use crate::read::record::{Record, each_line};
use crate::read::stamp::Stamp;
use jiff::civil::Date;
use std::io::Read;

/// WGS 84: half the longer axis, metres, and the flattening (NIMA TR8350.2, table 3.1).
const A_M: f64 = 6_378_137.0;
const F: f64 = 1.0 / 298.257_223_563;

/// Whether a header of this form stands in the first bytes of a file.
pub(crate) fn is_one(head: &[u8]) -> bool {
    let lines = head.split(|b| *b == b'\n').take(200);
    lines.filter(|line| line.starts_with(b"%")).any(|line| {
        let has = |word: &[u8]| memchr::memmem::find(line, word).is_some();
        has(b"latitude(d") || has(b"x-ecef(m)") || has(b"x-baseline(m)") || has(b"e-baseline(m)")
    })
}

/// In which form a row gives its position.
#[derive(Clone, Copy, PartialEq)]
enum Place {
    Degrees,
    MinutesSeconds,
    /// Metres from the Earth's centre.
    Geocentric,
    /// Metres from the reference position: to the east, north and up, or along the geocentric axes.
    Baseline {
        level: bool,
    },
}

/// The clock of a row's time.
#[derive(Clone, Copy, PartialEq)]
enum Clock {
    Gps,
    Utc,
    Japan,
}

/// What the header says of the rows.
struct Header {
    place: Place,
    clock: Clock,
    /// Latitude and longitude, degrees, and height, metres, of the reference position.
    reference: Option<[f64; 3]>,
}

/// Reads one file.
///
/// # Errors
/// A baseline whose reference position is not in the header.
pub(crate) fn read(from: &mut dyn Read, file: u16, limits: &Limits) -> Result<Batch, Fault> {
    let mut batch = Batch::default();
    let mut header = Header {
        place: Place::Degrees,
        clock: Clock::Gps,
        reference: None,
    };
    let mut refused = None;
    each_line(from, &mut batch, |batch, number, line| {
        let text = String::from_utf8_lossy(line);
        let text = text.trim();
        if let Some(said) = text.strip_prefix('%') {
            header.said(said);
        } else if !text.is_empty() {
            if matches!(header.place, Place::Baseline { .. }) && header.reference.is_none() {
                refused = Some(number);
                return false;
            }
            match header.row(text, number) {
                Some(record) => batch.take(record, file, limits),
                None => batch.tally.add(LeftOut::BadRow, file, number),
            }
        }
        batch.stopped = batch.fixes.len() >= limits.most_fixes;
        !batch.stopped
    });
    match refused {
        Some(line) => Err(Fault::unreadable(
            "no-reference",
            "These are baselines from a base station whose position is not in the file's header.",
            "Write the solution as latitude and longitude, or with the reference position in its header.",
        )
        .at_line(u64::from(line))),
        None => Ok(batch),
    }
}

impl Header {
    /// Takes a line of the header, without its `%`.
    fn said(&mut self, line: &str) {
        if let Some((key, value)) = line.split_once(':')
            && key.trim() == "ref pos"
        {
            let numbers: Vec<f64> = value
                .split_whitespace()
                .map_while(|n| n.parse().ok())
                .collect();
            self.reference = numbers.first_chunk::<3>().copied();
            return;
        }
        self.place = match line {
            _ if line.contains("latitude(deg)") => Place::Degrees,
            _ if line.contains("latitude(d'") => Place::MinutesSeconds,
            _ if line.contains("x-ecef(m)") => Place::Geocentric,
            _ if line.contains("e-baseline(m)") => Place::Baseline { level: true },
            _ if line.contains("x-baseline(m)") => Place::Baseline { level: false },
            _ => return,
        };
        self.clock = match line.split_whitespace().next() {
            Some("UTC") => Clock::Utc,
            Some("JST") => Clock::Japan,
            _ => Clock::Gps,
        };
    }

    /// The record of a row; `None` where it cannot be read.
    fn row(&self, text: &str, number: u32) -> Option<Record> {
        let mut cells = text
            .split(|c: char| c.is_whitespace() || matches!(c, ',' | ';'))
            .filter(|c| !c.is_empty());
        let stamp = self.stamp(cells.next()?, cells.next()?);
        let mut next = || cells.next()?.parse::<f64>().ok();
        let mut degrees = || -> Option<f64> {
            let whole = next()?;
            match self.place {
                Place::MinutesSeconds => {
                    let part = next()? / 60.0 + next()? / 3600.0;
                    // A degree of -0 with minutes lies south or west as well.
                    Some(if whole.is_sign_negative() {
                        whole - part
                    } else {
                        whole + part
                    })
                }
                _ => Some(whole),
            }
        };
        let (first, second) = (degrees()?, degrees()?);
        let third = next()?;
        let (lat_deg, lon_deg, height_m) = match self.place {
            Place::Degrees | Place::MinutesSeconds => (first, second, third),
            Place::Geocentric => geodetic([first, second, third]),
            Place::Baseline { level } => {
                let [lat_deg, lon_deg, height_m] = self.reference?;
                let base = geocentric(lat_deg, lon_deg, height_m);
                let along = match level {
                    true => turned(lat_deg, lon_deg, [first, second, third]),
                    false => [first, second, third],
                };
                geodetic([base[0] + along[0], base[1] + along[1], base[2] + along[2]])
            }
        };
        let mut record = Record::new(lat_deg, lon_deg, Source::Pos, number);
        record.height_m = Some(height_m);
        record.stamp = stamp;
        record.quality = cells.next().map_or(Quality::Unknown, post_quality);
        record.satellites = cells.next().and_then(|cell| cell.parse().ok());
        let mut sigma = || cells.next()?.parse::<f32>().ok();
        // Rows in degrees give sigmas to the north, the east and up; those of a level baseline to the east, the north and up. Geocentric axes
        // are not level, so that the largest of the three is taken for both.
        if let (Some(first), Some(second), third) = (sigma(), sigma(), sigma()) {
            let figures_m = match self.place {
                Place::Degrees | Place::MinutesSeconds => [second, first],
                Place::Baseline { level: true } => [first, second],
                _ => [first.max(second).max(third.unwrap_or(0.0)); 2],
            };
            record.state(Accuracy::Axis, figures_m);
        }
        Some(record)
    }

    /// The time in UTC of `2026/05/14 09:30:00.000`, or of a GPS week and its seconds.
    fn stamp(&self, first: &str, second: &str) -> Option<Stamp> {
        let (date, tod_s) = if first.contains('/') {
            let stamp = Stamp::parse(format!("{first} {second}").as_bytes())?;
            (stamp.date?, stamp.tod_s)
        } else {
            let (week, second_s): (i64, f64) = (first.parse().ok()?, second.parse().ok()?);
            let days = week
                .checked_mul(7)?
                .checked_add((second_s / DAY_S).floor() as i64)?;
            let span = jiff::Span::new().try_days(days).ok()?;
            let date = jiff::civil::date(1980, 1, 6).checked_add(span).ok()?;
            (date, second_s.rem_euclid(DAY_S))
        };
        let behind_s = match self.clock {
            Clock::Gps => leap_s(date),
            Clock::Utc => 0.0,
            Clock::Japan => 9.0 * 3600.0,
        };
        Some(Stamp::in_utc(Some(date), tod_s - behind_s))
    }
}

/// By how many seconds GPS time, which has no leap seconds, is ahead of UTC (IERS Bulletin C: none since 2017; the dates from memory). Before
/// 1999 it gives 0.
fn leap_s(date: Date) -> f64 {
    const SINCE: [(i16, i8, f64); 6] = [
        (2017, 1, 18.0),
        (2015, 7, 17.0),
        (2012, 7, 16.0),
        (2009, 1, 15.0),
        (2006, 1, 14.0),
        (1999, 1, 13.0),
    ];
    let since = SINCE
        .iter()
        .find(|(year, month, _)| (date.year(), date.month()) >= (*year, *month));
    since.map_or(0.0, |(.., seconds)| *seconds)
}

/// Metres along the geocentric axes: from the Earth's centre towards longitude 0 and 90 degrees on the equator, and the north pole.
fn geocentric(lat_deg: f64, lon_deg: f64, height_m: f64) -> [f64; 3] {
    let ((sin, cos), (sin_lon, cos_lon)) = (
        lat_deg.to_radians().sin_cos(),
        lon_deg.to_radians().sin_cos(),
    );
    let e2 = F * (2.0 - F);
    let n_m = A_M / (1.0 - e2 * sin * sin).sqrt();
    let across_m = (n_m + height_m) * cos;
    [
        across_m * cos_lon,
        across_m * sin_lon,
        (n_m * (1.0 - e2) + height_m) * sin,
    ]
}

/// Latitude and longitude, degrees, and height, metres, of a geocentric position. The latitude is found by repetition, which settles within a
/// nanometre in five rounds near the ground.
fn geodetic([x, y, z]: [f64; 3]) -> (f64, f64, f64) {
    let e2 = F * (2.0 - F);
    let across_m = x.hypot(y);
    let mut lat = (z / (1.0 - e2)).atan2(across_m);
    let mut n_m = A_M;
    for _ in 0..8 {
        n_m = A_M / (1.0 - e2 * lat.sin().powi(2)).sqrt();
        lat = (z + e2 * n_m * lat.sin()).atan2(across_m);
    }
    let (sin, cos) = lat.sin_cos();
    let height_m = across_m * cos + z * sin - A_M * A_M / n_m;
    (lat.to_degrees(), y.atan2(x).to_degrees(), height_m)
}

/// Turns metres to the east, north and up at a place into metres along the geocentric axes.
fn turned(lat_deg: f64, lon_deg: f64, [east, north, up]: [f64; 3]) -> [f64; 3] {
    let ((s, c), (s_lon, c_lon)) = (
        lat_deg.to_radians().sin_cos(),
        lon_deg.to_radians().sin_cos(),
    );
    let out = c * up - s * north;
    [
        -s_lon * east + c_lon * out,
        c_lon * east + s_lon * out,
        c * north + s * up,
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// EPSG guidance note 7-2, method 9602: 53 48 33.820 N, 2 07 46.380 E, 73.0 m is X 3771793.968, Y 140253.342, Z 5124304.349.
    #[test]
    fn geocentric_places_are_those_of_the_guidance_note() {
        let (lat, lon) = (
            53.0 + 48.0 / 60.0 + 33.82 / 3600.0,
            2.0 + 7.0 / 60.0 + 46.38 / 3600.0,
        );
        let there = geocentric(lat, lon, 73.0);
        for (is, want) in there
            .iter()
            .zip([3_771_793.968, 140_253.342, 5_124_304.349])
        {
            assert!((is - want).abs() < 1e-3, "{there:?}");
        }
        let (back_lat, back_lon, height_m) = geodetic(there);
        assert!((back_lat - lat).abs() < 1e-11 && (back_lon - lon).abs() < 1e-11);
        assert!((height_m - 73.0).abs() < 1e-6, "{height_m}");
    }

    fn fixes(text: &str) -> Vec<crate::fix::Fix> {
        let limits = Limits {
            most_fixes: 10,
            keep_all: false,
        };
        read(&mut text.as_bytes(), 0, &limits).unwrap().fixes
    }

    #[test]
    fn every_way_of_writing_one_place_is_that_place() {
        let rest = "1 9 0.0100 0.0120 0.03";
        let [x, y, z] = geocentric(52.5, -1.25, 100.0);
        let up = |east: f64| {
            format!(
                "% ref pos : 52.5 -1.25 100.0\n%  UTC  e-baseline(m)  n-baseline(m)\n2026/05/14 09:30:00 {east} 0 0 {rest}\n"
            )
        };
        for (text, east_first) in [
            (
                format!(
                    "%  UTC   latitude(deg) longitude(deg)\n2026/05/14 09:30:00.0 52.5 -1.25 100 {rest}\n"
                ),
                false,
            ),
            (
                format!(
                    "%  GPST  latitude(deg) longitude(deg)\n2026/05/14 09:30:18.0 52.5 -1.25 100 {rest}\n"
                ),
                false,
            ),
            (
                "%  JST   latitude(deg) longitude(deg)\n2026/05/14 18:30:00.0,52.5,-1.25,100,1,9,0.01,0.012\n".to_owned(),
                false,
            ),
            // Week 2418 begins on Sunday 2026-05-10 (from 1980-01-06 by the calendar).
            (
                format!(
                    "%  GPST  latitude(deg) longitude(deg)\n2418 379818.0 52.5 -1.25 100 {rest}\n"
                ),
                false,
            ),
            (
                format!(
                    "%  UTC   latitude(d'\") longitude(d'\")\n2026/05/14 09:30:00 52 30 00.0 -1 15 0.0 100 {rest}\n"
                ),
                false,
            ),
            (
                format!("%  UTC   x-ecef(m)  y-ecef(m)\n2026/05/14 09:30:00 {x} {y} {z} {rest}\n"),
                true,
            ),
            (up(0.0), true),
        ] {
            let all = fixes(&text);
            let fix = &all[0];
            assert!(
                (fix.lat_deg - 52.5).abs() < 1e-9 && (fix.lon_deg + 1.25).abs() < 1e-9,
                "{text}{fix:?}"
            );
            assert_eq!(
                (fix.clock_s, fix.quality),
                (Some(34_200.0), Quality::RtkFixed),
                "{text}"
            );
            assert_eq!(fix.date, Some(jiff::civil::date(2026, 5, 14)));
            if !east_first {
                assert_eq!(
                    (fix.sigma_east_m, fix.sigma_north_m),
                    (Some(0.012), Some(0.01))
                );
            }
        }
        // 67.911 m east here is a thousandth of a degree (by the length of the parallel: N cos(lat)).
        let east = fixes(&up(67.9112))[0].lon_deg + 1.25;
        assert!((east - 0.001).abs() < 1e-7, "{east}");
    }

    #[test]
    fn a_baseline_from_nowhere_is_refused() {
        let text = "%  UTC  e-baseline(m)  n-baseline(m)\n2026/05/14 09:30:00 1 0 0 1 9\n";
        let limits = Limits {
            most_fixes: 10,
            keep_all: false,
        };
        let refused = read(&mut text.as_bytes(), 0, &limits).unwrap_err();
        assert_eq!((refused.code(), refused.line()), ("no-reference", Some(2)));
    }
}
