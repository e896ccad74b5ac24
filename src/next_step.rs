//! What could be done for a narrower band, or to see an error that nothing shows now.

/// One thing to do. The words for each stand in `sheet/say`, and in documents.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
#[allow(missing_docs, reason = "the names say it")]
pub enum NextStep {
    OneMoreLap,
    TwoMoreLaps,
    PauseAtCorners,
    WalkToItsStart,
    WaitForFixed,
    TakeRtk,
    TapeCheckLines,
    TapeTwice,
    /// Offsets and radii of a taped figure, twice as many of them.
    TapeCloser,
    /// To see a drift that a single lap does not show.
    SecondLap,
}
