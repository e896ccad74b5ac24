//! What the adjustment found, in a sentence or two.

use super::checks::{Check, unit_of};
use super::reading::{Line, Reading};
use super::snoop::{Finding, Snooped};

/// An error that nobody would notice is worth saying from this part of the length taped on.
const WORTH_SAYING: f64 = 0.05;

/// Where all tapes share one error, which `words` name.
pub(super) fn one_error(words: &str) -> String {
    format!(
        "The tapes share one error: {words}. They were not used; correct the sheet or check the tape against another."
    )
}

/// What was found, what became of it, and what is to be measured again. `inflation` is by how much all variances were too small.
pub(super) fn message(
    readings: &[Reading],
    checks: &[Check],
    snooped: &Snooped,
    inflation: f64,
) -> String {
    let mut said = found(readings, checks, snooped);
    if !snooped.accepted() {
        return said;
    }
    if inflation > 1.0 {
        said.push_str(&format!(
            " Together they disagree more than their errors allow, with none to blame; the error left was widened {:.1} times.",
            inflation.sqrt()
        ));
    }
    let unseen = unseen(readings, snooped);
    if !unseen.is_empty() {
        said.push_str(&format!(
            " Smallest misreading that would be noticed: {}; one more diagonal or square corner would catch smaller ones.",
            unseen.join(", ")
        ));
    }
    said
}

fn found(readings: &[Reading], checks: &[Check], snooped: &Snooped) -> String {
    let name = |k: usize| readings.get(k).map_or("?", |r| r.label.as_str());
    match &snooped.finding {
        Finding::Clean => "All readings fit each other and the walk.".to_string(),
        Finding::Named => {
            let misread = snooped.left_out.iter().map(|(k, size)| {
                let suspect = checks.get(*k).and_then(|c| c.suspect.as_deref());
                let why = suspect.map_or(String::new(), |s| format!(" ({s})"));
                let (unit, factor) = readings.get(*k).map_or(("m", 1.0), |r| unit_of(r.line));
                let size = size * factor;
                let too = match (unit, size > 0.0) {
                    ("m", true) => "long",
                    ("m", false) => "short",
                    (_, true) => "wide",
                    (_, false) => "narrow",
                };
                format!(
                    "{} doesn't fit: about {:.2} {unit} too {too}{why}. It was left out; measure it again.",
                    name(*k),
                    size.abs(),
                )
            });
            misread.collect::<Vec<_>>().join(" ")
        }
        Finding::OneOf(which) if which.len() > 1 => format!(
            "One of these is wrong, and the figure can't tell which: {}. None was used; measure them again, or one more line.",
            which
                .iter()
                .map(|k| name(*k))
                .collect::<Vec<_>>()
                .join(", ")
        ),
        Finding::OneOf(which) => format!(
            "{} and the walk don't fit, and nothing else says which is wrong. It was not used; measure it again, and one more line.",
            which.first().map_or("The tape", |k| name(*k))
        ),
        Finding::Scale(factor) => format!(
            "All tapes are {:.1} % {} than the walk. They were not used; check the tape against another.",
            100.0 * (factor - 1.0).abs(),
            if *factor > 1.0 { "longer" } else { "shorter" }
        ),
    }
}

/// The lengths that could be misread by much with nothing to show it, each with the smallest error that would be noticed.
fn unseen(readings: &[Reading], snooped: &Snooped) -> Vec<String> {
    let used = snooped.used.iter().zip(&snooped.adjustment.residuals);
    used.filter_map(|(k, residual)| {
        let r = readings.get(*k)?;
        let length = matches!(r.line, Line::Length { .. });
        (length && residual.detectable > WORTH_SAYING * r.value)
            .then(|| format!("{} {:.1} m", r.label, residual.detectable))
    })
    .collect()
}
