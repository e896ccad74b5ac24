//! Walk and tape of one survey brought together: the corners with their joint error, the readings of the job sheet, and what the
//! adjustment makes of the area.
//!
//! The adjustment itself is in `crate::tape`, which knows only points and readings. Here the survey is put into those terms: named points
//! with a covariance that follows from the same error process as the area's band (`points`), readings (`readings`), edges between corners
//! (`edge`); and the outcome is brought back to the lawns, with what is doubtful about it (`doubts`) and what to tape and set out
//! (`sheets`).

mod doubts;
mod edge;
mod points;
mod readings;
mod sheets;

pub(crate) use edge::drawn_sides;
pub(super) use sheets::{SETOUT_SPACING_M, nearest, outline};
pub use sheets::{Sheets, sheets};

use super::Survey;
use super::measured::TapeFacts;
use crate::finding::Finding;
use crate::job::Job;
use crate::notice::Notice;
use crate::order::Slope;
use crate::tape::checks::{Check, Verdict};
use crate::tape::matrix::Matrix;
use crate::tape::reading::{Line, Reading};
use crate::tape::settle::{self, Lawn};
use doubts::{bent_doubt, left_out_of_the_round, letters_unsure, straight_note};
use edge::{Drawn, lawn, moved};
use geo::Coord;
use points::{Named, covariance, named};
use readings::{Between, readings};

/// What the tape changes.
#[derive(Debug, Default)]
pub struct Settled {
    pub facts: TapeFacts,
    /// What an accepted adjustment makes of the lawns; `None` where none was accepted.
    pub adjusted: Option<Adjusted>,
    /// Where nothing was taped: what would come of it if all lines of the check sheet were taped and fitted.
    pub if_taped: Option<Adjusted>,
}

impl Settled {
    /// Takes what was worked out for the sheets.
    pub(crate) fn take(&mut self, sheets: Sheets) {
        self.if_taped = sheets.if_taped;
        self.facts.check_sheet = sheets.check_sheet;
        self.facts.set_out = sheets.set_out;
        self.facts.other_lawns = sheets.other_lawns;
    }
}

/// What an accepted adjustment makes of the lawns.
#[derive(Debug)]
pub struct Adjusted {
    /// One for each lawn, in order.
    pub lawns: Vec<Moved>,
    /// One sigma of the net area, m².
    pub sigma_m2: f64,
    /// Covariance of the adjusted points, m².
    covariance: Matrix,
    /// How the adjusted areas and the readings answer to errors.
    pub shown: settle::Shown,
    /// The points as walked. Then for each of them the lawn that it is a corner of (`None` for a bed), and when it was passed, seconds.
    pub walked_at: Vec<Coord<f64>>,
    passed: Vec<(Option<usize>, f64)>,
    /// The points that are each lawn's corners, counter-clockwise.
    corners: Vec<Vec<usize>>,
}

impl Adjusted {
    pub(crate) fn corners(&self, lawn: usize) -> &[usize] {
        self.corners.get(lawn).map_or(&[], Vec::as_slice)
    }

    /// How an error of the walk of one lawn moves the points, in the order x0, y0, x1, …, metres: each of its corners by the part `share`
    /// of `along`, where `share` depends on when the corner was passed. Other points stay.
    pub(crate) fn moved(
        &self,
        lawn: Option<usize>,
        share: impl Fn(f64) -> f64,
        along: [f64; 2],
    ) -> Vec<f64> {
        let parts = self.passed.iter().map(|&(own, t_s)| {
            let part = if own == lawn { share(t_s) } else { 0.0 };
            along.map(|metres| part * metres)
        });
        parts.flatten().collect()
    }
}

/// One lawn's edge after the adjustment.
#[derive(Debug)]
pub struct Moved {
    /// Inside the edge, m².
    pub area_m2: f64,
    /// The new place of each vertex of the edge.
    pub edge: Vec<Coord<f64>>,
    /// The sigma of each corner, by its vertex, metres per axis.
    pub corner_sigma_m: Vec<(usize, f64)>,
    /// Where the corner lettered first now stands.
    pub first: Option<Coord<f64>>,
}

/// How many passes of corners and beds a tape is set against, at most. Each goes with every other, which takes memory with the square of
/// their number and time with its cube: a second and 370 MB for this many. Nor is there room on a plan for so many letters.
const MOST_PASSES: usize = 1200;

/// Sets the job sheet's readings against the walk and adjusts. Gives the outcome and what is to be told of it; `before` is what was
/// already told of the walk.
pub(crate) fn settle(survey: &Survey, job: &Job, before: &[Notice]) -> (Settled, Vec<Notice>) {
    let (points, rings) = named(survey);
    let none = |why| (Settled::default(), vec![why]);
    if rings.iter().map(Vec::len).sum::<usize>() < 2 {
        return none(Notice::NoCornersToTape {});
    }
    if points.iter().map(|p| p.t_s.len()).sum::<usize>() > MOST_PASSES {
        return none(Notice::TooManyCornersToTape {
            points: points.len(),
        });
    }
    let points = Points::new(survey, points, rings);
    let mut settled = Settled::default();
    let (mut readings, mut told) = points.readings(job);
    let longer = points.on_plan(survey.slope.as_ref(), &mut readings);
    told.extend(left_out_of_the_round(survey, &points.named, &readings));
    if readings.is_empty() {
        return (settled, told);
    }
    let (lawns, parts, mut outcome) = points.settle(survey, job, &readings);
    // If a corner is missing or out of its place, a tape along what was a diagonal would pass for a side: then nothing is taken over.
    if before.iter().chain(&told).any(|w| {
        matches!(
            w,
            Notice::NoSuchPoint { .. }
                | Notice::CornerNotFound { .. }
                | Notice::CornersOutOfOrder { .. }
        )
    }) {
        outcome.adjusted = None;
        if let Some(report) = &mut outcome.agreement.adjustment {
            report.accepted = false;
            report.message.points_missing = true;
        }
    }
    told.extend(disagreement(&outcome.agreement));
    told.extend(letters_unsure(survey, &outcome.agreement));
    if let Some(adjusted) = outcome.adjusted {
        told.extend(straight_note(&parts, &adjusted));
        told.extend(bent_doubt(&parts, &adjusted));
        settled.adjusted = Some(points.adjusted(survey, &lawns, &parts, adjusted));
    }
    // Readings are shown as they were taped, along the ground.
    for (check, longer) in outcome.agreement.checks.iter_mut().zip(longer) {
        check.along_ground(longer);
    }
    settled.facts.tape = Some(outcome.agreement);
    (settled, told)
}

/// A notice where tape and walk do not fit. Readings that fit better than they need to (a variance factor below its limits) are no reason
/// for doubt.
fn disagreement(agreement: &settle::Agreement) -> Option<Notice> {
    let report = agreement.adjustment.as_ref()?;
    let disagrees = |c: &Check| c.verdict == Verdict::Disagrees;
    let doubtful = !report.accepted
        || report.message.finding != Finding::Clean
        || report.variance_factor > report.factor_limits[1]
        || agreement.checks.iter().any(disagrees);
    doubtful.then(|| Notice::TapeAndWalkDisagree {
        finding: report.message.clone(),
        named: report.message.has_names(),
    })
}

/// The points that a tape is taken between, as the walks have them.
struct Points {
    named: Vec<Named>,
    /// For each lawn its corners, each as its vertex of the edge and its index among the points.
    rings: Vec<Vec<(usize, usize)>>,
    names: Vec<String>,
    at: Vec<Coord<f64>>,
    covariance: Matrix,
}

impl Points {
    fn new(survey: &Survey, named: Vec<Named>, rings: Vec<Vec<(usize, usize)>>) -> Points {
        Points {
            names: named.iter().map(|p| p.name.clone()).collect(),
            at: named.iter().map(|p| p.at).collect(),
            covariance: covariance(survey, &named),
            named,
            rings,
        }
    }

    /// Brings what an adjustment found back to the lawns.
    fn adjusted(
        &self,
        survey: &Survey,
        lawns: &[Lawn],
        parts: &[Drawn],
        adjusted: settle::Adjusted,
    ) -> Adjusted {
        Adjusted {
            lawns: moved(survey, &self.rings, &self.at, parts, &adjusted),
            sigma_m2: net_sigma_m2(survey, lawns, parts, &adjusted),
            covariance: adjusted.covariance,
            shown: adjusted.shown,
            walked_at: self.at.clone(),
            passed: (self.named.iter())
                .map(|p| (p.lawn, p.t_s.iter().sum::<f64>() / p.t_s.len() as f64))
                .collect(),
            corners: (self.rings.iter())
                .map(|ring| ring.iter().map(|&(_, point)| point).collect())
                .collect(),
        }
    }

    /// The job sheet's readings between these points, and what is to be told of them.
    fn readings(&self, job: &Job) -> (Vec<Reading>, Vec<Notice>) {
        let letters: Vec<usize> = self.rings.iter().map(Vec::len).collect();
        let between = Between {
            names: &self.names,
            letters: &letters,
            at: &self.at,
        };
        readings(job, &between)
    }

    /// Lengths are taped along the ground, while the walk is on the plan: on a slope they are brought to the plan. Gives how many times
    /// longer the ground is for each reading.
    fn on_plan(&self, slope: Option<&Slope>, readings: &mut [Reading]) -> Vec<f64> {
        let brought = readings
            .iter_mut()
            .map(|reading| match (slope, reading.line) {
                (Some(slope), Line::Length { from, to }) => {
                    let (longer, sigma) = slope.along(self.at[to] - self.at[from]);
                    reading.value /= longer;
                    reading.sigma = reading.sigma.hypot(reading.value * sigma) / longer;
                    longer
                }
                _ => 1.0,
            });
        brought.collect()
    }

    /// Brings walk and tape together. Gives each lawn, how its edge was drawn for the adjustment, and what comes of it.
    fn settle(
        &self,
        survey: &Survey,
        job: &Job,
        readings: &[Reading],
    ) -> (Vec<Lawn>, Vec<Drawn>, settle::Settled) {
        let (lawns, parts): (Vec<Lawn>, Vec<Drawn>) = survey
            .lawns
            .iter()
            .zip(&self.rings)
            .map(|(walked, ring)| lawn(survey, walked, ring, &self.named, &self.covariance, job))
            .unzip();
        let walked = settle::Walked {
            names: &self.names,
            points: &self.at,
            covariance: &self.covariance,
            lawns: lawns.clone(),
        };
        (lawns, parts, settle::settle(&walked, readings))
    }
}

/// Sigma of the net area after an adjustment, m². The variance of the lawns' edges is replaced by what the adjustment leaves of it. What
/// else there is (beds, deductions) stays; gaps, the closing and corners between fixes count only where the edge is still as walked.
fn net_sigma_m2(
    survey: &Survey,
    lawns: &[Lawn],
    parts: &[Drawn],
    adjusted: &settle::Adjusted,
) -> f64 {
    let now = survey.variance_m4();
    let before: f64 = lawns.iter().map(|l| l.variance_m4).sum();
    let after: f64 = adjusted.lawns.iter().map(|l| l.sigma_m2.powi(2)).sum();
    let gone: f64 = survey
        .lawns
        .iter()
        .zip(&adjusted.lawns)
        .zip(parts)
        .filter(|((_, after), _)| after.from == settle::From::Corners)
        .map(|((walked, _), drawn)| walked.others_m4() * (1.0 - drawn.part * drawn.part))
        .sum();
    ((now - before - gone).max(0.0) + after).sqrt()
}
