//! Counts what was dropped while reading: for which reason, how often, and at which lines first.

use crate::read::Dropped;
use std::collections::BTreeMap;

/// Why a record was not used.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum Reason {
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
}

impl Reason {
    /// In plain words, as sheets print it.
    pub(crate) fn text(self) -> &'static str {
        match self {
            Reason::WrongChecksum => "wrong checksum",
            Reason::MissingChecksum => "checksum missing",
            Reason::Torn => "sentence torn",
            Reason::OverLong => "sentence too long",
            Reason::BadTime => "time out of range",
            Reason::BadPosition => "latitude or longitude out of range, or exchanged",
            Reason::NotANumber => "not a number",
            Reason::NoTime => "no time in the record, though the others have one",
            Reason::Void => "receiver had no valid position",
            Reason::DeadReckoning => "dead reckoning, not measured",
            Reason::Repeated => "record repeated",
            Reason::OtherEngine => "position of another engine in the same receiver",
            Reason::BadXml => "damaged XML",
            Reason::BadRow => "row could not be read",
        }
    }

    /// Whether it shows that the file itself is damaged.
    fn is_damage(self) -> bool {
        !matches!(
            self,
            Reason::Void
                | Reason::DeadReckoning
                | Reason::Repeated
                | Reason::OtherEngine
                | Reason::NoTime
        )
    }
}

/// How many of the first places are kept for each reason.
const PLACES: usize = 5;

/// The counts by reason, each with the file and line of the first few.
#[derive(Debug, Clone, Default)]
#[non_exhaustive]
pub struct Tally {
    reasons: BTreeMap<Reason, (u64, Vec<(u16, u32)>)>,
}

impl Tally {
    pub(crate) fn add(&mut self, reason: Reason, file: u16, line: u32) {
        let (count, places) = self.reasons.entry(reason).or_default();
        *count += 1;
        if places.len() < PLACES {
            places.push((file, line));
        }
    }

    pub(crate) fn count(&self, reason: Reason) -> u64 {
        self.reasons.get(&reason).map_or(0, |(count, _)| *count)
    }

    /// The first lines of this reason.
    pub(crate) fn lines(&self, reason: Reason) -> Vec<u32> {
        let places = self.reasons.get(&reason).map(|(_, places)| places);
        places
            .into_iter()
            .flatten()
            .map(|(_, line)| *line)
            .collect()
    }

    /// How many records were dropped as damaged.
    pub(crate) fn damaged(&self) -> u64 {
        self.reasons
            .iter()
            .filter(|(reason, _)| reason.is_damage())
            .map(|(_, (count, _))| count)
            .sum()
    }

    /// Adds the counts of another tally.
    pub(crate) fn join(&mut self, other: Tally) {
        for (reason, (count, places)) in other.reasons {
            let mine = self.reasons.entry(reason).or_default();
            mine.0 += count;
            let room = PLACES.saturating_sub(mine.1.len());
            mine.1.extend(places.into_iter().take(room));
        }
    }

    /// As the result document lists it; `names` are the files' names.
    pub(crate) fn dropped(&self, names: &[String]) -> Vec<Dropped> {
        self.reasons
            .iter()
            .map(|(reason, (count, places))| Dropped {
                reason: reason.text().to_string(),
                count: *count,
                first: places
                    .iter()
                    .map(|(file, line)| match names.get(usize::from(*file)) {
                        Some(name) => format!("{name} line {line}"),
                        None => format!("line {line}"),
                    })
                    .collect(),
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_all_and_keeps_the_first_places() {
        let mut tally = Tally::default();
        for line in 1..=9 {
            tally.add(Reason::WrongChecksum, 0, line);
        }
        tally.add(Reason::Void, 1, 4);
        let dropped = tally.dropped(&["a.nmea".into(), "b.nmea".into()]);
        assert_eq!(dropped.len(), 2);
        assert_eq!(dropped[0].count, 9);
        assert_eq!(dropped[0].first.len(), PLACES);
        assert_eq!(dropped[0].first[0], "a.nmea line 1");
        assert_eq!(dropped[1].first, ["b.nmea line 4"]);
        assert_eq!(tally.damaged(), 9);
    }
}
