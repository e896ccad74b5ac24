//! The named points of a survey, corners and beds, with the joint error of where they are.
//!
//! Corners that are passed shortly after each other share most of the receiver's error, so that the distance between them is known far
//! better than either place. That is what their joint covariance says, which follows from the times at which they were passed.

use crate::band::model::{WHITE_SHARE, WOBBLE_M};
use crate::band::moments::Moments;
use crate::band::propagate::Pull;
use crate::process::hand::CORNER_SIGMA_M;
use crate::survey::walked::Walked;
use crate::survey::{Survey, corners};
use crate::tape::matrix::Matrix;
use geo::Coord;
use std::ops::Range;

/// A named point of the survey.
pub(super) struct Named {
    pub(super) name: String,
    pub(super) at: Coord<f64>,
    /// When each lap passed it, seconds on the log's clock; six laps at the most.
    pub(super) t_s: Vec<f64>,
    /// Claimed sigma of one pass, metres per axis.
    pub(super) sigma_m: f64,
    /// Which lawn's edge it is on; `None` for a bed.
    pub(super) lawn: Option<usize>,
    /// How it moves, for each metre, if the hand holds the antenna outside the edge all the way round: to the meeting point of both sides
    /// moved out.
    pub(super) outward: Coord<f64>,
}

/// The corners of all lawns, lettered, and then the beds. And for each lawn its corners in the order of its ring (counter-clockwise),
/// each as its vertex and its index among the points.
pub(super) fn named(survey: &Survey) -> (Vec<Named>, Vec<Vec<(usize, usize)>>) {
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
        .map(|l| l.times_s().1)
        .fold(0.0, f64::max);
    points.extend(survey.beds.iter().map(|bed| Named {
        name: bed.label.clone(),
        at: bed.centre,
        t_s: vec![last_s],
        sigma_m: survey.lawns[0].track.sigma_m,
        lawn: None,
        outward: Coord { x: 0.0, y: 0.0 },
    }));
    (points, rings)
}

/// The furthest that a corner moves, as a multiple of how far its sides are moved: at very sharp corners the meeting point runs away.
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

/// How long one lap lasted, seconds.
fn lap_s(lawn: &Walked) -> f64 {
    lawn.lasted_s() / f64::from(lawn.laps.max(1))
}

/// What is believed of the receiver's slow error: for each correlation time, in seconds, its part of the mean of scale².
pub(super) struct Drift(Vec<(f64, f64)>);

impl Drift {
    /// What the survey believes of its receiver.
    pub(super) fn of(survey: &Survey) -> Drift {
        let process = &survey.process;
        Drift(
            process
                .correlation_s
                .iter()
                .map(|&correlation_s| (correlation_s, process.scale2_of(correlation_s)))
                .collect(),
        )
    }

    /// Covariances of the receiver's error (in units of its claimed sigma) between every two of these moments, averaged over what is
    /// believed of it: `n` by `n`, without the white part.
    pub(super) fn together(&self, moments: &Moments) -> Vec<f64> {
        let mut sum = vec![0.0; moments.len() * moments.len()];
        let mut table = Vec::new();
        for times in self.0.chunks(4) {
            let abreast = abreast(times);
            moments.correlations(abreast.map(|own| own.0), &mut table);
            for (sum, rho) in sum.iter_mut().zip(&table) {
                for (rho, (_, share)) in rho.iter().zip(abreast) {
                    *sum += share * rho;
                }
            }
        }
        sum
    }

    /// Covariances of a walk's area, by its pulls, with the receiver's error at each of these moments, east and north, averaged likewise,
    /// m².
    pub(super) fn with_pulls_m2(&self, pulls: &[Pull], moments: &Moments) -> Vec<[f64; 2]> {
        let mut sum = vec![[0.0; 2]; moments.len()];
        for times in self.0.chunks(4) {
            let abreast = abreast(times);
            let parts = moments.together_m2(pulls, abreast.map(|own| own.0));
            for (sum, parts) in sum.iter_mut().zip(parts) {
                for (part, (_, share)) in parts.into_iter().zip(abreast) {
                    sum[0] += share * part[0];
                    sum[1] += share * part[1];
                }
            }
        }
        sum
    }
}

/// Up to four correlation times, each with its mean of scale² for the part that is not white. Places left over have none.
fn abreast(times: &[(f64, f64)]) -> [(f64, f64); 4] {
    let mut abreast = [(1.0, 0.0); 4];
    for (own, &(correlation_s, share)) in abreast.iter_mut().zip(times) {
        *own = (correlation_s, share * (1.0 - WHITE_SHARE));
    }
    abreast
}

/// Joint covariance of the points, m², in the order x0, y0, x1, …: by the same Gauss-Markov model as the area's band, plus white noise,
/// the pole, how well a corner is a corner, and the hand, which moves all corners of a lawn outwards together.
pub(super) fn covariance(survey: &Survey, points: &[Named]) -> Matrix {
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

/// The moments of all passes of all points, and for each point which of them are its own.
pub(super) fn passes(points: &[Named]) -> (Moments, Vec<Range<usize>>) {
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

/// The east part of a vector for an even index, the north part for an odd one.
fn axis(at: Coord<f64>, index: usize) -> f64 {
    if index.is_multiple_of(2) { at.x } else { at.y }
}
