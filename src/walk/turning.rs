//! How often a closed walk turns about itself: the direction of walking comes round once a lap, wherever the laps lie.
//!
//! On a lawn hardly larger than the position error, two laps may lie beside each other, and no place is inside both; counting from an
//! inside then finds too few laps. A slow error shifts a lap but leaves its directions alone, so that here they are counted instead. Fast
//! noise would spoil the directions, so the walk is averaged first.

use super::Spot;
use crate::ring::{cross, distance_m, dot};
use geo::Coord;
use std::f64::consts::TAU;

/// The ways in which turns are counted: half the window of averaging in seconds (applied twice), and the least step between places,
/// metres. They disagree where noise decides, so that several are asked.
const COUNTS: [(f64, f64); 5] = [(2.0, 2.0), (2.0, 3.0), (3.0, 1.0), (3.0, 2.0), (3.0, 3.0)];

/// A lawn that is less than this many sigmas wide may have its laps beside each other. There the highest of the counts is believed (of
/// some 590 simulated walks whose laps were seen rightly from the inside it made one too many of 3, and it put right 42 of 147 others).
/// From there to twice that width the middle one of the counts is believed.
const NARROW_SIGMAS: f64 = 4.0;

/// The number of laps in a closed walk in which `found` were seen from its inside: `found` or more. `area_m2` is what the whole walk
/// holds, all laps together.
pub(crate) fn laps(walk: &[Spot], found: usize, area_m2: f64, sigma_m: f64) -> usize {
    let wide_sigmas = |laps: usize| (area_m2.abs() / laps as f64).sqrt() / sigma_m;
    if wide_sigmas(found + 1) > 2.0 * NARROW_SIGMAS {
        return found;
    }
    let mut counts = COUNTS.map(|(half_s, step_m)| {
        let once = averaged(walk, |i| walk[i].at, |_| half_s);
        let calm = averaged(walk, |i| once[i], |_| half_s);
        turns(&stepped(&calm, step_m)).abs().round() as usize
    });
    counts.sort_unstable();
    let most = counts[COUNTS.len() - 1];
    let laps = if wide_sigmas(most.max(1)) < NARROW_SIGMAS {
        most
    } else {
        counts[COUNTS.len() / 2]
    };
    laps.max(found)
}

/// For each spot the mean of the places within `half_s` seconds of it either way, by its own time. `half_s` may differ from spot to spot,
/// but no window may begin or end before that of the spot before it does.
pub(crate) fn averaged(
    spots: &[Spot],
    at: impl Fn(usize) -> Coord<f64>,
    half_s: impl Fn(f64) -> f64,
) -> Vec<Coord<f64>> {
    let (mut from, mut to) = (0, 0);
    let mut sum = Coord { x: 0.0, y: 0.0 };
    spots
        .iter()
        .map(|spot| {
            let half_s = half_s(spot.t_s).max(0.0);
            while to < spots.len() && spots[to].t_s <= spot.t_s + half_s {
                sum = sum + at(to);
                to += 1;
            }
            while spots[from].t_s < spot.t_s - half_s {
                sum = sum - at(from);
                from += 1;
            }
            sum / (to - from).max(1) as f64
        })
        .collect()
}

/// The ring thinned to places that are at least a step apart, the last and the first as well.
fn stepped(places: &[Coord<f64>], step_m: f64) -> Vec<Coord<f64>> {
    let mut ring: Vec<Coord<f64>> = Vec::new();
    for &at in places {
        if ring
            .last()
            .is_none_or(|&last| distance_m(last, at) >= step_m)
        {
            ring.push(at);
        }
    }
    while ring.len() > 1 && distance_m(ring[0], ring[ring.len() - 1]) < step_m {
        ring.pop();
    }
    ring
}

/// Turns of the direction along a closed ring, counter-clockwise positive: 1 or -1 where it never crosses itself, and about a whole
/// number always.
pub(crate) fn turns(ring: &[Coord<f64>]) -> f64 {
    let n = ring.len();
    let step = |i: usize| ring[(i + 1) % n] - ring[i % n];
    let turned: f64 = (0..n)
        .map(|i| cross(step(i), step(i + 1)).atan2(dot(step(i), step(i + 1))))
        .sum();
    turned / TAU
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Laps of a rectangle of 6 x 5 m at a metre a second while the error drifts from each of these to the next.
    fn walk(drift: &[(f64, f64)]) -> Vec<Spot> {
        let corners = [(0.0, 0.0), (6.0, 0.0), (6.0, 5.0), (0.0, 5.0)];
        let mut spots: Vec<Spot> = Vec::new();
        for pair in drift.windows(2) {
            for step in 0..24 {
                let (from, to) = (corners[step / 6], corners[(step / 6 + 1) % 4]);
                let (part, gone) = ((step % 6) as f64 / 6.0, step as f64 / 24.0);
                let fix = spots.len();
                spots.push(Spot {
                    at: Coord {
                        x: from.0
                            + (to.0 - from.0) * part
                            + pair[0].0
                            + (pair[1].0 - pair[0].0) * gone,
                        y: from.1
                            + (to.1 - from.1) * part
                            + pair[0].1
                            + (pair[1].1 - pair[0].1) * gone,
                    },
                    t_s: fix as f64,
                    sigma_m: [2.0; 2],
                    fix,
                });
            }
        }
        spots
    }

    #[test]
    fn laps_beside_each_other_are_as_many_as_the_heading_turns() {
        assert_eq!(laps(&walk(&[(0.0, 0.0), (0.0, 0.0)]), 1, 30.0, 2.0), 1);
        let two = walk(&[(0.0, 0.0), (5.0, 3.0), (0.0, 0.0)]);
        assert_eq!(laps(&two, 1, 60.0, 2.0), 2);
        let three = walk(&[(0.0, 0.0), (5.0, 3.0), (1.0, -6.0), (0.0, 0.0)]);
        assert_eq!(laps(&three, 1, 90.0, 2.0), 3);
    }

    #[test]
    fn on_a_lawn_far_wider_than_the_error_the_inside_is_believed() {
        let two = walk(&[(0.0, 0.0), (5.0, 3.0), (0.0, 0.0)]);
        assert_eq!(laps(&two, 1, 60.0, 0.02), 1);
    }
}
