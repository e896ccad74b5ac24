//! What is told of a log: by `inspect`, before anything is measured; while a walk goes on; and of its dates. How often any of it is told without cause has
//! not been measured; each has its reason.

/// What makes a log unfit to measure from.
pub(crate) mod unfit {
    /// Fewer fixes than this enclose nothing.
    pub(crate) const LEAST_FIXES: usize = 4;
    /// A log whose positions all lie within so many metres was not walked.
    pub(crate) const WALKED_M: f64 = 3.0;
}

/// What makes a log doubtful.
pub(crate) mod doubtful {
    /// Positions a second: a walker covers a metre or more each second; longer steps cut corners.
    pub(crate) const SLOW_HZ: f64 = 0.5;
    /// A gap this long, and of several intervals, while the antenna moved leaves out a piece of the edge.
    pub(crate) const LONG_GAP_S: f64 = 5.0;
    pub(crate) const LONG_GAP_INTERVALS: f64 = 3.0;
    pub(crate) const MOVED_M: f64 = 1.0;
    /// Share of fixes that makes a thing worth a word.
    pub(crate) const MUCH_SHARE: f64 = 0.1;
    /// Dilution and satellites beyond which positions grow poor (common practice, no source).
    pub(crate) const POOR_HDOP: f32 = 3.0;
    pub(crate) const FEW_SATELLITES: u8 = 6;
    /// A claimed sigma per axis, metres, beyond which a log is like one without carrier-phase corrections, which are out by a metre
    /// or more; float solutions are out by some decimetres.
    pub(crate) const CLAIMS_M: f64 = 0.5;
    /// Scatter this many times the claim is no accident: claims two or three times too small are common.
    pub(crate) const OVERCLAIMS_TIMES: f64 = 3.0;
}

/// A pause of the log counts as a gap from so many usual intervals, and from so many seconds.
pub(crate) mod pause {
    pub(crate) const GAP_INTERVALS: f64 = 3.0;
    pub(crate) const GAP_S: f64 = 2.0;
}

/// Standing is to get nowhere: in each of several parts of a time the mean position stays near that in the others.
pub(crate) mod standing {
    /// Metres between the means. Who goes round something, or slower than a tenth of a metre a second, gets further.
    pub(crate) const STILL_M: f64 = 1.0;
    /// Shorter stretches are pauses at corners, seconds.
    pub(crate) const LEAST_S: f64 = 20.0;
    pub(crate) const LEAST_FIXES: usize = 10;
}

/// Files that were recorded at the same time.
pub(crate) mod twice {
    /// Of positions of the same second so many must be the same record: then a file holds what another has. The others are where a second program left
    /// one out.
    pub(crate) const SAME_SHARE: f64 = 0.9;
    /// Two receivers on one walker show places no further apart than this, metres, most of the time: each may err by some metres (no source; a phone's
    /// usual error). Two people who walk a half of the edge each are further apart.
    pub(crate) const TOGETHER_M: f64 = 5.0;
    /// So many common fixes are no chance.
    pub(crate) const TOGETHER_FIXES: usize = 20;
}

/// Part of a file's records from which damage is a doubt and not a note.
pub(crate) const MUCH_DAMAGE_SHARE: f64 = 0.05;

/// What is told while a walk goes on.
#[cfg(feature = "live")]
pub(crate) mod live {
    /// Without a byte for so long, the line is silent; without a position, there is none. Seconds; told within three.
    pub(crate) const SILENT_S: f64 = 2.5;
    /// A position that is the same to its last digit for so long is told, seconds: whoever walks is metres on by then. A measured log
    /// counts as stuck much later, as by then it is known whether the walk went on.
    pub(crate) const FROZEN_S: f64 = 5.0;
    /// A step longer than walking and wandering explain by this much is a jump, metres.
    pub(crate) const JUMP_M: f64 = 0.5;
    /// So many sigmas of wandering are believed in one step.
    pub(crate) const JUMP_SIGMAS: f64 = 4.0;
    /// So many torn sentences within a moment are told: one by itself is soon gone and costs no position.
    pub(crate) const TORN_SENTENCES: u64 = 3;
    /// Records out of order by no more than this are a logger's buffers, seconds.
    pub(crate) const DISORDER_S: f64 = 2.0;
}

/// Dates that cannot be.
pub(crate) mod date {
    use jiff::civil::Date;

    /// Walks are believed from here on. A receiver that lost 1024 weeks shows this or an earlier day until August 2027, and
    /// who measures an older log of a lawn has a sheet to say so. To be moved on with the years.
    pub(crate) const FIRST: Date = jiff::civil::date(2008, 1, 1);
    /// And up to here: a receiver that is 1024 weeks ahead shows a later day from May 2026 on, when this was written.
    pub(crate) const LAST: Date = jiff::civil::date(2045, 12, 31);
    /// A day's walk may end after midnight, and midnight is elsewhere in UTC than where the sheet was written.
    pub(crate) const SAME_DAY_DAYS: i64 = 1;
}

/// Accuracy of a grid's tie to WGS 84 above which it is worth a word, metres: what a receiver without corrections is off anyway.
pub(crate) const GRID_TIED_M: f64 = 1.5;
