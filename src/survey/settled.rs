//! Walk and tape of one survey brought together: the corners with their joint error, the readings of the job sheet,
//! and what the adjustment makes of the area.

use super::measured::{DrawnSide, TapeFacts};
use super::walked::Walked;
use super::{Survey, corners};
use crate::band::budget::{Causes, Term, variance_m4};
use crate::band::model::{WHITE_SHARE, WOBBLE_M};
use crate::band::moments::Moments;
use crate::band::propagate::{Pull, merge};
use crate::fault::Warning;
use crate::job::{Job, Tape, shape::Hand};
use crate::ring::signed_area_m2;
use crate::tape::carried::HungRing;
use crate::tape::chance::two_sided;
use crate::tape::checks::{Check, Verdict};
use crate::tape::lines::{self, STRAIGHT_M, Side};
use crate::tape::matrix::Matrix;
use crate::tape::reading::{Line, Reading};
use crate::tape::setout::{self, Place, What};
use crate::tape::settle::{self, Lawn};
use crate::walk::pauses;
use geo::Coord;
use std::ops::Range;

/// One sigma of a taped length unless told, metres.
const TAPE_SIGMA_M: f64 = 0.02;
/// How closely a corner of the walk is the corner on the ground, metres per axis, over and above the receiver.
const CORNER_SIGMA_M: f64 = 0.03;
/// How far the middle of a side that was taped as straight bulges, metres, one sigma: a taut line and a kept edge (judgement).
const BULGE_SIGMA_M: f64 = 0.02;
/// Points of the curve on the set-out table, metres apart.
const SETOUT_SPACING_M: f64 = 1.0;

/// With more named points than this a sheet of lines to tape is slow to make and no help.
const MOST_POINTS: usize = 60;

/// What the tape changes.
#[derive(Debug, Default)]
pub struct Settled {
    pub facts: TapeFacts,
    /// Where an adjustment was accepted.
    pub adjusted: Option<Adjusted>,
    pub warnings: Vec<Warning>,
}

/// What an accepted adjustment makes of the lawns.
#[derive(Debug)]
pub struct Adjusted {
    /// One for each lawn, in order.
    pub lawns: Vec<Moved>,
    /// Of the net area, one sigma, m².
    pub sigma_m2: f64,
    /// Of the points, m².
    covariance: Matrix,
}

/// One lawn's edge after the adjustment.
#[derive(Debug)]
pub struct Moved {
    /// Inside the edge, m².
    pub area_m2: f64,
    /// One for each vertex of the edge.
    pub edge: Vec<Coord<f64>>,
    /// Sigma of each corner, by its vertex, metres per axis.
    pub corner_sigma_m: Vec<(usize, f64)>,
    /// Where the corner lettered first now stands.
    pub first: Option<Coord<f64>>,
}

/// A named point of the survey.
struct Named {
    name: String,
    at: Coord<f64>,
    /// When each lap passed it, seconds.
    t_s: Vec<f64>,
    sigma_m: f64,
    /// Which lawn's edge it is on; `None` for a bed.
    lawn: Option<usize>,
    /// How it moves where the hand holds the antenna a metre outside the edge all the way round: the meeting point of
    /// both sides moved out.
    outward: Coord<f64>,
}

/// Sets the job sheet's readings against the walk and adjusts; also chooses what to tape and sets out.
pub fn settle(survey: &Survey, job: &Job) -> Settled {
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
    settled
        .warnings
        .extend(left_out_of_the_round(survey, &points, &readings));
    // Each lawn, and the part of its edge that is drawn as walked.
    let (lawns, parts): (Vec<Lawn>, Vec<Drawn>) = survey
        .lawns
        .iter()
        .zip(&rings)
        .map(|(walked, ring)| lawn(survey, walked, ring, &points, &covariance, job))
        .unzip();
    if readings.is_empty() {
        return settled;
    }
    let mut outcome = settle::settle(
        &settle::Walked {
            names: &names,
            points: &at,
            covariance: &covariance,
            lawns: lawns.clone(),
        },
        &readings,
    );
    // With a corner missing, what was taped as a diagonal would pass for a side.
    let lacking = settled.warnings.iter().chain(&survey.warnings);
    if lacking
        .into_iter()
        .any(|w| matches!(w.code, "no-such-point" | "corner-not-found"))
    {
        outcome.adjusted = None;
        if let Some(report) = &mut outcome.agreement.adjustment {
            report.accepted = false;
            report.message.push_str(
                " The tape was not used for the area, because the walk lacks some of the points it was taken between.",
            );
        }
    }
    if let Some(report) = &outcome.agreement.adjustment {
        let disagrees = |c: &Check| c.verdict == Verdict::Disagrees;
        // Readings that fit better than they need to are no reason for doubt.
        if !report.accepted
            || report.finding != "clean"
            || report.variance_factor > report.factor_limits[1]
            || outcome.agreement.checks.iter().any(disagrees)
        {
            settled.warnings.push(Warning::doubt(
                "tape-and-walk-disagree",
                report.message.clone(),
            ));
        }
    }
    settled
        .warnings
        .extend(letters_unsure(survey, &outcome.agreement));
    if let Some(adjusted) = outcome.adjusted {
        settled.warnings.extend(straight_note(&parts, &adjusted));
        settled.warnings.extend(bent_doubt(&parts, &adjusted));
        settled.adjusted = Some(Adjusted {
            lawns: moved(survey, &rings, &at, &parts, &adjusted),
            sigma_m2: net_sigma_m2(survey, &lawns, &parts, &adjusted),
            covariance: adjusted.covariance,
        });
    }
    settled.facts.tape = Some(outcome.agreement);
    settled
}

/// Sigma of the net area after an adjustment, m². What else there is (beds, deductions) stays; gaps, closing and corners
/// between fixes only where the edge is still as walked.
fn net_sigma_m2(
    survey: &Survey,
    lawns: &[Lawn],
    parts: &[Drawn],
    adjusted: &settle::Adjusted,
) -> f64 {
    let now = variance_m4(&survey.process, &survey.causes);
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

/// The band of the net area, m², if every line of a check sheet were taped and fitted.
fn if_all_fit_m2(survey: &Survey, sheet: &lines::CheckSheet, confidence: f64) -> Option<f64> {
    let (points, rings) = named(survey);
    let names: Vec<String> = points.iter().map(|p| p.name.clone()).collect();
    let at: Vec<Coord<f64>> = points.iter().map(|p| p.at).collect();
    let covariance = covariance(survey, &points);
    let job = Job {
        tapes: sheet
            .lines
            .iter()
            .map(|l| Tape {
                from: l.from.clone(),
                to: l.to.clone(),
                length_m: l.expected_m,
                sigma_m: Some(sheet.tape_sigma_m),
                straight: true,
            })
            .collect(),
        ..Job::default()
    };
    let letters: Vec<usize> = rings.iter().map(Vec::len).collect();
    let readings = readings(&job, &names, &letters, &at, &mut Vec::new());
    let (lawns, parts): (Vec<Lawn>, Vec<Drawn>) = survey
        .lawns
        .iter()
        .zip(&rings)
        .map(|(walked, ring)| lawn(survey, walked, ring, &points, &covariance, &job))
        .unzip();
    let outcome = settle::settle(
        &settle::Walked {
            names: &names,
            points: &at,
            covariance: &covariance,
            lawns: lawns.clone(),
        },
        &readings,
    );
    let sigma_m2 = net_sigma_m2(survey, &lawns, &parts, &outcome.adjusted?);
    Some(two_sided(confidence) * sigma_m2)
}

/// Chooses what to tape and sets out, on the edges as they now are.
pub fn sheets(
    survey: &Survey,
    confidence: f64,
) -> (Option<lines::CheckSheet>, Option<setout::SetOut>) {
    let (points, rings) = named(survey);
    let Some(ring) = rings.first() else {
        return (None, None);
    };
    if ring.len() < 2 || points.len() > MOST_POINTS {
        return (None, None);
    }
    let (mut check_sheet, set_out) = match &survey.settled.adjusted {
        Some(adjusted) => first_lawn(survey, &points, ring, &adjusted.covariance),
        None => first_lawn(survey, &points, ring, &covariance(survey, &points)),
    };
    if survey.settled.adjusted.is_none()
        && let Some(sheet) = &mut check_sheet
    {
        sheet.band_m2 = if_all_fit_m2(survey, sheet, confidence);
    }
    (check_sheet, set_out)
}

/// The lawns' edges with their corners where the tape has them: what lies between moves along in proportion, and sides
/// taped straight are drawn straight where the area rests on the corners.
fn moved(
    survey: &Survey,
    rings: &[Vec<(usize, usize)>],
    walked_at: &[Coord<f64>],
    parts: &[Drawn],
    adjusted: &settle::Adjusted,
) -> Vec<Moved> {
    let shifts: Vec<Coord<f64>> = adjusted
        .points
        .iter()
        .zip(walked_at)
        .map(|(now, was)| *now - *was)
        .collect();
    survey
        .lawns
        .iter()
        .zip(rings)
        .zip(parts)
        .zip(&adjusted.lawns)
        .map(|(((walked, ring), drawn), after)| {
            let mut edge = walked.edge.ring();
            let point = |vertex: usize| ring.iter().find(|(v, _)| *v == vertex).map(|(_, p)| *p);
            if let Some(hung) = HungRing::new(&edge, point) {
                edge = hung.moved(&shifts);
            }
            if after.from == settle::From::Corners {
                for &(from, to) in &drawn.straight {
                    straighten(&mut edge, from, to);
                }
            }
            let sigma_m = |p: usize| {
                let axis = |k: usize| adjusted.covariance.at(k, k);
                (0.5 * (axis(2 * p) + axis(2 * p + 1))).max(0.0).sqrt()
            };
            Moved {
                area_m2: after.area_m2,
                edge,
                corner_sigma_m: ring.iter().map(|&(v, p)| (v, sigma_m(p))).collect(),
                first: ring
                    .iter()
                    .map(|(_, p)| *p)
                    .min()
                    .and_then(|p| adjusted.points.get(p).copied()),
            }
        })
        .collect()
}

/// Puts the vertices from one corner on to the next on the line between them, in proportion to the way.
fn straighten(edge: &mut [Coord<f64>], from: usize, to: usize) {
    let n = edge.len();
    let steps = (to + n - from - 1) % n + 1;
    let way: Vec<usize> = (0..=steps).map(|s| (from + s) % n).collect();
    let mut done_m = vec![0.0];
    for pair in way.windows(2) {
        let step_m = crate::ring::distance_m(edge[pair[0]], edge[pair[1]]);
        done_m.push(done_m[done_m.len() - 1] + step_m);
    }
    let (a, b, whole_m) = (edge[from], edge[to % n], done_m[steps]);
    if whole_m > 0.0 {
        for (&i, done) in way.iter().zip(&done_m) {
            edge[i] = a + (b - a) * (done / whole_m);
        }
    }
}

/// Says which sides were drawn straight, and how much of a bulge the walk would not have shown.
fn straight_note(parts: &[Drawn], adjusted: &settle::Adjusted) -> Option<Warning> {
    let (names, tolerances): (Vec<&str>, Vec<f64>) = parts
        .iter()
        .zip(&adjusted.lawns)
        .filter(|(_, after)| after.from == settle::From::Corners)
        .flat_map(|(drawn, _)| drawn.names.iter())
        .map(|(name, tolerance_m)| (name.as_str(), *tolerance_m))
        .unzip();
    let tolerance_m = tolerances.iter().copied().reduce(f64::max)?;
    Some(Warning::note(
        "taped-straight",
        format!(
            "The edge was taken as straight where it was taped from corner to corner: {}. A bulge of less than {tolerance_m:.1} m \
             would not show in this walk; if a side has one, add straight = false to its [[tape]].",
            names.join(", ")
        ),
    ))
}

/// Sides taped as straight which the walk has as bent, further than its error usually explains.
fn bent_doubt(parts: &[Drawn], adjusted: &settle::Adjusted) -> Option<Warning> {
    let bent: Vec<String> = parts
        .iter()
        .zip(&adjusted.lawns)
        .filter(|(_, after)| after.from == settle::From::Corners)
        .flat_map(|(drawn, _)| &drawn.bent)
        .map(|(name, bulge_m, straight)| {
            let taken = if *straight {
                "taken as straight"
            } else {
                "taken as walked"
            };
            format!("{name} ({bulge_m:.1} m, {taken})")
        })
        .collect();
    (!bent.is_empty()).then(|| {
        Warning::doubt(
            "taped-straight-but-walked-bent",
            format!(
                "The walk bulges from the straight line that was taped by more than its error explains: {}. Look whether the edge \
                 bends there; if it does, add straight = false to its [[tape]] and tape offsets to it.",
                bent.join(", ")
            ),
        )
    })
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
    for (k, (lawn, names)) in survey
        .lawns
        .iter()
        .zip(corners::named(&survey.lawns))
        .enumerate()
    {
        let lap_s = lap_s(lawn);
        let mut ring: Vec<(usize, usize)> = Vec::new();
        for (vertex, name) in names {
            let corner = lawn.edge.vertices[vertex];
            ring.push((vertex, points.len()));
            points.push(Named {
                name,
                at: corner.at,
                t_s: (0..lawn.laps.clamp(1, 6))
                    .map(|k| corner.t_s + f64::from(k) * lap_s)
                    .collect(),
                sigma_m: corner.sigma_m,
                lawn: Some(k),
                outward: Coord { x: 0.0, y: 0.0 },
            });
        }
        ring.sort_unstable();
        let places: Vec<Coord<f64>> = ring.iter().map(|&(_, p)| points[p].at).collect();
        for (&(_, p), outward) in ring.iter().zip(outwards(&places)) {
            points[p].outward = outward;
        }
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
        lawn: None,
        outward: Coord { x: 0.0, y: 0.0 },
    }));
    (points, rings)
}

/// Sharper corners than this would run away, as multiples of the offset.
const MOST_OUTWARD: f64 = 3.0;

/// For each corner of a counter-clockwise ring, how far it moves when all sides move a metre outwards.
fn outwards(ring: &[Coord<f64>]) -> Vec<Coord<f64>> {
    let n = ring.len();
    let normal = |from: Coord<f64>, to: Coord<f64>| {
        let way = to - from;
        let length_m = way.x.hypot(way.y).max(1e-9);
        Coord {
            x: way.y / length_m,
            y: -way.x / length_m,
        }
    };
    (0..n)
        .map(|i| {
            if n < 3 {
                return Coord { x: 0.0, y: 0.0 };
            }
            let before = normal(ring[(i + n - 1) % n], ring[i]);
            let after = normal(ring[i], ring[(i + 1) % n]);
            let along = before.x * after.x + before.y * after.y;
            let moved = (before + after) / (1.0 + along).max(1e-6);
            moved * (MOST_OUTWARD / moved.x.hypot(moved.y).max(1e-9)).min(1.0)
        })
        .collect()
}

fn lap_s(lawn: &Walked) -> f64 {
    match (lawn.line.first(), lawn.line.last()) {
        (Some(first), Some(last)) => (last.t_s - first.t_s) / f64::from(lawn.laps.max(1)),
        _ => 0.0,
    }
}

/// What is believed of the receiver's error for each correlation time: the time in seconds, and the mean of scale².
struct Drift(Vec<(f64, f64)>);

impl Drift {
    fn of(survey: &Survey) -> Drift {
        let process = &survey.process;
        Drift(
            process
                .correlation_s
                .iter()
                .map(|&correlation_s| (correlation_s, process.scale2_of(correlation_s)))
                .collect(),
        )
    }

    /// Correlations of the receiver's error between every two of these moments, averaged over what is believed of it, times
    /// scale²: `n` by `n`.
    fn together(&self, moments: &Moments) -> Vec<f64> {
        let mut sum = vec![0.0; moments.len() * moments.len()];
        for &(correlation_s, share) in &self.0 {
            let share = share * (1.0 - WHITE_SHARE);
            for (sum, rho) in sum.iter_mut().zip(moments.correlations(correlation_s)) {
                *sum += share * rho;
            }
        }
        sum
    }

    /// How a walk's pulls go with the receiver's error at each of these moments, averaged likewise, m².
    fn with_pulls_m2(&self, pulls: &[Pull], moments: &Moments) -> Vec<[f64; 2]> {
        let mut sum = vec![[0.0; 2]; moments.len()];
        for &(correlation_s, share) in &self.0 {
            let share = share * (1.0 - WHITE_SHARE);
            for (sum, part) in sum
                .iter_mut()
                .zip(moments.together_m2(pulls, correlation_s))
            {
                sum[0] += share * part[0];
                sum[1] += share * part[1];
            }
        }
        sum
    }
}

/// Joint covariance of the points, x0, y0, x1, …, m²: the same Gauss-Markov model as the area's band, plus white
/// noise, the pole, how well a corner is a corner, and the hand, which moves all corners of a lawn outwards together.
fn covariance(survey: &Survey, points: &[Named]) -> Matrix {
    let n = points.len();
    let scale2 = survey.process.scale().powi(2);
    let (moments, passes) = passes(points);
    let together = Drift::of(survey).together(&moments);
    let mut shared = vec![0.0; n * n];
    for i in 0..n {
        for j in 0..=i {
            let (p, q) = (&points[i], &points[j]);
            let row = |pass: usize| &together[pass * moments.len()..][passes[j].clone()];
            let sum: f64 = passes[i].clone().flat_map(row).sum();
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
        let (p, q) = (&points[r / 2], &points[c / 2]);
        let receiver = if r % 2 == c % 2 {
            shared[(r / 2) * n + c / 2]
        } else {
            0.0
        };
        let hand_m = match (p.lawn, q.lawn) {
            (Some(a), Some(b)) if a == b => survey.lawns[a].carry_sigma_m,
            _ => 0.0,
        };
        receiver + hand_m * hand_m * axis(p.outward, r) * axis(q.outward, c)
    })
}

/// All passes of all points, and which of them are each point's.
fn passes(points: &[Named]) -> (Moments, Vec<Range<usize>>) {
    let moments = Moments::new(points.iter().flat_map(|p| p.t_s.iter().copied()));
    let mut from = 0;
    let each = points
        .iter()
        .map(|p| {
            let own = from..from + p.t_s.len();
            from = own.end;
            own
        })
        .collect();
    (moments, each)
}

/// East for even indices, north for odd.
fn axis(at: Coord<f64>, index: usize) -> f64 {
    if index.is_multiple_of(2) { at.x } else { at.y }
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
                "The taped line {line} names a point that the walk does not have. Its points are: {}. The reading was not used. \
                 {NAME_THEM}",
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

/// When the walk stood still on the edge: the corners, if the surveyor stops at them.
fn stood_still(survey: &Survey) -> String {
    let times: Vec<String> = survey
        .lawns
        .iter()
        .flat_map(|lawn| {
            pauses::find(&lawn.line, lawn.pace_m_s)
                .into_iter()
                .map(|pause| 0.5 * (lawn.line[pause.first].t_s + lawn.line[pause.last].t_s))
        })
        .take(12)
        .map(|t_s| {
            let s = t_s.rem_euclid(86_400.0) as u32;
            format!("{:02}:{:02}:{:02}", s / 3600, s / 60 % 60, s % 60)
        })
        .collect();
    if times.is_empty() {
        return String::new();
    }
    format!(
        " The walk stands still on the edge at {}.",
        times.join(", ")
    )
}

/// What to do where letters may not stand at the corners that were taped.
const NAME_THEM: &str = "Look at the plan whether each letter stands at a corner; if not, name the corners in [[corner]] by \
     the time or the pause, or measure the sides and a diagonal as a [[shape]].";

/// Tapes that go right round a lawn from corner to corner but pass by some of its letters: then the walk shows corners
/// that the surveyor did not see, and the others may be lettered wrongly too.
fn left_out_of_the_round(
    survey: &Survey,
    points: &[Named],
    readings: &[Reading],
) -> Option<Warning> {
    let taped = |a: usize, b: usize| {
        readings.iter().any(|r| match r.line {
            Line::Length { from, to } => (from, to) == (a, b) || (from, to) == (b, a),
            _ => false,
        })
    };
    (0..survey.lawns.len())
        .filter(|&k| survey.lawns[k].fixed.is_empty())
        .find_map(|k| {
            let letters: Vec<usize> = (0..points.len())
                .filter(|&p| points[p].lawn == Some(k))
                .collect();
            let (met, passed): (Vec<usize>, Vec<usize>) = letters
                .iter()
                .partition(|&&p| letters.iter().any(|&q| q != p && taped(p, q)));
            let round = met.len() >= 3
                && (0..met.len()).all(|i| taped(met[i], met[(i + 1) % met.len()]));
            if !round || passed.is_empty() {
                return None;
            }
            let list = |of: &[usize]| {
                let names: Vec<&str> = of.iter().map(|&p| points[p].name.as_str()).collect();
                names.join(", ")
            };
            Some(Warning::doubt(
                "corner-not-taped",
                format!(
                    "The tape goes right round {}, but the walk also shows a corner at {}. {NAME_THEM}{}",
                    list(&met),
                    list(&passed),
                    stood_still(survey)
                ),
            ))
        })
}

/// A misreading of more than this part of a line that nobody would notice: the walk can't tell one corner from the next.
const UNNOTICED: f64 = 0.5;
/// Tapes that leave less than this part of the area's error fix the figure by themselves, whichever letters they stand at.
const FIXED_BY_TAPE: f64 = 0.3;

/// Where the walk is so poor that tapes from wrong corners would fit it too, and the tapes alone don't fix the lawn's figure,
/// nothing vouches for the letters.
fn letters_unsure(survey: &Survey, agreement: &settle::Agreement) -> Option<Warning> {
    let report = agreement.adjustment.as_ref().filter(|r| r.accepted)?;
    let lettered = survey.lawns.iter().any(|l| l.fixed.is_empty());
    let loose = report
        .areas
        .iter()
        .any(|a| a.after_sigma_m2 > FIXED_BY_TAPE * a.before_sigma_m2);
    let blind: Vec<&str> = report
        .readings
        .iter()
        .filter(|r| r.unit == "m" && r.detectable.is_some_and(|d| d > UNNOTICED * r.taped))
        .map(|r| r.line.as_str())
        .collect();
    (lettered && loose && !blind.is_empty()).then(|| {
        Warning::doubt(
            "letters-unsure",
            format!(
                "This walk is too rough to tell whether {} were taped between the corners it has under those letters. \
                 {NAME_THEM}{}",
                blind.join(", "),
                stood_still(survey)
            ),
        )
    })
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

/// How a lawn's edge is drawn for the adjustment.
struct Drawn {
    /// Share of the edge that is as walked.
    part: f64,
    /// Sides drawn straight: the vertices of their corners, counter-clockwise.
    straight: Vec<(usize, usize)>,
    /// Their names, and the bulge the walk would not show, metres.
    names: Vec<(String, f64)>,
    /// Sides taped as straight which this poor walk has as bent: by how much, metres, and whether drawn straight for all that.
    bent: Vec<(String, f64, bool)>,
}

/// One lawn for the adjustment: its area's variance and how it goes with the points, and its ring hung on its corners,
/// with the taped sides drawn straight.
fn lawn(
    survey: &Survey,
    walked: &Walked,
    ring: &[(usize, usize)],
    points: &[Named],
    covariance: &Matrix,
    job: &Job,
) -> (Lawn, Drawn) {
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
    let variance_m4 = variance_m4(&survey.process, &causes);
    let pulls = merge(&walked.pulls, 1.0);
    let (moments, passes) = passes(points);
    let together_m2 = Drift::of(survey).with_pulls_m2(&pulls, &moments);
    let with_points_m3: Vec<f64> = points
        .iter()
        .zip(passes)
        .flat_map(|(p, own)| {
            let mut sum = [0.0; 2];
            if p.lawn
                .is_some_and(|k| std::ptr::eq(&survey.lawns[k], walked))
            {
                sum = [p.outward.x, p.outward.y].map(|out| hand_m2 * walked.carry_sigma_m * out);
            }
            for pass_m2 in &together_m2[own] {
                for (sum, pass_m2) in sum.iter_mut().zip(pass_m2) {
                    *sum += p.sigma_m * pass_m2 / p.t_s.len() as f64;
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
        job.tapes.iter().any(pair)
    };
    let mut line: Vec<(Coord<f64>, Option<usize>)> = Vec::new();
    let (mut whole_m, mut walked_m) = (0.0, 0.0);
    let mut drawn = Drawn {
        part: 1.0,
        straight: Vec::new(),
        names: Vec::new(),
        bent: Vec::new(),
    };
    let mut bulges_m4 = 0.0;
    for side in sides(survey, walked, ring) {
        let way_m: f64 = side
            .points
            .windows(2)
            .map(|w| crate::ring::distance_m(w[0], w[1]))
            .sum();
        whole_m += way_m;
        let taped = taped(&side);
        let straight = taped && side.may_be_straight();
        // Letters run the other way round.
        let name = format!("{}-{}", points[side.to].name, points[side.from].name);
        if taped && !side.is_straight() && (straight || side.tolerance_m > lines::ROUGH_M) {
            drawn.bent.push((name.clone(), side.bulge_m(), straight));
        }
        if straight {
            let vertex = |p: usize| ring.iter().find(|r| r.1 == p).map_or(0, |r| r.0);
            drawn.straight.push((vertex(side.from), vertex(side.to)));
            drawn.names.push((name, side.tolerance_m));
            // A flat arc holds two thirds of its chord times its height.
            bulges_m4 += (2.0 / 3.0 * way_m * BULGE_SIGMA_M).powi(2);
        } else {
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
    // Between corners the walk wanders by what the corners do not tell of it, the hand included.
    let told_m4 = covariance.cholesky().map_or(0.0, |c| {
        let solved = c.solve(&with_points_m3);
        solved
            .iter()
            .zip(&with_points_m3)
            .map(|(a, b)| a * b)
            .sum::<f64>()
    });
    let wander_m4 = part * (variance_m4 - told_m4).max(0.0) + bulges_m4;
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
    drawn.part = part;
    (lawn, drawn)
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
fn first_lawn(
    survey: &Survey,
    points: &[Named],
    ring: &[(usize, usize)],
    covariance: &Matrix,
) -> (Option<lines::CheckSheet>, Option<setout::SetOut>) {
    let Some(walked) = survey.lawns.first() else {
        return (None, None);
    };
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
    let check_sheet = Some(lines::check_sheet(&lines::Measured {
        names: &names,
        points: &at,
        covariance,
        sides: &sides,
        area_gradient: &gradient,
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
    let set_out = setout::set_out(&names, &at, &sides, &places, SETOUT_SPACING_M);
    (check_sheet, set_out)
}
