//! All that can be told of a survey besides its numbers: one line a notice, each a value with its own data. The words are in
//! `sheet/say`.
//!
//! ```
//! use boundwalk::notice::{Notice, Weight};
//! let notice = Notice::LawnsOverlap { shared_m2: 3.0 };
//! assert_eq!((notice.code(), notice.weight()), ("lawns-overlap", Weight::Doubt));
//! assert_eq!(notice.data()["shared_m2"], 3.0);
//! assert!(notice.to_string().starts_with("Two lawns of this job share 3.0 m²"));
//! ```

use crate::fault::Fault;
use crate::finding::{Found, Unfit};
use crate::left_out::LeftOut;
use crate::process::Accuracy;
pub use crate::refusal::Course;
use crate::refusal::Refusal;

use jiff::civil::Date;
use serde::Serialize;
use serde_json::{Map, Value};

/// How much a notice weighs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Weight {
    /// Worth knowing; the result stands.
    Note,
    /// Something is doubtful: the result's status becomes `check`.
    Doubt,
}

/// Records of one file that could not be used, for one reason.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[allow(missing_docs, reason = "the names say it")]
#[non_exhaustive]
pub struct Damage {
    pub reason: LeftOut,
    pub count: u64,
    pub first_lines: Vec<u32>,
}

/// A bed's size that cannot be read.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[allow(missing_docs, reason = "the names say it")]
#[non_exhaustive]
pub struct UnreadSize {
    pub text: String,
    pub line: u32,
}

/// A column of a list, by its title, and what it was taken for.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[allow(missing_docs, reason = "the names say it")]
#[non_exhaustive]
pub struct ColumnRead {
    pub taken_for: &'static str,
    pub title: String,
    /// Which kind of figure, where it is an accuracy.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub accuracy: Option<Accuracy>,
}

/// A side taped as straight that the walk has as bent.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[allow(missing_docs, reason = "the names say it")]
#[non_exhaustive]
pub struct BentSide {
    pub side: String,
    pub bulge_m: f64,
    pub taken_as_straight: bool,
}

/// How it is known how true the corners of a list are.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
#[allow(missing_docs, reason = "the names say it")]
#[non_exhaustive]
pub enum Trueness {
    Given,
    Assumed,
    Listed,
}

/// Why a bed or a corner is not where the job sheet says.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs, reason = "the names say it")]
#[non_exhaustive]
pub enum NotFound {
    FarFromEdgeM(f64),
    NoEdge,
    /// No position is of the time that the sheet says.
    NoFixThen,
    /// The surveyor stood still fewer times than the sheet counts.
    Standstills {
        found: usize,
        asked: u64,
    },
}

/// Why heights give no slope.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs, reason = "the names say it")]
#[non_exhaustive]
pub enum NoSlope {
    OutByPercent(f64),
    OffThePlaneM(f64),
}

/// A line of the table of notices, for `docs/notices.md`.
#[derive(Debug, Clone, Copy)]
#[non_exhaustive]
pub struct Entry {
    /// The stable short name, in kebab-case. Some stand in several lines, each with its own data.
    pub code: &'static str,
    /// Whether it makes the result doubtful.
    pub weight: Weight,
    /// Keys of its data.
    pub data: &'static [&'static str],
    /// What it means and what to do.
    pub meaning: &'static str,
}

macro_rules! weight {
    (note) => {
        Weight::Note
    };
    (doubt) => {
        Weight::Doubt
    };
}

macro_rules! notices {
    ($($(#[doc = $doc:literal])+ $name:ident $weight:ident $code:literal { $($field:ident: $type:ty),* $(,)? })*) => {
        /// Something seen on the way; `to_string` says it in a sentence or two.
        #[derive(Debug, Clone, PartialEq)]
        #[non_exhaustive]
        #[allow(missing_docs, reason = "a field's name says what it is, and its unit")]
        pub enum Notice {
            /// No area, or no order, for this reason; the code is the fault's.
            Refused(Fault),
            /// A notice of one of several files.
            InFile { file: String, notice: Box<Notice> },
            /// A survey that can no longer be measured but was before: its sheets are left as they were.
            SheetsStay(Box<Notice>),
            $($(#[doc = $doc])+ $name { $($field: $type),* },)*
        }

        impl Notice {
            /// The table, but for the reasons of [`Notice::Refused`].
            pub const TABLE: &[Entry] = &[$(Entry {
                code: $code,
                weight: weight!($weight),
                data: &[$(stringify!($field)),*],
                meaning: concat!($($doc),+),
            }),*];

            /// The stable short name, in kebab-case.
            pub fn code(&self) -> &'static str {
                match self {
                    Notice::Refused(fault) => fault.code(),
                    Notice::InFile { notice, .. } | Notice::SheetsStay(notice) => notice.code(),
                    $(Notice::$name { .. } => $code,)*
                }
            }

            /// Whether it makes the result doubtful.
            pub fn weight(&self) -> Weight {
                match self {
                    Notice::Refused(_) => Weight::Doubt,
                    Notice::InFile { notice, .. } | Notice::SheetsStay(notice) => notice.weight(),
                    $(Notice::$name { .. } => weight!($weight),)*
                }
            }

            /// Its data as JSON has them, keys with their units.
            pub fn data(&self) -> Map<String, Value> {
                let mut data = Map::new();
                // Strings, finite numbers and lists of them: there is nothing that JSON cannot hold.
                let mut put = |key: &str, value: Result<Value, serde_json::Error>| {
                    data.insert(key.to_owned(), value.unwrap_or(Value::Null));
                };
                match self {
                    Notice::Refused(fault) => {
                        data = fault.refusal().map(Refusal::data).unwrap_or_default();
                        data.insert("file".to_owned(), fault.file().into());
                        data.insert("line".to_owned(), fault.line().into());
                    }
                    Notice::InFile { file, notice } => {
                        data = notice.data();
                        data.insert("file".to_owned(), file.clone().into());
                    }
                    Notice::SheetsStay(notice) => data = notice.data(),
                    $(Notice::$name { $($field),* } => {
                        $(put(stringify!($field), serde_json::to_value($field));)*
                    })*
                }
                data
            }
        }
    };
}

notices! {
    // Reading a log.
    /// An XML file ends or breaks before its end; what came before was kept. Export it again.
    XmlBroken doubt "xml-broken" { line: u32, why: String }
    /// There is no track, and the route was used, which was drawn by hand or thinned.
    RouteUsed note "route-used" {}
    /// The file states horizontal accuracies, and what kind of figure they were taken for.
    AccuracyStated note "accuracy-stated" { accuracy: Accuracy }
    /// Reading stopped after as many fixes as were asked for.
    StoppedAsAsked note "stopped" { fixes: u64 }
    /// Reading stopped at the most fixes that are read.
    StoppedAtMost doubt "stopped" { fixes: u64 }
    /// The file breaks off; what came before was kept. Copy it from the logger again.
    InputBroken doubt "input-broken" { after_line: u64, why: String }
    /// Whole sentence types turned to wrong checksums along the way. Save the log to a file and read that.
    ChecksumsMixed doubt "checksums-mixed" {}
    /// Few records were damaged and left out.
    Damaged note "damaged" { file: String, damaged: u64, kinds: Vec<Damage> }
    /// Many records were damaged and left out. Copy the log from the receiver again.
    MuchDamaged doubt "damaged" { file: String, damaged: u64, kinds: Vec<Damage> }
    /// Every sentence of a type has a wrong checksum while others are right; they were used.
    ChecksumsBroken note "checksums-broken" { sentences: Vec<String> }
    /// The log has no checksums; damage inside a sentence would not show. Switch them on in the logger.
    ChecksumsMissing note "checksums-missing" {}
    /// The log's clock runs backwards; the order of the file was kept. Give two walks as separate files.
    ClockBackwards doubt "clock-backwards" { times: usize, file: String, line: u32, by_s: f64 }
    /// Files were taken in the order given, against their times. If the times are right, use --by-time.
    FilesOrder note "files-order" {}
    /// A file has the same positions at the same times as another, and they were taken once: a lap is one however often it was saved.
    RecordedTwice note "recorded-twice" { file: String, of: String, fixes: usize }
    /// Two files were recorded at once by receivers that went together, which is one lap, not two; the later file's were left out.
    RecordedTogether doubt "recorded-together" { file: String, of: String, fixes: usize }
    /// Records a little out of order were put in order.
    TimesOutOfOrder note "times-out-of-order" { records: u64, within_s: f64 }
    /// Records have one time and several places: the log's times are coarser than its rate. They were spread evenly.
    TimesRepeated note "times-repeated" { records: u64 }
    /// Few records have no time and were left out, as all others have one.
    TimesMissing note "times-missing" { records: usize, first_line: u32 }
    /// Two position engines in one log; the better one was used. Switch one of them off in the receiver.
    TwoEngines doubt "two-engines" { used: String, left_out: String, apart_m: f64 }
    /// A list with points and no line: the points were taken as corners in their order.
    PointsAsCorners note "points-as-corners" { points: u64 }
    /// A bed's size in a list cannot be read; nothing was taken off there. Write it as 0.7, 70cm or 2ft 4in.
    BedSize doubt "bed-size" { sizes: Vec<UnreadSize>, more: usize }
    /// What the columns of a list were taken for.
    Columns note "columns" { between: &'static str, columns: Vec<ColumnRead> }
    /// The columns of a list were guessed and could be the other way round. Name them in a first row.
    ColumnsGuessed doubt "columns-guessed" { between: &'static str, columns: Vec<ColumnRead> }
    /// x and y were read as metres of a plan; nothing has a latitude or longitude.
    LocalPlan note "local-plan" {}
    /// The national grid is tied to the receiver's positions only so well; the area does not feel it.
    GridAccuracy note "grid-accuracy" { code: u32, name: String, accuracy_m: f64 }

    // Tracks, lawns and what is taken off.
    /// A hole of a list was not taken off.
    HoleLeftOut doubt "hole-left-out" { why: Refusal }
    /// The log's tracks come round only together and were joined into one walk.
    TracksJoined note "tracks-joined" { tracks: usize }
    /// Only one of the log's tracks comes round; the others were left out. Check that nothing is missing.
    TracksLeftOut doubt "tracks-left-out" { tracks: usize }
    /// A track wholly inside the lawn was taken off.
    TrackInside note "track-inside" { area_m2: f64 }
    /// A track beside the first was counted as another lawn.
    TrackBeside doubt "track-beside" { area_m2: f64 }
    /// A deduction that lies outside of the lawn takes nothing off. Check its place.
    DeductsNothing doubt "deducts-nothing" { label: String, away_m: f64 }
    /// A deduction that lies within another takes nothing off. Check both.
    DeductedTwice doubt "deducts-nothing" { label: String, within: String }
    /// A deduction is larger than the lawn that it is taken off. Check its size, or whether two logs are exchanged.
    DeductionLarger doubt "deduction-larger-than-lawn" { label: String, area_m2: f64, lawn_m2: f64 }
    /// Two lawns share ground, which is counted twice. Check the walks.
    LawnsOverlap doubt "lawns-overlap" { shared_m2: f64 }
    /// Lawns of one job lie kilometres apart. Check which log is whose.
    LawnsFarApart doubt "lawns-far-apart" { one: String, other: String, apart_m: f64 }
    /// A mark has no size, so nothing was taken off for it.
    MarkWithoutSize note "mark-without-size" { label: String }
    /// A bed of the job sheet has no place, and was not taken off.
    BedNotFound doubt "bed-not-found" { label: String, why: NotFound }
    /// A corner that the job sheet names is not on the edge.
    CornerNotFound doubt "corner-not-found" { name: String, why: NotFound }
    /// The named corners do not lie along the edge in the order in which the walk stood at them. Walk it again, or tape it.
    CornersOutOfOrder doubt "corners-out-of-order" { walk: Course }

    // Cleaning a walk, and its laps.
    /// No fix has a time; a pace of 1 m/s was assumed.
    NoTimes note "no-times" { walk: Course }
    /// Fixes far off the walk for a moment were left out.
    SpikesRemoved note "spikes-removed" { walk: Course, fixes: usize }
    /// The position stood still while the walk went on; those fixes were left out. Look at that stretch on the plan.
    PositionFroze doubt "position-froze" { walk: Course, fixes: usize }
    /// Fixes run off the walk and come back; they were left out. Look at that stretch on the plan.
    OffTheWalk doubt "off-the-walk" { walk: Course, fixes: usize }
    /// Every other fix lies to one side: two position streams. Record one, and walk again, or check with a tape.
    StreamsAlternate doubt "two-streams" { walk: Course, apart_m: f64 }
    /// Two position streams are woven together; the fuller one was used. Record one, or check with a tape.
    StreamsWoven doubt "two-streams" { walk: Course, apart_m: f64 }
    /// A part of a further lap was not used, beside laps that agree.
    PartLapUnused note "lap-left-out" { walk: Course, laps: usize, turns: f64 }
    /// A part of a further lap was left out; if another lap was walked, a jump or gap hides it. Look at the plan.
    LapLeftOut doubt "lap-left-out" { walk: Course, laps: usize, turns: f64 }
    /// Most of the way is not part of the lap found. Look at the plan whether it is the lawn.
    MostLeftOut doubt "most-left-out" { walk: Course, share: f64 }
    /// The laps do not lie on each other; parts of one may have been taken for laps. Look at the plan.
    LapsLieApart doubt "laps-lie-apart" { walk: Course, laps: usize, apart_m: f64 }
    /// A lap holds another area than the rest and was left out. Look at the plan which is the lawn.
    LapDisagrees doubt "lap-disagrees" { walk: Course, lap: usize, of: usize, from_s: f64, to_s: f64, area_m2: f64, others_m2: f64 }
    /// Laps hold areas further apart than errors explain. Look at the plan, and walk it once more.
    LapsDiffer doubt "laps-differ" { walk: Course, least_m2: f64, most_m2: f64 }
    /// Laps have lengths further apart than errors explain. Look at the plan, and walk it once more.
    LapLengthsDiffer doubt "laps-differ" { walk: Course, least_m: f64, most_m: f64 }
    /// The end is further from the start than the receiver's error explains. Walk past the start next time.
    ClosingGap doubt "closing-gap" { walk: Course, gap_m: f64 }
    /// The walk ends with its start straight ahead. Walk on to the start and a few steps past it.
    StoppedShort doubt "closing-gap" { walk: Course, gap_m: f64 }
    /// The path may be closed at two places that hold different areas. Look at the plan whether the edge drawn is the lawn's.
    MayCloseElsewhere doubt "may-close-elsewhere" { walk: Course, more_m2: f64 }
    /// An edge was driven, not walked; the band allows for that. Look at the plan whether it is the lawn's edge.
    Driven doubt "driven" { walk: Course, pace_m_s: f64, carry_sigma_m: f64 }
    /// Each lap crosses itself, and a part counts against the rest. Look at the plan.
    LapsCross doubt "path-crosses-itself" { walk: Course, back_m2: f64 }
    /// A part is walked round the other way and counts against the rest. Walk without crossing the path.
    CrossesBack doubt "path-crosses-itself" { walk: Course, back_m2: f64 }
    /// A part is walked round twice within one lap and counts twice; two laps may be one. Look at the plan.
    CrossesTwice doubt "path-crosses-itself" { walk: Course, twice_m2: f64 }
    /// The walk goes round another place as well, which was left out. Look at the plan whether it belongs to the lawn.
    OtherRound doubt "other-round" { walk: Course, area_m2: f64 }
    /// A part of the path is walked back close beside itself. Look at the plan whether all of it is the lawn's edge.
    BackBeside doubt "to-and-fro" { walk: Course, share: f64 }
    /// The path is much longer than the way round all of it. Look at the plan whether all of it is the lawn's edge.
    ToAndFro doubt "to-and-fro" { walk: Course, times_as_long: f64 }
    /// A good part of a long path is not part of the laps. Look at the plan whether they are the lawn.
    MostlyElsewhere doubt "mostly-elsewhere" { walk: Course, away_m: f64, laps: usize, lap_m: f64 }
    /// The walk alone gives no lawn; it was drawn straight between the corners that the sheet names and tapes.
    DrawnFromCorners doubt "drawn-from-corners" { why: Refusal }

    // Corners that were drawn or listed.
    /// The corners were drawn or listed; no lap, pause or closing checks them.
    DrawnNotWalked note "drawn-not-walked" { outlines: Vec<String>, trueness: Trueness }
    /// The ends of a drawn line are apart; it was closed straight across. Draw the side that is missing.
    DrawnOpen doubt "drawn-open" { walk: Course, gap_m: f64, way_m: f64 }
    /// Most of the area hangs on one corner. Check its numbers.
    OneCornerCounts doubt "one-corner-counts" { walk: Course, corner: usize, neighbours_m: f64, others_m: f64 }

    // Doubts of a walk that are weighed against its band.
    /// There is no fix for a while along the edge; a corner may lie behind it. Walk that stretch again.
    GapMayHideACorner doubt "gap-may-hide-a-corner" { walk: Course, lasted_s: f64, across_m: f64, hides_m2: f64 }
    /// There is no fix for a while beside the laps; if the edge was walked then, a part of it is missing. Walk it again.
    FixesLostBeside doubt "fixes-lost" { walk: Course, lost_s: f64, laps: usize }
    /// The receiver gave no position, or one and the same, at the end of the log. Look at the plan, and walk it again.
    FixesLostAtEnd doubt "fixes-lost" { lost_s: f64, left_out_share: f64, laps: u32 }
    /// The position jumps along the edge. Walk it again.
    PositionJumps doubt "position-jumps" { walk: Course, times: usize, by_m: f64 }
    /// The position may have jumped on the edge by as much as the band does not allow for. Walk it once more.
    PositionMayJump doubt "position-jumps" { walk: Course, by_m: f64, moves_m2: f64 }
    /// The laps lie apart to one side: the position may have drifted away. Walk it again.
    LapsDrift doubt "laps-drift" { walk: Course, apart_m: f64, moves_m2: f64 }
    /// Standing at the start and at the end, the positions are apart: they may have drifted away. Walk it again.
    EndsStoodApart doubt "ends-apart" { walk: Course, apart_m: f64, moves_m2: f64 }
    /// Where the surveyor turned on to the edge or off it does not lie where the path closes. Walk it again.
    EndsTurnedApart doubt "ends-apart" { walk: Course, apart_m: f64, moves_m2: f64 }
    /// Passes of one place differ more than the receiver claims; the band was widened to match.
    ReceiverErrsMore doubt "receiver-errs-more-than-it-claims" { times: f64 }

    // Slope and dates.
    /// The slope of the sheet and that of the heights disagree; the sheet's was taken. Measure the fall again.
    SlopesDisagree doubt "slopes-disagree" { given_percent: f64, seen_percent: f64, sigma_percent: f64 }
    /// The heights give no slope. Where the lawn falls more than 1 in 7, give slope_percent in the job sheet.
    SlopeUnknown note "slope-unknown" { why: NoSlope }
    /// The sheet and the log name different days.
    DateDisagrees doubt "date-disagrees" { sheet: Date, line: Option<u64>, file: String, log: Date }
    /// The sheet's day cannot be. Correct it.
    SheetDateImpossible doubt "date-impossible" { sheet: Date, line: Option<u64>, first: Date, last: Date }
    /// The log's day cannot be; the sheet's was taken, or none. Put the date in the sheet.
    LogDateImpossible doubt "date-impossible" { file: String, log: Date, first: Date, last: Date, meant: Option<Date>, sheet: Option<Date> }
    /// The log's dates jump; the sheet's was taken.
    DatesJump note "dates-jump" { file: String, from: Date, to: Date, sheet: Date }
    /// The log's dates jump and no sheet has one. Put the date in the sheet.
    DatesJumpUnsaid doubt "dates-jump" { file: String, from: Date, to: Date }
    /// The receiver lost count of GPS weeks; the sheet's date was taken.
    DateRollover note "date-rollover" { file: String, log: Date, sheet: Date, weeks: i64 }
    /// The quotation was valid only until before the day of the survey. Correct valid_until.
    QuotationExpired doubt "quotation-expired" { until: Date, line: Option<u64>, walked: Date }

    // Tapes.
    /// The edge shows fewer than two corners, so tapes cannot be set against it. Stop at the places taped between.
    NoCornersToTape doubt "no-corners-to-tape" {}
    /// There are too many corners and beds to set tapes against. Name the corners taped between.
    TooManyCornersToTape doubt "too-many-corners-to-tape" { points: usize }
    /// A taped line names a point that the walk does not have; it was not used.
    NoSuchPoint doubt "no-such-point" { line: String, points: Vec<String> }
    /// Tape and walk disagree, or a reading does not fit.
    TapeAndWalkDisagree doubt "tape-and-walk-disagree" { finding: Found, named: bool }
    /// Sides taped from corner to corner were taken as straight; a smaller bulge would not show.
    TapedStraight note "taped-straight" { sides: Vec<String>, hidden_m: f64 }
    /// Sides taped as straight which the walk has as bent. Say straight = true or false.
    TapedStraightButWalkedBent doubt "taped-straight-but-walked-bent" { sides: Vec<BentSide> }
    /// The tape goes round the lawn and passes a corner of the walk by. Look whether each letter stands at a corner.
    CornerNotTaped doubt "corner-not-taped" { taped: Vec<String>, passed: Vec<String>, stood_s: Vec<f64> }
    /// The walk is too rough to tell whether lines were taped between the corners under those letters. Name the corners.
    LettersUnsure doubt "letters-unsure" { lines: Vec<String>, stood_s: Vec<f64> }
    /// Lengths of a taped figure disagree.
    LengthsDisagree doubt "lengths-disagree" { label: String, finding: Unfit }
    /// The edge between offsets or radii adds much to the error. Take them closer together where it bends.
    OffsetsTooFarApart note "offsets-too-far-apart" { label: String, radii: bool, adds_percent: f64 }
    /// A taped figure is so thin that its area is uncertain. Measure its width.
    ShapeUncertain doubt "shape-uncertain" { label: String, error_percent: f64 }
    /// Taped figures have no place on a plan; none is drawn, and turf is counted by percentage.
    NotOnAPlan note "not-on-a-plan" { labels: Vec<String> }
    /// Parts of a taped lawn overlap on the plan; that was counted once. Check at_m, bearing_deg and side.
    ShapesOverlap doubt "shapes-overlap" { overlap_m2: f64 }
    /// A part of a taped deduction lies outside the lawn and was not taken off.
    DeductionOutside note "deduction-outside" { label: String, outside_m2: f64 }

    // The order.
    /// The allowance for error is too wide to order on. Tape the lawn, or use a better receiver.
    Allowance doubt "allowance" { taped: bool, chance_percent: f64, over_m2: f64, lawn_m2: f64 }
    /// The price leaves items out for want of a rate.
    Unpriced note "unpriced" { items: Vec<String> }
    /// The lawn has no plan, so turf is counted as area and a percentage for cutting.
    NoPlan note "no-plan" { cutting_percent: f64 }
    /// Some joints could not be kept apart from those of the row before.
    CloseJoints note "close-joints" { joints: u64, stagger_m: f64 }
    /// The lawn takes too many pieces to lay out one by one; turf is counted as area and a percentage for cutting.
    TooLargeForRows note "too-large-for-rows" { most_pieces: f64, cutting_percent: f64 }
    /// The lawn as drawn is smaller than measured; the pieces are scaled up.
    DrawnSmall note "drawn-small" { drawn_m2: f64, net_m2: f64 }
    /// Edging is asked for around something that is not there.
    EdgingUnknown doubt "edging-unknown" { around: String, labels: Vec<String> }
    /// Edging round parts of a taped lawn is not counted: without a plan it is not known how much of their edges they share.
    EdgingUncounted doubt "edging-uncounted" { labels: Vec<String> }
    /// A full pallet weighs more than the vehicle carries. Give the vehicle that brings it.
    VehicleTooSmall doubt "vehicle-too-small" { pallet_t: f64, vehicle_t: f64 }
}
