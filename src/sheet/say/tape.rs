//! The sentences that a person reads after tape readings were compared with a walk or with each other: which reading does not fit, what
//! was done about it, and what to measure again.

use super::amount::length;
use crate::finding::{Finding, Found, Misread, Unfit};
use crate::units::Units;
use serde::{Serialize, Serializer};
use std::fmt::{self, Display, Formatter};

/// In the result document a finding is its sentences, in metric units.
impl Serialize for Found {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(self)
    }
}

/// In the result document it is a sentence, in metric units.
impl Serialize for Unfit {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(self)
    }
}

impl Display for Found {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        f.write_str(&self.said(Units::Metric))
    }
}

impl Display for Unfit {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        f.write_str(&self.said(Units::Metric))
    }
}

impl Found {
    /// What was found and what to do, in a few sentences, lengths in these units.
    #[must_use]
    pub fn said(&self, units: Units) -> String {
        let mut said = self.finding.said(units);
        if let Some(times) = self.widened {
            said.push_str(&format!(
                " Together they disagree more than their errors allow, with none to blame; the error left was widened {times:.1} times."
            ));
        }
        if !self.unseen.is_empty() {
            let unseen = self.unseen.iter();
            let unseen = unseen.map(|(line, m)| format!("{line} {}", length(units, *m, 1)));
            said.push_str(&format!(
                " Smallest misreading that would be noticed: {}; one more diagonal or square corner would catch smaller ones.",
                unseen.collect::<Vec<_>>().join(", ")
            ));
        }
        if self.points_missing {
            said.push_str(
                " The tape was not used for the area, because the walk lacks some of the points it was taken between, or has them out of order.",
            );
        }
        said
    }
}

impl Finding {
    fn said(&self, units: Units) -> String {
        match self {
            Finding::Clean => "All readings fit each other and the walk.".to_owned(),
            Finding::Named(misread) => {
                let each = misread.iter().map(|one| {
                    let why = one.slip.map_or(String::new(), |slip| format!(" ({slip})"));
                    format!(
                        "{} doesn't fit: {}{why}. It was left out; measure it again.",
                        one.line,
                        one.too_much(units)
                    )
                });
                each.collect::<Vec<_>>().join(" ")
            }
            Finding::OneOf(lines) if lines.len() > 1 => format!(
                "One of these is wrong, and the figure can't tell which: {}. None was used; measure them again, or one more line.",
                lines.join(", ")
            ),
            Finding::OneOf(lines) => format!(
                "{} and the walk don't fit, and nothing else says which is wrong. It was not used; measure it again, and one more line.",
                lines.first().map_or("The tape", String::as_str)
            ),
            Finding::Scale(factor) => format!(
                "All tapes are {:.1} % {} than the walk. They were not used; check the tape against another.",
                100.0 * (factor - 1.0).abs(),
                if *factor > 1.0 { "longer" } else { "shorter" }
            ),
            Finding::OneError(words) => format!(
                "The tapes share one error: {words}. They were not used; correct the sheet or check the tape against another."
            ),
            Finding::Torn(why) => why.clone(),
        }
    }
}

impl Misread {
    /// By how much a reading is wrong and which way, as in `0.30 m too long` or `2.00 deg too narrow`.
    fn too_much(&self, units: Units) -> String {
        match (self.unit, self.by > 0.0) {
            ("deg", true) => format!("about {:.2} deg too wide", self.by),
            ("deg", false) => format!("about {:.2} deg too narrow", self.by.abs()),
            (_, true) => format!("about {} too long", length(units, self.by, 2)),
            (_, false) => format!("about {} too short", length(units, self.by.abs(), 2)),
        }
    }
}

impl Unfit {
    /// What is wrong with the lengths of a figure and what to do, in a sentence, lengths in these units.
    #[must_use]
    pub fn said(&self, units: Units) -> String {
        match &self.0 {
            Finding::Named(misread) => {
                let each = misread.iter();
                let each = each.map(|one| format!("{} ({})", one.line, one.too_much(units)));
                let (fit, it) = match misread.len() {
                    1 => ("doesn't fit the other lengths and was", "it"),
                    _ => ("don't fit the other lengths and were", "them"),
                };
                format!(
                    "{} {fit} left out; tape {it} again.",
                    each.collect::<Vec<_>>().join(", ")
                )
            }
            Finding::OneOf(lines) => format!(
                "One of these is wrong, and the lengths can't tell which: {}. Tape them again, or one more diagonal.",
                lines.join(", ")
            ),
            _ => "The lengths don't fit each other; tape them again.".to_owned(),
        }
    }
}
