//! A lap without what was walked more than once, so that it passes each place of the edge once.
//!
//! A walker turns round to pick something up, walks a side again, or comes back to the start and begins again. A line that goes round a
//! lawn once never passes a place twice in one direction: what runs beside a stretch of it lies across the lawn, or across what is no
//! lawn, and goes the other way. So where a lap passes a place again in the same direction, and went back in between, the way between the
//! two passes is a loop that is no part of the edge.

use super::foot;
use super::{distance_m, dot, signed_area_of_m2, size_m};
use geo::Coord;
use rstar::RTree;
use rstar::primitives::{GeomWithData, Line};

/// How far beside the first pass of a place a second one may lie, metres for the hand, and sigmas of the receiver on top of that.
const AGAIN_M: f64 = 0.3;
const AGAIN_SIGMAS: f64 = 3.0;
/// But no further than this part of the lap's length: where a receiver's error is as large as the lawn is wide, that would reach the
/// other side of it.
pub(crate) const AGAIN_PART: f64 = 1.0 / 16.0;
/// Cosine of the angle by which two passes of one place may differ in direction and still go the same way (46 degrees); and the cosine
/// from which down a step goes back.
const SAME_WAY: f64 = 0.7;
const BACK: f64 = -0.7;
/// Where two passes of one place may lie apart by more than this part of the way, one side cannot be told from another, and nothing is
/// cut out.
const LOST_PART: f64 = 1.0 / 10.0;
/// The way between two passes is at least this many times as long as they are apart, and this many steps: if it is shorter, it is the way
/// on and not a way back.
const LONGER: f64 = 3.0;
const STEPS: f64 = 1.5;
/// How many spans beside one place are looked at, at most: a lap has a few, someone who stands on one spot for hours has more.
const MOST_NEAR: usize = 256;

/// What is left of a lap when its loops are cut out.
#[derive(Debug, Clone, PartialEq)]
pub struct Once {
    /// The indices of the places that are left, in their order.
    pub kept: Vec<usize>,
    /// The signed area of all loops together, counter-clockwise positive, m².
    pub loops_m2: f64,
}

/// How far beside the first pass of a place a second one lies at the most, metres, for a receiver of this sigma.
pub(crate) fn beside_m(sigma_m: f64) -> f64 {
    AGAIN_M + AGAIN_SIGMAS * sigma_m
}

/// Cuts the loops out of a closed lap whose places are about `step_m` apart. Nothing is cut out of fewer than four places, nor where the
/// error is too large to tell two sides of the lawn apart.
pub(crate) fn once(lap: &[Coord<f64>], sigma_m: f64, step_m: f64) -> Once {
    let mut once = Once {
        kept: Vec::with_capacity(lap.len()),
        loops_m2: 0.0,
    };
    if lap.len() < 4 {
        once.kept.extend(0..lap.len());
        return once;
    }
    let passes = Passes::new(lap, beside_m(sigma_m), step_m);
    if beside_m(sigma_m) > passes.way_m[lap.len() - 1] * LOST_PART {
        once.kept.extend(0..lap.len());
        return once;
    }
    let (mut at, mut end) = (0, lap.len());
    while at < end {
        once.kept.push(at);
        if let Some(again) = passes.again(at, end) {
            let between_m2 = signed_area_of_m2(lap[at..=again].iter().copied());
            let around = once.kept.iter().copied().chain(again + 1..end);
            let around_m2 = signed_area_of_m2(around.map(|i| lap[i]));
            if between_m2.abs() > around_m2.abs() {
                // The loop is larger than the rest: the walk began again here, so that what came before and what comes after is the loop.
                once.kept.clear();
                once.kept.push(at);
                once.loops_m2 += around_m2;
                end = again + 1;
            } else {
                once.loops_m2 += between_m2;
                at = again;
            }
        }
        at += 1;
    }
    once
}

type Span = GeomWithData<Line<[f64; 2]>, usize>;

/// A lap with an index of its spans by place, for finding those that lie near to a place without going through all.
struct Passes<'a> {
    lap: &'a [Coord<f64>],
    /// The way from the first place to each, metres.
    way_m: Vec<f64>,
    spans: RTree<Span>,
    within_m: f64,
    step_m: f64,
}

impl Passes<'_> {
    /// Indexes the lap's spans. `within_m` is how far beside its first pass a second one may lie; `step_m` is about how far places are
    /// apart.
    fn new(lap: &[Coord<f64>], within_m: f64, step_m: f64) -> Passes<'_> {
        let spans = lap.windows(2).enumerate().map(|(i, pair)| {
            let [a, b] = [pair[0], pair[1]].map(|at| [at.x, at.y]);
            Span::new(Line::new(a, b), i)
        });
        let way_m = lap.windows(2).scan(0.0, |way_m, pair| {
            *way_m += distance_m(pair[0], pair[1]);
            Some(*way_m)
        });
        let way_m: Vec<f64> = std::iter::once(0.0).chain(way_m).collect();
        Passes {
            lap,
            within_m: within_m.min(AGAIN_PART * way_m[way_m.len() - 1]),
            way_m,
            spans: RTree::bulk_load(spans.collect()),
            step_m,
        }
    }

    /// The vector from one place to the next, and from the last to the first.
    fn span(&self, i: usize) -> Coord<f64> {
        self.lap[(i + 1) % self.lap.len()] - self.lap[i]
    }

    /// The place that lies `way_m` metres along the way; the last one beyond its end.
    fn along(&self, way_m: f64) -> Coord<f64> {
        let last = self.lap.len() - 1;
        let i = self.way_m.partition_point(|&m| m <= way_m).clamp(1, last);
        let (from_m, to_m) = (self.way_m[i - 1], self.way_m[i]);
        let part = ((way_m - from_m) / (to_m - from_m).max(1e-12)).min(1.0);
        self.lap[i - 1] + (self.lap[i] - self.lap[i - 1]) * part
    }

    /// The first span between `at` and `end` on which the lap passes place `at` again in the same direction, after it went back in
    /// between; by the index of the place that it sets out from. `None` where there is none.
    fn again(&self, at: usize, end: usize) -> Option<usize> {
        let (here, ahead) = (self.lap[at], self.span(at));
        // Cosine of the angle between a span and the one that sets out from `at`.
        let goes = |i: usize| {
            let way = self.span(i);
            dot(way, ahead) / (size_m(way) * size_m(ahead)).max(1e-12)
        };
        let passes = |j: usize| {
            let place = foot(here, self.lap[j], self.lap[j + 1]);
            let apart_m = distance_m(here, place);
            let there_m = self.way_m[j] + distance_m(self.lap[j], place);
            let between_m = there_m - self.way_m[at];
            // Both passes go on beside each other for a while, which a mere crossing does not.
            let together = |part: f64| {
                let on_m = part * self.within_m;
                let [one, other] =
                    [self.way_m[at], there_m].map(|from_m| self.along(from_m + on_m));
                distance_m(one, other) < self.within_m
            };
            between_m > (LONGER * apart_m).max(STEPS * self.step_m)
                && goes(j) > SAME_WAY
                && [0.5, 1.0, 1.5].into_iter().all(together)
        };
        let near = self
            .spans
            .locate_within_distance([here.x, here.y], self.within_m * self.within_m);
        let mut found: Vec<usize> = near
            .map(|span| span.data)
            .filter(|&j| j > at && j + 1 < end)
            .take(MOST_NEAR)
            .filter(|&j| passes(j))
            .collect();
        found.sort_unstable();
        let last = *found.last()?;
        let back = (at + 1..last).find(|&k| goes(k) < BACK)?;
        crate::steps::count(back - at);
        found.into_iter().find(|&j| j > back)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A walk through corners, a place every half metre.
    fn walk(corners: &[(f64, f64)]) -> Vec<Coord<f64>> {
        const STEP_M: f64 = 0.5;
        let mut places = Vec::new();
        for pair in corners.windows(2) {
            let [a, b] = [pair[0], pair[1]].map(Coord::from);
            let steps = (distance_m(a, b) / STEP_M).round();
            places.extend((0..steps as usize).map(|k| a + (b - a) * (k as f64 / steps)));
        }
        places
    }

    /// Length of what is kept, and what the loops hold.
    fn kept(corners: &[(f64, f64)]) -> (f64, f64) {
        let lap = walk(corners);
        let once = once(&lap, 0.02, 0.5);
        let ring = once.kept.iter().map(|&i| lap[i]);
        (crate::ring::perimeter_of_m(ring), once.loops_m2)
    }

    const SQUARE: [(f64, f64); 4] = [(0.0, 0.0), (10.0, 0.0), (10.0, 8.0), (0.0, 8.0)];

    #[test]
    fn what_was_walked_to_and_fro_is_cut_out() {
        let [a, b, c, d] = SQUARE;
        let near = |(length_m, loops_m2): (f64, f64), true_m: f64, held_m2: f64| {
            assert!((length_m - true_m).abs() < 0.6, "{length_m} {true_m}");
            assert!((loops_m2 - held_m2).abs() < 0.6, "{loops_m2} {held_m2}");
        };
        near(kept(&[a, b, c, d, a]), 36.0, 0.0);
        // A side walked again from the middle of a side, and from round a corner; the first side walked again; begun anew; and a few
        // steps back.
        near(kept(&[a, b, c, b, c, d, a]), 36.0, 0.0);
        near(
            kept(&[a, b, (10.0, 4.0), b, (4.0, 0.0), b, c, d, a]),
            36.0,
            0.0,
        );
        near(kept(&[a, b, a, b, c, d, a]), 36.0, 0.0);
        near(kept(&[a, b, (10.0, 4.0), (10.0, 2.5), c, d, a]), 36.0, 0.0);
        // Half way round, straight back across, and begun again: the loop holds half of it.
        near(kept(&[a, b, c, a, b, c, d, a]), 36.0, 40.0);
        // The same walked clockwise.
        near(kept(&[a, d, c, a, d, c, b, a]), 36.0, -40.0);
    }

    /// A strip of lawn half a metre wide is walked along both its sides, and an arm of the lawn that turns back beside another part is no
    /// way back.
    #[test]
    fn narrow_parts_of_a_lawn_stay() {
        let [a, b, c, d] = SQUARE;
        let strip = [
            a,
            (5.0, 0.0),
            (5.0, -6.0),
            (5.5, -6.0),
            (5.5, 0.0),
            b,
            c,
            d,
            a,
        ];
        assert!((kept(&strip).0 - 47.5).abs() < 0.6);
        let arm = [
            a,
            (5.0, 0.0),
            (5.0, -2.0),
            (9.0, -2.0),
            (9.0, -1.5),
            (5.5, -1.5),
            (5.5, 0.0),
            b,
            c,
            d,
            a,
        ];
        assert!((kept(&arm).0 - 47.0).abs() < 0.8, "{:?}", kept(&arm));
    }
}
