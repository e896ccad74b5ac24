//! Where the surveyor stood still, as one should at each corner.
//!
//! The input is a walk in time order and its pace. A standstill is a stretch of fixes that stays within a radius which the receiver's
//! noise explains, for longer than walking across that radius would take. It fixes a place better than fixes in passing do, as it
//! averages many of them.

use super::{Spot, wander_sigmas};
use crate::ring::{distance_m, distance2_m2};
use geo::Coord;

/// One standstill.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pause {
    /// Indices of its first and last spot.
    pub first: usize,
    pub last: usize,
    /// Mean of its spots, plane metres.
    pub at: Coord<f64>,
    pub lasted_s: f64,
    /// Root mean square distance from the mean, per axis, metres.
    pub scatter_m: f64,
}

/// If so many fixes lie within the radius in less time than a standstill takes, no real logger wrote them, or the radius is as wide as
/// the lawn. The search then goes on after them, as comparing each of them with all the others would take too long.
const MOST_FIXES: f64 = 2000.0;

/// Finds the standstills of a walk, in order: stretches of three fixes and 2.5 seconds at the least that stay within a radius which noise
/// explains but walking at `pace_m_s` does not.
pub(crate) fn find(spots: &[Spot], pace_m_s: f64) -> Vec<Pause> {
    let wander_sigmas = wander_sigmas(3.0);
    let mut pauses = Vec::new();
    let mut i = 0;
    while i < spots.len() {
        // A swaying pole, and twice what the receiver's error changes within three seconds.
        let radius_m = 0.15 + 2.0 * (spots[i].sigma() * wander_sigmas);
        let least_s = 2.5f64.max(3.0 * radius_m / pace_m_s.max(0.3));
        let mut sum = Coord { x: 0.0, y: 0.0 };
        let mut count = 0.0;
        let mut j = i;
        while j < spots.len() {
            let away = spots[j].at - spots[i].at;
            // Is this spot further from the mean so far than the radius? Both sides are multiplied by the count, which saves a division
            // and a root.
            let reach_m = radius_m * count;
            if distance2_m2(sum, away * count) > reach_m * reach_m {
                break;
            }
            sum = sum + away;
            count += 1.0;
            j += 1;
        }
        crate::steps::count(j - i);
        let lasted_s = spots[j - 1].t_s - spots[i].t_s;
        if lasted_s >= least_s && count >= 3.0 {
            pauses.push(standstill(spots, i, j - 1, spots[i].at + sum / count));
            i = j;
        } else if count > MOST_FIXES {
            i = j;
        } else {
            i += 1;
        }
    }
    pauses
}

/// The standstill among these spots, whose mean is `about`. The first and last of them may be steps in or out, far from the rest: they
/// are taken off where they lie further from the mean than two and a half times the scatter.
fn standstill(spots: &[Spot], mut first: usize, mut last: usize, about: Coord<f64>) -> Pause {
    let scatter_m = |a: usize, b: usize| -> f64 {
        let n = (b - a + 1) as f64;
        (spots[a..=b]
            .iter()
            .map(|s| distance_m(s.at, about).powi(2))
            .sum::<f64>()
            / (2.0 * n))
            .sqrt()
    };
    let tight_m = 2.5 * scatter_m(first, last);
    while first < last && distance_m(spots[first].at, about) > tight_m {
        first += 1;
    }
    while last > first && distance_m(spots[last].at, about) > tight_m {
        last -= 1;
    }
    let n = (last - first + 1) as f64;
    let shift = spots[first..=last]
        .iter()
        .fold(Coord { x: 0.0, y: 0.0 }, |s, p| s + (p.at - about))
        / n;
    Pause {
        first,
        last,
        at: about + shift,
        lasted_s: spots[last].t_s - spots[first].t_s,
        scatter_m: scatter_m(first, last),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_standstills_on_a_straight_walk() {
        let mut spots = Vec::new();
        let (mut x, mut t) = (0.0, 0.0);
        for leg in 0..3 {
            for _ in 0..10 {
                spots.push((x, t));
                x += 1.0;
                t += 1.0;
            }
            if leg < 2 {
                for k in 0..5 {
                    spots.push((x + 0.01 * (k % 2) as f64, t));
                    t += 1.0;
                }
            }
        }
        let spots: Vec<_> = spots
            .iter()
            .enumerate()
            .map(|(fix, &(x, t_s))| Spot {
                at: Coord { x, y: 0.0 },
                t_s,
                sigma_m: [0.02; 2],
                fix,
            })
            .collect();
        let pauses = find(&spots, 1.0);
        assert_eq!(pauses.len(), 2, "{pauses:?}");
        assert!((pauses[0].at.x - 10.0).abs() < 0.02 && (pauses[1].at.x - 20.0).abs() < 0.02);
        assert!((pauses[0].lasted_s - 5.0).abs() < 1.1);
    }
}
