//! Stretches of a walk without a fix, and what may hide in them.

use super::Spot;
use crate::ring::{cross, distance_m, dot, size_m};
use geo::Coord;

/// A hole in the record of the edge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gap {
    /// Index of the spot before it, in the cleaned walk.
    pub after: usize,
    pub lasted_s: f64,
    /// Straight distance across it, metres.
    pub across_m: f64,
    /// The most area that may lie behind the straight line, m².
    pub may_hide_m2: f64,
}

/// The gaps of a cleaned walk. `rough_m` is how unsteady its single steps are, metres.
pub(super) fn find(spots: &[Spot], step_s: f64, pace_m_s: f64, rough_m: f64) -> Vec<Gap> {
    let longest_step_s = (2.5 * step_s).max(step_s + 0.5);
    let gapes = |after: &usize| spots[after + 1].t_s - spots[*after].t_s > longest_step_s;
    (0..spots.len().saturating_sub(1))
        .filter(gapes)
        .map(|after| {
            let lasted_s = spots[after + 1].t_s - spots[after].t_s;
            let across = spots[after + 1].at - spots[after].at;
            let across_m = size_m(across);
            let detour_m2 = detour_m2(across_m, pace_m_s * lasted_s);
            let one_turn_m2 = one_turn_m2(spots, after, across, rough_m);
            Gap {
                after,
                lasted_s,
                across_m,
                may_hide_m2: one_turn_m2.map_or(detour_m2, |m2| m2.min(detour_m2)),
            }
        })
        .collect()
}

/// The most area that a detour of usual pace could hide behind the straight line, m²: `c/4 sqrt(l² - c²)` for a path of length
/// `l` between points `c` apart (the isosceles triangle).
fn detour_m2(across_m: f64, paced_m: f64) -> f64 {
    // The pace is the straight-line one; on a curve, or in a hurry, somewhat more was walked.
    let walked_m = 1.15 * paced_m + 0.3;
    if walked_m > across_m {
        across_m / 4.0 * (walked_m * walked_m - across_m * across_m).sqrt()
    } else {
        0.0
    }
}

/// The area behind the straight line of one who went on as he was heading, turned once, and came on as he headed after, m²: the
/// triangle over the gap whose base angles are those of his headings, each as much larger as it is unsure. `None` where he was not
/// heading anywhere, or turned so far that no triangle bounds it.
fn one_turn_m2(spots: &[Spot], after: usize, across: Coord<f64>, rough_m: f64) -> Option<f64> {
    // How far nobody sees himself turn, radians (5 degrees); and from which sum on the triangle's sides hardly meet (150).
    const UNSEEN_RAD: f64 = 0.09;
    const HARDLY_RAD: f64 = 2.6;
    let unsure_rad = UNSEEN_RAD + (2.0 * rough_m / HEADED_M).atan();
    let base_rad = |headed: Coord<f64>| {
        let off_rad = cross(headed, across).atan2(dot(headed, across)).abs();
        off_rad + unsure_rad
    };
    let before = base_rad(headed(spots[..=after].iter().rev())? * -1.0);
    let then = base_rad(headed(spots[after + 1..].iter())?);
    if before.max(then) > std::f64::consts::FRAC_PI_2 || before + then > HARDLY_RAD {
        return None;
    }
    let (a, b) = (before.tan(), then.tan());
    Some(0.5 * dot(across, across) * a * b / (a + b))
}

/// A heading is taken over so many metres, gone in no more than so many seconds.
const HEADED_M: f64 = 2.0;
const HEADED_S: f64 = 6.0;

/// From the first of these spots to one some way on.
fn headed<'a>(mut spots: impl Iterator<Item = &'a Spot>) -> Option<Coord<f64>> {
    let first = spots.next()?;
    spots
        .take_while(|s| (s.t_s - first.t_s).abs() <= HEADED_S)
        .find(|s| distance_m(s.at, first.at) >= HEADED_M)
        .map(|s| s.at - first.at)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Along x at a metre a second with a corner at 40 m; the fixes from `from` to `to` are missing.
    fn walk(from: usize, to: usize) -> Vec<Spot> {
        (0..80)
            .filter(|i| !(from..to).contains(i))
            .map(|i| Spot {
                at: Coord {
                    x: i.min(40) as f64,
                    y: i.saturating_sub(40) as f64,
                },
                t_s: i as f64,
                sigma_m: [0.02; 2],
                fix: i,
            })
            .collect()
    }

    #[test]
    fn a_gap_on_a_straight_hides_little_and_one_round_a_corner_the_triangle() {
        let straight = find(&walk(20, 28), 1.0, 1.0, 0.01);
        let corner = find(&walk(36, 45), 1.0, 1.0, 0.01);
        assert!(straight.len() == 1 && corner.len() == 1);
        assert_eq!((straight[0].after, straight[0].lasted_s), (19, 9.0));
        // A detour at this pace could hide 16 m²; who goes straight on before and after hides less than 2.
        assert!(straight[0].may_hide_m2 < 2.5, "{straight:?}");
        // Legs of 5 m each: the triangle cut off is 12.5 m².
        assert!((12.5..18.0).contains(&corner[0].may_hide_m2), "{corner:?}");
    }
}
