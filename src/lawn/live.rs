//! Which boundaries are edges of the net lawn: only there does an error of position change the area.
//!
//! Every side is cut where it meets any other boundary, and of each piece the ground a hair to its left and right is
//! looked at. Where two boundaries are one line, looking at both sides keeps the piece from
//! counting twice or not at all.

use super::disc::{Disc, pieces};
use super::region::Region;
use geo::Coord;

/// How far to the side of a boundary the ground is looked at, metres: far more than the polygon library's
/// grid on any garden, far less than any receiver can tell.
const BESIDE_M: f64 = 1e-5;

/// A deduction's ground.
#[derive(Debug, Clone)]
pub(super) enum Patch {
    Region(Region),
    Disc(Disc),
}

impl Patch {
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
    /// When each deduction comes off: of two boundaries that are one line the earlier counts.
    rank: Vec<usize>,
}

impl<'a> Boundaries<'a> {
    pub(super) fn new(
        lawns: &'a [Region],
        patches: &'a [Patch],
        order: &[usize],
    ) -> Boundaries<'a> {
        let mut rank = vec![0; patches.len()];
        for (when, &k) in order.iter().enumerate() {
            if let Some(rank) = rank.get_mut(k) {
                *rank = when;
            }
        }
        Boundaries {
            lawns,
            patches,
            rank,
        }
    }

    /// Of each side of a lawn's ring, the part that no deduction covers.
    pub(super) fn of_lawn(&self, ring: &[Coord<f64>]) -> Vec<f64> {
        let left = if turns_left(ring) { 1.0 } else { -1.0 };
        sides(ring)
            .map(|side| {
                // Nothing covers any of it.
                if self.patches.is_empty() {
                    return f64::from(u8::from(side[0] != side[1]));
                }
                let mut cuts = Vec::new();
                self.patches
                    .iter()
                    .for_each(|patch| patch.cuts(side, &mut cuts));
                live_part(side, cuts, left, |inside, _| {
                    !self.patches.iter().any(|patch| patch.contains(inside))
                })
            })
            .collect()
    }

    /// Of each side of a walked deduction's ring, the part that is an edge of the net lawn.
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
            Some(Patch::Disc(disc)) => {
                let others = || {
                    self.patches
                        .iter()
                        .enumerate()
                        .filter(move |(j, _)| *j != k)
                };
                let regions = others().filter_map(|(_, patch)| match patch {
                    Patch::Region(region) => Some(region),
                    Patch::Disc(_) => None,
                });
                let discs = others().filter_map(|(_, patch)| match patch {
                    Patch::Disc(disc) => Some(disc),
                    Patch::Region(_) => None,
                });
                let arcs = disc.arcs(self.lawns.iter().chain(regions), discs);
                let live = arcs.into_iter().filter(|(from, to)| {
                    let middle = (from + to) / 2.0;
                    self.is_edge_of_net(
                        k,
                        disc.beside(middle, -BESIDE_M),
                        disc.beside(middle, BESIDE_M),
                    )
                });
                live.map(|(from, to)| disc.radius_m * (to - from)).sum()
            }
        }
    }

    fn live_part_of(&self, k: usize, side: [Coord<f64>; 2], left: f64) -> f64 {
        let mut cuts = Vec::new();
        self.lawns
            .iter()
            .for_each(|lawn| cuts_by_region(lawn, side, &mut cuts));
        for (j, patch) in self.patches.iter().enumerate() {
            if j != k {
                patch.cuts(side, &mut cuts);
            }
        }
        live_part(side, cuts, left, |inside, outside| {
            self.is_edge_of_net(k, inside, outside)
        })
    }

    /// Whether the ground just outside a deduction is lawn that nothing else takes, and the ground just inside wasn't taken before.
    fn is_edge_of_net(&self, k: usize, inside: Coord<f64>, outside: Coord<f64>) -> bool {
        let rank = |j: usize| self.rank.get(j).copied().unwrap_or(0);
        self.lawns.iter().any(|lawn| lawn.contains(outside))
            && self.patches.iter().enumerate().all(|(j, other)| {
                j == k || !(other.contains(outside) || rank(j) < rank(k) && other.contains(inside))
            })
    }
}

fn sides(ring: &[Coord<f64>]) -> impl Iterator<Item = [Coord<f64>; 2]> + '_ {
    ring.iter()
        .zip(ring.iter().skip(1).chain(ring.first()))
        .map(|(a, b)| [*a, *b])
}

fn turns_left(ring: &[Coord<f64>]) -> bool {
    let first = ring.first().copied().unwrap_or_default();
    sides(ring)
        .map(|[a, b]| (a.x - first.x) * (b.y - first.y) - (b.x - first.x) * (a.y - first.y))
        .sum::<f64>()
        >= 0.0
}

/// Where along a segment (0 to 1) it meets a region's edges.
fn cuts_by_region(region: &Region, [a, b]: [Coord<f64>; 2], into: &mut Vec<f64>) {
    let low = Coord {
        x: a.x.min(b.x),
        y: a.y.min(b.y),
    };
    let high = Coord {
        x: a.x.max(b.x),
        y: a.y.max(b.y),
    };
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
        // edges along the segment (no crossing, or one that rounding moved) cut it at their ends
        let length2 = along.x * along.x + along.y * along.y;
        for end in [c, d] {
            let to = end - a;
            into.push((to.x * along.x + to.y * along.y) / length2);
        }
    }
}

/// The part of a segment whose pieces pass the test of the ground just inside and just outside.
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
