//! Logs as a receiver would write them: in NMEA 0183, lines of text that marine and survey receivers speak, and in GPX 1.1, the
//! XML of hiking devices.

use super::receiver::Epoch;
use boundwalk::fix::Quality;
use jiff::SignedDuration;
use jiff::civil::DateTime;
use std::fmt::Write;

/// A named point of a GPX file, with a bed's size in its description.
#[derive(Debug, Clone, PartialEq)]
pub struct Waypoint {
    pub name: String,
    pub lat_deg: f64,
    pub lon_deg: f64,
    pub description: String,
}

/// How far sea level (the geoid) lies above the ellipsoid, in metres, as written into GGA. It is invented, and the same everywhere.
const SEPARATION_M: f64 = 46.0;

/// The date and time of an epoch, to hundredths of a second.
fn moment(start: DateTime, time_s: f64) -> DateTime {
    // The sentences carry hundredths. They are rounded before minutes are told apart, so that 59.999 s is not written as 60.00.
    let hundredths = (time_s * 100.0).round() as i64;
    start.saturating_add(SignedDuration::from_millis(hundredths * 10))
}

/// An angle as NMEA writes it, `ddmm.mmmmmmm`: degrees (in `width` digits, three for a longitude) and then minutes. Its last digit, a
/// ten-millionth of a minute, is 0.2 mm on the ground.
fn degrees_minutes(value_deg: f64, width: usize) -> String {
    const PER_DEGREE: u64 = 600_000_000;
    let ticks = (value_deg.abs() * PER_DEGREE as f64).round() as u64;
    let (degrees, minutes) = (ticks / PER_DEGREE, ticks % PER_DEGREE);
    format!(
        "{degrees:0width$}{:02}.{:07}",
        minutes / 10_000_000,
        minutes % 10_000_000
    )
}

/// Adds one sentence: `$`, the body, `*`, the checksum and the end of the line. The checksum is the exclusive or of all characters of
/// the body.
fn sentence(out: &mut String, body: &str) {
    let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
    // Writing to a String cannot fail.
    let _ = write!(out, "${body}*{sum:02X}\r\n");
}

/// The log in NMEA 0183. Each epoch has the sentences RMC (date, place and speed), GGA (place, quality and dilution) and, where the
/// receiver claims sigmas, GST (these sigmas).
pub fn nmea(epochs: &[Epoch], start: DateTime) -> Vec<u8> {
    let mut out = String::new();
    for (i, epoch) in epochs.iter().enumerate() {
        let now = moment(start, epoch.time_s);
        let time = format!(
            "{:02}{:02}{:02}.{:02}",
            now.hour(),
            now.minute(),
            now.second(),
            now.millisecond() / 10
        );
        let date = format!(
            "{:02}{:02}{:02}",
            now.day(),
            now.month(),
            now.year().rem_euclid(100)
        );
        let talker = epoch.talker;
        if epoch.quality == Quality::NoFix {
            sentence(&mut out, &format!("{talker}RMC,{time},V,,,,,,,{date},,,N"));
            sentence(&mut out, &format!("{talker}GGA,{time},,,,,0,00,99.9,,,,,,"));
            continue;
        }
        let lat = degrees_minutes(epoch.lat_deg, 2);
        let lon = degrees_minutes(epoch.lon_deg, 3);
        let (ns, ew) = (
            if epoch.lat_deg < 0.0 { 'S' } else { 'N' },
            if epoch.lon_deg < 0.0 { 'W' } else { 'E' },
        );
        let mode = match epoch.quality {
            Quality::RtkFixed => 'R',
            Quality::RtkFloat => 'F',
            Quality::Differential => 'D',
            _ => 'A',
        };
        let knots = speed_mps(epochs, i) * 3600.0 / 1852.0;
        sentence(
            &mut out,
            &format!("{talker}RMC,{time},A,{lat},{ns},{lon},{ew},{knots:.3},,{date},,,{mode}"),
        );
        let quality = epoch.quality.digit().unwrap_or(0);
        let hdop = epoch
            .hdop
            .map_or(String::new(), |hdop| format!("{hdop:.2}"));
        sentence(
            &mut out,
            &format!(
                "{talker}GGA,{time},{lat},{ns},{lon},{ew},{quality},{:02},{hdop},{:.3},M,{SEPARATION_M:.1},M,,",
                epoch.satellites,
                epoch.height_m - SEPARATION_M
            ),
        );
        if let Some((east, north, up)) = epoch.claimed_m {
            sentence(
                &mut out,
                &format!("{talker}GST,{time},,,,,{north:.3},{east:.3},{up:.3}"),
            );
        }
    }
    out.into_bytes()
}

/// The true speed at an epoch. A receiver measures its speed by another way than its position (by the Doppler shift), and far more
/// smoothly.
fn speed_mps(epochs: &[Epoch], i: usize) -> f64 {
    let (Some(before), Some(after)) = (
        epochs.get(i.saturating_sub(1)),
        epochs.get((i + 1).min(epochs.len().saturating_sub(1))),
    ) else {
        return 0.0;
    };
    let seconds = after.time_s - before.time_s;
    let gone = after.truth.at - before.truth.at;
    if seconds > 0.0 {
        gone.x.hypot(gone.y) / seconds
    } else {
        0.0
    }
}

/// The log in GPX 1.1: the waypoints, and then one track. A lost fix starts a new segment of the track.
pub fn gpx(epochs: &[Epoch], waypoints: &[Waypoint], start: DateTime) -> Vec<u8> {
    let mut out = String::from(concat!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n",
        "<gpx version=\"1.1\" creator=\"boundwalk trial\" xmlns=\"http://www.topografix.com/GPX/1/1\">\n"
    ));
    for wpt in waypoints {
        let _ = writeln!(
            out,
            "  <wpt lat=\"{:.9}\" lon=\"{:.9}\"><name>{}</name><desc>{}</desc></wpt>",
            wpt.lat_deg,
            wpt.lon_deg,
            escaped(&wpt.name),
            escaped(&wpt.description)
        );
    }
    out.push_str("  <trk><name>trial</name>\n    <trkseg>\n");
    for epoch in epochs {
        if epoch.quality == Quality::NoFix {
            if !out.ends_with("<trkseg>\n") {
                out.push_str("    </trkseg>\n    <trkseg>\n");
            }
            continue;
        }
        let now = moment(start, epoch.time_s);
        let fix = match epoch.quality {
            Quality::Autonomous => "3d",
            // GPX has no word for RTK, which is a kind of differential position.
            _ => "dgps",
        };
        let _ = writeln!(
            out,
            concat!(
                "      <trkpt lat=\"{:.9}\" lon=\"{:.9}\"><ele>{:.3}</ele>",
                "<time>{}.{:02}Z</time><fix>{}</fix><sat>{}</sat>{}</trkpt>"
            ),
            epoch.lat_deg,
            epoch.lon_deg,
            epoch.height_m - SEPARATION_M,
            now.strftime("%Y-%m-%dT%H:%M:%S"),
            now.millisecond() / 10,
            fix,
            epoch.satellites,
            epoch
                .hdop
                .map_or(String::new(), |hdop| format!("<hdop>{hdop:.2}</hdop>"))
        );
    }
    out.push_str("    </trkseg>\n  </trk>\n</gpx>\n");
    out.into_bytes()
}

/// A text as XML holds it, with the characters replaced that XML keeps for itself.
fn escaped(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
}

#[cfg(test)]
mod tests {
    use super::super::kept::keep;
    use super::super::walker::Moment;
    use super::*;
    use geo::Coord;
    use jiff::civil::date;

    fn epoch(lat_deg: f64, lon_deg: f64, time_s: f64) -> Epoch {
        Epoch {
            time_s,
            lat_deg,
            lon_deg,
            height_m: 75.25,
            quality: Quality::RtkFixed,
            satellites: 14,
            hdop: Some(0.7),
            claimed_m: Some((0.012, 0.014, 0.02)),
            talker: "GN",
            truth: Moment {
                time_s,
                at: Coord { x: 0.0, y: 0.0 },
                lap: None,
                standing: true,
                along_m: None,
            },
        }
    }

    #[test]
    fn degrees_become_degrees_and_minutes() {
        // 4807.038 N and 01131.000 E are 48.1173 and 11.51666… degrees. This example is often quoted with the standard, and was
        // written down from memory.
        assert_eq!(degrees_minutes(48.1173, 2), "4807.0380000");
        assert_eq!(degrees_minutes(-11.516_666_666_67, 3), "01131.0000000");
        // The minutes never reach 60: the degree is rounded up instead.
        assert_eq!(degrees_minutes(9.999_999_999_999, 2), "1000.0000000");
    }

    #[test]
    fn checksums_are_the_standards() {
        let mut out = String::new();
        // These are real sentences with their own checksums, from logs of receivers.
        sentence(
            &mut out,
            "GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,",
        );
        sentence(&mut out, "GPGST,182141.000,15.5,15.3,7.2,21.8,0.9,0.5,0.8");
        assert!(
            out.contains("M,,*47\r\n") && out.contains("0.8*54\r\n"),
            "{out}"
        );
    }

    #[test]
    fn days_end_within_a_log() {
        let start = date(2026, 5, 14).at(23, 59, 59, 0);
        let epochs = [epoch(-40.25, 100.5, 0.0), epoch(-40.25, 100.5, 1.0)];
        let text = String::from_utf8(nmea(&epochs, start)).unwrap();
        assert_eq!(text.lines().count(), 6);
        // A reader that is not boundwalk's finds it at 40.25° south and 100.5° east (`.ci/kept.py`).
        keep("nmea", text.as_bytes());
        assert!(
            text.contains("GNRMC,000000.00") && text.contains(",150526,"),
            "{text}"
        );
    }

    #[test]
    fn a_lost_fix_ends_the_segment_of_the_gpx() {
        let mut lost = epoch(45.0, -30.0, 1.0);
        lost.quality = Quality::NoFix;
        let epochs = [epoch(45.0, -30.0, 0.0), lost, epoch(45.00001, -30.0, 2.0)];
        let waypoints = [Waypoint {
            name: "birch & co".into(),
            lat_deg: 45.0,
            lon_deg: -30.0,
            description: "radius 0.35 m".into(),
        }];
        let bytes = gpx(&epochs, &waypoints, date(2026, 5, 14).at(9, 0, 0, 0));
        // A reader that is not boundwalk's finds the waypoint, two segments and the last place (`.ci/kept.py`).
        keep("gpx", &bytes);
        let text = String::from_utf8(bytes).unwrap();
        assert_eq!(text.matches("<trkseg>").count(), 2);
        assert!(text.contains("birch &amp; co"), "{text}");
    }
}
