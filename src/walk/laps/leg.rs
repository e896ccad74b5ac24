//! Whole laps in one direction: where they begin, and where each comes back to its start.

use super::{Leg, Thin};
use crate::ring::{cross, distance_m, distance2_m2, dot, signed_area_of_m2};
use crate::walk::{Spot, turning};
use geo::Coord;
use std::f64::consts::TAU;
use std::ops::Range;

/// How far back a lap may fall short of a full turn, radians, or overshoot it.
pub(super) const SLACK_RAD: f64 = 0.7;

/// The same where both ends lie within what the receiver's error explains: on a lawn hardly wider than that error the ends of a
/// whole lap lie a fifth of a turn apart, seen from its inside.
pub(super) const LOOSE_RAD: f64 = 1.3;

/// Way left out at the ends that weighs as much as a disagreement of one and a half times what noise explains, metres.
const LEFT_OUT_M: f64 = 20.0;

/// Two closings that differ by no more than this in what they cost are as likely: that is a disagreement of 1.2 times what noise
/// explains, or fifteen metres of lead-in and lead-out.
const AS_LIKELY: f64 = 0.75;

/// A second's walk: positions further apart are those of a logger that leaves most out, and say little of where it closes, metres.
const MOST_STEP_M: f64 = 1.5;

/// Far more than rounding moves what a start costs, or a distance in metres.
const ROUNDING: f64 = 1e-6;

/// Splits a walk where it turns back: ranges of thinned places that wind one way by most of a turn.
pub(super) fn one_way(angle: &[f64]) -> Vec<(usize, usize)> {
    // A walk back along the edge shorter than this is an overrun, not a new leg.
    const TURN_BACK_RAD: f64 = 3.0;
    let mut ranges = Vec::new();
    let mut from = 0;
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

/// Splits a one-way range where logging was broken off and taken up again, if no lap is lost by it: each part has a
/// lead-in and a lead-out of its own. A hole in the middle of a lap stays inside it.
pub(super) fn without_breaks(
    spots: &[Spot],
    thin: &Thin,
    angle: &[f64],
    from: usize,
    to: usize,
) -> Vec<(usize, usize)> {
    const BREAK_S: f64 = 15.0;
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

/// Whether the parts of a walk come back to their own starts about as closely as the walk that runs on across the breaks:
/// otherwise a break is only a stretch that was lost.
pub(super) fn close_as_well(parts: &[Leg], whole: Option<&Leg>, sigma_m: f64) -> bool {
    // Between two fixes a second apart.
    const STEP_M: f64 = 0.5;
    let widest_m = |leg: &Leg| leg.gaps_m.iter().copied().fold(0.0, f64::max);
    let parted_m = parts.iter().map(widest_m).fold(0.0, f64::max);
    whole.is_none_or(|whole| parted_m <= widest_m(whole) + 2.0 * apart_m(sigma_m) + STEP_M)
}

/// How far two passes of one place are typically apart: both errors, and a pole's wobble, metres.
fn apart_m(sigma_m: f64) -> f64 {
    1.5 * sigma_m + 0.10
}

impl Thin<'_> {
    /// The place of a range that is nearest to `home` among those that count, and the square of how far it is from it, m²;
    /// of several as near the first. Looks at `hint` first: no place is nearer than one before it by more than the way
    /// between them, so that most need no looking at.
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

/// Two passes of one place closer than this show the first steps off the edge, metres.
const SHARP_M: f64 = 0.75;

/// Finds the whole laps within one one-way range.
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
    /// As many as it winds often enough for.
    laps: usize,
    /// The furthest it has wound by each place: never less than before, so that a place is found by halving.
    furthest_rad: Vec<f64>,
    /// How far two passes of one place are typically apart, metres.
    apart_m: f64,
    /// The square of how far the two ends of a lap typically are, m².
    gap2_m2: f64,
    /// Over how much of the way a direction is taken, metres.
    ahead_m: f64,
}

impl<'a> Search<'a> {
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
        // A lap comes by its start anywhere between two places, evenly: the variance of that is a twelfth of the step squared.
        let step_m = (way_m / (to - from).max(1) as f64).min(MOST_STEP_M);
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
            gap2_m2: apart_m * apart_m + step_m * step_m / 12.0,
            ahead_m: (2.0 * apart_m + 1.0).clamp(1.5, (lap_m / 10.0).max(1.5)),
        }
    }

    fn wound(&self, i: usize) -> f64 {
        self.turn * self.angle[i]
    }

    /// The first place from `search` on that has wound so far; the one after the last where none has.
    fn reaches(&self, search: usize, rad: f64) -> usize {
        let first = self.from
            + self
                .furthest_rad
                .partition_point(|&furthest| furthest < rad);
        if first >= search {
            return first;
        }
        // It had been that far before, and went back.
        (search..=self.to)
            .find(|&i| self.wound(i) >= rad)
            .unwrap_or(self.to + 1)
    }

    /// Where the laps begin and end at the least cost, and how much more area a single lap would hold where it closes about as well,
    /// m², where that differs most.
    fn closing(&self) -> Option<(Vec<usize>, f64)> {
        // The way in may wind the other way first, and the way out unwind some of it again.
        let peak_rad = *self.furthest_rad.last()?;
        // Several laps closed where only one of them passes differ in area, and that is told.
        let as_likely = if self.laps == 1 { AS_LIKELY } else { ROUNDING };
        let mut best: Option<(f64, Vec<usize>)> = None;
        let mut closings: Vec<(f64, usize, usize)> = Vec::new();
        let (mut bounds, mut last) = (Vec::new(), Vec::new());
        for start in self.from..self.to {
            if peak_rad - self.wound(start) < self.laps as f64 * TAU - self.slack_rad {
                continue;
            }
            // What is left out before the start costs that much at least, and more at all later ones.
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
            closings.push((cost, start, end));
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

    /// Follows the laps from `start` and puts into `bounds` where each of them comes back to it; `last` are those of the start before.
    /// What their gaps cost, unless that and `least` come to more than `most`.
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
            // The start before this one came round a step before it.
            let hint = last.get(lap).map_or(start, |&end| end + 1);
            let (gap2_m2, j) = self.thin.nearest(start, range, hint, counts)?;
            gap_sum += gap2_m2;
            gap_cost = gap_sum / self.laps as f64 / (2.0 * self.gap2_m2);
            if gap_cost + least > most {
                return None;
            }
            bounds.push(j);
            search = j;
        }
        Some(gap_cost)
    }

    /// By how much a walk that sets out from `start` comes to `end` the way it went, 0 where it does not: then it has not come
    /// round, but closes at the gate, or across a narrow lawn.
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

/// The most that any value of a walk lies above one before it.
fn climb_rad(wound: impl Iterator<Item = f64>) -> f64 {
    let (mut low, mut climb) = (f64::INFINITY, 0.0f64);
    for rad in wound {
        low = low.min(rad);
        climb = climb.max(rad - low);
    }
    climb
}

/// How much more the walk holds between the ends of that closing which differs most from `chosen`, m², negative where it holds
/// less; counter-clockwise.
fn differs_m2(
    thin: &Thin,
    chosen: (usize, usize),
    closings: impl Iterator<Item = (usize, usize)>,
) -> f64 {
    let origin = thin.at(chosen.0);
    let swept_m2 = |a: usize, b: usize| 0.5 * cross(thin.at(a) - origin, thin.at(b) - origin);
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

/// Direction in which the walk leaves a place (`way` 1) or comes to it (`way` -1), over `ahead_m` metres of its way, and more
/// until it is off by half as much: the wander of a standstill would pass for way. (Off by all of it would lead round the end
/// of a narrow lawn and back.)
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

/// Moves each bound from the thinned places to the nearest of all spots.
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

/// Splits what was taken for fewer laps into this many: where it comes nearest to its start at about equal parts of the
/// way.
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
