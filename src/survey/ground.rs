//! How the ground falls, as the heights of the walks say.

use super::Survey;
use super::walked::Walked;
use crate::band::ground::{Ground, Height, fit};
use crate::fault::Warning;
use crate::fix::Fix;
use crate::order::Slope;
use crate::walk::Spot;

/// Heights used of one ring at most: more say no more of a plane.
const MOST: usize = 1000;

/// The heights along a walked line. Spots carry the index of their fix; `fixes` are in that order.
pub(super) fn heights(line: &[Spot], fixes: &[(usize, &Fix)]) -> Vec<Height> {
    line.iter()
        .step_by(line.len().div_ceil(MOST).max(1))
        .filter_map(|spot| {
            // Of a log that is one walk each fix stands at its own index.
            let fix = match fixes.get(spot.fix) {
                Some((index, fix)) if *index == spot.fix => fix,
                _ => {
                    fixes
                        .get(fixes.binary_search_by_key(&spot.fix, |f| f.0).ok()?)?
                        .1
                }
            };
            let height_m = fix.height_m.filter(|h| h.is_finite())?;
            Some(Height {
                at: spot.at,
                t_s: spot.t_s,
                height_m,
                sigma_m: spot.sigma(),
            })
        })
        .collect()
}

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
