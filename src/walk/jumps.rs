//! Places where the position moved, not the walker.
//!
//! A receiver may shift its solution by some decimetres or metres at once and then go on from there (an RTK receiver that resolves its
//! ambiguities anew does). Between the shift and the end of the lap everything is displaced, and so the area is wrong. Two tests look for
//! it. The first finds steps that are longer than anyone walks. The second compares each step with the ways just before and just after
//! it: a walker goes on as before for a part of the step and as after for the rest, so that a step should end within the triangle of
//! those two. How far it ends outside, measured against the noise of this walk, is its strain; from a strain of 1 on it is a jump.
//!
//! Steps that are only odd are kept as well, with how likely each is to be a jump: other rooms weigh them by how much they would move the
//! area.

use super::Spot;
use super::pace::{Reach, rough_m};
use crate::limits::walk::jump;
use crate::process::hand;
use crate::ring::{cross, distance_m, dot, foot, size_m};
use geo::Coord;
use std::borrow::Cow;

/// A place where the position moved further than walking and noise allow, and stayed there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Jump {
    /// Index of the spot before it, in the cleaned walk.
    pub after: usize,
    /// By what the position moved, plane metres, and the length of that.
    pub by: Coord<f64>,
    pub by_m: f64,
    /// It went back, although the ways before and after go on in one direction at the walker's pace.
    pub back: bool,
    /// Further than anyone walks, whichever way; otherwise it is only unlike the steps before and after.
    pub beyond_reach: bool,
}

impl Jump {
    /// Whether the walker may have made such a step himself: stepping on to the edge or off it, or round two corners close together,
    /// looks like this.
    pub(crate) fn may_be_a_step(&self) -> bool {
        !self.beyond_reach && !self.back
    }
}

/// A step that ends elsewhere than walking leads, though noise may well be all there is to it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OddStep {
    /// Index of the spot before it, in the cleaned walk.
    pub after: usize,
    /// The part of it that walking does not explain, plane metres.
    pub by: Coord<f64>,
    /// How far that is beyond what a walker may well do, as a part of the most that noise explains. From 1 on the step is a jump.
    pub strain: f64,
    /// It went back, although the ways before and after go on in one direction at the walker's pace.
    pub back: bool,
    pub astray: Astray,
}

/// Where a step ends, held against the pace of the ways before and after it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Astray {
    /// From the place to which that pace leads, to where the step ends, plane metres.
    pub by: Coord<f64>,
    /// Natural logarithm of how many times likelier the step is if the position moved by that than if it did not.
    pub log: f64,
}

/// All jumps of a walk, and all its odd steps, each in the order of the walk.
pub(super) fn find(spots: &[Spot], reach: &Reach) -> (Vec<Jump>, Vec<OddStep>) {
    let odd = odd_steps(spots, reach);
    let mut jumps = sidesteps(&odd, reach);
    for (after, pair) in spots.windows(2).enumerate() {
        let by_m = distance_m(pair[0].at, pair[1].at);
        if by_m > reach.between_m(&pair[0], &pair[1]) {
            jumps.push(Jump {
                after,
                by: pair[1].at - pair[0].at,
                by_m,
                back: false,
                beyond_reach: true,
            });
        }
    }
    // Both tests may find the same place: the finding that is beyond reach is kept.
    jumps.sort_by(|a, b| {
        a.after
            .cmp(&b.after)
            .then(b.beyond_reach.cmp(&a.beyond_reach))
    });
    jumps.dedup_by_key(|j| j.after);
    (jumps, odd)
}

/// The number of fixes that comes nearest to so many seconds, 1 to 20.
fn fixes(lasted_s: f64, reach: &Reach) -> usize {
    ((lasted_s / reach.step_s).round() as usize).clamp(1, 20)
}

/// Not single fixes but means over this many seconds are compared, which takes out most of the white noise of receivers that give several
/// fixes a second.
const MEAN_S: f64 = 0.5;

/// The odd steps that are jumps. Where several neighbouring ones show the same jump, the largest stands for it.
fn sidesteps(odd: &[OddStep], reach: &Reach) -> Vec<Jump> {
    let mean = fixes(MEAN_S, reach);
    let mut jumps: Vec<Jump> = Vec::new();
    for step in odd.iter().filter(|step| step.strain > 1.0) {
        let jump = Jump {
            after: step.after,
            by: step.by,
            by_m: size_m(step.by),
            back: step.back,
            beyond_reach: false,
        };
        // The means overlap, so that those around one jump show it too.
        match jumps.last_mut() {
            Some(last) if jump.after - last.after < mean => {
                if jump.by_m > last.by_m {
                    *last = jump;
                }
            }
            _ => jumps.push(jump),
        }
    }
    jumps
}

/// The steps that end elsewhere than the ways before and after them lead one to expect.
///
/// A walker may go on as before for a part of the step and as after for the rest, so that a step should end within the triangle of both.
/// On a straight that triangle is a line: a step aside, back or far ahead ends off it. Where the walker stands, the triangle is a point,
/// and every step does.
fn odd_steps(spots: &[Spot], reach: &Reach) -> Vec<OddStep> {
    let mean = fixes(MEAN_S, reach);
    let means = means(spots, mean);
    let rough_m = rough_m(&means, mean, reach.step_s * mean as f64);
    // Each step is compared with short ways and with long ones: short ways tell a narrow turn from a jump, long ones are less noisy.
    let (short_fixes, long_fixes) = (
        fixes((20.0 * rough_m).clamp(1.0, 2.0), reach),
        fixes(2.0, reach).max(2),
    );
    // How far every step is off, to know what is usual; details are kept only of those that may turn out odd.
    let mut by_m: Vec<f64> = Vec::with_capacity(means.len());
    let strange: Vec<(Strange, Option<Astray>)> = (mean..means.len())
        .filter_map(|at| {
            // The smaller of the two findings counts, so that a step is odd only where both say so.
            let over = |fixes| strange(&means, at, mean, fixes, reach);
            let long = over(long_fixes);
            let astray = long.as_ref().map(|step| step.astray(rough_m, reach));
            let short = (short_fixes != long_fixes)
                .then(|| over(short_fixes))
                .flatten();
            let least = [short, long]
                .into_iter()
                .flatten()
                .min_by(|a, b| a.by_m.total_cmp(&b.by_m))?;
            by_m.push(least.by_m);
            let least_m = hand::STEP_BACK_M
                + jump::ODD_STRAIN * jump::MATTERS_SIGMAS * means[at - mean].sigma();
            let odd = least.by_m >= least_m || astray.is_some_and(|a| a.log > jump::ODD_LOG);
            odd.then_some((least, astray))
        })
        .collect();
    let usual_m = one_in_ten_m(by_m);
    let odd = strange.into_iter().filter_map(|(step, astray)| {
        let from = &means[step.at - mean];
        let (strain, back) = step.strain(from, rough_m, usual_m, reach);
        let astray = astray.unwrap_or(Astray {
            by: Coord { x: 0.0, y: 0.0 },
            log: 0.0,
        });
        (strain > jump::ODD_STRAIN || astray.log > jump::ODD_LOG).then_some(OddStep {
            after: step.at - 1,
            by: step.by,
            strain,
            back,
            astray,
        })
    });
    odd.collect()
}

/// One step and the ways before and after it, and how far it ends from where they lead.
struct Strange {
    /// The first of the means after the step.
    at: usize,
    /// From the nearest place to which the ways lead, to where the step ends, plane metres, and the length of that.
    by: Coord<f64>,
    by_m: f64,
    /// How long the shorter of the two ways lasts, seconds.
    way_s: f64,
    /// Where the ways before and after go on in one direction at the walker's pace: how far the step gets on in that direction, metres,
    /// negative for back. Else `None`.
    straight: Option<f64>,
    /// The step, and where going on as before and going on as after would lead in the time of the step, plane metres; then that time.
    step: Coord<f64>,
    one: Coord<f64>,
    other: Coord<f64>,
    lasted_s: f64,
}

impl Strange {
    /// How far the step is off beyond what a walker may well do, as a part of the most that noise explains, and whether it goes back.
    /// `from` is the mean that it sets out from, `usual_m` what one step in ten exceeds.
    fn strain(&self, from: &Spot, rough_m: f64, usual_m: f64, reach: &Reach) -> (f64, bool) {
        let (by_m, step_s) = (self.by_m, self.lasted_s);
        // What a walker may do: hardly step back on a straight; step aside a little; and stray by a part of a step that gets on.
        let (aside_m, back) = match self.straight {
            Some(on_m) if on_m < 0.0 => (hand::STEP_BACK_M, true),
            Some(on_m) if on_m < hand::STALLED_SHARE * reach.pace_m_s * step_s => {
                (hand::STEP_ASIDE_M, false)
            }
            _ => (
                hand::STEP_ASIDE_M + hand::STEP_ASIDE_SHARE * reach.pace_m_s * step_s,
                false,
            ),
        };
        // Noise of the step and of the ways, which are drawn out to the step's length; no more than a multiple of what is usual here.
        let noise_m = (jump::NOISE_SIGMAS * rough_m * (1.0 + 0.6 * step_s / self.way_s))
            .min(jump::NOISE_OF_USUAL * usual_m);
        let beyond_m = (by_m * by_m - aside_m * aside_m).max(0.0).sqrt();
        let matters_m = jump::MATTERS_SIGMAS * from.sigma();
        let strain = (beyond_m / noise_m).min((by_m - aside_m) / matters_m);
        (strain, back)
    }

    /// How likely the step is to be a jump. Without a jump a walker goes on as before for a part of the step and as after for the rest,
    /// or, which is rarer, rests for a part of it; both explanations are tried, and the better one counts.
    fn astray(&self, rough_m: f64, reach: &Reach) -> Astray {
        // How much larger the noise of a step and both ways together is than that of the step alone.
        const NOISE: f64 = 1.4;
        // The most that a single step says for a jump, as a logarithm.
        const MOST: f64 = 10.0;
        let by = self.step - foot(self.step, self.one, self.other);
        let sigma_m = (NOISE * rough_m)
            .hypot(hand::STEP_SIGMA_SHARE * reach.pace_m_s * self.lasted_s)
            .hypot(hand::STEP_SIGMA_M);
        let log = |off_m: f64| 0.5 * (off_m / sigma_m).powi(2);
        let rested = log(off_m(self.step, self.one, self.other)) + hand::RESTED_LOG;
        Astray {
            by,
            log: log(size_m(by)).min(rested).min(MOST),
        }
    }
}

/// Compares the step to mean `at`, from the mean `apart` before it, with ways of so many `fixes` on either side. `None` where fixes are
/// missing in one of the ways, or too many in the step, or where the walk begins or ends too near.
fn strange(
    means: &[Spot],
    at: usize,
    apart: usize,
    fixes: usize,
    reach: &Reach,
) -> Option<Strange> {
    // On one straight both ways have at least this part of the walker's pace, and their directions differ by no more than the angle of
    // this cosine (26 degrees).
    const PACE: f64 = 0.6;
    const STRAIGHT: f64 = 0.9;
    let step_s = reach.step_s;
    // How many times its usual length a step may have; and the seconds that may be missing within it.
    const HURRY: f64 = 1.5;
    const GAP_S: f64 = 4.0;
    let (from, to) = (&means[at - apart], &means[at]);
    let (before, after) = ((at - apart).checked_sub(fixes)?, at + fixes);
    let (before, after) = (&means[before], means.get(after)?);
    let (one_s, lasted_s, other_s) = (from.t_s - before.t_s, to.t_s - from.t_s, after.t_s - to.t_s);
    let most_s = fixes as f64 * step_s + 1.3 * step_s.max(1.0);
    let way_s = one_s.min(other_s);
    if one_s.max(other_s) > most_s || way_s <= 0.0 || lasted_s > apart as f64 * step_s + GAP_S {
        return None;
    }
    let one = (from.at - before.at) * (HURRY * lasted_s / one_s);
    let other = (after.at - to.at) * (HURRY * lasted_s / other_s);
    let by = off(to.at - from.at, one, other);
    let (one_m, other_m) = (size_m(one), size_m(other));
    let least_m = PACE * HURRY * lasted_s * reach.pace_m_s;
    let (step, on) = (to.at - from.at, one + other);
    let straight = one_m.min(other_m) > least_m && dot(one, other) > STRAIGHT * one_m * other_m;
    Some(Strange {
        at,
        by,
        by_m: size_m(by),
        way_s,
        straight: straight.then(|| dot(step, on) / size_m(on)),
        step,
        one: one / HURRY,
        other: other / HURRY,
        lasted_s,
    })
}

/// What one step in ten exceeds, metres; 0 where there is none.
fn one_in_ten_m(mut by_m: Vec<f64>) -> f64 {
    let place = by_m.len() * 9 / 10;
    if by_m.is_empty() {
        return 0.0;
    }
    *by_m.select_nth_unstable_by(place, f64::total_cmp).1
}

/// The mean of each spot and those after it, `count` in all, with the time of that mean: fewer by `count - 1` than there are spots.
fn means(spots: &[Spot], count: usize) -> Cow<'_, [Spot]> {
    if count == 1 {
        return Cow::Borrowed(spots);
    }
    let means = spots
        .windows(count)
        .map(|window| {
            let first = window[0];
            let shift = window
                .iter()
                .fold(Coord { x: 0.0, y: 0.0 }, |sum, s| sum + (s.at - first.at));
            let later_s: f64 = window.iter().map(|s| s.t_s - first.t_s).sum();
            Spot {
                at: first.at + shift / count as f64,
                t_s: first.t_s + later_s / count as f64,
                ..first
            }
        })
        .collect();
    Cow::Owned(means)
}

/// How far a step ends from where going on one way, the other, or first one and then the other leads, metres.
pub(crate) fn off_m(step: Coord<f64>, a: Coord<f64>, b: Coord<f64>) -> f64 {
    size_m(off(step, a, b))
}

/// From the nearest place of the triangle (to which going on one way, the other, or first one and then the other leads) to where a step
/// ends. Nothing if the step ends within it.
fn off(step: Coord<f64>, a: Coord<f64>, b: Coord<f64>) -> Coord<f64> {
    let here = Coord { x: 0.0, y: 0.0 };
    let turn = cross(a, b);
    // The step ends within the triangle if it lies on the same side of all three sides.
    let sides = [cross(a, step), cross(b - a, step - a), cross(step, b)];
    if turn != 0.0 && sides.iter().all(|side| side * turn >= 0.0) {
        return here;
    }
    let [mut least, other, last] =
        [(here, a), (a, b), (b, here)].map(|(p, q)| step - foot(step, p, q));
    for off in [other, last] {
        if dot(off, off) < dot(least, least) {
            least = off;
        }
    }
    least
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::walk::clean::clean;

    fn at(x: f64, y: f64) -> Coord<f64> {
        Coord { x, y }
    }

    /// A fix a second at these places.
    fn walk(places: impl IntoIterator<Item = (f64, f64)>) -> Vec<Spot> {
        places
            .into_iter()
            .enumerate()
            .map(|(fix, (x, y))| Spot {
                at: at(x, y),
                t_s: fix as f64,
                sigma_m: [0.02; 2],
                fix,
            })
            .collect()
    }

    #[test]
    fn going_on_as_before_then_as_after_is_no_jump() {
        let (east, north) = (at(2.0, 0.0), at(0.0, 2.0));
        assert_eq!(off_m(at(0.5, 0.5), east, north), 0.0);
        assert_eq!(off_m(at(2.0, 0.0), east, north), 0.0);
        assert!((off_m(at(-1.0, 0.0), east, north) - 1.0).abs() < 1e-12);
        assert!((off_m(at(3.0, 0.0), east, east) - 1.0).abs() < 1e-12);
        assert!((off_m(at(1.0, -0.5), east, north) - 0.5).abs() < 1e-12);
    }

    #[test]
    fn a_narrow_end_is_walked_round_not_jumped() {
        // A strip half a metre wide, a metre a step: both corners of its end lie within one step.
        let out = (0..30).map(|i| (f64::from(i), 0.0));
        let home = (0..30).map(|i| (29.2 - f64::from(i), 0.5));
        assert!(clean(walk(out.chain(home))).jumps.is_empty());
    }

    #[test]
    fn a_step_back_in_the_middle_of_a_straight_is_a_jump() {
        let places = (0..60).map(|i| (f64::from(i) - if i >= 30 { 1.8 } else { 0.0 }, 0.0));
        let jumps: Vec<usize> = clean(walk(places)).jumps.iter().map(|j| j.after).collect();
        assert_eq!(jumps, [29]);
    }

    /// Thrown back by 1.2 m, the walk seems to go 20 cm back for a second, which no walker does; thrown back by a metre, it only seems to
    /// rest.
    #[test]
    fn a_step_back_between_steps_at_full_pace_is_a_jump() {
        for (back_m, jumps) in [(1.2, 1), (1.0, 0)] {
            let places = (0..60).map(|i| (f64::from(i) - if i >= 30 { back_m } else { 0.0 }, 0.0));
            assert_eq!(clean(walk(places)).jumps.len(), jumps, "{back_m}");
        }
    }

    /// Thrown aside by half a metre and back by a pace, the walk seems to go only aside for a second. If it goes on by half a pace, the
    /// walker may have gone round something.
    #[test]
    fn a_step_aside_that_does_not_get_on_is_a_jump() {
        for (back_m, jumps) in [(1.0, 1), (0.5, 0)] {
            let places = (0..60).map(|i| {
                let (back_m, aside_m) = if i >= 30 { (back_m, 0.5) } else { (0.0, 0.0) };
                (f64::from(i) - back_m, aside_m)
            });
            assert_eq!(clean(walk(places)).jumps.len(), jumps, "{back_m}");
        }
    }

    /// A metre aside is far more than a walker and his pole may well do. A second's rest may be a rest. A turn is nothing.
    #[test]
    fn the_pace_before_and_after_tells_how_likely_a_jump_is() {
        let most = |place: fn(i32) -> (f64, f64)| {
            let steps = clean(walk((0..60).map(place))).odd_steps;
            let log = |step: &OddStep| step.astray.log;
            steps.iter().map(log).fold(0.0, f64::max)
        };
        let aside = most(|i| (f64::from(i), if i >= 30 { 1.0 } else { 0.0 }));
        let rest = most(|i| (f64::from(if i > 30 { i - 1 } else { i }), 0.0));
        let turn = most(|i| (f64::from(i.min(30)), f64::from((i - 30).max(0))));
        assert!(
            (aside - 0.5 / (0.25 * 0.25 + 0.2 * 0.2)).abs() < 0.1,
            "{aside}"
        );
        assert_eq!([rest, turn], [3.0, 0.0]);
    }

    #[test]
    fn an_unsteady_receiver_jumps_further_before_it_is_told() {
        // One fix in four lies aside by so many metres, and from the middle on all lie 2.4 m aside.
        let jumps = |astray_m: f64| {
            let places = (0..80).map(|i| {
                let aside_m = [0.0, 0.0, astray_m, 0.0][i % 4] + if i >= 41 { 2.4 } else { 0.0 };
                (i as f64, aside_m)
            });
            let walk: Vec<Spot> = walk(places)
                .into_iter()
                .map(|spot| Spot {
                    sigma_m: [1.0; 2],
                    ..spot
                })
                .collect();
            clean(&walk).jumps.len()
        };
        assert_eq!(jumps(0.1), 1);
        assert_eq!(jumps(1.5), 0);
    }
}
