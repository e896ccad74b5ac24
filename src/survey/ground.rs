//! How the ground falls, as the heights of the walks say.

use super::Survey;
use super::walked::Walked;
use crate::band::ground::{Ground, Height, fit};
use crate::fault::Warning;
use crate::order::Slope;

/// The slope of all lawns together, where their heights are good enough for one; a note where they are not.
pub(super) fn slope(survey: &Survey, warnings: &mut Vec<Warning>) -> Option<Slope> {
    let heights: Vec<Height> = survey
        .lawns
        .iter()
        .flat_map(|lawn: &Walked| lawn.heights.iter().copied())
        .collect();
    let plan = "Areas are as on a plan. Where the lawn falls more than 1 in 7, measure the fall and give slope_percent in the job sheet.";
    match fit(&heights, survey.process.scale()) {
        Ground::Plane(fall) => Some(Slope {
            percent: fall.percent,
            sigma_percent: fall.sigma_percent,
            fall_deg: Some(fall.towards_deg),
            source: "heights",
        }),
        Ground::Rough { sigma_percent } => {
            warnings.push(Warning::note(
                "slope-unknown",
                format!(
                    "The heights in the log are too rough for a slope (it would be out by {sigma_percent:.0} %, one sigma) and were not \
                     used. {plan}"
                ),
            ));
            None
        }
        Ground::Uneven { off_m } => {
            warnings.push(Warning::note(
                "slope-unknown",
                format!(
                    "The ground is no one plane: its heights are {off_m:.1} m off the best one, and were not used. {plan}"
                ),
            ));
            None
        }
        Ground::Level | Ground::Unknown => None,
    }
}
