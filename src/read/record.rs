//! A record: one position of a log in which each position is a record of its own, whatever the log's form. Here it is checked and put into the
//! batch of its file, so that all such readers judge alike.

use crate::fix::{Fix, Quality, Source};
use crate::left_out::LeftOut;
use crate::process::Accuracy;
use crate::read::batch::{Batch, Limits};
use crate::read::stamp::Stamp;
use std::io::{BufRead, BufReader, Read};

/// What a record says.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Record {
    pub lat_deg: f64,
    pub lon_deg: f64,
    pub height_m: Option<f64>,
    pub stamp: Option<Stamp>,
    pub quality: Quality,
    pub satellites: Option<u8>,
    pub hdop: Option<f32>,
    /// The accuracy as one sigma to the east and to the north, metres.
    sigma_m: Option<[f32; 2]>,
    /// Which kind of figure those sigmas were worked out from.
    accuracy: Option<Accuracy>,
    pub source: Source,
    /// Line of the file, from 1; in a binary log the number of the position.
    pub line: u32,
    pub track: u16,
    pub segment: u16,
}

impl Record {
    pub(crate) fn new(lat_deg: f64, lon_deg: f64, source: Source, line: u32) -> Record {
        Record {
            lat_deg,
            lon_deg,
            height_m: None,
            stamp: None,
            quality: Quality::Unknown,
            satellites: None,
            hdop: None,
            sigma_m: None,
            accuracy: None,
            source,
            line,
            track: 0,
            segment: 0,
        }
    }

    /// States an accuracy to the east and to the north, metres.
    pub(crate) fn state(&mut self, accuracy: Accuracy, figures_m: [f32; 2]) {
        self.sigma_m = Some(figures_m.map(|m| accuracy.axis_m(m)));
        self.accuracy = Some(accuracy);
    }
}

impl Batch {
    /// Takes a record. One without a usable position is counted by its reason and left out.
    pub(crate) fn take(&mut self, record: Record, file: u16, limits: &Limits) {
        let name = record.source.name();
        match self.sentences.get_mut(name) {
            Some(count) => *count += 1,
            None => drop(self.sentences.insert(name.to_owned(), 1)),
        }
        let Record {
            lat_deg, lon_deg, ..
        } = record;
        let is_place = lat_deg.abs() <= 90.0 && lon_deg.abs() <= 180.0;
        let refused = match record.quality {
            Quality::NoFix => Some(LeftOut::Void),
            Quality::DeadReckoning => Some(LeftOut::DeadReckoning),
            _ => None,
        };
        if let Some(reason) = refused {
            self.tally.add(reason, file, record.line);
        } else if !(lat_deg.is_finite() && lon_deg.is_finite()) {
            self.tally.add(LeftOut::NotANumber, file, record.line);
        } else if !is_place {
            self.tally.add(LeftOut::BadPosition, file, record.line);
        }
        if !is_place || (refused.is_some() && !limits.keep_all) {
            return;
        }
        if matches!(record.quality, Quality::Manual | Quality::Simulator) {
            self.made_up.get_or_insert((record.line, record.quality));
        }
        self.accuracies.extend(record.accuracy);
        let positive = |m: f32| (m > 0.0 && m < 1.0e6).then_some(m);
        self.fixes.push(Fix {
            lat_deg,
            lon_deg: if lon_deg >= 180.0 {
                lon_deg - 360.0
            } else {
                lon_deg
            },
            height_m: record.height_m.filter(|m| m.is_finite()),
            clock_s: record.stamp.map(|stamp| stamp.tod_s),
            date: record.stamp.and_then(|stamp| stamp.date),
            quality: record.quality,
            satellites: record.satellites,
            hdop: record.hdop.filter(|hdop| *hdop > 0.0 && *hdop < 99.0),
            sigma_east_m: record.sigma_m.and_then(|[east, _]| positive(east)),
            sigma_north_m: record.sigma_m.and_then(|[_, north]| positive(north)),
            source: record.source,
            file,
            line: record.line,
            track: record.track,
            segment: record.segment,
        });
    }
}

/// The longest line of a log of text, bytes. A longer one is cut there, and its rest is read as another line.
const LONGEST_LINE: u64 = 64 * 1024;

/// Goes through the lines of a text, with their numbers from 1, until `each` gives `false`. An error of reading goes into the batch.
pub(crate) fn each_line(
    from: &mut dyn Read,
    batch: &mut Batch,
    mut each: impl FnMut(&mut Batch, u32, &[u8]) -> bool,
) {
    let mut from = BufReader::with_capacity(LONGEST_LINE as usize, from);
    let mut line = Vec::new();
    loop {
        line.clear();
        match (&mut from).take(LONGEST_LINE).read_until(b'\n', &mut line) {
            Ok(0) => return,
            Ok(_) => {}
            Err(error) => {
                batch.broken = Some(error);
                return;
            }
        }
        batch.lines += 1;
        let number = u32::try_from(batch.lines).unwrap_or(u32::MAX);
        if !each(batch, number, &line) {
            return;
        }
    }
}
