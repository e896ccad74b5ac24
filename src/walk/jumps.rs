//! Places where the position moved, not the walker.

use super::clean::Reach;
use super::{Spot, wander_m};
use crate::ring::{distance_m, dot};

/// A place where the position moved further than walking and noise allow, and stayed there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Jump {
    /// Index of the spot before it, in the cleaned walk.
    pub after: usize,
    pub by_m: f64,
    /// Further than anyone walks, whichever way; otherwise only unlike the steps before and after.
    pub beyond_reach: bool,
}

/// All jumps of a walk, in its order.
pub(super) fn find(spots: &[Spot], reach: &Reach) -> Vec<Jump> {
    let mut jumps = sidesteps(spots, reach);
    for (after, pair) in spots.windows(2).enumerate() {
        let by_m = distance_m(pair[0].at, pair[1].at);
        if by_m > reach.between_m(&pair[0], &pair[1]) {
            jumps.push(Jump {
                after,
                by_m,
                beyond_reach: true,
            });
        }
    }
    // Both tests may see the same place.
    jumps.sort_by(|a, b| {
        a.after
            .cmp(&b.after)
            .then(b.beyond_reach.cmp(&a.beyond_reach))
    });
    jumps.dedup_by_key(|j| j.after);
    jumps
}

/// Steps that neither the way before nor the way after leads to expect, where these two agree: the position moved, not
/// the walker. Straight on, that is a step aside, back or ahead; at a standstill any step.
fn sidesteps(spots: &[Spot], reach: &Reach) -> Vec<Jump> {
    // How far a walker may well step otherwise than before and after between two fixes, as a part of the step, and on
    // top of it, metres.
    const PART: f64 = 0.35;
    const ASIDE_M: f64 = 0.5;
    // How many times its usual length a step may be.
    const HURRY: f64 = 1.7;
    // Two ways agree that differ by less than this part of the pace, and twice their noise.
    const ALIKE: f64 = 0.65;
    let mut jumps = Vec::new();
    let fixes = ((2.0 / reach.step_s).round() as usize).clamp(2, 20);
    for at in fixes..spots.len().saturating_sub(fixes + 1) {
        let (before, from, to, after) = (
            &spots[at - fixes],
            &spots[at],
            &spots[at + 1],
            &spots[at + 1 + fixes],
        );
        let (one_s, step_s, other_s) =
            (from.t_s - before.t_s, to.t_s - from.t_s, after.t_s - to.t_s);
        if one_s + step_s + other_s > 1.6 * (2 * fixes + 1) as f64 * reach.step_s
            || one_s <= 0.0
            || other_s <= 0.0
        {
            continue;
        }
        let (one, other) = ((from.at - before.at) / one_s, (after.at - to.at) / other_s);
        let way_noise = reach.rough_m.max(wander_m(from.sigma(), one_s)) / one_s;
        if distance_m(one, other) > ALIKE * reach.pace_m_s + 2.0 * way_noise {
            continue;
        }
        let expected = (one + other) * (0.5 * step_s);
        // One may hesitate, or hurry.
        let step = to.at - from.at;
        let share = (dot(step, expected) / dot(expected, expected).max(1e-12)).clamp(0.0, HURRY);
        let by_m = distance_m(step, expected * share);
        let noise_m = 4.5 * reach.rough_m.max(wander_m(from.sigma(), step_s));
        if by_m > ASIDE_M + PART * reach.pace_m_s * step_s + noise_m {
            jumps.push(Jump {
                after: at,
                by_m,
                beyond_reach: false,
            });
        }
    }
    jumps
}
