//! Which boundaries are edges of the net lawn ("live"): there alone an error of position changes the net area. The side of a bed that
//! lies beyond the lawn, or under another bed, does not count.
//!
//! Every side is cut where it meets any other boundary, and of each piece the ground just to its left and just to its right is looked at.
//! Where two boundaries are one line, looking at both sides keeps the piece from counting twice or not at all.

use super::disc::{Disc, pieces};
use super::near::Near;
use super::region::Region;
use geo::{Coord, Rect};
use std::collections::BTreeSet;

/// How far to the side of a boundary the ground is looked at, metres: far more than the polygon library's
/// grid on any garden, far less than any receiver can tell.
const BESIDE_M: f64 = 1e-5;

/// The ground of one deduction: straight-sided, or a round bed.
#[derive(Debug, Clone)]
pub(super) enum Patch {
    Region(Region),
    Disc(Disc),
}

impl Patch {
    fn bounds(&self) -> Option<Rect<f64>> {
        match self {
            Patch::Region(region) => region.bounds(),
            Patch::Disc(disc) => Some(disc.bounds()),
        }
    }

    fn contains(&self, at: Coord<f64>) -> bool {
        match self {
            Patch::Region(region) => region.contains(at),
            Patch::Disc(disc) => disc.contains(at),
        }
    }

    fn cuts(&self, [a, b]: [Coord<f64>; 2], into: &mut Vec<f64>) {
        match self {
            Patch::Region(region) => cuts_by_region(region, [a, b], into),
            Patch::Disc(disc) => into.extend(disc.cuts_of_segment([a, b])),
        }
    }
}

/// All lawns and deductions of a job.
pub(super) struct Boundaries<'a> {
    lawns: &'a [Region],
    patches: &'a [Patch],
    /// Indexes of where the lawns are, and of where the deductions are, without those that lie wholly under another.
    lawns_near: Near,
    patches_near: Near,
    under: &'a BTreeSet<usize>,
    /// The place of each deduction in the order in which they come off: where two boundaries are one line, the earlier one counts.
    rank: Vec<usize>,
}

impl<'a> Boundaries<'a> {
    /// `order` has the indices of the deductions in the order in which they come off, `under` those of beds that lie wholly under
    /// another.
    pub(super) fn new(
        lawns: &'a [Region],
        patches: &'a [Patch],
        order: &[usize],
        under: &'a BTreeSet<usize>,
    ) -> Boundaries<'a> {
        let mut rank = vec![0; patches.len()];
        for (when, &k) in order.iter().enumerate() {
            if let Some(rank) = rank.get_mut(k) {
                *rank = when;
            }
        }
        let seen = patches.iter().map(Patch::bounds).enumerate();
        Boundaries {
            lawns,
            patches,
            lawns_near: Near::of(lawns.iter().map(Region::bounds).enumerate()),
            patches_near: Near::of(seen.filter(|(k, _)| !under.contains(k))),
            under,
            rank,
        }
    }

    /// The deductions that may come within the distance at which the ground is looked at of the box between two corners, each with its
    /// number.
    fn beside(&self, low: Coord<f64>, high: Coord<f64>) -> Vec<(usize, &'a Patch)> {
        let hair = Coord {
            x: BESIDE_M,
            y: BESIDE_M,
        } * 2.0;
        let near = self.patches_near.within(low - hair, high + hair);
        near.into_iter()
            .filter_map(|k| Some((k, self.patches.get(k)?)))
            .collect()
    }

    /// The lawns that may come within that distance of the box between two corners.
    fn lawns_beside(&self, low: Coord<f64>, high: Coord<f64>) -> Vec<&'a Region> {
        let hair = Coord {
            x: BESIDE_M,
            y: BESIDE_M,
        } * 2.0;
        let near = self.lawns_near.within(low - hair, high + hair);
        near.into_iter().filter_map(|k| self.lawns.get(k)).collect()
    }

    /// For each side of a lawn's ring the part (0 to 1) that no deduction covers.
    pub(super) fn of_lawn(&self, ring: &[Coord<f64>]) -> Vec<f64> {
        let left = if turns_left(ring) { 1.0 } else { -1.0 };
        sides(ring)
            .map(|side| {
                let (low, high) = box_of(side);
                let near = self.beside(low, high);
                // No deduction is near: all of it is live, unless the side has no length.
                if near.is_empty() {
                    return f64::from(u8::from(side[0] != side[1]));
                }
                let mut cuts = Vec::new();
                near.iter()
                    .for_each(|(_, patch)| patch.cuts(side, &mut cuts));
                live_part(side, cuts, left, |inside, _| {
                    !near.iter().any(|(_, patch)| patch.contains(inside))
                })
            })
            .collect()
    }

    /// For each side of a walked deduction's ring the part (0 to 1) that is an edge of the net lawn.
    pub(super) fn of_deduction(&self, k: usize, ring: &[Coord<f64>]) -> Vec<f64> {
        let left = if turns_left(ring) { 1.0 } else { -1.0 };
        sides(ring)
            .map(|side| self.live_part_of(k, side, left))
            .collect()
    }

    /// Length of a deduction's boundary that is an edge of the net lawn, metres.
    pub(super) fn length_m(&self, k: usize) -> f64 {
        match self.patches.get(k) {
            None => 0.0,
            Some(Patch::Region(region)) => region
                .edges()
                .iter()
                .map(|&[a, b]| (b.x - a.x).hypot(b.y - a.y) * self.live_part_of(k, [a, b], 1.0))
                .sum(),
            // A bed that lies wholly under another has no live edge.
            Some(Patch::Disc(_)) if self.under.contains(&k) => 0.0,
            Some(Patch::Disc(disc)) => {
                let (low, high) = disc.corners();
                let (lawns, near) = (self.lawns_beside(low, high), self.beside(low, high));
                let others = || near.iter().filter(|(j, _)| *j != k);
                let regions = others().filter_map(|(_, patch)| match patch {
                    Patch::Region(region) => Some(region),
                    Patch::Disc(_) => None,
                });
                let discs = others().filter_map(|(_, patch)| match patch {
                    Patch::Disc(disc) => Some(disc),
                    Patch::Region(_) => None,
                });
                let arcs = disc.arcs(lawns.iter().copied().chain(regions), discs);
                let live = arcs.into_iter().filter(|(from, to)| {
                    let middle = (from + to) / 2.0;
                    self.is_edge_of_net(
                        k,
                        (&lawns, &near),
                        disc.beside(middle, -BESIDE_M),
                        disc.beside(middle, BESIDE_M),
                    )
                });
                live.map(|(from, to)| disc.radius_m * (to - from)).sum()
            }
        }
    }

    /// The part (0 to 1) of one side of deduction `k` that is an edge of the net lawn; `left` is 1 where the deduction lies to the left
    /// of the side, and -1 where it lies to its right.
    fn live_part_of(&self, k: usize, side: [Coord<f64>; 2], left: f64) -> f64 {
        let (low, high) = box_of(side);
        let (lawns, near) = (self.lawns_beside(low, high), self.beside(low, high));
        let mut cuts = Vec::new();
        lawns
            .iter()
            .for_each(|lawn| cuts_by_region(lawn, side, &mut cuts));
        for (j, patch) in &near {
            if *j != k {
                patch.cuts(side, &mut cuts);
            }
        }
        live_part(side, cuts, left, |inside, outside| {
            self.is_edge_of_net(k, (&lawns, &near), inside, outside)
        })
    }

    /// Whether a piece of deduction `k`'s boundary is an edge of the net lawn: the ground just outside it must be lawn that no other
    /// deduction takes, and the ground just inside must not have been taken by an earlier one. Only the lawns and deductions given, those
    /// near it, are asked.
    fn is_edge_of_net(
        &self,
        k: usize,
        (lawns, near): (&[&Region], &[(usize, &Patch)]),
        inside: Coord<f64>,
        outside: Coord<f64>,
    ) -> bool {
        let rank = |j: usize| self.rank.get(j).copied().unwrap_or(0);
        lawns.iter().any(|lawn| lawn.contains(outside))
            && near.iter().all(|&(j, other)| {
                j == k || !(other.contains(outside) || rank(j) < rank(k) && other.contains(inside))
            })
    }
}

/// The corners of the box about a segment.
fn box_of([a, b]: [Coord<f64>; 2]) -> (Coord<f64>, Coord<f64>) {
    (
        Coord {
            x: a.x.min(b.x),
            y: a.y.min(b.y),
        },
        Coord {
            x: a.x.max(b.x),
            y: a.y.max(b.y),
        },
    )
}

/// The sides of a ring, the closing one as well.
fn sides(ring: &[Coord<f64>]) -> impl Iterator<Item = [Coord<f64>; 2]> + '_ {
    ring.iter()
        .zip(ring.iter().skip(1).chain(ring.first()))
        .map(|(a, b)| [*a, *b])
}

/// Whether a ring goes round counter-clockwise.
fn turns_left(ring: &[Coord<f64>]) -> bool {
    let first = ring.first().copied().unwrap_or_default();
    sides(ring)
        .map(|[a, b]| (a.x - first.x) * (b.y - first.y) - (b.x - first.x) * (a.y - first.y))
        .sum::<f64>()
        >= 0.0
}

/// Adds where along a segment (0 to 1, and beyond) it meets a region's edges.
fn cuts_by_region(region: &Region, [a, b]: [Coord<f64>; 2], into: &mut Vec<f64>) {
    let (low, high) = box_of([a, b]);
    let along = b - a;
    for [c, d] in region.edges_near(low, high) {
        let across = d - c;
        let cross = along.x * across.y - along.y * across.x;
        let from = c - a;
        let t = (from.x * across.y - from.y * across.x) / cross;
        if t.is_finite() {
            // where the *line* of the edge meets: cutting too often does no harm
            into.push(t);
        }
        // an edge that runs along the segment has no crossing with it (or one that rounding moved), so its ends cut the segment as well
        let length2 = along.x * along.x + along.y * along.y;
        for end in [c, d] {
            let to = end - a;
            into.push((to.x * along.x + to.y * along.y) / length2);
        }
    }
}

/// The part (0 to 1) of a segment whose pieces pass the test of the ground just inside and just outside their middles; 0 for one without
/// length.
fn live_part(
    [a, b]: [Coord<f64>; 2],
    cuts: Vec<f64>,
    left: f64,
    live: impl Fn(Coord<f64>, Coord<f64>) -> bool,
) -> f64 {
    let along = b - a;
    let length = along.x.hypot(along.y);
    if length == 0.0 {
        return 0.0;
    }
    let inwards = Coord {
        x: -along.y,
        y: along.x,
    } * (left * BESIDE_M / length);
    pieces(cuts.into_iter().filter(|t| t.is_finite()).collect())
        .filter(|(from, to)| {
            let middle = a + along * ((from + to) / 2.0);
            live(middle + inwards, middle - inwards)
        })
        .map(|(from, to)| to - from)
        .sum()
}
