//! The lines `Fix` of loggers of raw measurements on Android phones: positions as the phone gives them to its apps, with the radius that
//! holds the true position 68 times in 100 (Android's documentation of a location's accuracy). Raw measurements beside them are passed over.

use crate::fix::{Quality, Source};
use crate::left_out::LeftOut;
use crate::process::Accuracy;
use crate::read::batch::{Batch, Limits};
use crate::read::record::{Record, each_line};
use crate::read::stamp::Stamp;
use std::collections::BTreeMap;
use std::io::Read;

/// The columns, where no line of the file names them (from memory of what older loggers write).
const USUAL: &str = "Fix,Provider,LatitudeDegrees,LongitudeDegrees,AltitudeMeters,SpeedMps,AccuracyMeters,UnixTimeMillis";

/// Whether a line of this form stands in the first bytes of a file.
pub(crate) fn is_one(head: &[u8]) -> bool {
    let lines = || head.split(|b| *b == b'\n').map(<[u8]>::trim_ascii);
    lines()
        .any(|line| line.starts_with(b"Fix,") && line.iter().filter(|b| **b == b',').count() >= 6)
}

/// Reads one file. Of several providers (sources of a position within the phone) `gps`, the satellite receiver's own, is used, else the one
/// with most positions.
pub(crate) fn read(from: &mut dyn Read, file: u16, limits: &Limits) -> Batch {
    let mut batch = Batch::default();
    let mut columns: Vec<String> = USUAL.split(',').map(str::to_owned).collect();
    let mut by_provider: BTreeMap<String, Vec<Record>> = BTreeMap::new();
    let mut taken = 0;
    each_line(from, &mut batch, |batch, number, line| {
        let text = String::from_utf8_lossy(line);
        let text = text.trim();
        let named = text.trim_start_matches(['#', ' ']);
        if text.starts_with('#') && named.starts_with("Fix,") {
            columns = named
                .split(',')
                .map(|name| name.trim().to_owned())
                .collect();
        } else if text.starts_with("Fix,") {
            match record(text, &columns, number) {
                Some((provider, record)) => by_provider.entry(provider).or_default().push(record),
                None => batch.tally.add(LeftOut::BadRow, file, number),
            }
            taken += 1;
        } else if !text.is_empty() && !text.starts_with('#') {
            batch.unknown += 1;
        }
        batch.stopped = taken >= limits.most_fixes;
        !batch.stopped
    });
    let satellites = by_provider
        .keys()
        .find(|name| name.eq_ignore_ascii_case("gps"))
        .cloned();
    let most = || {
        by_provider
            .iter()
            .max_by_key(|(_, records)| records.len())
            .map(|(name, _)| name.clone())
    };
    let used = satellites.or_else(most);
    for (provider, records) in by_provider {
        let use_it = Some(&provider) == used.as_ref();
        for record in records {
            match use_it || limits.keep_all {
                true => batch.take(record, file, limits),
                false => batch.tally.add(LeftOut::OtherEngine, file, record.line),
            }
        }
    }
    if limits.keep_all {
        batch.fixes.sort_by_key(|fix| fix.line);
    }
    batch
}

/// The provider and the record of a line; `None` where it has no latitude and longitude.
fn record(text: &str, columns: &[String], number: u32) -> Option<(String, Record)> {
    let cells: Vec<&str> = text.split(',').map(str::trim).collect();
    let cell = |name: &str| {
        let at = columns.iter().position(|column| column.ends_with(name))?;
        cells.get(at).copied().filter(|cell| !cell.is_empty())
    };
    let figure = |name: &str| cell(name)?.parse::<f64>().ok();
    let mut record = Record::new(
        figure("LatitudeDegrees")?,
        figure("LongitudeDegrees")?,
        Source::Phone,
        number,
    );
    record.height_m = figure("AltitudeMeters");
    if let Some(radius_m) = cell("AccuracyMeters").and_then(|cell| cell.parse().ok()) {
        record.state(Accuracy::Radius68, [radius_m; 2]);
    }
    record.stamp = cell("UnixTimeMillis")
        .or_else(|| cell("TimeInMs"))
        .and_then(|cell| Stamp::parse(cell.as_bytes()));
    record.quality = Quality::Unknown;
    Some((cell("Provider").unwrap_or_default().to_owned(), record))
}
