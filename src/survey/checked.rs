//! What stands behind a number besides the receiver's own word, and how wrong it may be without any of that showing it, as it stands in
//! the result. It is worked out in `checking`.

use crate::next_step::NextStep;
use serde::{Deserialize, Serialize};

/// What checks a number, as it stands in the result.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Checked {
    /// Empty where nothing but the receiver's own word stands behind it.
    pub by: Vec<Check>,
    /// Worked out for the result document, not for a table of many surveys.
    pub unseen: Vec<Unseen>,
    /// What more could be done that would show smaller errors.
    #[serde(skip)]
    pub would: Vec<Would>,
}

/// A test that was made and could have failed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Check {
    pub check: By,
    /// How many laps were walked, how many ends meet, or how many readings were taped.
    pub count: u32,
    /// Of how many walks these are, of lawns and of what was walked round.
    #[serde(default = "one", skip_serializing_if = "is_one")]
    pub walks: u32,
    /// Time between the two that lie closest in time, seconds, where the log has times.
    pub apart_s: Option<f64>,
    /// The largest difference that was found, and from which size on one would be told; both in `unit`.
    pub differ: Option<f64>,
    pub allowed: Option<f64>,
    pub unit: Unit,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum By {
    /// Laps against each other, by the areas they hold.
    Laps,
    /// The end of a single lap against its start.
    Closing,
    /// Taped readings against the walk, or against each other.
    Tape,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Unit {
    M2,
    M,
    Sigma,
}

/// The largest change of area by one kind of error of which nothing would be told with a chance of one in five.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Unseen {
    pub error: ErrorKind,
    /// That change, m²; `None` where nothing bounds it.
    pub area_m2: Option<f64>,
    /// The error of the position that does it, metres east and north.
    #[serde(skip)]
    pub by_m: Option<[f64; 2]>,
    /// The name of the walk in which it is, where there are several; else empty.
    #[serde(skip)]
    pub walk: String,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum ErrorKind {
    /// The position drifts evenly from the start of the walk to its end.
    Drift,
    /// The position moves once and stays where it went, anywhere in a lap or between two.
    Shift,
    /// One corner is cut or misplaced; where there are several laps, in one of them.
    Corner,
    /// One tape misread.
    Tape,
}

/// Something more that could be done, and the drift that it would still leave unseen, m².
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Would {
    pub remedy: NextStep,
    pub area_m2: f64,
}

/// A check is of one walk where nothing else is said.
fn one() -> u32 {
    1
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde asks for it so")]
fn is_one(walks: &u32) -> bool {
    *walks == 1
}

impl Checked {
    /// How many independent tests there were: of laps, those after the first of each walk count.
    #[must_use]
    pub fn count(&self) -> u32 {
        let independent = |check: &Check| match check.check {
            By::Laps => check.count.saturating_sub(check.walks),
            By::Closing | By::Tape => check.count,
        };
        self.by.iter().map(independent).sum()
    }

    #[must_use]
    pub fn unseen_m2(&self, error: ErrorKind) -> Option<f64> {
        self.unseen.iter().find(|u| u.error == error)?.area_m2
    }
}
