//! Why a record of a log, or a position of a walk, was not used. The words for each reason stand in `sheet/say`.

/// The reasons of reading first, then those of the walk.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
#[allow(missing_docs, reason = "the names of those of reading say it")]
pub enum LeftOut {
    WrongChecksum,
    MissingChecksum,
    Torn,
    OverLong,
    BadTime,
    BadPosition,
    NotANumber,
    NoTime,
    Void,
    DeadReckoning,
    Repeated,
    OtherEngine,
    BadXml,
    BadRow,
    /// A few fixes far off the walk, which then goes on where it was.
    Spike,
    /// A longer stretch off the walk.
    OffTheWalk,
    /// One position repeated while the surveyor walked on.
    Frozen,
    /// A second position stream woven into the first.
    SecondStream,
    /// Before the edge was reached.
    LeadIn,
    /// After the edge was left, or past the start again.
    LeadOut,
    /// A lap that holds another area than the others.
    OddLap,
}

impl LeftOut {
    /// Whether it shows that the file itself is damaged.
    pub(crate) fn is_damage(self) -> bool {
        use LeftOut::{
            BadPosition, BadRow, BadTime, BadXml, MissingChecksum, NotANumber, OverLong, Torn,
            WrongChecksum,
        };
        matches!(
            self,
            WrongChecksum
                | MissingChecksum
                | Torn
                | OverLong
                | BadTime
                | BadPosition
                | NotANumber
                | BadXml
                | BadRow
        )
    }
}
