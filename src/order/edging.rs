//! Edging, run by run: pieces are joined within a run, never from one run to the next.

use super::{Slope, Take, whole_up};
use crate::job::order::Edging as Settings;
use crate::lawn::{Deduction, Kind};
use geo::{BooleanOps, Contains, Euclidean, Length, LineString, MultiLineString, MultiPolygon};
use serde::Serialize;

/// `order.edging` of the result.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Edging {
    pub length_m: f64,
    pub pieces: u64,
    pub piece_m: f64,
    pub overlap_m: f64,
    pub runs: Vec<Run>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Run {
    /// Of the lawn or of what is taken off it.
    pub label: String,
    pub length_m: f64,
    pub pieces: u64,
}

/// Pieces for one run: each covers its length less the overlap.
pub fn pieces(length_m: f64, piece_m: f64, overlap_m: f64) -> u64 {
    whole_up(length_m / (piece_m - overlap_m))
}

/// Ends of edging closer than this are one end, metres.
const MEET_M: f64 = 1e-6;
/// Shorter runs are left by clipping, not by gardeners. Metres.
const RUN_M: f64 = 0.05;

/// On a slope whose fall is known the edge is measured along the ground, else on the plan.
pub(super) fn plan(take: &Take<'_>, settings: &Settings) -> Edging {
    let Some(stretch) = take.slope.as_ref().and_then(Slope::stretch) else {
        return flat(take, settings);
    };
    let mut lawns = take.lawns.to_vec();
    let (mut plan_m, mut ground_m) = (0.0, 0.0);
    for lawn in &mut lawns {
        plan_m += edge_m(&lawn.outer);
        lawn.outer = stretch.stretched(&lawn.outer);
        ground_m += edge_m(&lawn.outer);
    }
    let mut deductions = take.deductions.to_vec();
    for deduction in &mut deductions {
        deduction.outline = stretch.stretched(&deduction.outline);
        deduction.radius_m = None;
    }
    let ground = Take {
        lawns: &lawns,
        deductions: &deductions,
        perimeter_m: take
            .perimeter_m
            .filter(|_| plan_m > 0.0)
            .map(|measured| measured * ground_m / plan_m),
        ..take.clone()
    };
    flat(&ground, settings)
}

fn edge_m(outer: &MultiPolygon<f64>) -> f64 {
    outer
        .iter()
        .map(|polygon| Euclidean.length(polygon.exterior()))
        .sum()
}

fn flat(take: &Take<'_>, settings: &Settings) -> Edging {
    let mut lengths: Vec<(String, f64)> = Vec::new();
    if settings.around_lawn {
        let rings: f64 = take.lawns.iter().map(|lawn| edge_m(&lawn.outer)).sum();
        // A drawn edge that still wiggles is longer than the edge that was measured.
        let scale = match take.perimeter_m {
            Some(measured) if rings > 0.0 => measured / rings,
            _ => 1.0,
        };
        for lawn in take.lawns {
            for polygon in &lawn.outer {
                let edge = polygon.exterior();
                for length in outside(edge, take.deductions) {
                    lengths.push((lawn.label.clone(), length * scale));
                }
            }
        }
    }
    if settings.around_beds {
        for (at, deduction) in take.deductions.iter().enumerate() {
            let others: Vec<&Deduction> = take
                .deductions
                .iter()
                .enumerate()
                .filter(|(other, _)| *other != at)
                .map(|(_, d)| d)
                .collect();
            for length in around(deduction, take, &others) {
                lengths.push((deduction.label.clone(), length));
            }
        }
    }
    let runs: Vec<Run> = lengths
        .into_iter()
        .filter(|(_, length)| *length > RUN_M)
        .map(|(label, length_m)| Run {
            label,
            length_m,
            pieces: pieces(length_m, settings.piece_m, settings.overlap_m),
        })
        .collect();
    Edging {
        length_m: runs.iter().map(|run| run.length_m).sum(),
        pieces: runs.iter().map(|run| run.pieces).sum(),
        piece_m: settings.piece_m,
        overlap_m: settings.overlap_m,
        runs,
    }
}

/// Lengths of the parts of a lawn's edge that no bed or path lies over.
fn outside(edge: &LineString<f64>, deductions: &[Deduction]) -> Vec<f64> {
    let mut line = MultiLineString(vec![edge.clone()]);
    for deduction in deductions {
        line = deduction.outline.clip(&line, true);
    }
    joined(line)
}

/// Lengths of the parts of a bed's edge that border lawn.
fn around(deduction: &Deduction, take: &Take<'_>, others: &[&Deduction]) -> Vec<f64> {
    let alone = others
        .iter()
        .all(|other| deduction.outline.intersection(&other.outline).0.is_empty());
    let within = take
        .lawns
        .iter()
        .any(|lawn| lawn.outer.contains(&deduction.outline));
    if let (Kind::Bed, Some(radius_m), true, true) =
        (deduction.kind, deduction.radius_m, alone, within)
    {
        // The outline is drawn with straight sides; the bed is round.
        return vec![std::f64::consts::TAU * radius_m];
    }
    let mut found = Vec::new();
    for polygon in &deduction.outline {
        for ring in std::iter::once(polygon.exterior()).chain(polygon.interiors()) {
            for lawn in take.lawns {
                let mut line = lawn.outer.clip(&MultiLineString(vec![ring.clone()]), false);
                for other in others {
                    line = MultiPolygon::clip(&other.outline, &line, true);
                }
                found.extend(joined(line));
            }
        }
    }
    found
}

/// Lengths after joining lines that meet end to end, as where clipping opened a ring at its first point.
fn joined(lines: MultiLineString<f64>) -> Vec<f64> {
    let meet = |a: Option<&geo::Coord<f64>>, b: Option<&geo::Coord<f64>>| match (a, b) {
        (Some(a), Some(b)) => (a.x - b.x).hypot(a.y - b.y) < MEET_M,
        _ => false,
    };
    let mut runs: Vec<Vec<geo::Coord<f64>>> = lines
        .0
        .into_iter()
        .map(|line| line.0)
        .filter(|line| line.len() > 1)
        .collect();
    loop {
        let mut pair = None;
        'search: for a in 0..runs.len() {
            for b in 0..runs.len() {
                if a != b && meet(runs[a].last(), runs[b].first()) {
                    pair = Some((a, b));
                    break 'search;
                }
            }
        }
        let Some((a, b)) = pair else { break };
        let tail = runs[b].clone();
        runs[a].extend(tail.into_iter().skip(1));
        runs.remove(b);
    }
    runs.into_iter()
        .map(|line| Euclidean.length(&LineString(line)))
        .collect()
}
