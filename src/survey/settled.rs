//! Walk and tape of one survey brought together: the corners with their joint error, the readings of the job sheet,
//! and what the adjustment makes of the area.

use super::Survey;
use super::measured::{DrawnSide, TapeFacts};
use super::report::letter;
use super::walked::{Walked, lettered};
use crate::band::budget::{Causes, Term, assess};
use crate::band::model::{WHITE_SHARE, WOBBLE_M};
use crate::band::propagate::merge;
use crate::fault::Warning;
use crate::job::{Job, shape::Hand};
use crate::ring::signed_area_m2;
use crate::tape::carried::HungRing;
use crate::tape::lines::{self, STRAIGHT_M, Side};
use crate::tape::matrix::Matrix;
use crate::tape::reading::{Line, Reading};
use crate::tape::setout::{self, Place, What};
use crate::tape::settle::{self, Lawn};
use geo::Coord;

/// One sigma of a taped length unless told, metres.
const TAPE_SIGMA_M: f64 = 0.02;
/// How closely a corner of the walk is the corner on the ground, metres per axis, over and above the receiver.
const CORNER_SIGMA_M: f64 = 0.03;
/// Points of the curve on the set-out table, metres apart.
const SETOUT_SPACING_M: f64 = 1.0;

/// What the tape changes.
#[derive(Debug, Default)]
pub struct Settled {
    pub facts: TapeFacts,
    /// The area inside each lawn's edge, m², and the new sigma of the net area, where an adjustment was accepted.
    pub adjusted: Option<(Vec<f64>, f64)>,
    pub warnings: Vec<Warning>,
}

/// A named point of the survey.
struct Named {
    name: String,
    at: Coord<f64>,
    /// When each lap passed it, seconds.
    t_s: Vec<f64>,
    sigma_m: f64,
}

/// Sets the job sheet's readings against the walk and adjusts; also chooses what to tape and sets out.
pub fn settle(survey: &Survey, job: &Job, confidence: f64) -> Settled {
    let (points, rings) = named(survey);
    let corners = rings.iter().map(Vec::len).sum::<usize>();
    if corners < 2 {
        return nothing_to_tape(job);
    }
    let names: Vec<String> = points.iter().map(|p| p.name.clone()).collect();
    let at: Vec<Coord<f64>> = points.iter().map(|p| p.at).collect();
    let covariance = covariance(survey, &points);
    let mut settled = Settled::default();
    let letters: Vec<usize> = rings.iter().map(Vec::len).collect();
    let readings = readings(job, &names, &letters, &at, &mut settled.warnings);
    // Each lawn, and the part of its edge that is drawn as walked.
    let (lawns, parts): (Vec<Lawn>, Vec<f64>) = survey
        .lawns
        .iter()
        .zip(&rings)
        .map(|(walked, ring)| lawn(survey, walked, ring, &points, &covariance, job, confidence))
        .unzip();
    if !readings.is_empty() {
        let outcome = settle::settle(
            &settle::Walked {
                names: &names,
                points: &at,
                covariance: &covariance,
                lawns: lawns.clone(),
            },
            &readings,
        );
        if let Some(report) = &outcome.agreement.adjustment
            && (!report.accepted
                || report.finding != "clean"
                || !report.factor_passes
                || outcome
                    .agreement
                    .checks
                    .iter()
                    .any(|c| c.verdict == crate::tape::checks::Verdict::Disagrees))
        {
            settled.warnings.push(Warning::doubt(
                "tape-and-walk-disagree",
                report.message.clone(),
            ));
        }
        if let Some(adjusted) = &outcome.adjusted {
            let now = survey.assess(confidence).sigma_m2.powi(2);
            let before: f64 = lawns.iter().map(|l| l.variance_m4).sum();
            let after: f64 = adjusted.lawns.iter().map(|l| l.sigma_m2.powi(2)).sum();
            // What else there is (beds, deductions) stays; gaps, closing and corners between fixes only where the edge is
            // still as walked.
            let gone: f64 = survey
                .lawns
                .iter()
                .zip(&adjusted.lawns)
                .zip(&parts)
                .filter(|((_, after), _)| after.from == settle::From::Corners)
                .map(|((walked, _), part)| walked.others_m4() * (1.0 - part * part))
                .sum();
            let rest = (now - before - gone).max(0.0);
            let areas_m2 = adjusted.lawns.iter().map(|l| l.area_m2).collect();
            settled.adjusted = Some((areas_m2, (rest + after).sqrt()));
        }
        settled.facts.tape = Some(outcome.agreement);
    }
    sheets(
        survey,
        &points,
        &rings,
        &covariance,
        &lawns,
        &mut settled.facts,
    );
    settled
}

fn nothing_to_tape(job: &Job) -> Settled {
    let mut settled = Settled::default();
    if !(job.tapes.is_empty() && job.squares.is_empty() && job.offsets.is_empty()) {
        settled.warnings.push(Warning::doubt(
            "no-corners-to-tape",
            "The edge shows fewer than two corners, so the tape readings of the job sheet could not be set against it. Stop for \
             a few seconds at the places you tape between.",
        ));
    }
    settled
}

/// Corners of all lawns, lettered, then the beds; and for each lawn which points its corners are, in the order of its
/// ring (counter-clockwise), with their vertex.
fn named(survey: &Survey) -> (Vec<Named>, Vec<Vec<(usize, usize)>>) {
    let mut points: Vec<Named> = Vec::new();
    let mut rings = Vec::new();
    for lawn in &survey.lawns {
        let lap_s = lap_s(lawn);
        let mut ring: Vec<(usize, usize)> = Vec::new();
        for vertex in lettered(&lawn.edge, lawn.start) {
            let corner = lawn.edge.vertices[vertex];
            ring.push((vertex, points.len()));
            points.push(Named {
                name: letter(points.len()),
                at: corner.at,
                t_s: (0..lawn.laps.clamp(1, 6))
                    .map(|k| corner.t_s + f64::from(k) * lap_s)
                    .collect(),
                sigma_m: corner.sigma_m,
            });
        }
        ring.sort_unstable();
        rings.push(ring);
    }
    let last_s = survey
        .lawns
        .iter()
        .filter_map(|l| l.line.last())
        .map(|s| s.t_s)
        .fold(0.0, f64::max);
    points.extend(survey.beds.iter().map(|bed| Named {
        name: bed.label.clone(),
        at: bed.centre,
        t_s: vec![last_s],
        sigma_m: survey.lawns[0].sigma_m,
    }));
    (points, rings)
}

fn lap_s(lawn: &Walked) -> f64 {
    match (lawn.line.first(), lawn.line.last()) {
        (Some(first), Some(last)) => (last.t_s - first.t_s) / f64::from(lawn.laps.max(1)),
        _ => 0.0,
    }
}

/// Correlation of the receiver's error between two moments, averaged over what is believed of it, times scale².
fn together(survey: &Survey, a_s: f64, b_s: f64) -> f64 {
    survey
        .process
        .beliefs
        .iter()
        .map(|b| b.weight * b.scale * b.scale * (-(a_s - b_s).abs() / b.correlation_s).exp())
        .sum::<f64>()
        * (1.0 - WHITE_SHARE)
}

/// Joint covariance of the points, x0, y0, x1, …, m²: the same Gauss-Markov model as the area's band, plus white
/// noise, the pole, and how well a corner is a corner.
fn covariance(survey: &Survey, points: &[Named]) -> Matrix {
    let n = points.len();
    let scale2 = survey.process.scale().powi(2);
    let mut shared = vec![0.0; n * n];
    for i in 0..n {
        for j in 0..=i {
            let (p, q) = (&points[i], &points[j]);
            let mut sum = 0.0;
            for &a in &p.t_s {
                for &b in &q.t_s {
                    sum += together(survey, a, b);
                }
            }
            let mut value = p.sigma_m * q.sigma_m * sum / (p.t_s.len() * q.t_s.len()) as f64;
            if i == j {
                let white = WHITE_SHARE * scale2 * p.sigma_m * p.sigma_m + WOBBLE_M * WOBBLE_M;
                value += white / p.t_s.len() as f64 + CORNER_SIGMA_M * CORNER_SIGMA_M;
            }
            shared[i * n + j] = value;
            shared[j * n + i] = value;
        }
    }
    Matrix::from_fn(2 * n, 2 * n, |r, c| {
        if r % 2 == c % 2 {
            shared[(r / 2) * n + c / 2]
        } else {
            0.0
        }
    })
}

/// The job sheet's readings whose points exist. One that names a place that is not there is told, not dropped.
fn readings(
    job: &Job,
    names: &[String],
    letters: &[usize],
    at: &[Coord<f64>],
    warnings: &mut Vec<Warning>,
) -> Vec<Reading> {
    let mut readings = Vec::new();
    let mut find = |wanted: &[&str], line: &str| -> Option<Vec<usize>> {
        let found: Vec<usize> = wanted
            .iter()
            .filter_map(|w| names.iter().position(|n| n.eq_ignore_ascii_case(w)))
            .collect();
        if found.len() == wanted.len() {
            return Some(found);
        }
        warnings.push(Warning::doubt(
            "no-such-point",
            format!(
                "The taped line {line} names a point that the walk does not have. Its points are: {}. The reading was not used.",
                names.join(", ")
            ),
        ));
        None
    };
    for tape in &job.tapes {
        let label = format!("{}-{}", tape.from, tape.to);
        if let Some(p) = find(&[&tape.from, &tape.to], &label) {
            readings.push(Reading {
                line: Line::Length {
                    from: p[0],
                    to: p[1],
                },
                value: tape.length_m,
                sigma: tape.sigma_m.unwrap_or(TAPE_SIGMA_M),
                label,
            });
        }
    }
    // A right angle is between a corner's neighbours on its own lawn.
    let neighbours = |corner: usize| -> Option<(usize, usize)> {
        let mut first = 0;
        for &count in letters {
            if corner < first + count {
                let within = corner - first;
                return (count >= 3).then(|| {
                    (
                        first + (within + count - 1) % count,
                        first + (within + 1) % count,
                    )
                });
            }
            first += count;
        }
        None
    };
    for square in &job.squares {
        let label = format!("square at {}", square.corner);
        if let Some(p) = find(&[&square.corner], &label)
            && let Some((from, to)) = neighbours(p[0])
        {
            readings.push(Reading {
                line: Line::Angle { at: p[0], from, to },
                value: square.angle_deg.to_radians(),
                sigma: square.sigma_deg.to_radians(),
                label,
            });
        }
    }
    for offset in &job.offsets {
        let label = format!("{} from {}-{}", offset.point, offset.from, offset.to);
        let Some(p) = find(&[&offset.point, &offset.from, &offset.to], &label) else {
            continue;
        };
        let line = Line::Offset {
            point: p[0],
            from: p[1],
            to: p[2],
        };
        let left = match offset.side {
            Some(side) => side == Hand::Left,
            None => line.value(at) >= 0.0,
        };
        let sigma = offset.sigma_m.unwrap_or(TAPE_SIGMA_M);
        readings.push(Reading {
            line,
            value: if left {
                offset.offset_m
            } else {
                -offset.offset_m
            },
            sigma,
            label: label.clone(),
        });
        if let Some(chainage_m) = offset.chainage_m {
            readings.push(Reading {
                line: Line::Chainage {
                    point: p[0],
                    from: p[1],
                    to: p[2],
                },
                value: chainage_m,
                sigma,
                label: format!("along {}-{} to {}", offset.from, offset.to, offset.point),
            });
        }
    }
    readings.retain(|r| r.line.is_among(names.len()));
    readings
}

/// Sides of a lawn from corner to corner, in the order of its ring.
fn sides(survey: &Survey, walked: &Walked, ring: &[(usize, usize)]) -> Vec<Side> {
    let vertices = &walked.edge.vertices;
    let n = vertices.len();
    // A bulge within the receiver's own wander over a side is none.
    let tolerance_m = STRAIGHT_M.max(3.0 * walked.sigma_m * survey.process.scale());
    (0..ring.len())
        .map(|k| {
            let ((a, from), (b, to)) = (ring[k], ring[(k + 1) % ring.len()]);
            let steps = (b + n - a - 1) % n + 1;
            Side {
                from,
                to,
                points: (0..=steps).map(|s| vertices[(a + s) % n].at).collect(),
                tolerance_m,
            }
        })
        .collect()
}

/// One lawn for the adjustment, and the part of its edge that is not taped straight: its area's variance and how it goes with the points, and its ring hung on its corners,
/// with the taped sides drawn straight.
fn lawn(
    survey: &Survey,
    walked: &Walked,
    ring: &[(usize, usize)],
    points: &[Named],
    covariance: &Matrix,
    job: &Job,
    confidence: f64,
) -> (Lawn, f64) {
    let hand_m2 = walked.edge.perimeter_m * walked.carry_sigma_m;
    let causes = Causes {
        pulls: walked.pulls.clone(),
        gradient2_m2: walked.gradient2_m2,
        coarse: vec![walked.coarse.clone()],
        others: vec![Term {
            term: "edge",
            sigma_m2: hand_m2,
            correction_m2: 0.0,
        }],
    };
    let variance_m4 = assess(&survey.process, &causes, confidence)
        .sigma_m2
        .powi(2);
    let pulls = merge(&walked.pulls, 1.0);
    let with_points_m3: Vec<f64> = points
        .iter()
        .flat_map(|p| {
            let mut sum = [0.0; 2];
            for pull in &pulls {
                let rho = p
                    .t_s
                    .iter()
                    .map(|&t| together(survey, pull.t_s, t))
                    .sum::<f64>()
                    / p.t_s.len() as f64;
                for (sum, pull) in sum.iter_mut().zip(pull.pull_m2) {
                    *sum += pull * p.sigma_m * rho;
                }
            }
            sum
        })
        .collect();
    let taped = |side: &Side| {
        let pair = |t: &crate::job::Tape| {
            let is = |name: &str, i: usize| points[i].name.eq_ignore_ascii_case(name);
            t.straight
                && ((is(&t.from, side.from) && is(&t.to, side.to))
                    || (is(&t.from, side.to) && is(&t.to, side.from)))
        };
        side.is_straight() && job.tapes.iter().any(pair)
    };
    let mut line: Vec<(Coord<f64>, Option<usize>)> = Vec::new();
    let (mut whole_m, mut walked_m) = (0.0, 0.0);
    for side in sides(survey, walked, ring) {
        let way_m: f64 = side
            .points
            .windows(2)
            .map(|w| crate::ring::distance_m(w[0], w[1]))
            .sum();
        whole_m += way_m;
        let straight = taped(&side);
        if !straight {
            walked_m += way_m;
        }
        for (k, &at) in side.points.iter().enumerate().take(side.points.len() - 1) {
            if k == 0 {
                line.push((at, Some(side.from)));
            } else if !straight {
                line.push((at, None));
            }
        }
    }
    let outline: Vec<Coord<f64>> = line.iter().map(|l| l.0).collect();
    let hung = HungRing::new(&outline, |i| line.get(i).and_then(|l| l.1));
    let part = if whole_m > 0.0 {
        walked_m / whole_m
    } else {
        1.0
    };
    // Between corners the walk wanders by what the corners do not tell of it.
    let told_m4 = covariance.cholesky().map_or(0.0, |c| {
        let solved = c.solve(&with_points_m3);
        solved
            .iter()
            .zip(&with_points_m3)
            .map(|(a, b)| a * b)
            .sum::<f64>()
    });
    let wander_m4 =
        part * (variance_m4 - hand_m2 * hand_m2 - told_m4).max(0.0) + (part * hand_m2).powi(2);
    // With sides drawn straight the corners have an area of their own; where all is as walked it is the walk's.
    let drawn_m2 = signed_area_m2(&outline);
    let ring =
        hung.filter(|_| part < 1.0 || (drawn_m2 - walked.area_m2).abs() < 1e-6 * walked.area_m2);
    let lawn = Lawn {
        label: walked.label.clone(),
        area_m2: walked.area_m2,
        variance_m4,
        with_points_m3,
        ring,
        wander_m4,
    };
    (lawn, part)
}

/// Every side of every lawn as drawn, clockwise, for the plan. None of a lawn with fewer than two corners.
pub fn drawn_sides(survey: &Survey) -> Vec<DrawnSide> {
    let (points, rings) = named(survey);
    let mut drawn = Vec::new();
    for (walked, ring) in survey.lawns.iter().zip(&rings) {
        if ring.len() < 2 {
            continue;
        }
        for side in sides(survey, walked, ring).into_iter().rev() {
            let (Some(from), Some(to)) = (points.get(side.to), points.get(side.from)) else {
                continue;
            };
            let along_m = side
                .points
                .windows(2)
                .map(|w| crate::ring::distance_m(w[0], w[1]))
                .sum();
            let straight = side.is_straight();
            drawn.push(DrawnSide {
                from: from.name.clone(),
                to: to.name.clone(),
                // What bends less than a taut line is as long as the chord: wiggles are the receiver's.
                length_m: if straight {
                    crate::ring::distance_m(from.at, to.at)
                } else {
                    along_m
                },
                straight,
                points: side.points.into_iter().rev().collect(),
            });
        }
    }
    drawn
}

/// The check sheet and the set-out table of the first lawn.
fn sheets(
    survey: &Survey,
    points: &[Named],
    rings: &[Vec<(usize, usize)>],
    covariance: &Matrix,
    lawns: &[Lawn],
    facts: &mut TapeFacts,
) {
    let (Some(walked), Some(ring), Some(lawn)) =
        (survey.lawns.first(), rings.first(), lawns.first())
    else {
        return;
    };
    if ring.len() < 2 {
        return;
    }
    let names: Vec<String> = points.iter().map(|p| p.name.clone()).collect();
    let at: Vec<Coord<f64>> = points.iter().map(|p| p.at).collect();
    // The lines are chosen by how the area answers to the corners: a ring of the corners alone says that.
    let corners: Vec<Coord<f64>> = ring.iter().map(|&(_, p)| at[p]).collect();
    let mut gradient = vec![0.0; 2 * points.len()];
    for (&(_, p), g) in ring.iter().zip(crate::ring::area_gradient_m(&corners)) {
        gradient[2 * p] = g[0];
        gradient[2 * p + 1] = g[1];
    }
    // Clockwise, as the letters go.
    let mut sides = sides(survey, walked, ring);
    sides.reverse();
    for side in &mut sides {
        std::mem::swap(&mut side.from, &mut side.to);
        side.points.reverse();
    }
    if let Some(first) = sides.iter().position(|s| s.from == 0) {
        sides.rotate_left(first);
    }
    facts.check_sheet = Some(lines::check_sheet(&lines::Measured {
        names: &names,
        points: &at,
        covariance,
        sides: &sides,
        area_gradient: &gradient,
        other_m4: lawn.wander_m4,
        tape_sigma_m: TAPE_SIGMA_M,
    }));
    let places: Vec<Place> = survey
        .beds
        .iter()
        .map(|bed| Place {
            name: bed.label.clone(),
            what: What::BedCentre,
            at: bed.centre,
            radius_m: Some(bed.radius_m),
        })
        .collect();
    facts.set_out = setout::set_out(&names, &at, &sides, &places, SETOUT_SPACING_M);
}
