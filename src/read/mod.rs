//! Reads logs of any form. It gets the bytes of a survey's files, and gives fixes (single positions) in the order of time, marks, and a
//! tally of what was read, left out and damaged.
//!
//! `sniff` tells by a file's content what form it has; a reader of each form gives a `Batch`; `part` judges one file, and `join` puts the
//! files together into a [`Log`]. Damage never stops the reading: what is whole is kept, and what is not is counted.

mod accuracy;
pub(crate) mod archive;
pub(crate) mod batch;
mod clock;
mod encoding;
mod engines;
pub(crate) mod gpx;
pub(crate) mod hash;

mod input;
pub mod inspect;
mod join;
pub(crate) mod kml;
mod lines;
#[doc(hidden)]
pub mod marks;
#[doc(hidden)]
pub mod nmea;
mod options;
mod part;
#[doc(hidden)]
mod phone;
#[cfg(feature = "live")]
#[doc(hidden)]
pub mod piece;
#[doc(hidden)]
pub mod points;
mod pos;
mod record;
pub mod sky;
#[doc(hidden)]
pub mod sniff;
mod stamp;
mod tally;
mod tpv;
mod twice;
mod ubx;
pub(crate) mod unpacked;

pub use input::{Input, Kept};
pub use join::{read, read_with};
pub use options::{Options, Order};
pub use part::time_text;

use crate::fix::Fix;
use crate::left_out::LeftOut;
use crate::mark::Mark;
use crate::notice::Notice;
use serde::Serialize;
use std::collections::BTreeMap;

/// The kind of file, told by its content.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum LogKind {
    /// Sentences of NMEA 0183.
    Nmea,
    /// GPX 1.0 or 1.1.
    Gpx,
    /// Binary messages of a u-blox receiver.
    Ubx,
    /// KML 2.2.
    Kml,
    /// A post-processed solution.
    Pos,
    /// Reports of gpsd.
    Gpsd,
    /// Lines of an Android logger.
    Android,
    /// Training Center XML.
    Tcx,
    /// Vertices: rows of text, GeoJSON or well-known text.
    Points,
    /// A job sheet with taped figures.
    Tape,
}

/// One file that was read (`log.files[]` of the result).
#[derive(Debug, Clone, PartialEq, Serialize)]
#[non_exhaustive]
pub struct LogFile {
    /// Without its folder.
    pub name: String,
    /// SHA-256 of its bytes, in hexadecimal.
    pub sha256: String,
    /// Told by its content.
    pub kind: LogKind,
    /// Lines read.
    pub lines: u64,
    /// Positions read.
    pub fixes: u64,
    /// Records that could not be read.
    pub damaged: u64,
    /// ISO 8601 UTC, or time of day where the log has no date; empty where it has no time.
    pub first_time: String,
    /// As `first_time`.
    pub last_time: String,
}

/// One reason for which records were dropped, how often, and where first.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Dropped {
    /// Why they were not used.
    pub reason: LeftOut,
    /// How many records.
    pub count: u64,
    /// The first few places, "file line n".
    #[serde(skip)]
    pub first: Vec<String>,
}

/// What a drawing, or a list of ours, says that one of its tracks is.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum Outline {
    /// The edge of a lawn.
    Lawn(String),
    /// The edge of something to be taken off.
    TakenOff(String),
    /// A line with two ends, not a ring.
    Line,
}

/// Everything read from one survey's files.
#[derive(Debug, Clone, Default, PartialEq)]
#[non_exhaustive]
pub struct Log {
    /// In the order of the clock.
    pub fixes: Vec<Fix>,
    /// Named points.
    pub marks: Vec<Mark>,
    /// In the order they were read.
    pub files: Vec<LogFile>,
    /// What was left out, by reason.
    pub dropped: Vec<Dropped>,
    /// What the reading itself found doubtful.
    pub warnings: Vec<Notice>,
    /// Sentence address (NMEA: "GNGGA"; GPX: "trkpt", "wpt") to count.
    pub sentences: BTreeMap<String, u64>,
    /// Lines that hold nothing known.
    pub unknown: u64,
    /// What drawings say that their tracks are, by the number of the track. A track of which nothing is said is not among them.
    pub outlines: BTreeMap<u16, Outline>,
    /// Positions are metres of a plan: `lon_deg` of fixes and marks is x, `lat_deg` is y.
    pub local: bool,
    /// Where a file was written by this program: the height of the plane that its areas were measured on, metres.
    pub plane_height_m: Option<f64>,
    /// How long the last log goes on after its last position, seconds.
    pub lost_at_end_s: f64,
    /// Satellites in view; filled only where a log is inspected, not where it is measured.
    pub sky: sky::Sky,
}
