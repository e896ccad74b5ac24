//! One edge from several laps: each node of the first lap is averaged with the places of the other laps beside it.
//!
//! The partner of a node is looked for where the other lap should be after the same part of its way, so that the other side of a narrow
//! lawn is not taken for it.

use super::Node;
use crate::ring::{distance_m, distance2_m2, dot, foot};
use geo::Coord;
use std::ops::Range;

/// Rotates a ring so that it begins where another ring of the same edge does: a lap that goes the other way round, or comes after a
/// break, sets out from anywhere. Of all its nodes that one becomes the first from which the ring lies nearest to the other, compared at
/// sixteen equal parts of the way.
pub(super) fn begin_beside(ring: &mut [Node], other: &[Node], spacing_m: f64) {
    const PARTS: usize = 16;
    // Laps of one run set out from the same place in the same direction already.
    let on = |ring: &[Node]| ring[1 % ring.len()].at - ring[0].at;
    if distance_m(ring[0].at, other[0].at) < spacing_m && dot(on(ring), on(other)) > 0.0 {
        return;
    }
    let along = |ring: &[Node]| -> Vec<f64> {
        let mut way_m = 0.0;
        let ends = spans_m(ring).map(|span_m| {
            way_m += span_m;
            way_m
        });
        std::iter::once(0.0).chain(ends).collect()
    };
    let (own_m, other_m) = (along(ring), along(other));
    let at = |ring: &[Node], along_m: &[f64], way_m: f64| {
        let whole_m = along_m[ring.len()].max(1e-9);
        let i = along_m.partition_point(|&m| m <= way_m.rem_euclid(whole_m));
        ring[i.saturating_sub(1).min(ring.len() - 1)].at
    };
    let part = |k: usize| k as f64 / PARTS as f64;
    let (own_whole_m, other_whole_m) = (own_m[ring.len()], other_m[other.len()]);
    let marks: Vec<Coord<f64>> = (0..PARTS)
        .map(|k| at(other, &other_m, part(k) * other_whole_m))
        .collect();
    let off_m2 = |from: usize| -> f64 {
        let here = |k: usize| at(ring, &own_m, own_m[from] + part(k) * own_whole_m);
        let apart_m2 = (0..PARTS).map(|k| distance2_m2(here(k), marks[k]));
        apart_m2.sum()
    };
    crate::steps::count(ring.len());
    let nearest = (0..ring.len()).min_by(|&a, &b| off_m2(a).total_cmp(&off_m2(b)));
    ring.rotate_left(nearest.unwrap_or(0));
}

/// One lap's nodes, with the other laps averaged into them place by place.
pub(super) struct Mean<'a> {
    nodes: &'a [Node],
    spans_m: Vec<f64>,
    whole_m: f64,
    /// For each node the sum of its places in the laps so far, and how many they are.
    sums: Vec<(Coord<f64>, f64)>,
}

/// The distance from each node to the next, and from the last to the first, metres.
fn spans_m(ring: &[Node]) -> impl Iterator<Item = f64> {
    let next = ring.iter().skip(1).chain(ring.first());
    ring.iter().zip(next).map(|(a, b)| distance_m(a.at, b.at))
}

impl Mean<'_> {
    /// Begins with one lap alone.
    pub(super) fn new(nodes: &[Node]) -> Mean<'_> {
        let spans_m: Vec<f64> = spans_m(nodes).collect();
        Mean {
            nodes,
            whole_m: spans_m.iter().sum(),
            spans_m,
            sums: nodes.iter().map(|n| (n.at, 1.0)).collect(),
        }
    }

    /// Adds another lap: each node gets the place of that lap beside it, if there is one. Does nothing where the first lap has fewer than
    /// three nodes.
    pub(super) fn add(&mut self, lap: &[Node]) {
        if self.nodes.len() < 3 {
            return;
        }
        // The way from the lap's start to each of its nodes, and at the end from the last of them back to the start.
        let mut total_m = 0.0;
        let mut ways_m = vec![0.0];
        ways_m.extend(spans_m(lap).map(|span_m| {
            total_m += span_m;
            total_m
        }));
        let (mut way_m, mut from, mut to, mut hint) = (0.0, 0, 0, 0);
        let own = self.nodes.iter().zip(&self.spans_m);
        for ((here, span_m), sum) in own.zip(&mut self.sums) {
            // The partner is looked for where the other lap should be by now, give or take a tenth of a lap.
            let expect_m = way_m / self.whole_m * total_m;
            while from + 1 < lap.len() && ways_m[from + 1] < expect_m - 0.1 * total_m {
                from += 1;
            }
            while to < lap.len() && ways_m[to] <= expect_m + 0.1 * total_m {
                to += 1;
            }
            way_m += span_m;
            let range = from..to.max(from);
            let Some((nearest_m, foot, span)) = nearest(lap, &ways_m, range.clone(), hint, here.at)
            else {
                continue;
            };
            hint = span + 1;
            let pause = lap[range]
                .iter()
                .filter(|other| here.paused && other.paused)
                .map(|other| (distance_m(other.at, here.at), other.at))
                .min_by(|a, b| a.0.total_cmp(&b.0));
            // A standstill goes with a standstill, as both are at one corner, unless that is much further than the nearest place.
            let partner = match pause {
                Some((to_pause_m, at)) if to_pause_m < 2.0 * nearest_m + 0.5 => at,
                _ => foot,
            };
            sum.0 = sum.0 + partner;
            sum.1 += 1.0;
        }
    }

    /// The averaged nodes, in the order of the first lap.
    pub(super) fn nodes(&self) -> Vec<Node> {
        let of_each = self.nodes.iter().zip(&self.sums);
        of_each
            .map(|(node, &(sum, count))| Node {
                at: sum / count,
                fixes: node.fixes * count,
                ..*node
            })
            .collect()
    }
}

/// The place of a lap that is nearest to `here`, on the spans that set out from the nodes in `range`: its distance in metres, the place,
/// and the index of its span; `None` for an empty range.
///
/// It looks at `hint` first. From a place that is far away the lap needs at least as much way as it is further than the best one, so that
/// most spans need no looking at.
fn nearest(
    lap: &[Node],
    ways_m: &[f64],
    range: Range<usize>,
    hint: usize,
    here: Coord<f64>,
) -> Option<(f64, Coord<f64>, usize)> {
    let on_span = |k: usize| {
        let next = lap.get(k + 1).unwrap_or(&lap[0]);
        let foot = foot(here, lap[k].at, next.at);
        (distance_m(foot, here), foot, k)
    };
    let mut best = range.contains(&hint).then(|| on_span(hint));
    let mut k = range.start;
    while k < range.end {
        let away_m = distance_m(lap[k].at, here);
        let least_m = best.map_or(f64::INFINITY, |b| b.0);
        if away_m - (ways_m[k + 1] - ways_m[k]) <= least_m {
            let found = on_span(k);
            if found.0 < least_m {
                best = Some(found);
            }
        }
        let free_m = ways_m[k] + away_m - best.map_or(f64::INFINITY, |b| b.0);
        k += 1;
        while k < range.end && ways_m[k + 1] < free_m {
            k += 1;
        }
    }
    best
}
