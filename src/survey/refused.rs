//! Why no area is given, by its own cause: what was taken off, a walk that stopped early, or an error as large as the lawn.

use super::Survey;
use crate::band::budget::Assessment;
use crate::band::model::Receiver;
use crate::fault::Fault;
use crate::notice::Notice;
use crate::units::Rounded;

/// Nothing that could be ordered on is left, or nothing at all.
pub(super) fn fault(survey: &Survey, net_m2: f64, band: &Assessment) -> Option<Fault> {
    if !(net_m2 <= 0.0 || band.band_m2 >= net_m2) {
        return None;
    }
    // The lawn before anything was taken off is known well enough.
    if band.band_m2 < 0.5 * survey.gross_m2 && survey.deductions_m2 > 0.5 * survey.gross_m2 {
        return Some(all_taken(survey, net_m2));
    }
    let shown = Rounded::new(net_m2, band.band_m2);
    let most = band
        .terms
        .iter()
        .max_by(|a, b| a.sigma_m2.total_cmp(&b.sigma_m2));
    let stopped = survey
        .lawns
        .iter()
        .any(|lawn| stopped_short(&lawn.warnings));
    let receiver = survey.lawns.first().map(|lawn| lawn.track.receiver);
    let (error, advice) = match most.map_or("", |term| term.term) {
        "position" if stopped => (
            "the log stops short of its start, and what may lie behind that is as large as the lawn",
            "Walk it again, to the start and a few steps past it.",
        ),
        "position" => (
            "the receiver's error is as large as the lawn",
            match receiver {
                Some(Receiver::RtkFixed) => "Tape this lawn, or walk it again under a freer sky.",
                Some(Receiver::RtkFloat) => {
                    "Tape this lawn, or wait for a fixed solution and walk it again."
                }
                _ => "Tape this lawn, or walk it with an RTK receiver.",
            },
        ),
        "edge" => (
            "how truly the edge was followed is not known to less than the lawn itself",
            "Check carry_m and carry_sigma_m; hold the antenna over the edge, or tape this lawn.",
        ),
        _ => (
            "its error is as large as the lawn",
            "Tape this lawn, or walk it again with a position every second.",
        ),
    };
    let what = format!(
        "The area comes out as {} m² with an error band of ± {} m²: {error}.",
        shown.value, shown.uncertainty
    );
    Some(Fault::withheld("band-exceeds-area", what, advice))
}

/// Whether the log of a walk ends with its start ahead.
pub(super) fn stopped_short(warnings: &[Notice]) -> bool {
    let mut all = warnings.iter();
    all.any(|notice| matches!(notice, Notice::StoppedShort { .. }))
}

fn all_taken(survey: &Survey, net_m2: f64) -> Fault {
    let deductions = survey.laid.deductions.iter();
    let most = deductions.max_by(|a, b| a.deducted_m2.total_cmp(&b.deducted_m2));
    let (label, m2) = most.map_or(("", 0.0), |d| (d.label.as_str(), d.deducted_m2));
    let left = match net_m2 > 0.0 {
        true => "nothing certain",
        false => "nothing",
    };
    Fault::withheld(
        "deductions-exceed-lawn",
        format!(
            "What is taken off leaves {left} of the lawn: {:.1} m² of {:.1} m², most of it “{label}” ({m2:.1} m²).",
            survey.deductions_m2, survey.gross_m2
        ),
        "Check the sizes, units and places of the deductions on the job sheet, and which log is whose.",
    )
}
