//! How the ground falls, as the heights of the walks say.

use super::Survey;
use super::walked::Walked;
use crate::band::ground::{Ground, Height, fit};
use crate::job::Job;
use crate::limits::walk::slope as limits;
use crate::notice::{NoSlope, Notice};
use crate::order::Slope;

/// The slope to go by: as the job sheet gives it, else as the heights of the walk have it. Where both do and do not agree, that is told.
pub(super) fn slope(survey: &Survey, job: &Job, warnings: &mut Vec<Notice>) -> Option<Slope> {
    let Some(given) = job.order.as_ref().and_then(Slope::given) else {
        return of_heights(survey, warnings);
    };
    // That heights tell nothing does not matter where the slope is given.
    let seen = of_heights(survey, &mut Vec::new());
    if let Some(seen) = seen {
        let sigma_percent = given.sigma_percent.hypot(seen.sigma_percent);
        let apart_percent = (given.percent - seen.percent).abs();
        if apart_percent > limits::APART_PERCENT.max(limits::APART_SIGMAS * sigma_percent) {
            warnings.push(Notice::SlopesDisagree {
                given_percent: given.percent,
                seen_percent: seen.percent,
                sigma_percent: seen.sigma_percent,
            });
        }
    }
    Some(given)
}

/// The slope of all lawns together, where their heights are good enough for one; a note where they are not.
fn of_heights(survey: &Survey, warnings: &mut Vec<Notice>) -> Option<Slope> {
    let heights: Vec<Height> = survey
        .lawns
        .iter()
        .flat_map(|lawn: &Walked| lawn.heights.iter().copied())
        .collect();
    match fit(&heights, survey.process.scale()) {
        Ground::Plane(fall) => Some(Slope {
            percent: fall.percent,
            sigma_percent: fall.sigma_percent,
            fall_deg: Some(fall.towards_deg),
            source: "heights",
        }),
        Ground::Rough { sigma_percent } => {
            warnings.push(Notice::SlopeUnknown {
                why: NoSlope::OutByPercent(sigma_percent),
            });
            None
        }
        Ground::Uneven { off_m } => {
            warnings.push(Notice::SlopeUnknown {
                why: NoSlope::OffThePlaneM(off_m),
            });
            None
        }
        Ground::Level | Ground::Unknown => None,
    }
}
