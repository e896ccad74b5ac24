//! The lawns' edges from corner to corner: as walked, as drawn for the adjustment, and where the adjustment puts them.

use super::Moved;
use super::points::{Drift, Named, named, passes};
use crate::band::propagate::merge;
use crate::job::Job;
use crate::ring::signed_area_m2;
use crate::survey::Survey;
use crate::survey::measured::DrawnSide;
use crate::survey::walked::Walked;
use crate::tape::carried::HungRing;

use crate::tape::matrix::Matrix;
use crate::tape::setout::{self, STRAIGHT_M, Side};
use crate::tape::settle::{self, Lawn};
use geo::Coord;

/// How far the middle of a side that was taped as straight bulges, metres, one sigma: a taut line and a kept edge (judgement).
const BULGE_SIGMA_M: f64 = 0.02;

/// Sides of a lawn from corner to corner, in the order of its ring.
pub(super) fn sides(survey: &Survey, walked: &Walked, ring: &[(usize, usize)]) -> Vec<Side> {
    let vertices = &walked.edge.vertices;
    let n = vertices.len();
    // A bulge within the receiver's own wander over a side is none.
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
    /// Share of the edge that is as walked.
    pub(super) part: f64,
    /// Sides drawn straight: the vertices of their corners, counter-clockwise.
    pub(super) straight: Vec<(usize, usize)>,
    /// Their names, and the bulge the walk would not show, metres.
    pub(super) names: Vec<(String, f64)>,
    /// Sides taped as straight which this poor walk has as bent: by how much, metres, and whether drawn straight for all that.
    pub(super) bent: Vec<(String, f64, bool)>,
}

/// One lawn for the adjustment: its area's variance and how it goes with the points, and its ring hung on its corners,
/// with the taped sides drawn straight.
pub(super) fn lawn(
    survey: &Survey,
    walked: &Walked,
    ring: &[(usize, usize)],
    points: &[Named],
    covariance: &Matrix,
    job: &Job,
) -> (Lawn, Drawn) {
    let hand_m2 = walked.hand_m2();
    let variance_m4 = survey.variance_inside_m4(walked);
    let pulls = merge(&walked.inside.pulls, 1.0);
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
    // The tapes of a side, and whether the surveyor says that it is straight.
    let taped = |side: &Side| -> Option<Option<bool>> {
        let pair = |t: &&crate::job::Tape| {
            let is = |name: &str, i: usize| points[i].name.eq_ignore_ascii_case(name);
            (is(&t.from, side.from) && is(&t.to, side.to))
                || (is(&t.from, side.to) && is(&t.to, side.from))
        };
        let mut said = job.tapes.iter().filter(pair).map(|t| t.straight);
        let first = said.next()?;
        Some(said.fold(first, Option::or))
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
        let said = taped(&side);
        let taped = said.is_some_and(|straight| straight != Some(false));
        let straight = taped && (side.may_be_straight() || said == Some(Some(true)));
        // Letters run the other way round.
        let name = format!("{}-{}", points[side.to].name, points[side.from].name);
        // Who says that a side is straight has looked at it; only a walk that is far off still asks.
        let asks = if said == Some(Some(true)) {
            !side.may_be_straight()
        } else {
            taped && !side.is_straight() && (straight || side.tolerance_m > setout::ROUGH_M)
        };
        if asks {
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

/// The lawns' edges with their corners where the tape has them: what lies between moves along in proportion, and sides
/// taped straight are drawn straight where the area rests on the corners.
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
