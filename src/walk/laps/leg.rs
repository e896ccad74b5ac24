//! Whole laps in one direction: where they begin, and where each comes back to its start.
//!
//! The input is a thinned walk, and for each of its places how far it has wound about the inside (`angle`, radians). Every place is tried
//! as the start: one full turn later, give or take a slack, the walk must come by it again. Each start has a cost without a unit, and the
//! least one is taken. The cost is the mean square distance between the ends of a lap over twice its variance (as in the logarithm of a
//! normal density), plus the way that is left out before and after, plus a penalty where the walk would close by turning back instead of
//! coming round.

use super::{Leg, Thin};
use crate::ring::{cross, distance_m, distance2_m2, dot, signed_area_of_m2};
use crate::walk::{Spot, turning};
use geo::Coord;
use std::f64::consts::TAU;
use std::ops::Range;

/// By how much a lap may fall short of a full turn about the inside, or go beyond it, radians.
pub(super) const SLACK_RAD: f64 = 0.7;

/// The same slack where noise explains how far the two ends are apart: on a lawn hardly wider than the receiver's error the ends of a
/// whole lap lie a fifth of a turn apart, seen from its inside.
pub(super) const LOOSE_RAD: f64 = 1.3;

/// So many metres left out at the ends cost 1, as much as ends that are apart by 1.4 times what noise explains.
const LEFT_OUT_M: f64 = 20.0;

/// Two closings whose costs differ by no more than this are about as likely: it corresponds to ends that are apart by 1.2 times what
/// noise explains, or to fifteen metres of way left out.
const AS_LIKELY: f64 = 0.75;

/// How far averaging (`calmed`) may move one pass of a corner from another that turns there by another angle, metres: over 1.5 s at a walking
/// pace it draws a square corner inwards by 0.27 m, a bend of half that angle by 0.14 m. A closing at a corner, where most laps begin, is
/// as likely as one that looks tighter by that.
const CORNER_M: f64 = 0.2;

/// About one second of walking, metres. Positions further apart come from a logger that leaves most of them out; how far apart they are
/// must not excuse how far apart the ends of a lap are.
const MOST_STEP_M: f64 = 1.5;

/// A slack for rounding in costs and in metres, far larger than rounding errors are.
const ROUNDING: f64 = 1e-6;

/// Splits a walk where it turns back, and gives ranges of thinned places (first and last) that each wind one way by most of a turn at
/// least.
pub(super) fn one_way(angle: &[f64]) -> Vec<(usize, usize)> {
    // A walk back along the edge shorter than this is an overrun, not a new leg.
    const TURN_BACK_RAD: f64 = 3.0;
    let mut ranges = Vec::new();
    let mut from = 0;
    // Where the angle was least and most within the present range.
    let (mut low, mut high) = (0, 0);
    // Direction of the present range: 0 until known.
    let mut way = 0.0;
    for i in 1..angle.len() {
        if angle[i] > angle[high] {
            high = i;
        }
        if angle[i] < angle[low] {
            low = i;
        }
        if way >= 0.0
            && angle[high] - angle[i] > TURN_BACK_RAD
            && (way > 0.0 || angle[high] - angle[from] > TURN_BACK_RAD)
        {
            ranges.push((from, high));
            (from, way) = (high, -1.0);
            (low, high) = (i, i);
        } else if way <= 0.0
            && angle[i] - angle[low] > TURN_BACK_RAD
            && (way < 0.0 || angle[from] - angle[low] > TURN_BACK_RAD)
        {
            ranges.push((from, low));
            (from, way) = (low, 1.0);
            (low, high) = (i, i);
        } else if way == 0.0 {
            if angle[i] - angle[low] > TURN_BACK_RAD {
                way = 1.0;
            } else if angle[high] - angle[i] > TURN_BACK_RAD {
                way = -1.0;
            }
        }
    }
    ranges.push((from, angle.len() - 1));
    ranges.retain(|&(a, b)| b > a + 2 && (angle[b] - angle[a]).abs() > TAU - LOOSE_RAD - SLACK_RAD);
    ranges
}

/// Splits a one-way range where logging was broken off and taken up again, if no whole lap is lost by it: each part then has a way in and
/// a way out of its own. A hole in the middle of a lap splits nothing.
pub(super) fn without_breaks(
    spots: &[Spot],
    thin: &Thin,
    angle: &[f64],
    from: usize,
    to: usize,
) -> Vec<(usize, usize)> {
    const BREAK_S: f64 = 15.0;
    // How many whole laps there may be between two places.
    let whole = |a: usize, b: usize| (((angle[b] - angle[a]).abs() + SLACK_RAD) / TAU).floor();
    let mut parts = vec![(from, to)];
    for cut in from..to {
        // Places are thinned by distance: the break is between two spots of this step.
        let (a, b) = (thin.spot[cut], thin.spot[cut + 1]);
        let broken = spots[a..=b]
            .windows(2)
            .any(|w| w[1].t_s - w[0].t_s > BREAK_S);
        let (start, end) = parts[parts.len() - 1];
        let (before, after) = (whole(start, cut), whole(cut + 1, end));
        if broken && before >= 1.0 && after >= 1.0 && before + after >= whole(start, end) {
            parts.pop();
            parts.extend([(start, cut), (cut + 1, end)]);
        }
    }
    parts
}

/// Whether the parts of a walk that was split at breaks close about as well as the walk would if it ran on across the breaks. If not, a
/// break is only a stretch that was lost within a lap.
pub(super) fn close_as_well(parts: &[Leg], whole: Option<&Leg>, sigma_m: f64) -> bool {
    // A slack for the distance between two fixes a second apart, metres.
    const STEP_M: f64 = 0.5;
    let widest_m = |leg: &Leg| leg.gaps_m.iter().copied().fold(0.0, f64::max);
    let parted_m = parts.iter().map(widest_m).fold(0.0, f64::max);
    whole.is_none_or(|whole| parted_m <= widest_m(whole) + 2.0 * apart_m(sigma_m) + STEP_M)
}

/// How far two passes of one place are typically apart, metres: the errors of both passes, and the swaying pole.
fn apart_m(sigma_m: f64) -> f64 {
    1.5 * sigma_m + 0.10
}

impl Thin<'_> {
    /// The place of a range that is nearest to place `home`, among those for which `counts` holds: the square of its distance, m², and
    /// its index. Of several that are as near it is the first; `None` where none counts.
    ///
    /// It looks at `hint` first. From a place that is far away the walk needs at least as much way as it is further than the best one, so
    /// all places within that way are skipped.
    fn nearest(
        &self,
        home: usize,
        range: Range<usize>,
        hint: usize,
        counts: impl Fn(usize) -> bool,
    ) -> Option<(f64, usize)> {
        let gap2_m2 = |j: usize| distance2_m2(self.at(j), self.at(home));
        let mut best: Option<(f64, usize)> = None;
        let mut best_m = f64::INFINITY;
        if range.contains(&hint) && counts(hint) {
            best = Some((gap2_m2(hint), hint));
            best_m = gap2_m2(hint).sqrt();
        }
        let mut j = range.start;
        while j < range.end {
            crate::steps::count(1);
            let gap2_m2 = gap2_m2(j);
            let nearer =
                |(least, at): (f64, usize)| gap2_m2 < least || (gap2_m2 == least && j < at);
            if counts(j) && best.is_none_or(nearer) {
                best = Some((gap2_m2, j));
                best_m = gap2_m2.sqrt();
            }
            let as_near_m = self.way_m[j] + gap2_m2.sqrt() - best_m - ROUNDING;
            j += 1;
            while j < range.end && self.way_m[j] < as_near_m {
                j += 1;
            }
        }
        best
    }
}

/// Where two passes of one place are typically closer than this, metres, even the first steps off the edge show.
const SHARP_M: f64 = 0.75;

/// Finds the whole laps within one one-way range of thinned places; `None` where no start is passed again. If the heading comes round
/// more often than the walk winds about the inside, it is split into as many laps as the heading says.
pub(super) fn leg(
    spots: &[Spot],
    thin: &Thin,
    angle: &[f64],
    from: usize,
    to: usize,
    sigma_m: f64,
    slack_rad: f64,
) -> Option<Leg> {
    let search = Search::of(thin, angle, (from, to), sigma_m, slack_rad);
    let (coarse, elsewhere_m2) = search.closing()?;
    let mut bounds = sharpen(spots, thin, &coarse);
    let whole = &spots[bounds[0]..=bounds[search.laps]];
    let holds_m2 = signed_area_of_m2(whole.iter().map(|spot| spot.at));
    let laps = turning::laps(whole, search.laps, holds_m2, sigma_m);
    if laps > search.laps {
        bounds = split(spots, thin, &coarse, laps);
    }
    let gaps_m = bounds
        .windows(2)
        .map(|w| distance_m(spots[w[0]].at, spots[w[1]].at))
        .collect();
    Some(Leg {
        bounds,
        turn: search.turn,
        gaps_m,
        elsewhere_m2,
    })
}

/// A one-way range of a walk, and what is known of the laps in it before they are looked for.
struct Search<'a> {
    thin: &'a Thin<'a>,
    /// How far the walk has wound by each place, radians.
    angle: &'a [f64],
    from: usize,
    to: usize,
    /// +1 counter-clockwise, -1 clockwise.
    turn: f64,
    /// By how much a lap may miss a full turn, radians.
    slack_rad: f64,
    /// How many laps there are by how far it winds.
    laps: usize,
    /// The furthest that it has wound by each place. As it never falls, a place is found in it by bisection.
    furthest_rad: Vec<f64>,
    /// How far two passes of one place are typically apart, metres.
    apart_m: f64,
    /// The square of how far the two ends of a lap are typically apart, m²: noise, and the distance between places.
    gap2_m2: f64,
    /// What part of the cost of its gap a closing has for certain, as its ends may lie at a corner.
    certain: f64,
    /// Over how many metres of way a direction is taken.
    ahead_m: f64,
}

impl<'a> Search<'a> {
    /// Prepares the search in a range of places. `sigma_m` is the typical position sigma.
    fn of(
        thin: &'a Thin<'a>,
        angle: &'a [f64],
        (from, to): (usize, usize),
        sigma_m: f64,
        slack_rad: f64,
    ) -> Search<'a> {
        let turn = (angle[to] - angle[from]).signum();
        let wound = || (from..=to).map(|i| turn * angle[i]);
        let way_m = thin.way_m[to] - thin.way_m[from];
        let laps = ((climb_rad(wound()) + slack_rad) / TAU).floor().max(1.0) as usize;
        let lap_m = way_m / laps as f64;
        let apart_m = apart_m(sigma_m);
        // A lap passes its start anywhere between two places, evenly distributed. The variance of that is a twelfth of the step squared.
        let step_m = (way_m / (to - from).max(1) as f64).min(MOST_STEP_M);
        let gap2_m2 = apart_m * apart_m + step_m * step_m / 12.0;
        Search {
            thin,
            angle,
            from,
            to,
            turn,
            slack_rad,
            laps,
            furthest_rad: wound()
                .scan(f64::NEG_INFINITY, |furthest, rad| {
                    *furthest = furthest.max(rad);
                    Some(*furthest)
                })
                .collect(),
            apart_m,
            gap2_m2,
            certain: gap2_m2 / (gap2_m2 + CORNER_M * CORNER_M),
            ahead_m: (2.0 * apart_m + 1.0).clamp(1.5, (lap_m / 10.0).max(1.5)),
        }
    }

    /// How far the walk has wound by a place, radians, positive in the direction of the laps.
    fn wound(&self, i: usize) -> f64 {
        self.turn * self.angle[i]
    }

    /// The first place from `search` on that has wound as far as `rad`; the one after the last where none has.
    fn reaches(&self, search: usize, rad: f64) -> usize {
        let first = self.from
            + self
                .furthest_rad
                .partition_point(|&furthest| furthest < rad);
        if first >= search {
            return first;
        }
        // It had wound that far before `search` and went back since: look place by place.
        (search..=self.to)
            .find(|&i| self.wound(i) >= rad)
            .unwrap_or(self.to + 1)
    }

    /// Where the laps begin and end at the least cost, as places: the start and the end of each lap. And for a single lap how much more
    /// area it would hold, m², at that other place where it closes about as well and where that differs most. `None` where no start is
    /// passed again.
    fn closing(&self) -> Option<(Vec<usize>, f64)> {
        // The walk is wound furthest somewhere before its end, as the way out may unwind some of it, and the way in may wind the other
        // way first.
        let peak_rad = *self.furthest_rad.last()?;
        // Alternatives are collected for a single lap only: several laps that are closed where not all of them pass differ in area, and
        // that is told by itself.
        let as_likely = if self.laps == 1 { AS_LIKELY } else { ROUNDING };
        let mut best: Option<(f64, Vec<usize>)> = None;
        let mut closings: Vec<(f64, usize, usize)> = Vec::new();
        let (mut bounds, mut last) = (Vec::new(), Vec::new());
        for start in self.from..self.to {
            if peak_rad - self.wound(start) < self.laps as f64 * TAU - self.slack_rad {
                continue;
            }
            // What is left out before the start costs this much at the least, and more for every later start: the search can end when
            // that alone is too much.
            let least = (self.thin.way_m[start] - self.thin.way_m[self.from]) / LEFT_OUT_M;
            let most = best.as_ref().map_or(f64::INFINITY, |(c, _)| c + as_likely);
            if least > most {
                break;
            }
            std::mem::swap(&mut bounds, &mut last);
            let Some(gap_cost) = self.follow(start, &last, least, most, &mut bounds) else {
                continue;
            };
            let end = bounds[self.laps];
            let way_m = |i: usize| self.thin.way_m[i];
            let left_out_m = way_m(start) - way_m(self.from) + way_m(self.to) - way_m(end);
            let cost = gap_cost + 8.0 * self.turned_back(start, end) + left_out_m / LEFT_OUT_M;
            closings.push((cost - (1.0 - self.certain) * gap_cost, start, end));
            if best.as_ref().is_none_or(|(c, _)| cost < *c) {
                best = Some((cost, bounds.clone()));
            }
        }
        let (least, coarse) = best?;
        if self.laps > 1 {
            return Some((coarse, 0.0));
        }
        let others = closings.iter().filter(|c| c.0 <= least + AS_LIKELY);
        let others = others.map(|&(_, start, end)| (start, end));
        let elsewhere_m2 = self.turn * differs_m2(self.thin, (coarse[0], coarse[1]), others);
        Some((coarse, elsewhere_m2))
    }

    /// Follows the laps from `start` and puts into `bounds` where each of them comes back to it. `last` are the bounds found for the
    /// start before, which say where to look first. Gives what the distances between ends cost; `None` where a lap does not come back, or
    /// where that and `least` come to more than `most`.
    fn follow(
        &self,
        start: usize,
        last: &[usize],
        least: f64,
        most: f64,
        bounds: &mut Vec<usize>,
    ) -> Option<f64> {
        bounds.clear();
        bounds.push(start);
        let mut gap_sum = 0.0;
        let mut gap_cost = 0.0;
        let mut search = start;
        for lap in 1..=self.laps {
            let target = self.wound(start) + lap as f64 * TAU;
            search = self.reaches(search, target - self.slack_rad).min(self.to);
            let past = self.reaches(search, target + self.slack_rad);
            let range = search..past.min(self.to + 1);
            let counts = |j: usize| (self.wound(j) - target).abs() <= self.slack_rad;
            // The start before this one lies a step earlier, and its laps end a step earlier too.
            let hint = last.get(lap).map_or(start, |&end| end + 1);
            let (gap2_m2, j) = self.thin.nearest(start, range, hint, counts)?;
            gap_sum += gap2_m2;
            gap_cost = gap_sum / self.laps as f64 / (2.0 * self.gap2_m2);
            let certain = if self.laps == 1 { self.certain } else { 1.0 };
            if certain * gap_cost + least > most {
                return None;
            }
            bounds.push(j);
            search = j;
        }
        Some(gap_cost)
    }

    /// By how much a walk that sets out from `start` comes to `end` against the direction in which it set out, 0 to 0.5; 0 where it does
    /// not. Such a walk has not come round but turned back: it closes at the gate, or across a narrow lawn.
    fn turned_back(&self, start: usize, end: usize) -> f64 {
        let back = |ahead_m: f64| match (
            heading(self.thin, start, ahead_m, 1),
            heading(self.thin, end, ahead_m, -1),
        ) {
            (Some(out), Some(home)) => (-dot(out, home) - 0.5).max(0.0),
            _ => 0.0,
        };
        if self.apart_m < SHARP_M {
            back(self.ahead_m).max(back(0.5 * self.ahead_m))
        } else {
            back(self.ahead_m)
        }
    }
}

/// The most by which any value lies above one before it.
fn climb_rad(wound: impl Iterator<Item = f64>) -> f64 {
    let (mut low, mut climb) = (f64::INFINITY, 0.0f64);
    for rad in wound {
        low = low.min(rad);
        climb = climb.max(rad - low);
    }
    climb
}

/// How much more area the walk holds if it is closed at other ends than at the `chosen` ones, m², for the closing where that differs
/// most; negative where it holds less. Areas are counter-clockwise positive.
fn differs_m2(
    thin: &Thin,
    chosen: (usize, usize),
    closings: impl Iterator<Item = (usize, usize)>,
) -> f64 {
    let origin = thin.at(chosen.0);
    let swept_m2 = |a: usize, b: usize| 0.5 * cross(thin.at(a) - origin, thin.at(b) - origin);
    // Areas swept from the origin up to each place, so that the area of any closing is a difference of two of them and one triangle.
    let along_m2: Vec<f64> = std::iter::once(0.0)
        .chain((1..thin.len()).scan(0.0, |sum, i| {
            *sum += swept_m2(i - 1, i);
            Some(*sum)
        }))
        .collect();
    let holds_m2 =
        |(start, end): (usize, usize)| along_m2[end] - along_m2[start] + swept_m2(end, start);
    closings
        .map(|closing| holds_m2(closing) - holds_m2(chosen))
        .max_by(|a, b| a.abs().total_cmp(&b.abs()))
        .unwrap_or(0.0)
}

/// Direction in which the walk leaves a place (`way` 1) or comes to it (`way` -1), of length 1; `None` where the walk ends before that is
/// clear.
///
/// It is taken over `ahead_m` metres of way, and more until the walk is half that far away in a straight line, as the wander of a
/// standstill would otherwise pass for way. (Waiting until it is all of that away would lead round the end of a narrow lawn and back.)
fn heading(thin: &Thin, at: usize, ahead_m: f64, way: isize) -> Option<Coord<f64>> {
    let mut other = at;
    while (thin.way_m[other] - thin.way_m[at]).abs() < ahead_m
        || distance2_m2(thin.at(other), thin.at(at)) < 0.25 * ahead_m * ahead_m
    {
        other = other.checked_add_signed(way).filter(|&o| o < thin.len())?;
    }
    let span = (thin.at(other) - thin.at(at)) * way as f64;
    let length_m = span.x.hypot(span.y);
    (length_m > 0.0).then(|| span / length_m)
}

/// Moves each bound from a thinned place to the spot near it that is nearest to the start, and gives the indices of those spots.
fn sharpen(spots: &[Spot], thin: &Thin, coarse: &[usize]) -> Vec<usize> {
    let start = thin.spot[coarse[0]];
    let home = spots[start].at;
    let mut bounds = vec![start];
    for &j in &coarse[1..] {
        let from = thin.spot[j.saturating_sub(1)].max(bounds[bounds.len() - 1] + 1);
        let to = thin.spot.get(j + 1).copied().unwrap_or(spots.len() - 1);
        let nearest = (from..=to.min(spots.len() - 1)).min_by(|&a, &b| {
            distance2_m2(spots[a].at, home).total_cmp(&distance2_m2(spots[b].at, home))
        });
        bounds.push(nearest.unwrap_or(thin.spot[j]));
    }
    bounds
}

/// Splits a run that was taken for fewer laps into this many: at the places nearest to its start at about equal parts of the way.
fn split(spots: &[Spot], thin: &Thin, coarse: &[usize], laps: usize) -> Vec<usize> {
    // Laps of one walker differ in length by less than this part of one.
    const UNEQUAL: f64 = 0.2;
    let (start, end) = (coarse[0], coarse[coarse.len() - 1]);
    let lap_m = (thin.way_m[end] - thin.way_m[start]) / laps as f64;
    let mut places = vec![start];
    for lap in 1..laps {
        let target_m = thin.way_m[start] + lap as f64 * lap_m;
        let nearest = (start + 1..end)
            .filter(|&i| (thin.way_m[i] - target_m).abs() < UNEQUAL * lap_m)
            .min_by(|&a, &b| {
                distance_m(thin.at(a), thin.at(start))
                    .total_cmp(&distance_m(thin.at(b), thin.at(start)))
            });
        places.extend(nearest);
    }
    places.push(end);
    sharpen(spots, thin, &places)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_nearest_is_that_of_looking_at_all() {
        let mut chance = crate::trial::chance::Chance::stream(9, "nearest");
        let at: Vec<Coord<f64>> = (0..300)
            .map(|i| {
                let angle = f64::from(i) * 0.07;
                let reach = 8.0 + 0.3 * chance.normal();
                Coord {
                    x: reach * angle.cos(),
                    y: reach * angle.sin(),
                }
            })
            .collect();
        let way_m = std::iter::once(0.0)
            .chain(at.windows(2).map(|w| distance_m(w[0], w[1])))
            .scan(0.0, |way, step| {
                *way += step;
                Some(*way)
            })
            .collect();
        let thin = Thin {
            places: &at,
            spot: (0..at.len()).collect(),
            way_m,
        };
        for home in 0..80 {
            for (hint, every) in [(home + 90, 1), (home + 70, 3), (0, 2), (usize::MAX, 1)] {
                let counts = |j: usize| j.is_multiple_of(every);
                let range = home + 60..home + 130;
                let plainly = range
                    .clone()
                    .filter(|&j| counts(j))
                    .map(|j| (distance2_m2(thin.at(j), thin.at(home)), j))
                    .min_by(|a, b| a.0.total_cmp(&b.0));
                assert_eq!(thin.nearest(home, range, hint, counts), plainly);
            }
        }
    }
}
