//! Why no area is given, by its own cause: too much was taken off, a walk stopped early, or the error is as large as the lawn.

use super::Survey;
use crate::band::budget::Assessment;
use crate::band::model::Receiver;
use crate::notice::Notice;
use crate::refusal::Refusal;

/// The refusal where the net area is nothing, or no larger than its band; `None` where it can be given.
pub(super) fn refusal(survey: &Survey, net_m2: f64, band: &Assessment) -> Option<Refusal> {
    if !(net_m2 <= 0.0 || band.band_m2 >= net_m2) {
        return None;
    }
    // The lawn before anything was taken off is known well enough, so that the deductions are the cause.
    if band.band_m2 < 0.5 * survey.gross_m2 && survey.deductions_m2 > 0.5 * survey.gross_m2 {
        return Some(all_taken(survey));
    }
    let terms = band.terms.iter();
    let most = terms.max_by(|a, b| a.sigma_m2.total_cmp(&b.sigma_m2));
    let mut lawns = survey.lawns.iter();
    let receiver = survey.lawns.first().map(|lawn| lawn.track.receiver);
    Some(Refusal::BandExceedsArea {
        net_m2,
        band_m2: band.band_m2,
        mostly: most.map(|term| term.term),
        stopped_short: lawns.any(|lawn| stopped_short(&lawn.warnings)),
        receiver: receiver.unwrap_or(Receiver::Unknown),
    })
}

/// Whether a walk's log ends before its start was reached again, with the start straight ahead.
pub(super) fn stopped_short(warnings: &[Notice]) -> bool {
    let mut all = warnings.iter();
    all.any(|notice| matches!(notice, Notice::StoppedShort { .. }))
}

/// The refusal that names the largest deduction.
fn all_taken(survey: &Survey) -> Refusal {
    let deductions = survey.laid.deductions.iter();
    let most = deductions.max_by(|a, b| a.deducted_m2.total_cmp(&b.deducted_m2));
    Refusal::AllTaken {
        label: most.map_or_else(String::new, |most| most.label.clone()),
        label_m2: most.map_or(0.0, |most| most.deducted_m2),
        deductions_m2: survey.deductions_m2,
        gross_m2: survey.gross_m2,
    }
}
