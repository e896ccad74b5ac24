//! Turns what the adjustment found into values with names for the report: which readings were misread, by how much, and which could be
//! without anyone noticing.

use super::checks::{Check, unit_of};
use super::reading::{Line, Reading};
use super::snoop::{self, Snooped};
use crate::finding::{Finding, Found, Misread};
use crate::limits::tape::UNSEEN_SHARE;

/// What was found in a walk. `inflation` is the factor by which all variances had to be raised, 1 where they fit.
pub(super) fn found(
    readings: &[Reading],
    checks: &[Check],
    snooped: &Snooped,
    inflation: f64,
) -> Found {
    let slip = |k: usize| checks.get(k).and_then(|check| check.suspect);
    let finding = finding(readings, snooped, slip);
    if !snooped.accepted() {
        return finding.into();
    }
    Found {
        finding,
        widened: (inflation > 1.0).then(|| inflation.sqrt()),
        unseen: unseen(readings, snooped),
        points_missing: false,
    }
}

/// The finding of the search, with the readings' names and, for each misread one, the slip that would explain it.
pub(super) fn finding(
    readings: &[Reading],
    snooped: &Snooped,
    slip: impl Fn(usize) -> Option<&'static str>,
) -> Finding {
    let name = |k: usize| readings.get(k).map_or("?", |r| r.label.as_str()).to_owned();
    match &snooped.finding {
        snoop::Finding::Clean => Finding::Clean,
        snoop::Finding::Named => {
            let misread = snooped.left_out.iter().map(|(k, size)| {
                let (unit, factor) = readings.get(*k).map_or(("m", 1.0), |r| unit_of(r.line));
                Misread {
                    line: name(*k),
                    by: size * factor,
                    unit,
                    slip: slip(*k),
                }
            });
            Finding::Named(misread.collect())
        }
        snoop::Finding::OneOf(which) => Finding::OneOf(which.iter().map(|k| name(*k)).collect()),
        snoop::Finding::Scale(factor) => Finding::Scale(*factor),
    }
}

/// The lengths that could be misread by a large part of their size without anything showing it, each with the smallest error that would
/// be noticed, metres.
fn unseen(readings: &[Reading], snooped: &Snooped) -> Vec<(String, f64)> {
    let used = snooped.used.iter().zip(&snooped.adjustment.residuals);
    used.filter_map(|(k, residual)| {
        let r = readings.get(*k)?;
        let length = matches!(r.line, Line::Length { .. });
        (length && residual.detectable > UNSEEN_SHARE * r.value)
            .then(|| (r.label.clone(), residual.detectable))
    })
    .collect()
}
