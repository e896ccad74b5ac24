//! The words for what could be done next.

use crate::next_step::NextStep;
use serde::{Serialize, Serializer};
use std::fmt::{self, Display, Formatter};

impl Display for NextStep {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            NextStep::OneMoreLap => "one more lap",
            NextStep::TwoMoreLaps => "two more laps",
            NextStep::PauseAtCorners => "pausing at every corner",
            NextStep::WalkToItsStart => "walking it again, to its start",
            NextStep::WaitForFixed => "waiting for a fixed solution",
            NextStep::TakeRtk => "an RTK receiver with a fixed solution",
            NextStep::TapeCheckLines => "taping the lines of the check sheet",
            NextStep::TapeTwice => "every length taped twice, the mean used",
            NextStep::TapeCloser => "offsets and radii twice as close",
            NextStep::SecondLap => "a second lap",
        })
    }
}

/// Documents have the words.
impl Serialize for NextStep {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(self)
    }
}
