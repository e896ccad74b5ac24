//! What could be done next for a narrower band: what each remedy would do to it, computed with the same error process.

use super::Survey;
use super::measured::Remedy;
use super::refused::stopped_short;
use crate::band::budget::{Causes, assess};
use crate::band::model::{Process, Receiver, SigmaSource};
use crate::band::propagate::Pull;
use crate::cause::Cause;
use crate::next_step::NextStep;
use std::sync::Arc;

/// Predicts the band after each remedy that would narrow it by more than 3 %, in the order of falling bands: what helps most comes last.
pub(crate) fn remedies(survey: &Survey, confidence: f64) -> Vec<Remedy> {
    let now_m2 = survey.assess(confidence).band_m2;
    let mut remedies = Vec::new();
    let mut offer = |remedy: NextStep, band_m2: f64| {
        if band_m2 < 0.97 * now_m2 {
            remedies.push(Remedy { remedy, band_m2 });
        }
    };
    let band = |causes: &Causes, process: &Process| assess(process, causes, confidence).band_m2;
    // A lawn that was drawn cannot be walked once more.
    if !survey.lawns.iter().all(|lawn| lawn.track.drawn) {
        offer(
            NextStep::OneMoreLap,
            band(&more_laps(survey, 1), &survey.process),
        );
        offer(
            NextStep::TwoMoreLaps,
            band(&more_laps(survey, 2), &survey.process),
        );
        let mut paused = survey.causes.clone();
        paused.others.retain(|t| t.term != Cause::Sampling);
        offer(NextStep::PauseAtCorners, band(&paused, &survey.process));
    }
    if survey
        .lawns
        .iter()
        .any(|lawn| stopped_short(&lawn.warnings))
    {
        offer(
            NextStep::WalkToItsStart,
            band(&survey.causes, &survey.prior),
        );
    }
    let mut fixed = survey.causes.clone();
    for pull in Arc::make_mut(&mut fixed.pulls) {
        pull.pull_m2 = pull.pull_m2.map(|w| w * rtk_share(survey));
    }
    fixed.coarse.clear();
    // Nobody is told to get what he has.
    let with_rtk = match survey.lawns[0].track.receiver {
        Receiver::RtkFixed => None,
        Receiver::RtkFloat => Some(NextStep::WaitForFixed),
        _ => Some(NextStep::TakeRtk),
    };
    if let Some(remedy) = with_rtk {
        let process = Process::prior(Receiver::RtkFixed, SigmaSource::Gst, None);
        offer(remedy, band(&fixed, &process));
    }
    let check_sheet = survey.settled.facts.check_sheet.as_ref();
    if let Some(band_m2) = check_sheet.and_then(|sheet| sheet.band_m2) {
        offer(NextStep::TapeCheckLines, band_m2);
    }
    remedies.sort_by(|a, b| b.band_m2.total_cmp(&a.band_m2));
    remedies
}

/// The sigma of an RTK receiver as a part of the present one, at most 1.
fn rtk_share(survey: &Survey) -> f64 {
    let now_m = survey.lawns[0].track.sigma_m.max(1e-6);
    (Receiver::RtkFixed.sigma_m() / now_m).min(1.0)
}

/// The causes of error if the walker had gone on for more laps just like those walked: pulls repeated later in time, each with its
/// smaller part of the mean.
fn more_laps(survey: &Survey, more: u32) -> Causes {
    let laps = survey.lawns.iter().map(|l| l.laps).max().unwrap_or(1);
    let pulls = &survey.causes.pulls;
    let lasted_s = match (pulls.first(), pulls.last()) {
        (Some(first), Some(last)) => last.t_s - first.t_s,
        _ => 0.0,
    };
    let lap_s = lasted_s / f64::from(laps) + 1.0;
    let share = f64::from(laps) / f64::from(laps + more);
    // The last lap's pulls are the pattern of a further one.
    let pattern_from = pulls.last().map_or(0.0, |p| p.t_s) - lap_s;
    let pattern: Vec<Pull> = pulls
        .iter()
        .filter(|p| laps == 1 || p.t_s >= pattern_from)
        .copied()
        .collect();
    let mut causes = survey.causes.clone();
    for k in 1..=more {
        Arc::make_mut(&mut causes.pulls).extend(pattern.iter().map(|p| Pull {
            t_s: p.t_s + lap_s * f64::from(k),
            pull_m2: p.pull_m2,
        }));
    }
    for pull in Arc::make_mut(&mut causes.pulls) {
        pull.pull_m2 = pull.pull_m2.map(|w| w * share);
    }
    causes.in_order_of_time();
    causes.gradient2_m2 *= share;
    causes.laps += f64::from(more);
    for term in &mut causes.others {
        if term.term == Cause::Sampling {
            term.sigma_m2 *= share.sqrt();
        }
    }
    for ring in &mut causes.coarse {
        ring.laps /= share.sqrt();
    }
    causes
}
