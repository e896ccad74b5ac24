//! The slope of the ground: as the job sheet gives it, else as the heights of the walks say.

use super::walked::Walked;
use crate::band::ground::{Ground, Height, fit};
use crate::band::model::Process;
use crate::job::Job;
use crate::limits::walk::slope as limits;
use crate::notice::{NoSlope, Notice};
use crate::order::Slope;

/// The slope to go by: as the job sheet gives it, else as the heights of the walk have it; `None` where neither says. If both do and
/// disagree, a notice says so.
pub(super) fn slope(
    lawns: &[Walked],
    process: &Process,
    job: &Job,
) -> (Option<Slope>, Option<Notice>) {
    let seen = of_heights(lawns, process);
    let Some(given) = job.order.as_ref().and_then(Slope::given) else {
        let unknown = |why| Notice::SlopeUnknown { why };
        return seen.map_or_else(|why| (None, why.map(unknown)), |slope| (Some(slope), None));
    };
    // If the slope is given, it does not matter that heights may say nothing.
    let disagree = seen.ok().filter(|seen| {
        let sigma_percent = given.sigma_percent.hypot(seen.sigma_percent);
        let apart_percent = (given.percent - seen.percent).abs();
        apart_percent > limits::APART_PERCENT.max(limits::APART_SIGMAS * sigma_percent)
    });
    let told = disagree.map(|seen| Notice::SlopesDisagree {
        given_percent: given.percent,
        seen_percent: seen.percent,
        sigma_percent: seen.sigma_percent,
    });
    (Some(given), told)
}

/// The slope of all lawns together, where their heights are good enough for one. Otherwise the reason why there is none, or `None` for
/// level ground and for logs without heights.
fn of_heights(lawns: &[Walked], process: &Process) -> Result<Slope, Option<NoSlope>> {
    let heights = lawns.iter().flat_map(|lawn| lawn.heights.iter().copied());
    let heights: Vec<Height> = heights.collect();
    match fit(&heights, process.scale()) {
        Ground::Plane(fall) => Ok(Slope {
            percent: fall.percent,
            sigma_percent: fall.sigma_percent,
            fall_deg: Some(fall.towards_deg),
            source: "heights",
        }),
        Ground::Rough { sigma_percent } => Err(Some(NoSlope::OutByPercent(sigma_percent))),
        Ground::Uneven { off_m } => Err(Some(NoSlope::OffThePlaneM(off_m))),
        Ground::Level | Ground::Unknown => Err(None),
    }
}
