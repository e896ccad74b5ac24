//! How many pieces of edging (strips set along the lawn's border) are needed. The job sheet says what is to be edged: lawns,
//! beds, paths, or single ones by their label. A run is a part of an edge that is edged without a break; pieces are
//! joined within a run, never from one run to the next, so each run is rounded up by itself. The length gets an allowance for
//! its own error.

use super::{Slope, Take, chance, whole_up};
use crate::job::order::Edging as Settings;
use crate::lawn::{Deduction, Kind};
use crate::notice::Notice;
use crate::tape::shapes::Taped;
use geo::{BooleanOps, Contains, Euclidean, Length, LineString, MultiLineString, MultiPolygon};
use serde::Serialize;

/// `order.edging` of the result.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Edging {
    pub length_m: f64,
    /// The standard error of that length. The runs' errors are added up as they are, since one edge measured too long makes all of
    /// its runs too long.
    pub sigma_m: f64,
    /// The length with the allowance for that error; the pieces are counted for it.
    pub order_m: f64,
    pub pieces: u64,
    pub piece_m: f64,
    pub overlap_m: f64,
    pub runs: Vec<Run>,
}

/// A stretch of edging without a break.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Run {
    /// The label of the lawn, or of what is taken off it, that it goes round.
    pub label: String,
    pub length_m: f64,
    /// With the allowance for the error of the edge's length.
    pub order_m: f64,
    pub pieces: u64,
}

/// How many pieces one run takes. Each covers its length less the overlap with the next one.
#[must_use]
pub fn pieces(length_m: f64, piece_m: f64, overlap_m: f64) -> u64 {
    whole_up(length_m / (piece_m - overlap_m))
}

/// Ends of edging closer than this are one end, metres.
const MEET_M: f64 = 1e-6;
/// Shorter runs are splinters that clipping one outline by another leaves; nobody means to edge them. Metres.
const RUN_M: f64 = 0.05;

/// Plans the edging. Where a slope and the direction of its fall are known, all outlines are first stretched to the length they have
/// along the ground; else they are taken as on the plan. `enough` is the chance (0 to 1) with which the pieces are to suffice, given
/// the error of the edge's length.
pub(super) fn plan(take: &Take<'_>, settings: &Settings, enough: f64) -> Edging {
    let Some(stretch) = take.slope.as_ref().and_then(Slope::stretch) else {
        return flat(take, settings, enough);
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
        // A circle on the plan is an ellipse on sloping ground, so its radius no longer tells its edge.
        deduction.radius_m = None;
    }
    let ground = Take {
        lawns: &lawns,
        deductions: &deductions,
        perimeter_m: take
            .perimeter_m
            .filter(|_| plan_m > 0.0)
            .map(|measured| measured * ground_m / plan_m),
        perimeter_sigma_m: take.perimeter_sigma_m * ground_m / plan_m.max(f64::MIN_POSITIVE),
        ..take.clone()
    };
    flat(&ground, settings, enough)
}

/// Whether the job sheet asks for edging round this: by its label, or by the word for its kind ("lawn", "beds", "paths").
fn wanted(settings: &Settings, label: &str, kind: &str) -> bool {
    let is = |word: &String| word.eq_ignore_ascii_case(kind) || word == label;
    settings.around.iter().any(is)
}

/// The word by which the job sheet names deductions of this kind.
fn kind(deduction: &Deduction) -> &'static str {
    match deduction.kind {
        Kind::Bed | Kind::Walked | Kind::Taped => "beds",
        Kind::Path => "paths",
    }
}

/// What is to be edged of a lawn that was taped without a plan, as label and length in metres. The length round each taped figure is
/// known even so; a bed counts with its whole edge, as if all of it lay in the lawn. A lawn taped in several figures
/// is left out, since nobody knows how much of their edges they share.
fn unplaced<'a>(take: &Take<'a>, settings: &Settings) -> impl Iterator<Item = (&'a str, f64)> {
    let parts = take.taped.iter().filter(|one| !one.deducted).count();
    let edged = |one: &&Taped| match one.deducted {
        true => wanted(settings, &one.label, "beds"),
        false => parts == 1 && wanted(settings, &one.label, "lawn"),
    };
    let edged: Vec<&Taped> = take.taped.iter().filter(edged).collect();
    edged.into_iter().filter_map(|one| {
        let round_m = one.perimeter_m?;
        Some((one.label.as_str(), round_m))
    })
}

/// Warnings about edging: a word that names nothing there is, and edges that are asked for but have no known length.
pub(super) fn doubts(take: &Take<'_>, settings: &Settings) -> impl Iterator<Item = Notice> {
    unknown(take, settings)
        .into_iter()
        .chain(uncounted(take, settings))
}

/// Warns of what is to be edged but has no known length. That happens only where the lawn was taped without a plan.
fn uncounted(take: &Take<'_>, settings: &Settings) -> Option<Notice> {
    if !take.lawns.is_empty() {
        return None;
    }
    let counted: Vec<&str> = unplaced(take, settings).map(|(label, _)| label).collect();
    let kind = |one: &Taped| if one.deducted { "beds" } else { "lawn" };
    let labels: Vec<String> = (take.taped.iter())
        .filter(|one| wanted(settings, &one.label, kind(one)))
        .filter(|one| !counted.contains(&one.label.as_str()))
        .map(|one| one.label.clone())
        .collect();
    (!labels.is_empty()).then_some(Notice::EdgingUncounted { labels })
}

/// Warns of the first word that names neither a kind nor a label there is; its edging would be missing without a word.
fn unknown(take: &Take<'_>, settings: &Settings) -> Option<Notice> {
    let lawns = take.lawns.iter().map(|lawn| lawn.label.as_str());
    let taped = take.taped.iter().filter(|_| take.lawns.is_empty());
    let lawns = lawns.chain(taped.map(|one| one.label.as_str()));
    let labels: Vec<&str> = lawns
        .chain(take.deductions.iter().map(|d| d.label.as_str()))
        .filter(|label| !label.is_empty())
        .collect();
    let known = |word: &str| {
        let kinds = ["lawn", "beds", "paths"];
        kinds.iter().any(|kind| word.eq_ignore_ascii_case(kind)) || labels.contains(&word)
    };
    let word = settings.around.iter().find(|word| !known(word))?;
    Some(Notice::EdgingUnknown {
        around: word.clone(),
        labels: labels.into_iter().map(str::to_owned).collect(),
    })
}

/// Length of the outer edges as they are drawn, metres.
fn edge_m(outer: &MultiPolygon<f64>) -> f64 {
    outer
        .iter()
        .map(|polygon| Euclidean.length(polygon.exterior()))
        .sum()
}

/// One run of edge to be edged, metres: what it borders, its length, and the standard error of that.
struct Edge<'a> {
    label: &'a str,
    length_m: f64,
    sigma_m: f64,
}

/// The edging for outlines that are as long as the ground.
fn flat(take: &Take<'_>, settings: &Settings, enough: f64) -> Edging {
    let mut edges = edges(take, settings);
    edges.retain(|edge| edge.length_m > RUN_M);
    let run = |edge: &Edge<'_>| {
        // An edge measured too short is too short all the way round, so each run gets an allowance of its own.
        let order_m = edge.length_m + chance::allowance(enough, edge.sigma_m);
        Run {
            label: edge.label.to_owned(),
            length_m: edge.length_m,
            order_m,
            pieces: pieces(order_m, settings.piece_m, settings.overlap_m),
        }
    };
    let runs: Vec<Run> = edges.iter().map(run).collect();
    Edging {
        length_m: runs.iter().map(|run| run.length_m).sum(),
        sigma_m: edges.iter().map(|edge| edge.sigma_m).sum(),
        order_m: runs.iter().map(|run| run.order_m).sum(),
        pieces: runs.iter().map(|run| run.pieces).sum(),
        piece_m: settings.piece_m,
        overlap_m: settings.overlap_m,
        runs,
    }
}

/// Every run that is to be edged: first those round lawns, then those round what is taken off them.
fn edges<'a>(take: &'a Take<'_>, settings: &Settings) -> Vec<Edge<'a>> {
    let rings: f64 = take.lawns.iter().map(|lawn| edge_m(&lawn.outer)).sum();
    // A drawn edge that still wiggles with the walker's hand is longer than the edge that was measured, so all lengths are scaled
    // to the measured one. `part` is that one's standard error as a part of its length.
    let (scale, part) = match take.perimeter_m {
        Some(measured) if rings > 0.0 => (measured / rings, take.perimeter_sigma_m / measured),
        _ => (1.0, 0.0),
    };
    let edge = |label, length_m, part| Edge {
        label,
        length_m,
        sigma_m: length_m * part,
    };
    let mut edges = Vec::new();
    for lawn in take.lawns {
        if !wanted(settings, &lawn.label, "lawn") {
            continue;
        }
        for polygon in &lawn.outer {
            let found = outside(polygon.exterior(), take.deductions).into_iter();
            edges.extend(found.map(|m| edge(lawn.label.as_str(), m * scale, part)));
        }
    }
    if take.lawns.is_empty() {
        edges.extend(unplaced(take, settings).map(|(label, m)| edge(label, m, 0.0)));
    }
    for (at, deduction) in take.deductions.iter().enumerate() {
        if !wanted(settings, &deduction.label, kind(deduction)) {
            continue;
        }
        let (before, after) = (&take.deductions[..at], &take.deductions[at + 1..]);
        let others: Vec<&Deduction> = before.iter().chain(after).collect();
        // A bed's radius was taped or told, so the error of the walked edge is not its error.
        let part = if deduction.kind == Kind::Bed {
            0.0
        } else {
            part
        };
        let found = around(deduction, take, &others).into_iter();
        edges.extend(found.map(|m| edge(&deduction.label, m, part)));
    }
    edges
}

/// Lengths of the parts of a lawn's edge that no bed or path lies over.
fn outside(edge: &LineString<f64>, deductions: &[Deduction]) -> Vec<f64> {
    let mut line = MultiLineString(vec![edge.clone()]);
    for deduction in deductions {
        line = deduction.outline.clip(&line, true);
    }
    joined(line)
}

/// Lengths of the parts of a deduction's edge that border lawn: those within a lawn and not under another deduction.
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
        // The outline is drawn with straight sides and so a little short of the round bed's true edge.
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
