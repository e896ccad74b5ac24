//! From when on something is told of a log: by `inspect`, before anything is measured; while a walk goes on; and of its dates. How often
//! any of it is told without cause has not been measured; each has its reason.

/// What makes a log unfit to measure from.
pub(crate) mod unfit {
    /// Fewer fixes than this enclose nothing.
    pub(crate) const LEAST_FIXES: usize = 4;
    /// A log whose positions all lie within this many metres was not walked.
    pub(crate) const WALKED_M: f64 = 3.0;
}

/// What makes a log doubtful.
pub(crate) mod doubtful {
    /// A log with fewer positions a second than this is doubtful: a walker covers a metre or more each second, so that steps of over two
    /// metres cut corners.
    pub(crate) const SLOW_HZ: f64 = 0.5;
    /// A gap leaves out a piece of the edge where it lasts this many seconds, and as many usual intervals between fixes as the next limit
    /// says, while the antenna moved by as many metres as the one after it says.
    pub(crate) const LONG_GAP_S: f64 = 5.0;
    pub(crate) const LONG_GAP_INTERVALS: f64 = 3.0;
    pub(crate) const MOVED_M: f64 = 1.0;
    /// Share of a log's fixes from which on a fault that they have is told.
    pub(crate) const MUCH_SHARE: f64 = 0.1;
    /// Above this dilution of precision, or with fewer satellites than this, positions grow poor (common practice, no source).
    pub(crate) const POOR_HDOP: f32 = 3.0;
    pub(crate) const FEW_SATELLITES: u8 = 6;
    /// A claimed sigma per axis, metres, beyond which a log is like one without carrier-phase corrections, which are out by a metre
    /// or more; float solutions are out by some decimetres.
    pub(crate) const CLAIMS_M: f64 = 0.5;
    /// Positions that scatter by more than this many times the claimed sigma are told. Claims that are two or three times too small are
    /// common.
    pub(crate) const OVERCLAIMS_TIMES: f64 = 3.0;
}

/// A pause of the log counts as a gap where it is as long as this many usual intervals between fixes, and as this many seconds.
pub(crate) mod pause {
    pub(crate) const GAP_INTERVALS: f64 = 3.0;
    pub(crate) const GAP_S: f64 = 2.0;
}

/// When the walker is taken to stand: the mean positions of several parts of a stretch of time all lie near each other.
pub(crate) mod standing {
    /// How far apart the means may lie, metres. Whoever goes round something, or as slowly as a tenth of a metre a second, gets further.
    pub(crate) const STILL_M: f64 = 1.0;
    /// The shortest standing, seconds: shorter stretches are pauses at corners.
    pub(crate) const LEAST_S: f64 = 20.0;
    pub(crate) const LEAST_FIXES: usize = 10;
}

/// Files that were recorded at the same time.
pub(crate) mod twice {
    /// Of the positions that two files have of the same seconds, this share must be the same records for one file to count as a copy of the
    /// other. The rest is left for records that a second program dropped.
    pub(crate) const SAME_SHARE: f64 = 0.9;
    /// Two receivers on one walker show places no further apart than this, metres, most of the time: each may err by some metres (no source; a phone's
    /// usual error). Two people who walk a half of the edge each are further apart.
    pub(crate) const TOGETHER_M: f64 = 5.0;
    /// With this many fixes in common, that they lie together is no accident.
    pub(crate) const TOGETHER_FIXES: usize = 20;
}

/// Part of a file's records from which on damage makes a log doubtful rather than only being noted.
pub(crate) const MUCH_DAMAGE_SHARE: f64 = 0.05;

/// What is told while a walk goes on.
#[cfg(feature = "live")]
pub(crate) mod live {
    /// After this many seconds without a byte the receiver is told to be silent, and after as many without a position, that there is none.
    /// It is to be told within three seconds.
    pub(crate) const SILENT_S: f64 = 2.5;
    /// A position that stays the same to its last digit for this many seconds is told, as whoever walks is metres on by then. A finished
    /// log counts as stuck only much later ([`super::walk::cleaning::STUCK_S`]), as it shows whether the walk went on.
    pub(crate) const FROZEN_S: f64 = 5.0;
    /// A step longer than walking and wandering explain by this much is a jump, metres.
    pub(crate) const JUMP_M: f64 = 0.5;
    /// How many sigmas of the receiver's wandering are believed in one step.
    pub(crate) const JUMP_SIGMAS: f64 = 4.0;
    /// This many damaged sentences within a moment are told. A single one is soon over and costs no position.
    pub(crate) const TORN_SENTENCES: u64 = 3;
}

/// The log's clock.
pub(crate) mod clock {
    /// Records that are out of order by no more than this are put in order, seconds: loggers write them from several buffers. While a walk
    /// goes on they are not told. No evidence measured.
    pub(crate) const DISORDER_S: f64 = 2.0;
}

/// Dates that cannot be.
pub(crate) mod date {
    use jiff::civil::Date;

    /// The first day that is believed. GPS counts its weeks modulo 1024, so that a receiver may be 1024 weeks (19.6 years) behind: until
    /// August 2027 such a receiver shows this day or an earlier one. Whoever measures an older log of a lawn can say its date in a job
    /// sheet. To be moved on with the years.
    pub(crate) const FIRST: Date = jiff::civil::date(2008, 1, 1);
    /// The last day that is believed. From May 2026 on a receiver that is 1024 weeks ahead shows a later day.
    pub(crate) const LAST: Date = jiff::civil::date(2045, 12, 31);
    /// By how many days the date of a log may differ from that of the sheet. A walk may end after midnight, and midnight comes at another
    /// time in UTC than where the sheet was written.
    pub(crate) const SAME_DAY_DAYS: i64 = 1;
}

/// How inexactly a national grid may be tied to WGS 84 before that is told, metres: a receiver without corrections is off by as much anyway.
pub(crate) const GRID_TIED_M: f64 = 1.5;
