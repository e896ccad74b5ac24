//! The words for why something was not used.

use crate::left_out::LeftOut;
use serde::{Serialize, Serializer};
use std::fmt::{self, Display, Formatter};

impl Display for LeftOut {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            LeftOut::WrongChecksum => "wrong checksum",
            LeftOut::MissingChecksum => "checksum missing",
            LeftOut::Torn => "sentence torn",
            LeftOut::OverLong => "sentence too long",
            LeftOut::BadTime => "time out of range",
            LeftOut::BadPosition => "latitude or longitude out of range, or exchanged",
            LeftOut::NotANumber => "not a number",
            LeftOut::NoTime => "no time in the record, though the others have one",
            LeftOut::Void => "receiver had no valid position",
            LeftOut::DeadReckoning => "dead reckoning, not measured",
            LeftOut::Repeated => "record repeated",
            LeftOut::OtherEngine => "position of another engine in the same receiver",
            LeftOut::BadXml => "damaged XML",
            LeftOut::BadRow => "row could not be read",
            LeftOut::Spike => "spike: far off the walk for a moment",
            LeftOut::OffTheWalk => "off the walk for a while, then back",
            LeftOut::Frozen => "position frozen while walking on",
            LeftOut::SecondStream => "second position stream, apart from the first",
            LeftOut::LeadIn => "lead-in, before the edge",
            LeftOut::LeadOut => "after the last whole lap",
            LeftOut::OddLap => "a lap that holds another area than the others",
        })
    }
}

/// Documents have the words.
impl Serialize for LeftOut {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(self)
    }
}
