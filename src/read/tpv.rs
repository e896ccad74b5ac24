//! The JSON reports of gpsd (a service that passes a receiver's data on to other programs), one a line. Reports `TPV` give positions, `SKY`
//! the dilution of precision and the satellites. The fields are those of the service's public protocol, from memory.

use crate::fix::{Quality, Source};
use crate::left_out::LeftOut;
use crate::process::Accuracy;
use crate::read::batch::{Batch, Limits};
use crate::read::record::{Record, each_line};
use crate::read::stamp::Stamp;
use serde::Deserialize;
use std::io::Read;

/// Whether a report of this form stands in the first bytes of a file.
pub(crate) fn is_one(head: &[u8]) -> bool {
    let begins = head.trim_ascii_start().starts_with(b"{");
    begins && (has(head, b"\"class\":\"TPV\"") || has(head, b"\"class\": \"TPV\""))
}

fn has(text: &[u8], what: &[u8]) -> bool {
    memchr::memmem::find(text, what).is_some()
}

/// What is read of a report; the rest is passed over.
#[derive(Deserialize)]
struct Report {
    class: String,
    mode: Option<u8>,
    status: Option<u8>,
    time: Option<String>,
    lat: Option<f64>,
    lon: Option<f64>,
    #[serde(rename = "altHAE")]
    height_m: Option<f64>,
    alt: Option<f64>,
    /// Errors that are not exceeded 95 times in 100, metres: to the east, to the north, and as a radius.
    epx: Option<f32>,
    epy: Option<f32>,
    eph: Option<f32>,
    hdop: Option<f32>,
    #[serde(rename = "uSat")]
    satellites: Option<u8>,
}

/// Reads one file.
pub(crate) fn read(from: &mut dyn Read, file: u16, limits: &Limits) -> Batch {
    let mut batch = Batch::default();
    let (mut hdop, mut satellites) = (None, None);
    each_line(from, &mut batch, |batch, number, line| {
        let line = line.trim_ascii();
        if line.is_empty() {
            return true;
        }
        let Ok(report) = serde_json::from_slice::<Report>(line) else {
            batch.tally.add(LeftOut::BadRow, file, number);
            return true;
        };
        match report.class.as_str() {
            "TPV" => {
                let mut record = record(&report, number);
                (record.hdop, record.satellites) = (hdop, satellites);
                batch.take(record, file, limits);
            }
            "SKY" => (hdop, satellites) = (report.hdop.or(hdop), report.satellites.or(satellites)),
            _ => batch.unknown += 1,
        }
        batch.stopped = batch.fixes.len() >= limits.most_fixes;
        !batch.stopped
    });
    batch
}

/// The record of a `TPV` report. Without a position its latitude is not a number, which the batch then counts.
fn record(report: &Report, number: u32) -> Record {
    let (lat, lon) = (
        report.lat.unwrap_or(f64::NAN),
        report.lon.unwrap_or(f64::NAN),
    );
    let mut record = Record::new(lat, lon, Source::TPV, number);
    record.height_m = report.height_m.or(report.alt);
    record.stamp = report
        .time
        .as_deref()
        .and_then(|time| Stamp::parse(time.as_bytes()));
    record.quality = match (report.mode, report.status) {
        (Some(0 | 1) | None, _) => Quality::NoFix,
        (_, Some(2)) => Quality::Differential,
        (_, Some(3)) => Quality::RtkFixed,
        (_, Some(4)) => Quality::RtkFloat,
        (_, Some(5)) => Quality::DeadReckoning,
        (_, Some(8)) => Quality::Simulator,
        _ => Quality::Autonomous,
    };
    match (report.epx, report.epy, report.eph) {
        (Some(east), Some(north), _) => record.state(Accuracy::Axis95, [east, north]),
        (_, _, Some(radius)) => record.state(Accuracy::Radius95, [radius; 2]),
        _ => {}
    }
    record
}
