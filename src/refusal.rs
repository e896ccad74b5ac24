//! Why a survey that was read gives no area: one line a reason, each a value with its own data. The words are in `sheet/say`.
//!
//! ```
//! use boundwalk::fault::Fault;
//! use boundwalk::refusal::{Course, Refusal};
//! let refusal = Refusal::TooFewFixes { walk: Course::default(), usable: 3 };
//! assert_eq!((refusal.code(), &refusal.data()["usable"]), ("too-few-fixes", &3.into()));
//! assert!(Fault::from(refusal).to_string().starts_with("There are only 3 usable position(s) in the walk"));
//! ```

use crate::cause::Cause;
use crate::process::Receiver;
use serde::Serialize;
use serde_json::{Map, Value};

/// A walk, or an outline that was drawn, by the label of its lawn or deduction; that is empty where there is only one.
#[derive(Debug, Clone, PartialEq, Default)]
#[non_exhaustive]
pub struct Course {
    /// Its label.
    pub label: String,
    /// Whether its corners were drawn or listed, not walked.
    pub drawn: bool,
}

impl Serialize for Course {
    fn serialize<S: serde::Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.serialize_str(&self.label)
    }
}

/// A line of the table of reasons, for `docs/notices.md`.
#[derive(Debug, Clone, Copy)]
#[non_exhaustive]
pub struct Reason {
    /// The stable short name, in kebab-case. Some stand in several lines, each with its own data.
    pub code: &'static str,
    /// Keys of its data.
    pub data: &'static [&'static str],
    /// What it means and what to do.
    pub meaning: &'static str,
}

macro_rules! refusals {
    ($($(#[doc = $doc:literal])+ $name:ident $code:literal { $($field:ident: $type:ty),* $(,)? })*) => {
        /// Why a survey that was read gives no area.
        #[derive(Debug, Clone, PartialEq)]
        #[non_exhaustive]
        #[allow(missing_docs, reason = "a field's name says what it is, and its unit")]
        pub enum Refusal {
            /// The same of a path that was driven or ridden, not walked.
            OfADrive { walk: Course, pace_m_s: f64, refusal: Box<Refusal> },
            $($(#[doc = $doc])+ $name { $($field: $type),* },)*
        }

        impl Refusal {
            /// The table.
            pub const TABLE: &[Reason] = &[$(Reason {
                code: $code,
                data: &[$(stringify!($field)),*],
                meaning: concat!($($doc),+),
            }),*];

            /// The stable short name, in kebab-case.
            pub fn code(&self) -> &'static str {
                match self {
                    Refusal::OfADrive { refusal, .. } => refusal.code(),
                    $(Refusal::$name { .. } => $code,)*
                }
            }

            /// Its data as JSON has them, keys with their units.
            pub fn data(&self) -> Map<String, Value> {
                match self {
                    Refusal::OfADrive { pace_m_s, refusal, .. } => {
                        let mut data = refusal.data();
                        data.insert("pace_m_s".to_owned(), (*pace_m_s).into());
                        data
                    }
                    $(Refusal::$name { $($field),* } => {
                        let pairs: Vec<(&str, Result<Value, serde_json::Error>)> =
                            vec![$((stringify!($field), serde_json::to_value($field))),*];
                        // Strings, finite numbers and lists of them: there is nothing that JSON cannot hold.
                        let pair = |(key, value): (&str, Result<Value, _>)| (key.to_owned(), value.unwrap_or(Value::Null));
                        pairs.into_iter().map(pair).collect()
                    })*
                }
            }
        }
    };
}

refusals! {
    /// An edge needs at least four positions.
    TooFewFixes "too-few-fixes" { walk: Course, usable: usize }
    /// The receiver hardly moved. Walk round the edge with the logger running.
    StandsStill "stands-still" { walk: Course }
    /// The path does not come round. Walk back to where you started, and a few steps past it.
    OpenWalk "open-walk" { walk: Course, turned_share: f64, ends_apart_m: f64 }
    /// The ends are too far apart to close, or too much of the edge lies across gaps. Walk all of it.
    TooOpen "too-open" { walk: Course, gap_m: f64, edge_m: f64, unseen_m: f64 }
    /// The laps cancel each other: the path crosses itself like a figure of eight. Walk each part by itself.
    LapsCancel "holds-no-area" { walk: Course }
    /// The path crosses itself like a figure of eight. Walk the edge once round without crossing the path.
    FigureOfEight "holds-no-area" { walk: Course, round_m2: f64, back_m2: f64 }
    /// The laps hold different areas and no most of them agree. Look at the plan, and walk the edge again.
    LapsDisagree "laps-disagree" { walk: Course, laps: usize, least_m2: f64, most_m2: f64 }
    /// The path goes round several places. Walk one edge, or give each lawn a log of its own.
    SeveralRounds "several-rounds" { walk: Course, other_m2: f64 }
    /// The path comes back close beside itself. Walk the edge once round.
    OutAndBack "to-and-fro" { walk: Course, beside_share: f64 }
    /// The path goes up and down. Walk the edge once round.
    UpAndDown "to-and-fro" { walk: Course, times_as_long: f64 }
    /// Most of a long path is elsewhere. Cut the log down to the walk round the lawn.
    IsElsewhere "mostly-elsewhere" { walk: Course, away_m: f64, laps: usize, lap_m: f64 }
    /// The lawn is smaller than the receiver's error. Tape it, or walk it with a better receiver.
    NoEdgeDrawn "no-edge-drawn" { walk: Course, laps: usize, area_m2: f64, sigma_m: f64 }
    /// The outline is larger than any field. If a list holds metres, say `--grid local`.
    LargerThanAnyField "larger-than-any-field" { walk: Course, area_m2: f64, listed: bool }
    /// A list of corners goes round more than once. List each corner once, in order.
    GoesRoundTwice "goes-round-twice" { walk: Course, turns: f64 }
    /// A drawn line leads from one place to another. Draw the edge all the way round.
    DrawnLine "drawn-line" { walk: Course, gap_m: f64, way_m: f64 }
    /// Numbers read as degrees look like metres of a plan. If they are, say `--grid local`.
    PlanMetres "plan-metres" { apart_m: f64, decimals: i32 }
    /// With the antenna carried so far outside, nothing is left of the lawn. Check `carry_m` and `carry_side`.
    CarryCollapses "carry-collapses" { walk: Course, offset_m: f64 }
    /// With its sides moved as `[[edge]]` says, nothing is left of the lawn. Check the distances and the side.
    SidesCollapse "carry-collapses" {}
    /// What is taken off leaves nothing of the lawn. Check radii, units and places of the deductions.
    AllTaken "deductions-exceed-lawn" { label: String, label_m2: f64, deductions_m2: f64, gross_m2: f64 }
    /// What is taken off a taped lawn is no smaller than the lawn. Check lengths, and what is a deduction.
    AllTapedTaken "deductions-exceed-lawn" { deductions_m2: f64, gross_m2: f64 }
    /// The band is as wide as the lawn. Tape it, or walk it with a better receiver.
    BandExceedsArea "band-exceeds-area" { net_m2: f64, band_m2: f64, mostly: Option<Cause>, stopped_short: bool, receiver: Receiver }
}

impl Refusal {
    /// Whether what lacks is the way between the corners, which sides taped straight do not need.
    #[must_use]
    pub fn taped_corners_may_help(&self) -> bool {
        match self {
            Refusal::OfADrive { refusal, .. } => refusal.taped_corners_may_help(),
            Refusal::OpenWalk { .. }
            | Refusal::TooOpen { .. }
            | Refusal::LapsCancel { .. }
            | Refusal::FigureOfEight { .. }
            | Refusal::NoEdgeDrawn { .. }
            | Refusal::LapsDisagree { .. }
            | Refusal::SeveralRounds { .. }
            | Refusal::OutAndBack { .. }
            | Refusal::UpAndDown { .. } => true,
            _ => false,
        }
    }
}
