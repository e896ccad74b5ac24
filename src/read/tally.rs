//! Counts what was dropped while reading: for which reason, how often, and at which lines first.

use crate::left_out::LeftOut;
use crate::read::Dropped;
use std::collections::BTreeMap;

/// How many of the first places are kept for each reason.
const PLACES: usize = 5;

/// The counts by reason, each with the file and line of the first few.
#[derive(Debug, Clone, Default)]
#[non_exhaustive]
pub struct Tally {
    reasons: BTreeMap<LeftOut, (u64, Vec<(u16, u32)>)>,
}

impl Tally {
    pub(crate) fn add(&mut self, reason: LeftOut, file: u16, line: u32) {
        let (count, places) = self.reasons.entry(reason).or_default();
        *count += 1;
        if places.len() < PLACES {
            places.push((file, line));
        }
    }

    pub(crate) fn count(&self, reason: LeftOut) -> u64 {
        self.reasons.get(&reason).map_or(0, |(count, _)| *count)
    }

    /// The first lines of this reason.
    pub(crate) fn lines(&self, reason: LeftOut) -> Vec<u32> {
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
                reason: *reason,
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
            tally.add(LeftOut::WrongChecksum, 0, line);
        }
        tally.add(LeftOut::Void, 1, 4);
        let dropped = tally.dropped(&["a.nmea".into(), "b.nmea".into()]);
        assert_eq!(dropped.len(), 2);
        assert_eq!(dropped[0].count, 9);
        assert_eq!(dropped[0].first.len(), PLACES);
        assert_eq!(dropped[0].first[0], "a.nmea line 1");
        assert_eq!(dropped[1].first, ["b.nmea line 4"]);
        assert_eq!(tally.damaged(), 9);
    }
}
