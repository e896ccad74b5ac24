//! What one file gives, before the files are put together.

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
    /// Keep also what can't be measured from.
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
    /// Every fix has a time, later than that of the one before it by less than half a day: the clock has nothing to do.
    pub steady: bool,
    /// Stopped at the bound on fixes.
    pub stopped: bool,
    /// The input broke off with this error.
    pub broken: Option<io::Error>,
    /// Points that are out of range as they stand but not with latitude and longitude exchanged, where no point is
    /// right as it stands.
    pub swapped: u64,
    pub warnings: Vec<Notice>,
    /// Kinds of the accuracies that the form or its names state, where no list of columns says so.
    pub accuracies: BTreeSet<Accuracy>,
    /// What is said of its tracks, by track.
    pub outlines: BTreeMap<u16, Outline>,
    /// Positions are metres of a plan, not degrees.
    pub local: bool,
    /// The height of the plane that a result of ours was measured on, metres.
    pub plane_height_m: Option<f64>,
    pub sky: Sky,
}
