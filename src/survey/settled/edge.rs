//! The lawns' edges from corner to corner: as walked, as drawn for the adjustment, and where the adjustment puts them.
//!
//! A side that was taped from corner to corner is drawn straight, unless the surveyor says otherwise or the walk clearly bends there.
//! Then the area of the corners is as sure as the corners are, while between corners a walked edge wanders with the receiver's error.

use super::Moved;
use super::points::{Drift, Named, named, passes};
use crate::band::propagate::merge;
use crate::job::{Job, Tape};
use crate::limits::tape::ROUGH_M;
use crate::process::hand::BULGE_SIGMA_M;
use crate::ring::{distance_m, signed_area_m2};
use crate::survey::Survey;
use crate::survey::measured::DrawnSide;
use crate::survey::walked::Walked;
use crate::tape::carried::HungRing;
use crate::tape::matrix::Matrix;
use crate::tape::setout::{STRAIGHT_M, Side};
use crate::tape::settle::{self, Lawn};
use geo::Coord;

/// Sides of a lawn from corner to corner, in the order of its ring.
pub(super) fn sides(survey: &Survey, walked: &Walked, ring: &[(usize, usize)]) -> Vec<Side> {
    let vertices = &walked.edge.vertices;
    let n = vertices.len();
    // A bulge no larger than the receiver's own wander over a side is none.
    let tolerance_m = STRAIGHT_M.max(3.0 * walked.track.sigma_m * survey.process.scale());
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
pub(super) struct Drawn {
    /// The share of the edge's length that is drawn as walked, 0 to 1.
    pub(super) part: f64,
    /// Sides drawn straight: the vertices of their corners, counter-clockwise.
    pub(super) straight: Vec<(usize, usize)>,
    /// The names of those sides, and how large a bulge the walk would not show, metres.
    pub(super) names: Vec<(String, f64)>,
    /// Sides that were taped as straight but that a poor walk has as bent: the name, by how much, metres, and whether it is drawn
    /// straight for all that.
    pub(super) bent: Vec<(String, f64, bool)>,
}

/// One lawn as the adjustment takes it: its area with its variance and its covariances with the points, and its ring hung on its corners,
/// with taped sides drawn straight.
pub(super) fn lawn(
    survey: &Survey,
    walked: &Walked,
    ring: &[(usize, usize)],
    points: &[Named],
    covariance: &Matrix,
    job: &Job,
) -> (Lawn, Drawn) {
    let variance_m4 = survey.variance_inside_m4(walked);
    let with_points_m3 = with_points_m3(survey, walked, points);
    let Line {
        places,
        drawn,
        bulges_m4,
    } = Line::of(&sides(survey, walked, ring), ring, points, job);
    let outline: Vec<Coord<f64>> = places.iter().map(|place| place.0).collect();
    let hung = HungRing::new(&outline, |i| places.get(i).and_then(|place| place.1));
    // Between corners the walk wanders by that part of its error which the corners do not show, the hand included.
    let told_m4 = covariance.cholesky().map_or(0.0, |c| {
        let solved = c.solve(&with_points_m3);
        let pairs = solved.iter().zip(&with_points_m3);
        pairs.map(|(a, b)| a * b).sum::<f64>()
    });
    let part = drawn.part;
    // Where sides are drawn straight, the corners have an area of their own. Where all is as walked, it must be the walk's area.
    let drawn_m2 = signed_area_m2(&outline);
    let as_walked = |_: &HungRing| (drawn_m2 - walked.area_m2).abs() < 1e-6 * walked.area_m2;
    let lawn = Lawn {
        label: walked.label.clone(),
        area_m2: walked.area_m2,
        variance_m4,
        with_points_m3,
        ring: hung.filter(|hung| part < 1.0 || as_walked(hung)),
        wander_m4: part * (variance_m4 - told_m4).max(0.0) + bulges_m4,
    };
    (lawn, drawn)
}

/// Covariances of a lawn's area with the points' coordinates, m³, in the order x0, y0, x1, …: by the receiver's error at the moments at
/// which each was passed, and by the hand.
fn with_points_m3(survey: &Survey, walked: &Walked, points: &[Named]) -> Vec<f64> {
    let hand_m2 = walked.hand_m2();
    let pulls = merge(&walked.inside.pulls, 1.0);
    let (moments, passes) = passes(points);
    let together_m2 = Drift::of(survey).with_pulls_m2(&pulls, &moments);
    let own = |lawn: usize| std::ptr::eq(&survey.lawns[lawn], walked);
    let each = points.iter().zip(passes).flat_map(|(point, passed)| {
        let mut sum = match point.lawn.is_some_and(own) {
            true => {
                [point.outward.x, point.outward.y].map(|out| hand_m2 * walked.carry_sigma_m * out)
            }
            false => [0.0; 2],
        };
        for pass_m2 in &together_m2[passed] {
            for (sum, pass_m2) in sum.iter_mut().zip(pass_m2) {
                *sum += point.sigma_m * pass_m2 / point.t_s.len() as f64;
            }
        }
        sum
    });
    each.collect()
}

/// `None` where a side was not taped from corner to corner. Otherwise what the surveyor says of its being straight, if he says anything.
fn taped(side: &Side, points: &[Named], job: &Job) -> Option<Option<bool>> {
    let is = |name: &str, i: usize| points[i].name.eq_ignore_ascii_case(name);
    let pair = |t: &&Tape| {
        (is(&t.from, side.from) && is(&t.to, side.to))
            || (is(&t.from, side.to) && is(&t.to, side.from))
    };
    let mut said = job.tapes.iter().filter(pair).map(|t| t.straight);
    let first = said.next()?;
    Some(said.fold(first, Option::or))
}

/// An edge from corner to corner, with taped sides drawn straight.
struct Line {
    /// Its places, each with the index of the point that it is, if it is a corner.
    places: Vec<(Coord<f64>, Option<usize>)>,
    drawn: Drawn,
    /// Variance of the area from bulges of the sides drawn straight, m⁴.
    bulges_m4: f64,
}

impl Line {
    fn of(sides: &[Side], ring: &[(usize, usize)], points: &[Named], job: &Job) -> Line {
        let mut line = Line {
            places: Vec::new(),
            drawn: Drawn {
                part: 1.0,
                straight: Vec::new(),
                names: Vec::new(),
                bent: Vec::new(),
            },
            bulges_m4: 0.0,
        };
        let (mut whole_m, mut walked_m) = (0.0, 0.0);
        for side in sides {
            let steps = side.points.windows(2);
            let way_m: f64 = steps.map(|w| distance_m(w[0], w[1])).sum();
            whole_m += way_m;
            let said = taped(side, points, job);
            let taped = said.is_some_and(|straight| straight != Some(false));
            let straight = taped && (side.may_be_straight() || said == Some(Some(true)));
            // Letters run clockwise, and the ring counter-clockwise.
            let name = format!("{}-{}", points[side.to].name, points[side.from].name);
            // If the surveyor says that a side is straight, he has looked at it, and only a walk that is far off still raises the
            // question.
            let asks = if said == Some(Some(true)) {
                !side.may_be_straight()
            } else {
                taped && !side.is_straight() && (straight || side.tolerance_m > ROUGH_M)
            };
            if asks {
                let bent = (name.clone(), side.bulge_m(), straight);
                line.drawn.bent.push(bent);
            }
            if straight {
                let vertex = |p: usize| ring.iter().find(|r| r.1 == p).map_or(0, |r| r.0);
                let ends = (vertex(side.from), vertex(side.to));
                line.drawn.straight.push(ends);
                line.drawn.names.push((name, side.tolerance_m));
                // The area between a flat arc and its chord is two thirds of the chord times the arc's height.
                line.bulges_m4 += (2.0 / 3.0 * way_m * BULGE_SIGMA_M).powi(2);
            } else {
                walked_m += way_m;
            }
            line.places.push((side.points[0], Some(side.from)));
            if !straight {
                let between = &side.points[1..side.points.len() - 1];
                line.places.extend(between.iter().map(|&at| (at, None)));
            }
        }
        if whole_m > 0.0 {
            line.drawn.part = walked_m / whole_m;
        }
        line
    }
}

/// The lawns' edges with their corners where the tape has them. What lies between is moved along in proportion, and sides that were taped
/// straight are drawn straight where the area rests on the corners.
pub(super) fn moved(
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
        let step_m = distance_m(edge[pair[0]], edge[pair[1]]);
        done_m.push(done_m[done_m.len() - 1] + step_m);
    }
    let (a, b, whole_m) = (edge[from], edge[to % n], done_m[steps]);
    if whole_m > 0.0 {
        for (&i, done) in way.iter().zip(&done_m) {
            edge[i] = a + (b - a) * (done / whole_m);
        }
    }
}

/// Every side of every lawn as drawn, clockwise, for the plan. None of a lawn with fewer than two corners.
pub(crate) fn drawn_sides(survey: &Survey) -> Vec<DrawnSide> {
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
            let along_m = side.points.windows(2).map(|w| distance_m(w[0], w[1])).sum();
            let straight = side.is_straight();
            drawn.push(DrawnSide {
                from: from.name.clone(),
                to: to.name.clone(),
                // A side that bends less than a taut line is as long as its chord, as its wiggles are the receiver's.
                length_m: if straight {
                    distance_m(from.at, to.at)
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
