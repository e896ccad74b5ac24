//! What the reader of one file gives, whatever its form, before the files of a survey are put together.

use crate::fix::{Fix, Quality};
use crate::mark::Mark;
use crate::notice::Notice;
use crate::process::Accuracy;
use crate::read::Outline;
use crate::read::sky::Sky;
use crate::read::tally::Tally;
use std::collections::{BTreeMap, BTreeSet};
use std::io;

/// Bounds on one file.
#[derive(Debug, Clone)]
pub(crate) struct Limits {
    /// Fixes after which reading stops.
    pub most_fixes: usize,
    /// Keep also fixes that can't be measured from, for a look at the log.
    pub keep_all: bool,
}

/// Everything read from one file. `clock_s` of its fixes is still the plain time of day.
#[derive(Debug, Default)]
pub(crate) struct Batch {
    pub fixes: Vec<Fix>,
    /// For NMEA: the number in `stream_names` of the address that gave each fix's position.
    pub streams: Vec<u8>,
    pub stream_names: Vec<String>,
    pub marks: Vec<Mark>,
    pub tally: Tally,
    pub sentences: BTreeMap<String, u64>,
    pub lines: u64,
    /// Lines that hold nothing known.
    pub unknown: u64,
    /// For NMEA: whether there is a sentence of a known kind, or any whose checksum is right.
    pub known: bool,
    /// Line and quality of the first position that was typed in or simulated.
    pub made_up: Option<(u32, Quality)>,
    /// How long the log goes on after its last position, seconds.
    pub lost_at_end_s: f64,
    /// Whether every fix has a time that is later than that of the one before it, by less than half a day: then times need no putting in
    /// order ([`super::clock`]).
    pub steady: bool,
    /// Whether reading stopped at the bound on fixes.
    pub stopped: bool,
    /// The input broke off with this error.
    pub broken: Option<io::Error>,
    /// Points that are out of range as they stand but not with latitude and longitude exchanged, where no point is
    /// right as it stands.
    pub swapped: u64,
    pub warnings: Vec<Notice>,
    /// The kinds of accuracy that the records state. Each is told, where the notice on the columns does not say it already.
    pub accuracies: BTreeSet<Accuracy>,
    /// What the file says that its tracks are, by the number of the track.
    pub outlines: BTreeMap<u16, Outline>,
    /// Whether positions are metres of a plan, not degrees.
    pub local: bool,
    /// Where the file was written by this program: the height of the plane that its areas were measured on, metres.
    pub plane_height_m: Option<f64>,
    pub sky: Sky,
}
