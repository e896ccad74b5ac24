//! The laps of a walk, or why it has none: it stands still, or does not come round.

use crate::limits::walk::still;
use crate::notice::Course;
use crate::refusal::Refusal;
use crate::ring::distance_m;
use crate::walk::clean::Cleaned;
use crate::walk::laps::{self, Laps, NoLap};
use crate::walk::{Spot, wander_m};

/// The laps of a walk.
///
/// # Errors
/// It stands still, or does not come round.
pub(super) fn find(cleaned: &Cleaned, sigma_m: f64, what: &Course) -> Result<Laps, Refusal> {
    let stands_still = || Refusal::StandsStill { walk: what.clone() };
    if !moves(&cleaned.spots, sigma_m) {
        return Err(stands_still());
    }
    laps::find(&cleaned.spots, sigma_m).map_err(|why| match why {
        NoLap::StandsStill => stands_still(),
        NoLap::Open { turn, ends_apart_m } => Refusal::OpenWalk {
            walk: what.clone(),
            turned_share: turn.min(1.0),
            ends_apart_m,
        },
    })
}

/// Whether the walker got anywhere, by net progress over windows of time: at a stroll within ten seconds or, however slowly, within half
/// a minute or a minute further than wandering takes a receiver that stands.
fn moves(spots: &[Spot], sigma_m: f64) -> bool {
    let slowly_m =
        |lasted_s| (still::WANDERINGS * wander_m(sigma_m, lasted_s)).max(still::GETS_ON_M);
    match gets_on(spots, 10.0, |lasted_s| still::STROLL_M_S * lasted_s) {
        Some(share) if share < still::OF_SHORT_SHARE => {
            [(30.0, still::OF_SHORT_SHARE), (60.0, still::OF_LONG_SHARE)]
                .into_iter()
                .any(|(window_s, least)| {
                    gets_on(spots, window_s, slowly_m).is_some_and(|share| share >= least)
                })
        }
        _ => true,
    }
}

/// The part of all windows of so many seconds, 0 to 1, in which the way from end to end is longer than `least_m`; `None` where there are
/// fewer than three windows.
fn gets_on(spots: &[Spot], window_s: f64, least_m: impl Fn(f64) -> f64) -> Option<f64> {
    let (mut windows, mut moving) = (0u32, 0u32);
    let mut from = 0;
    for (i, spot) in spots.iter().enumerate() {
        let lasted_s = spot.t_s - spots[from].t_s;
        if lasted_s >= window_s {
            windows += 1;
            moving += u32::from(distance_m(spots[from].at, spot.at) > least_m(lasted_s));
            from = i;
        }
    }
    (windows >= 3).then(|| f64::from(moving) / f64::from(windows))
}
