//! How logs are to be read: in which order, how much of them, and what is kept.

use crate::read::batch::Limits;
use crate::read::sniff::Form;

/// How several files follow each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Order {
    /// As they were given.
    #[default]
    Given,
    /// By the time of their first fix.
    ByTime,
}

/// How to read.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Options {
    /// In which order several files are joined.
    pub order: Order,
    /// Where the coordinates of point lists lie: a grid of eastings and northings, such as `EPSG:27700`, or `local`.
    pub grid: Option<String>,
    /// How many fixes are read of each file at the most; 20 million where it is `None`.
    pub max_fixes: Option<u64>,
    /// Whether the files were named by a job sheet or found in a folder: then pipes and devices among them are not opened.
    pub regular: bool,
    /// Whether the files' hashes are left out, as nobody will look at them.
    pub unhashed: bool,
    /// Read the files as this form, whatever they look like: for trials of one reader.
    #[doc(hidden)]
    pub form: Option<Form>,
    /// For a look at one log, not for measuring: keep what can't be measured from (void, dead reckoning, simulated),
    /// in the order of the file and with plain times of day, and look at the sky.
    pub keep_all: bool,
}

/// The most fixes that are kept of one file, unless it is told otherwise: 23 days at 10 a second, and 2 GB of memory.
pub(super) const MOST_FIXES: u64 = 20_000_000;

impl Options {
    pub(super) fn limits(&self) -> Limits {
        Limits {
            most_fixes: usize::try_from(self.max_fixes.unwrap_or(MOST_FIXES)).unwrap_or(usize::MAX),
            keep_all: self.keep_all,
        }
    }
}
