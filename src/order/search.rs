//! Which way the rows run and where the first one starts.
//!
//! A "start" is a direction together with where the first row begins. For every start the least number of pieces it can take (its
//! lower bound) follows from the length of its rows, without laying anything. Layouts are then tried in the order of those bounds
//! until no bound left can beat the best layout found, or the work allowed is used up.

use super::demand::{Bands, Demand, Turned};
use super::pack::{Packing, pack};
use super::rule::{Laid, Rule, TASTES, Taste};
use geo::{ConvexHull, Coord, MultiPolygon, Simplify};
use serde::Serialize;
use std::f64::consts::{FRAC_PI_2, PI};

/// What a direction follows. The order is that of how easily it is set out on the ground, the easiest first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Along {
    /// The job sheet asks for it.
    Asked,
    LongestEdge,
    /// Square to the longest edge.
    AcrossLongestEdge,
    AnotherEdge,
    /// The direction across which the lawn is narrowest, so that it takes the fewest rows.
    Narrowest,
    EastWest,
    NorthSouth,
    /// A direction between these, which follows nothing that can be seen on the ground.
    Between,
}

/// One layout that was tried, for comparison.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Alternative {
    pub along: Along,
    pub direction_deg: f64,
    pub pieces_lower_bound: u64,
    pub pieces: u64,
}

/// A lawn laid the best way found.
#[derive(Debug, Clone)]
pub struct Chosen {
    pub along: Along,
    /// Anticlockwise from east, radians.
    pub angle_rad: f64,
    pub turned: Turned,
    /// Where the first row begins, y in the turned lawn.
    pub first_m: f64,
    pub demands: Vec<Demand>,
    pub packing: Packing,
    pub lower_bound: u64,
    pub no_reuse: u64,
    /// Stretches of row where the lawn takes up less than a third of the width.
    pub slivers: u32,
    /// The best of each named direction, fewest pieces first.
    pub alternatives: Vec<Alternative>,
}

/// No edge row is narrower than this part of a piece: thinner strips dry out and lift. Common practice, no source.
const THINNEST_EDGE_ROW: f64 = 1.0 / 3.0;
/// Points that lie within this of the line between their neighbours are left out of the lawn's edge where starts are compared, for
/// speed; laying takes the whole edge. Metres.
const THIN_M: f64 = 0.02;
/// An edge is straight where it strays less than this from a straight line. Metres.
const STRAIGHT_M: f64 = 0.15;
/// This many directions, evenly spread over the half circle, are tried beside the named ones.
const SWEEP: usize = 24;
/// Evenly spaced starts per direction, beside those where an edge row just fits: at first, and where it is looked at more closely.
const STARTS: usize = 8;
const FINE_STARTS: usize = 24;
/// How many part-laid lawns are carried along: at first, and where that does not reach the lower bound.
const BEAM: usize = 6;
const WIDE_BEAM: usize = 40;
/// How much may be laid in one search, counted as demands times beam. It keeps two hectares under a second.
const WORK: usize = 60_000;

/// Compass bearing of rows at `angle_rad`, degrees clockwise from grid north, 0 to below 180.
pub(crate) fn bearing_deg(angle_rad: f64) -> f64 {
    let deg = (90.0 - angle_rad.to_degrees()).rem_euclid(180.0);
    // Rounding may leave a hair below 180, which is 0.
    if 180.0 - deg < 1e-9 { 0.0 } else { deg }
}

/// One start: a direction and where its first row begins, with the total length of its rows and how many stretches are slivers.
#[derive(Debug, Clone, Copy)]
struct Start {
    along: Along,
    angle_rad: f64,
    first_m: f64,
    total_m: f64,
    slivers: u32,
}

/// Lays `lawn`, which has this outer edge, in rows `width_m` wide; `bearing` fixes the direction (degrees clockwise from grid north).
/// The edge gives the directions to follow: where a strip goes round the lawn first, `lawn` is only what that leaves.
/// `None` where there is no lawn.
#[must_use]
pub fn search(
    lawn: &MultiPolygon<f64>,
    edge: &MultiPolygon<f64>,
    width_m: f64,
    rule: &Rule,
    bearing: Option<f64>,
) -> Option<Chosen> {
    let mut bands = Bands::default();
    let starts = starts(lawn, edge, width_m, bearing, &mut bands);
    let mut trial = Trial {
        lawn,
        width_m,
        rule,
        bands,
        work: WORK,
    };
    let mut best: Option<Chosen> = None;
    let mut alternatives: Vec<Alternative> = Vec::new();
    // The best start of each named direction is always laid, for the comparison.
    let mut named: Vec<Along> = Vec::new();
    for start in &starts {
        let first_of_name = start.along != Along::Between && !named.contains(&start.along);
        let worth = best.as_ref().is_none_or(|best| start.may_beat(best, rule));
        if !first_of_name && (!worth || trial.work == 0) {
            continue;
        }
        let Some(laid) = trial.lay(start, first_of_name) else {
            continue;
        };
        if first_of_name {
            named.push(start.along);
        }
        if start.along != Along::Between {
            keep_best(&mut alternatives, laid.as_alternative());
        }
        if best.as_ref().is_none_or(|best| laid.rank() < best.rank()) {
            best = Some(laid);
        }
    }
    alternatives.sort_by_key(|a| (a.pieces, a.along));
    best.map(|best| Chosen {
        alternatives,
        ..best
    })
}

/// Every start of every direction worth a try, the one with the least length of rows first.
fn starts(
    lawn: &MultiPolygon<f64>,
    edge: &MultiPolygon<f64>,
    width_m: f64,
    bearing: Option<f64>,
    bands: &mut Bands,
) -> Vec<Start> {
    let mut starts = Starts {
        thin: lawn.simplify(THIN_M),
        width_m,
        bands,
        found: Vec::new(),
    };
    if let Some(bearing) = bearing {
        starts.add(Along::Asked, (90.0 - bearing).to_radians(), FINE_STARTS);
    } else {
        for (along, angle_rad) in directions(lawn, edge) {
            starts.add(along, angle_rad, STARTS);
        }
        starts.refine();
    }
    starts.found.sort_by(|a, b| {
        (a.total_m, a.along)
            .partial_cmp(&(b.total_m, b.along))
            .unwrap_or(std::cmp::Ordering::Equal)
    });
    starts.found
}

/// Keeps for each kind of direction the layout with the fewest pieces, and the earlier one of two that take as many.
fn keep_best(alternatives: &mut Vec<Alternative>, seen: Alternative) {
    match alternatives.iter_mut().find(|a| a.along == seen.along) {
        Some(known) if known.pieces > seen.pieces => *known = seen,
        Some(_) => {}
        None => alternatives.push(seen),
    }
}

impl Start {
    /// Whether its lower bound still allows fewer pieces than `best` takes, or as many in a direction easier to set out. The millimetre
    /// allows for what thinning the edge may have added to the length of the rows.
    fn may_beat(&self, best: &Chosen, rule: &Rule) -> bool {
        let lower = ((self.total_m - 1e-3) / rule.length_m).ceil().max(0.0) as u64;
        let pieces = u64::from(best.packing.pieces);
        lower < pieces || (lower == pieces && self.along < best.along)
    }
}

impl Chosen {
    fn as_alternative(&self) -> Alternative {
        Alternative {
            along: self.along,
            direction_deg: bearing_deg(self.angle_rad),
            pieces_lower_bound: self.lower_bound,
            pieces: u64::from(self.packing.pieces),
        }
    }

    /// What makes one layout better than another, the weightiest first: joints too close, pieces, ease of setting out, slivers, cuts.
    /// Smaller is better.
    fn rank(&self) -> (u32, u32, Along, u32, u32) {
        (
            self.packing.close_joints,
            self.packing.pieces,
            self.along,
            self.slivers,
            self.packing.cuts,
        )
    }
}

/// What laying out needs, and how much of it may still be done.
struct Trial<'a> {
    lawn: &'a MultiPolygon<f64>,
    width_m: f64,
    rule: &'a Rule,
    bands: Bands,
    /// Demands times beam that may still be laid.
    work: usize,
}

impl Trial<'_> {
    /// Lays the lawn from one start, first quickly and, where that does not reach the lower bound, by harder searching. `None` where
    /// there is nothing to lay, or no work is left; `always` lays it once all the same.
    fn lay(&mut self, start: &Start, always: bool) -> Option<Chosen> {
        let turned = Turned::new(self.lawn, start.angle_rad);
        let mut demands = Vec::new();
        // The start was found on the thinned edge, which may begin a little higher than the lawn itself.
        let first_m = if start.first_m > turned.low_m {
            turned.low_m
        } else {
            start.first_m
        };
        self.bands
            .demands(&turned, self.width_m, first_m, &mut demands);
        if demands.is_empty() {
            return None;
        }
        let lower_bound = self.rule.lower_bound(&demands);
        let done = |p: &Packing| u64::from(p.pieces) == lower_bound && p.close_joints == 0;
        let mut packing = self.pack(&demands, BEAM, TASTES[0], always)?;
        if !done(&packing) {
            let better = |a: &Packing, b: &Packing| {
                (a.close_joints, a.pieces, a.cuts) < (b.close_joints, b.pieces, b.cuts)
            };
            // With other tastes, with the rows laid from the other side, and with more part-laid lawns carried along. The first of these
            // ways was tried above.
            let upside_down: Vec<Demand> = reversed(&demands);
            let each = |beam| TASTES.map(|taste| [(beam, taste, false), (beam, taste, true)]);
            let ways = [each(BEAM), each(WIDE_BEAM)];
            for &(beam, taste, reverse) in ways.as_flattened().as_flattened().iter().skip(1) {
                let order = if reverse { &upside_down } else { &demands };
                let Some(mut other) = self.pack(order, beam, taste, false) else {
                    break;
                };
                if reverse {
                    put_back(&mut other, &upside_down);
                }
                if better(&other, &packing) {
                    packing = other;
                }
                if done(&packing) {
                    break;
                }
            }
        }
        Some(Chosen {
            along: start.along,
            angle_rad: start.angle_rad,
            first_m,
            lower_bound,
            no_reuse: self.rule.no_reuse(&demands),
            slivers: start.slivers,
            turned,
            demands,
            packing,
            alternatives: Vec::new(),
        })
    }

    /// Packs the demands if enough work is left for it (or `always`), and counts the work. Once refused, no work is left.
    fn pack(
        &mut self,
        demands: &[Demand],
        beam: usize,
        taste: Taste,
        always: bool,
    ) -> Option<Packing> {
        let cost = demands.len() * beam;
        if self.work < cost && !always {
            self.work = 0;
            return None;
        }
        self.work = self.work.saturating_sub(cost);
        Some(pack(demands, self.rule, beam, taste))
    }
}

/// The rows from the top down; within a row still from left to right.
fn reversed(demands: &[Demand]) -> Vec<Demand> {
    let mut order = demands.to_vec();
    order.sort_by(|a, b| b.row.cmp(&a.row).then(a.start_m.total_cmp(&b.start_m)));
    order
}

/// Puts a packing of reversed rows back into the order of `demands`, which is by row and then along it.
fn put_back(packing: &mut Packing, reversed: &[Demand]) {
    let mut rows: Vec<(&Demand, Vec<Laid>)> = reversed
        .iter()
        .zip(std::mem::take(&mut packing.rows))
        .collect();
    rows.sort_by(|(a, _), (b, _)| a.row.cmp(&b.row).then(a.start_m.total_cmp(&b.start_m)));
    packing.rows = rows.into_iter().map(|(_, laid)| laid).collect();
}

/// Directions worth a try, anticlockwise from east in radians, 0 to below pi. One within a fifth of a degree of an earlier one is left
/// out, so the name that is easier to set out stays.
fn directions(lawn: &MultiPolygon<f64>, edge: &MultiPolygon<f64>) -> Vec<(Along, f64)> {
    let mut found: Vec<(Along, f64)> = Vec::new();
    let mut add = |along: Along, angle: f64| {
        let angle = angle.rem_euclid(PI);
        let known = found.iter().any(|(_, other)| {
            let apart = (angle - other).abs();
            apart.min(PI - apart) < 0.2_f64.to_radians()
        });
        if !known {
            found.push((along, angle));
        }
    };
    let edges = straight_edges(edge);
    if let Some((longest, angle)) = edges.first() {
        add(Along::LongestEdge, *angle);
        add(Along::AcrossLongestEdge, angle + FRAC_PI_2);
        for (length, angle) in edges.iter().skip(1).take(7) {
            if *length > 0.2 * longest {
                add(Along::AnotherEdge, *angle);
            }
        }
    }
    if let Some(angle) = narrowest(lawn) {
        add(Along::Narrowest, angle);
    }
    add(Along::EastWest, 0.0);
    add(Along::NorthSouth, FRAC_PI_2);
    for step in 0..SWEEP {
        add(Along::Between, PI * step as f64 / SWEEP as f64);
    }
    found
}

/// Lengths (metres) and directions (radians) of the straight edges from 1 m on, longest first. What runs on within a degree is one
/// edge.
fn straight_edges(lawn: &MultiPolygon<f64>) -> Vec<(f64, f64)> {
    const ON_RAD: f64 = 1.0 * PI / 180.0;
    let mut found: Vec<(f64, f64)> = Vec::new();
    for polygon in &lawn.simplify(STRAIGHT_M) {
        let mut places = polygon.exterior().0.clone();
        places.pop();
        let n = places.len();
        let span = |i: usize| places[(i + 1) % n] - places[i % n];
        let runs_on = |i: usize| {
            let (a, b) = (span(i + n - 1), span(i));
            (a.x * b.y - a.y * b.x).atan2(a.x * b.x + a.y * b.y).abs() < ON_RAD
        };
        let corners: Vec<usize> = (0..n).filter(|&i| !runs_on(i)).collect();
        for (k, &from) in corners.iter().enumerate() {
            let edge = places[corners[(k + 1) % corners.len()]] - places[from];
            let length = edge.x.hypot(edge.y);
            if length >= 1.0 {
                found.push((length, edge.y.atan2(edge.x).rem_euclid(PI)));
            }
        }
    }
    found.sort_by(|a, b| b.0.total_cmp(&a.0));
    found
}

/// The direction across which the lawn is narrowest, radians. The narrowest way across a convex shape is always square to one of its
/// edges, so only the edges of the convex hull (the lawn as a rubber band round it would lie) are looked at.
fn narrowest(lawn: &MultiPolygon<f64>) -> Option<f64> {
    let hull = lawn.convex_hull();
    let points: &[Coord<f64>] = &hull.exterior().0;
    points
        .windows(2)
        .filter_map(|pair| {
            let (dx, dy) = (pair[1].x - pair[0].x, pair[1].y - pair[0].y);
            let length = dx.hypot(dy);
            if length < 1e-3 {
                return None;
            }
            let across = points
                .iter()
                .map(|p| ((p.x - pair[0].x) * dy - (p.y - pair[0].y) * dx).abs() / length)
                .fold(0.0, f64::max);
            Some((across, dy.atan2(dx)))
        })
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, angle)| angle)
}

/// The starts found so far, on the thinned lawn.
struct Starts<'a> {
    thin: MultiPolygon<f64>,
    width_m: f64,
    bands: &'a mut Bands,
    found: Vec<Start>,
}

impl Starts<'_> {
    /// Looks more closely at the four best directions: at more starts of each, and at directions a quarter and half of the way to
    /// their neighbours.
    fn refine(&mut self) {
        let mut order: Vec<(f64, Along, f64)> = Vec::new();
        for start in &self.found {
            match order
                .iter_mut()
                .find(|(_, _, angle)| *angle == start.angle_rad)
            {
                Some((total, _, _)) => *total = total.min(start.total_m),
                None => order.push((start.total_m, start.along, start.angle_rad)),
            }
        }
        order.sort_by(|a, b| a.0.total_cmp(&b.0));
        let step = PI / SWEEP as f64;
        for (_, along, angle) in order.into_iter().take(4) {
            self.add(along, angle, FINE_STARTS);
            for part in [-0.5, -0.25, 0.25, 0.5] {
                let near = (angle + part * step).rem_euclid(PI);
                self.add(Along::Between, near, STARTS);
            }
        }
    }

    /// Adds the starts of one direction: those where the first and last row are not too thin, `count` evenly spaced, and those where
    /// a row begins or ends at a turn of the lawn's edge.
    fn add(&mut self, along: Along, angle_rad: f64, count: usize) {
        let turned = Turned::new(&self.thin, angle_rad);
        if turned.is_empty() {
            return;
        }
        let width_m = self.width_m;
        let mut demands = Vec::new();
        for first_row_m in first_rows(&turned, width_m, count) {
            let first_m = turned.low_m - (width_m - first_row_m);
            self.bands.demands(&turned, width_m, first_m, &mut demands);
            let is_sliver = |d: &&Demand| d.reach_m < THINNEST_EDGE_ROW * width_m;
            self.found.push(Start {
                along,
                angle_rad,
                first_m,
                total_m: demands.iter().map(Demand::length_m).sum(),
                slivers: demands.iter().filter(is_sliver).count() as u32,
            });
        }
    }
}

/// Values to try for how much of the first row's width is lawn, metres, so that neither the first nor the last row is too thin.
/// Where one row covers the lawn there is one value.
fn first_rows(turned: &Turned, width_m: f64, count: usize) -> Vec<f64> {
    let height = turned.high_m - turned.low_m;
    let rows = (height / width_m - 1e-6).ceil().max(1.0);
    if rows < 2.0 {
        return vec![height.min(width_m)];
    }
    // The rows between are covered in full; what they leave of the height is shared by the first and the last row.
    let share = height - (rows - 2.0) * width_m;
    let thinnest = THINNEST_EDGE_ROW * width_m;
    let least = (share - width_m).max(thinnest);
    let most = (share - thinnest).min(width_m);
    let mut values = vec![least, most, 0.5 * share];
    for k in 0..count {
        values.push(least + (most - least) * (k as f64 + 0.5) / count as f64);
    }
    let mut turns: Vec<f64> = turned
        .turning_m
        .iter()
        .map(|y| {
            let into_row = (y - turned.low_m).rem_euclid(width_m);
            if into_row < 1e-9 { width_m } else { into_row }
        })
        .filter(|a| *a >= least && *a <= most)
        .collect();
    turns.sort_unstable_by(f64::total_cmp);
    turns.dedup_by(|a, b| (*a - *b).abs() < 1e-4);
    values.extend(turns.into_iter().take(12));
    values.retain(|a| *a >= least - 1e-12 && *a <= most + 1e-12);
    values
}

#[cfg(test)]
mod tests {
    use super::*;
    use geo::polygon;

    /// A lawn 12 m high with steps of 5 m across: together they are longer than its high side, but none is. A place in the middle of a
    /// side parts nothing.
    #[test]
    fn the_longest_edge_is_one_edge() {
        let steps = MultiPolygon(vec![polygon![
            (x: 0.0, y: 0.0), (x: 10.0, y: 0.0), (x: 10.0, y: 6.0), (x: 5.0, y: 6.0), (x: 5.0, y: 12.0), (x: 0.0, y: 12.0), (x: 0.0, y: 5.0),
        ]]);
        let (length, angle) = straight_edges(&steps)[0];
        assert!((length - 12.0).abs() < 1e-9, "{length}");
        assert!((angle - FRAC_PI_2).abs() < 1e-9, "{angle}");
        assert_eq!(straight_edges(&steps).len(), 6);
    }
}
