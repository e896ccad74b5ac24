//! Everything that the net area's error is made of, gathered from what was walked, laid and taped.
//!
//! A fix moves the net area only where its stretch of the edge bounds net lawn (is "live"). Its pull, the area's gradient there times its
//! sigma, is therefore weighed with the live part of the side nearest to it. Fixes of a ring that is taken off pull the other way.

use super::beds::Bed;
use super::collect::Collected;
use super::walked::Walked;
use crate::band::budget::{Causes, Term};
use crate::band::propagate::Pull;
use crate::cause::Cause;
use crate::edge::Vertex;
use crate::lawn::Laid;
use crate::process::hand::PATH_WIDTH_SIGMA_M;
use crate::ring::{distance_m, foot};
use rstar::primitives::GeomWithData;
use rstar::{PointDistance, RTree};
use std::sync::Arc;

/// A walked ring as the net area has it.
struct Ring<'a> {
    walked: &'a Walked,
    /// For each of its sides the part (0 to 1) that bounds the net area.
    live: &'a [f64],
    /// The length that bounds the net area, metres.
    live_m: f64,
    /// 1 for a lawn, -1 for a ring that is taken off.
    sign: f64,
}

impl Ring<'_> {
    fn new<'a>(walked: &'a Walked, live: &'a [f64], sign: f64) -> Ring<'a> {
        Ring {
            walked,
            live,
            live_m: live_length_m(walked, live),
            sign,
        }
    }

    /// Whether no side of it lies in something that is taken off.
    fn whole(&self) -> bool {
        self.live.iter().all(|&part| part > 0.999)
    }

    /// Its pulls on the net area, one for each fix.
    fn pulls(&self) -> Vec<Pull> {
        let whole = self.whole();
        let vertices = if whole {
            &[]
        } else {
            &self.walked.edge.vertices[..]
        };
        let near = LiveNear::new(vertices, self.live);
        let at = self.walked.pull_at();
        let pulls = self
            .walked
            .inside
            .pulls
            .iter()
            .zip(at.iter())
            .map(|(pull, at)| {
                let part = self.sign * if whole { 1.0 } else { near.part(*at) };
                Pull {
                    t_s: pull.t_s,
                    pull_m2: pull.pull_m2.map(|w| w * part),
                }
            });
        pulls.collect()
    }
}

/// All causes of the net area's error. `laid`'s deductions come in this order: those of `deducts`, then the paths, then the beds.
pub(super) fn of(
    collected: &Collected,
    lawns: &[Walked],
    deducts: &[Walked],
    laid: &Laid,
    beds: &[Bed],
) -> Causes {
    let live_lawns = laid.lawns.iter().map(|lawn| &lawn.live_sides[..]);
    let lawns = lawns.iter().zip(live_lawns);
    let live_deducts = laid.deductions.iter().map(|d| &d.live_sides[..]);
    let inside = deducts.iter().zip(live_deducts);
    let rings: Vec<Ring> = lawns
        .map(|(walked, live)| Ring::new(walked, live, 1.0))
        .chain(inside.map(|(walked, live)| Ring::new(walked, live, -1.0)))
        .collect();
    let mut causes = Causes {
        pulls: match &rings[..] {
            // These are the walk's own pulls; for a long log there is no memory to have them twice.
            [only] if only.whole() => Arc::clone(&only.walked.inside.pulls),
            several => Arc::new(several.iter().flat_map(Ring::pulls).collect()),
        },
        ..Causes::default()
    };
    for ring in &rings {
        let share = ring.live_m / ring.walked.edge.perimeter_m.max(1e-9);
        causes.gradient2_m2 += ring.walked.inside.gradient2_m2 * share;
        causes.laps = causes.laps.max(f64::from(ring.walked.laps));
        causes.passes_s = causes.passes_s.max(ring.walked.passes_s());
        if ring.whole() {
            causes.coarse.push(ring.walked.inside.coarse.clone());
        }
    }
    causes.in_order_of_time();
    let rest = &laid.deductions[deducts.len().min(laid.deductions.len())..];
    let (paths, discs) = rest.split_at(collected.paths.len().min(rest.len()));
    let path_m4 = (paths.iter().zip(&collected.paths))
        .map(|(d, p)| (d.live_m / 2.0 * p.width_sigma_m.unwrap_or(PATH_WIDTH_SIGMA_M)).powi(2));
    let bed_m4 = (discs.iter().zip(beds)).map(|(d, bed)| (d.live_m * bed.radius_sigma_m).powi(2));
    causes.others = of_the_rings(&rings);
    causes.others.extend(term(Cause::Paths, path_m4.sum(), 0.0));
    causes.others.extend(term(Cause::Beds, bed_m4.sum(), 0.0));
    causes
}

/// The terms that the rings add besides the receiver's errors: the hand (`edge`), corners between fixes (`sampling`), the closing line
/// and gaps.
fn of_the_rings(rings: &[Ring]) -> Vec<Term> {
    // Adding 0 turns the -0 of an empty sum into 0.
    let sum = |of: fn(&Ring) -> f64| 0.0 + rings.iter().map(of).sum::<f64>();
    let terms = [
        term(
            Cause::Edge,
            sum(|ring| (ring.live_m * ring.walked.carry_sigma_m).powi(2)),
            sum(|ring| ring.sign * ring.walked.carried_m2),
        ),
        term(
            Cause::Sampling,
            sum(|ring| ring.walked.inside.sampling_sigma_m2.powi(2)),
            sum(|ring| ring.sign * ring.walked.smoothing_m2),
        ),
        term(
            Cause::Closing,
            sum(|ring| ring.walked.closed.sigma_m2.powi(2)),
            0.0,
        ),
        term(
            Cause::Gaps,
            sum(|ring| ring.walked.gaps_m4()),
            sum(|ring| ring.sign * ring.walked.bulges_m2),
        ),
    ];
    terms.into_iter().flatten().collect()
}

/// A line of the budget; `None` where it is nothing.
fn term(term: Cause, variance_m4: f64, correction_m2: f64) -> Option<Term> {
    (variance_m4 > 0.0 || correction_m2 != 0.0).then(|| Term {
        term,
        sigma_m2: variance_m4.sqrt(),
        correction_m2,
    })
}

/// Finds which part of an edge is live near a place.
struct LiveNear<'a> {
    sides: RTree<GeomWithData<rstar::primitives::Line<[f64; 2]>, usize>>,
    vertices: &'a [Vertex],
    live: &'a [f64],
}

impl LiveNear<'_> {
    fn new<'a>(vertices: &'a [Vertex], live: &'a [f64]) -> LiveNear<'a> {
        let next = vertices.iter().skip(1).chain(vertices.first());
        let sides = vertices.iter().zip(next).enumerate();
        let sides = sides.map(|(i, (a, b))| {
            let [a, b] = [a, b].map(|v| [v.at.x, v.at.y]);
            GeomWithData::new(rstar::primitives::Line::new(a, b), i)
        });
        LiveNear {
            sides: RTree::bulk_load(sides.collect()),
            vertices,
            live,
        }
    }

    /// The live part of the side that is nearest to a place. Of several that are as near, at a corner, it is the first one's; 1 where
    /// there are no sides.
    fn part(&self, at: geo::Coord<f64>) -> f64 {
        // A slack for rounding, far more than it makes of a square of metres.
        const ROUNDING: f64 = 1e-9;
        let place = [at.x, at.y];
        let Some(nearest) = self.sides.nearest_neighbor(&place) else {
            return 1.0;
        };
        let within_m2 = nearest.distance_2(&place) * (1.0 + ROUNDING) + ROUNDING;
        let n = self.vertices.len();
        let away_m = |i: usize| {
            let near = foot(at, self.vertices[i].at, self.vertices[(i + 1) % n].at);
            distance_m(near, at)
        };
        self.sides
            .locate_within_distance(place, within_m2)
            .map(|side| (away_m(side.data), side.data))
            .min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)))
            .map_or(1.0, |(_, i)| self.live.get(i).copied().unwrap_or(1.0))
    }
}

/// Length of the edge that is live, metres.
fn live_length_m(ring: &Walked, live: &[f64]) -> f64 {
    let vertices = &ring.edge.vertices;
    let n = vertices.len();
    let (mut whole_m, mut live_m) = (0.0, 0.0);
    for i in 0..n {
        let side_m = distance_m(vertices[i].at, vertices[(i + 1) % n].at);
        whole_m += side_m;
        live_m += side_m * live.get(i).copied().unwrap_or(1.0);
    }
    if whole_m > 0.0 {
        ring.edge.perimeter_m * live_m / whole_m
    } else {
        0.0
    }
}
