//! Stretches of a walk without a fix, and how much area may hide in them.
//!
//! Across a gap the measured edge is a straight line. The walker may have gone round a corner there. How he was heading before and after
//! the gap says most of it: extended across the gap, the two headings form a triangle with the straight line, and the way that was walked
//! most likely lies within it. Where the headings say nothing, the pace sets the limit: how far one could have walked in the time that
//! the gap lasted.

use super::Spot;
use super::pace::median;
use crate::ring::{cross, distance_m, dot, size_m};
use geo::Coord;

/// A hole in the record of the edge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gap {
    /// Index of the spot before it, in the cleaned walk.
    pub after: usize,
    /// From the spot before it to the one after it, seconds.
    pub lasted_s: f64,
    /// Straight distance across it, metres.
    pub across_m: f64,
    /// How much area most likely lies between the straight line and the way that was walked, m²: positive to the right of the line, seen
    /// in walking direction.
    pub bulge_m2: f64,
    /// By how much more or less that may be at the most, m².
    pub may_hide_m2: f64,
    /// By how much at the most that way may be longer or shorter than what is drawn across the gap, metres. Where a corner lies between
    /// two straight stretches, the drawing has that corner.
    pub may_lengthen_m: f64,
}

/// From how long on a time without a fix is a gap, seconds: two and a half usual steps, and half a second beyond one step at the least.
#[must_use]
pub fn longest_step_s(step_s: f64) -> f64 {
    (2.5 * step_s).max(step_s + 0.5)
}

/// The gaps of a cleaned walk. `rough_m` is how unsteady its single steps are, metres.
pub(super) fn find(spots: &[Spot], step_s: f64, pace_m_s: f64, rough_m: f64) -> Vec<Gap> {
    let longest_s = longest_step_s(step_s);
    let lasts_s = |after: usize| spots[after + 1].t_s - spots[after].t_s;
    let gapes = |after: &usize| {
        lasts_s(*after) > longest_s
            && lasts_s(*after) > longest_step_s(steady_step_s(spots, *after))
    };
    (0..spots.len().saturating_sub(1))
        .filter(gapes)
        .map(|after| {
            let lasted_s = spots[after + 1].t_s - spots[after].t_s;
            let across = spots[after + 1].at - spots[after].at;
            let across_m = size_m(across);
            let walked_m = walked_m(pace_m_s * lasted_s);
            let most_m2 = detour_m2(across_m, walked_m);
            let most_m = (walked_m - across_m).max(0.0);
            let turn = one_turn(spots, after, across, rough_m);
            let (bulge_m2, may_hide_m2) = turn.map_or((0.0, most_m2), |turn| turn.at_most(most_m2));
            let may_lengthen_m = turn.map_or(most_m, |turn| turn.lengthens_at_most_m(most_m));
            Gap {
                after,
                lasted_s,
                across_m,
                bulge_m2,
                may_hide_m2,
                may_lengthen_m,
            }
        })
        .collect()
}

/// The usual step about this place, but for what is slower than a fix a second, seconds: a logger that changes from ten fixes a second to one
/// leaves nothing out.
fn steady_step_s(spots: &[Spot], after: usize) -> f64 {
    const BESIDE: usize = 4;
    const SLOW_S: f64 = 1.0;
    let (from, to) = (
        after.saturating_sub(BESIDE),
        (after + BESIDE + 2).min(spots.len()),
    );
    let mut steps_s: Vec<f64> = spots[from..to]
        .windows(2)
        .map(|w| w[1].t_s - w[0].t_s)
        .collect();
    median(&mut steps_s).unwrap_or(0.0).min(SLOW_S)
}

/// How far one gets at the most in the time in which the usual pace leads over `paced_m`, metres. The usual pace is taken along straight
/// lines; on a curve, or in a hurry, somewhat more was walked.
#[must_use]
pub fn walked_m(paced_m: f64) -> f64 {
    1.15 * paced_m + 0.3
}

/// The most area that a detour could hide behind the straight line, m²: `c/4 sqrt(l² - c²)` for a path of length
/// `l` between points `c` apart (the isosceles triangle).
#[must_use]
pub fn detour_m2(across_m: f64, walked_m: f64) -> f64 {
    if walked_m > across_m {
        across_m / 4.0 * (walked_m * walked_m - across_m * across_m).sqrt()
    } else {
        0.0
    }
}

/// What lies between the straight line across a gap and the way of someone who went on as he was heading, turned once, and then headed as
/// he did after it.
#[derive(Debug, Clone, Copy)]
struct OneTurn {
    /// The most likely area, m², positive to the right of the line; then the least and the most that its size may be, m².
    bulge_m2: f64,
    least_m2: f64,
    most_m2: f64,
    /// How much longer than the line the other two sides of the triangle are, metres: with the turn that was seen, and with the largest
    /// that it may have been.
    longer_m: f64,
    most_m: f64,
}

/// Part of the triangle that lies between the line and the way of one who turns evenly: a parabola cuts off two thirds of the triangle of
/// its tangents (Archimedes). One who turns at once, at a sharp corner, leaves all of it.
const EVENLY: f64 = 2.0 / 3.0;

impl OneTurn {
    /// The most likely area with its sign, and by how much more or less it may be, m², where no more than `reached_m2` can have been gone
    /// round in the time.
    fn at_most(self, reached_m2: f64) -> (f64, f64) {
        let size_m2 = self.bulge_m2.abs().min(reached_m2);
        let most_m2 = self.most_m2.min(reached_m2);
        let may_hide_m2 = (most_m2 - size_m2).max(size_m2 - self.least_m2);
        (size_m2.copysign(self.bulge_m2), may_hide_m2)
    }

    /// By how much the way may be longer or shorter than drawn, metres, where it can be no more than `reached_m` longer than the line. Of
    /// what the triangle's sides are longer than the line, one who turns evenly walks a third and one who turns at once all.
    fn lengthens_at_most_m(self, reached_m: f64) -> f64 {
        const NOT_EVENLY: f64 = 2.0 / 3.0;
        let beyond_m = self.most_m.min(reached_m) - self.longer_m.min(reached_m);
        beyond_m.max(NOT_EVENLY * self.longer_m)
    }
}

/// Reads the turn off the two headings: they are the base angles of the triangle over the gap, and each is as unsure as the walk is
/// rough.
///
/// `None` where there is no heading on one side (the walker stood, or fixes are missing), or where he turned so far that no triangle
/// bounds the way.
fn one_turn(spots: &[Spot], after: usize, across: Coord<f64>, rough_m: f64) -> Option<OneTurn> {
    // A walker turns by so much without noticing it, radians (5 degrees); and from the other sum of base angles on (150 degrees) the
    // sides of the triangle hardly meet.
    const UNSEEN_RAD: f64 = 0.09;
    const HARDLY_RAD: f64 = 2.6;
    let unsure_rad = UNSEEN_RAD + (2.0 * rough_m / HEADED_M).atan();
    // The angle from the line across the gap to a heading, positive to the left.
    let off_rad = |headed: Coord<f64>| cross(across, headed).atan2(dot(across, headed));
    let before_rad = off_rad(headed(spots[..=after].iter().rev())? * -1.0);
    let then_rad = off_rad(headed(spots[after + 1..].iter())?);
    let most = [before_rad, then_rad].map(|rad| rad.abs() + unsure_rad);
    if most[0].max(most[1]) > std::f64::consts::FRAC_PI_2 || most[0] + most[1] > HARDLY_RAD {
        return None;
    }
    // Area of a triangle by its base and its base angles.
    let triangle_m2 = |[one, other]: [f64; 2]| {
        let (a, b) = (one.tan(), other.tan());
        0.5 * dot(across, across) * a * b / (a + b).max(1e-12)
    };
    // The two sides by the law of sines, less the base.
    let longer_m = |[one, other]: [f64; 2]| {
        let sides = (one.sin() + other.sin()) / (one + other).sin().max(1e-12);
        size_m(across) * (sides - 1.0).max(0.0)
    };
    // What is left of each angle where the headings are off by as much as they may be.
    let surely = [before_rad, then_rad].map(|rad| (rad.abs() - unsure_rad).max(0.0));
    // He may have gone straight on, or to one side first and then to the other: there is no one turn to go by, and the straight line
    // stays the best guess.
    if before_rad * then_rad >= 0.0 || surely.contains(&0.0) {
        return Some(OneTurn {
            bulge_m2: 0.0,
            least_m2: 0.0,
            most_m2: triangle_m2(most),
            longer_m: 0.0,
            most_m: longer_m(most),
        });
    }
    let turned = [before_rad, then_rad].map(f64::abs);
    let turned_m2 = triangle_m2(turned);
    // A heading is taken over two metres, so on an even bend it belongs to a place a metre before the gap, where less had been turned
    // than at its edge.
    let across_m = size_m(across);
    let evenly = across_m / (across_m + HEADED_M);
    let evenly_m2 = |rad: [f64; 2]| EVENLY * triangle_m2(rad.map(|rad| evenly * rad));
    Some(OneTurn {
        // One who turns to the left went to the right of the line. The bulge is the middle between what a sharp corner and what an even
        // bend leaves there.
        bulge_m2: 0.5 * (turned_m2 + evenly_m2(turned)) * then_rad.signum(),
        least_m2: evenly_m2(surely),
        most_m2: triangle_m2(most),
        longer_m: longer_m(turned),
        most_m: longer_m(most),
    })
}

/// A heading is taken over this many metres of way, walked within this many seconds at the most.
const HEADED_M: f64 = 2.0;
const HEADED_S: f64 = 6.0;

/// The way from the first of these spots to the first one that is far enough from it to show a heading; `None` where there is none in
/// time.
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
        // A detour at this pace could hide 16 m², but the walker goes straight on before and after, which leaves less than 2 m².
        assert!(straight[0].may_hide_m2 < 2.5, "{straight:?}");
        // The legs are 5 m each, so that the triangle cut off is 12.5 m², to the right of a walker who turns to the left; two thirds of
        // that and less if he turned evenly.
        assert!((8.0..11.0).contains(&corner[0].bulge_m2), "{corner:?}");
        assert!((2.0..6.5).contains(&corner[0].may_hide_m2), "{corner:?}");
    }
}
