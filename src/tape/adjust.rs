//! Least squares: points known with a joint covariance, and readings between them, brought together.
//!
//! Minimises `(l - f(x))' R⁻¹ (l - f(x)) + (x - x0)' C⁻¹ (x - x0)` over the coordinates `x`, where `x0` and `C` are the points as walked
//! and their covariance, `l` the readings with `R = diag(sigma²)` and `f` what the coordinates say of them. It is solved in the form of
//! conditions, `x = x0 + C A' (A C A' + R)⁻¹ d`, which never inverts `C`: walked corners share nearly all their error, so `C` is close to
//! singular, and is exactly so for a pure common shift. Here `A` is the derivative of `f` and `d` the misclosure, which is the readings
//! less what the walked points say of them. As `f` is not linear, this is repeated from the points found until they no longer move.
//! (Textbook least squares with weighted parameters; e.g. E. M. Mikhail, *Observations and Least Squares*, 1976; from memory.)
//!
//! Beside the points, an adjustment says how well each reading fits: its residual, the residual in sigmas (Baarda's `w`), what part of an
//! error in it would show, and the smallest error that would be found.

use super::chance;
use super::matrix::{Matrix, dot};
use super::reading::{Line, Reading};
use super::trust::Trust;
use crate::fault::Fault;
use crate::limits::tape::{FACTOR_SIGNIFICANCE, POWER, SIGNIFICANCE};
use crate::normal;
use crate::ring;
use geo::Coord;
use std::collections::BTreeSet;

/// The iteration ends when no coordinate moves by more than this, metres.
const CONVERGED_M: f64 = 1e-7;
const MOST_ROUNDS: usize = 200;

/// The outcome of one adjustment.
#[derive(Debug, Clone)]
pub struct Adjustment {
    /// The adjusted points, in the order of the walked ones.
    pub points: Vec<Coord<f64>>,
    /// Covariance of the adjusted points, in the order x0, y0, x1, y1, …; square metres.
    pub covariance: Matrix,
    /// One residual for each reading, in order.
    pub residuals: Vec<Residual>,
    /// Degrees of freedom: readings beyond those that are needed to fix the points.
    pub freedom: usize,
    /// The a-posteriori variance factor, which is the weighted sum of squares over the degrees of freedom: about 1 if sigmas and readings
    /// fit.
    pub variance_factor: f64,
    /// The variance factor passes between these limits, at `FACTOR_SIGNIFICANCE`.
    pub factor_limits: [f64; 2],
    pub rounds: usize,
    /// `C A' S⁻¹` with `S = A C A' + R`: how the points answer to a reading's misclosure.
    gain: Matrix,
    linear: Linear,
}

/// What the adjustment says of one reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Residual {
    pub adjusted: f64,
    /// Reading less adjusted.
    pub residual: f64,
    /// The part of an error in this reading that shows in its own residual, 0 (nothing) to 1 (all of it).
    pub redundancy: f64,
    /// Baarda's normalised residual, the residual over its sigma: standard normal if nothing is wrong, 0 where nothing can be tested.
    pub w: f64,
    /// Pope's statistic: `w` with the sigmas scaled by the variance factor of this very adjustment.
    pub tau: f64,
    /// The smallest error in this reading that is found with chance `POWER` at `SIGNIFICANCE`, in its unit; infinite where none is.
    pub detectable: f64,
}

impl Adjustment {
    /// Variance of a linear function of the points after the adjustment. `gradient` has its derivatives by x0, y0, x1, …
    #[must_use]
    pub fn variance_of(&self, gradient: &[f64]) -> f64 {
        self.covariance.between(gradient, gradient).max(0.0)
    }

    /// How much a linear function of the points moves for each unit of error in each reading.
    pub(crate) fn influence(&self, gradient: &[f64]) -> Vec<f64> {
        self.gain.transpose().times_vector(gradient)
    }

    /// The best correction of a quantity that was walked along with the points, and the variance left of it. `before` is its variance,
    /// `with_points` its covariances with the walked points; `inflation` widens what the readings say. It serves an area whose edge
    /// wanders between the corners: as the area's error goes with the corners' errors, what the tape says of these corrects it too.
    pub(crate) fn predict(&self, before: f64, with_points: &[f64], inflation: f64) -> (f64, f64) {
        let shared = self.linear.design.times_vector(with_points);
        let correction = dot(
            &shared,
            &self.linear.weight.times_vector(&self.linear.misclosure),
        );
        let explained = self.linear.weight.between(&shared, &shared) / inflation;
        (correction, (before - explained).max(0.0))
    }

    /// The statistic, and the estimated size, of an error that enters the readings as `pattern` times its size (a unit vector: one
    /// reading; the lengths themselves: a wrong scale). The statistic is standard normal if there is no such error.
    pub(crate) fn suspicion(&self, pattern: &[f64]) -> (f64, f64) {
        let weighted = self.linear.weight.times_vector(&self.linear.misclosure);
        let information = self.linear.weight.between(pattern, pattern);
        if information <= 0.0 {
            return (0.0, 0.0);
        }
        let sum = dot(pattern, &weighted);
        (sum / information.sqrt(), sum / information)
    }

    /// By how many sigmas the normalised residual that moves most is moved if the walked points are wrong by `moved` (x0, y0, x1, …,
    /// metres): whether the tape shows an error of the walk.
    pub(crate) fn shows(&self, moved: &[f64]) -> f64 {
        let misclosed = self
            .linear
            .weight
            .times_vector(&self.linear.design.times_vector(moved));
        misclosed
            .iter()
            .enumerate()
            .map(|(i, m)| m.abs() / self.linear.weight.at(i, i).sqrt())
            .filter(|w| w.is_finite())
            .fold(0.0, f64::max)
    }

    /// How much a linear function of the adjusted points moves if the walked ones are moved: the readings take a part of that back.
    pub(crate) fn answer(&self, gradient: &[f64], moved: &[f64]) -> f64 {
        let back = self
            .gain
            .times_vector(&self.linear.design.times_vector(moved));
        dot(gradient, moved) - dot(gradient, &back)
    }

    /// How much the correction of [`Adjustment::predict`] moves for each unit of error in each reading.
    pub(crate) fn correction_by_reading(&self, with_points: &[f64]) -> Vec<f64> {
        let shared = self.linear.design.times_vector(with_points);
        self.linear.weight.times_vector(&shared)
    }

    /// How much the correction of [`Adjustment::predict`] moves with the walked points.
    pub(crate) fn correction_by_points(&self, with_points: &[f64], moved: &[f64]) -> f64 {
        let by_reading = self.correction_by_reading(with_points);
        -dot(&by_reading, &self.linear.design.times_vector(moved))
    }

    /// Whether the variance factor lies within its limits.
    pub(crate) fn passes(&self) -> bool {
        let [low, high] = self.factor_limits;
        (low..=high).contains(&self.variance_factor)
    }

    /// Pope's critical value at [`SIGNIFICANCE`]; `None` with fewer than two degrees of freedom.
    pub(crate) fn tau_critical(&self) -> Option<f64> {
        chance::tau_critical(SIGNIFICANCE, self.freedom)
    }
}

/// Adjusts `walked` points (with their covariance, x0, y0, x1, y1, …) to `readings`.
///
/// `freedom` is the degrees of freedom where the points carry no information of their own (a figure by tape
/// alone, whose covariance only stands for "anywhere"); otherwise every reading is one.
///
/// # Errors
/// A `Usage` fault where there are no readings, a reading names a point twice or one that isn't there, a sigma
/// isn't above zero, or the readings can't be brought together at all.
pub fn adjust(
    walked: &[Coord<f64>],
    covariance: &Matrix,
    readings: &[Reading],
    freedom: Option<usize>,
) -> Result<Adjustment, Fault> {
    adjust_trusting(walked, covariance, readings, freedom, &Trust::default())
}

/// As [`adjust`], with what is known of the points besides (`trust`). Where the readings can be met by an edge that does not cross
/// itself, that is preferred to one that does, whatever the walk says.
///
/// # Errors
/// As [`adjust`].
pub fn adjust_trusting(
    walked: &[Coord<f64>],
    covariance: &Matrix,
    readings: &[Reading],
    freedom: Option<usize>,
    trust: &Trust,
) -> Result<Adjustment, Fault> {
    refuse_what_cannot_be(walked, covariance, readings)?;
    let mut best = adjust_from(walked, covariance, readings, walked.to_vec(), trust)?;
    if freedom.is_none() {
        // The walk may have put a corner on the wrong side of the line between two others. The iteration cannot get from there to the
        // answer, as the readings do not let the corner through that line; so it is tried from the mirrored place.
        while let Some(better) = folded_open(walked, covariance, readings, &best, trust) {
            best = better;
        }
        trust.is_spent().map_or(Ok(()), Err)?;
    }
    Ok(report(covariance, readings, best, freedom, trust.critical))
}

/// Where an adjustment came to rest.
struct Rest {
    points: Vec<Coord<f64>>,
    /// Weighted sum of squares, of readings and walk together.
    cost: f64,
    linear: Linear,
    rounds: usize,
}

/// The best result that is reached when one point begins on the other side of the line between two that it was taped to; `None` where
/// none fits better than this one.
fn folded_open(
    walked: &[Coord<f64>],
    covariance: &Matrix,
    readings: &[Reading],
    rest: &Rest,
    trust: &Trust,
) -> Option<Rest> {
    // Sums of squares count as better by this: it is far less than chance makes of one, and far more than rounding does.
    const BETTER: f64 = 0.1;
    let mut best: Option<Rest> = None;
    let mut least = (trust.crossed(&rest.points), rest.cost - BETTER);
    if least < (false, 0.0) {
        // The sum is so small already that nothing can be better by that.
        return None;
    }
    for (point, &at) in rest.points.iter().enumerate() {
        let mut taped_to: Vec<usize> = readings
            .iter()
            .filter_map(|r| match r.line {
                Line::Length { from, to } if from == point => Some(to),
                Line::Length { from, to } if to == point => Some(from),
                _ => None,
            })
            .collect();
        // A length that was taped twice counts once.
        let mut known = BTreeSet::new();
        taped_to.retain(|&to| known.insert(to));
        for (i, &one) in taped_to.iter().enumerate() {
            for &other in &taped_to[i + 1..] {
                let (one, other) = (rest.points[one], rest.points[other]);
                let mut start = rest.points.clone();
                start[point] = mirrored(at, one, other);
                let Ok(there) = adjust_from(walked, covariance, readings, start, trust) else {
                    if trust.is_spent().is_some() {
                        return None;
                    }
                    continue;
                };
                let found = (trust.crossed(&there.points), there.cost);
                if found < least {
                    least = found;
                    best = Some(there);
                }
            }
        }
    }
    best
}

/// The mirror image of a point in the line through two others; the point itself where those are one.
fn mirrored(at: Coord<f64>, one: Coord<f64>, other: Coord<f64>) -> Coord<f64> {
    let along = other - one;
    let share = ring::dot(at - one, along) / ring::dot(along, along);
    if share.is_finite() {
        (one + along * share) * 2.0 - at
    } else {
        at
    }
}

/// The iteration from `start`.
fn adjust_from(
    walked: &[Coord<f64>],
    covariance: &Matrix,
    readings: &[Reading],
    start: Vec<Coord<f64>>,
    trust: &Trust,
) -> Result<Rest, Fault> {
    let noise = noise_of(readings);
    // The points are kept as x = x0 + C mu, so that the walk's share of the cost is mu' C mu and C is never inverted.
    let mut mu = vec![0.0; 2 * walked.len()];
    // A start elsewhere than at the walk has no mu, so that its cost is unknown: the first step away from it is taken as it comes.
    let mut cost = if start == walked {
        cost_of(covariance, &mu, &start, readings)
    } else {
        f64::INFINITY
    };
    let mut points = start;
    let mut rounds = 0;
    let linear = loop {
        rounds += 1;
        trust.spend(readings.len(), walked.len())?;
        let state = linearise(walked, covariance, readings, &points, &noise).ok_or_else(torn)?;
        let target = state
            .design
            .transpose()
            .times_vector(&state.weight.times_vector(&state.misclosure));
        let mut step = 1.0;
        let (mut moved, mut new_mu, mut new_points, mut new_cost);
        loop {
            new_mu = mix(&mu, &target, step);
            new_points = shifted(walked, &covariance.times_vector(&new_mu));
            new_cost = cost_of(covariance, &new_mu, &new_points, readings);
            moved = farthest(&points, &new_points);
            // If a tape is metres off, the first full step may go past the answer: then half of it is tried, and again.
            if new_cost <= cost * (1.0 + 1e-12) || moved < CONVERGED_M || step < 1e-6 {
                break;
            }
            step *= 0.5;
        }
        if !new_cost.is_finite() {
            return Err(torn());
        }
        (mu, points, cost) = (new_mu, new_points, new_cost);
        if moved < CONVERGED_M {
            break linearise(walked, covariance, readings, &points, &noise).ok_or_else(torn)?;
        }
        if rounds >= MOST_ROUNDS {
            return Err(torn());
        }
    };
    Ok(Rest {
        points,
        cost,
        linear,
        rounds,
    })
}

/// The readings near some points, as linear functions of the coordinates.
#[derive(Debug, Clone)]
struct Linear {
    /// Their derivatives by the points, `A`.
    design: Matrix,
    /// Inverse of `A C A' + R`.
    weight: Matrix,
    /// Their misclosures about the walked points.
    misclosure: Vec<f64>,
}

/// The linear form near `points`; `None` where a number is not finite or the matrix cannot be inverted.
fn linearise(
    walked: &[Coord<f64>],
    covariance: &Matrix,
    readings: &[Reading],
    points: &[Coord<f64>],
    noise: &Matrix,
) -> Option<Linear> {
    let rows: Vec<Vec<f64>> = readings.iter().map(|r| r.line.gradient(points)).collect();
    let design = Matrix::from_fn(rows.len(), 2 * points.len(), |i, j| rows[i][j]);
    let back: Vec<f64> = walked
        .iter()
        .zip(points)
        .flat_map(|(w, p)| [w.x - p.x, w.y - p.y])
        .collect();
    let misclosure: Vec<f64> = readings
        .iter()
        .zip(design.times_vector(&back))
        .map(|(r, moved)| r.value - r.line.value(points) - moved)
        .collect();
    let spread = design
        .times(covariance)
        .times(&design.transpose())
        .plus(noise);
    let weight = spread.cholesky()?.inverse();
    misclosure.iter().all(|m| m.is_finite()).then_some(Linear {
        design,
        weight,
        misclosure,
    })
}

/// What follows from where the iteration ended: covariance, tests, and how all of it answers to errors.
fn report(
    covariance: &Matrix,
    readings: &[Reading],
    rest: Rest,
    freedom: Option<usize>,
    critical: f64,
) -> Adjustment {
    let Rest { points, linear, .. } = rest;
    let gain = covariance
        .times(&linear.design.transpose())
        .times(&linear.weight);
    let weighted = linear.weight.times_vector(&linear.misclosure);
    let freedom = freedom.unwrap_or(readings.len());
    let (variance_factor, factor_limits) = factor(dot(&weighted, &linear.misclosure), freedom);
    let residual = |(i, r): (usize, &Reading)| {
        let own = linear.weight.at(i, i);
        let redundancy = (own * r.sigma.powi(2)).clamp(0.0, 1.0);
        let adjusted = r.line.value(&points);
        // Where nothing is redundant (a figure that is only just determined) there is nothing to test.
        let testable = freedom > 0 && redundancy > 1e-6;
        let w = if testable {
            weighted[i] / own.sqrt()
        } else {
            0.0
        };
        Residual {
            adjusted,
            residual: r.value - adjusted,
            redundancy,
            w,
            tau: if variance_factor > 0.0 {
                w / variance_factor.sqrt()
            } else {
                0.0
            },
            detectable: if testable {
                // So many sigmas must a misclosure be moved by to be noticed with that power (non-centrality): 4.13 with sigmas that are
                // known.
                (critical + normal::quantile(POWER)) / own.sqrt()
            } else {
                f64::INFINITY
            },
        }
    };
    let residuals = readings.iter().enumerate().map(residual).collect();
    Adjustment {
        points,
        covariance: covariance_after(covariance, readings, &gain, &linear.design),
        residuals,
        freedom,
        variance_factor,
        factor_limits,
        rounds: rest.rounds,
        gain,
        linear,
    }
}

/// Covariance of the points after the adjustment.
fn covariance_after(
    covariance: &Matrix,
    readings: &[Reading],
    gain: &Matrix,
    design: &Matrix,
) -> Matrix {
    // Joseph's form, (1 - K A) C (1 - K A)' + K R K' with the gain K: the plain C - K A C loses all its digits where a vague C meets a
    // sharp tape.
    let kept = Matrix::diagonal(&vec![1.0; covariance.rows()]).minus(&gain.times(design));
    // A product is quick where its left factor has many zeros, so that `kept` stands on the left both times.
    kept.times(&kept.times(covariance).transpose())
        .transpose()
        .plus(&gain.times(&noise_of(readings)).times(&gain.transpose()))
}

/// Covariance of the readings, which err independently of each other.
fn noise_of(readings: &[Reading]) -> Matrix {
    Matrix::diagonal(&readings.iter().map(|r| r.sigma.powi(2)).collect::<Vec<_>>())
}

/// The variance factor for a sum of squares with so many degrees of freedom, and the limits between which it passes; without freedom it
/// is 1 and always passes.
fn factor(squares: f64, freedom: usize) -> (f64, [f64; 2]) {
    if freedom == 0 {
        return (1.0, [0.0, f64::INFINITY]);
    }
    let f = freedom as f64;
    let limit = |part| chance::chi_square_quantile(part, f) / f;
    let below = 0.5 * FACTOR_SIGNIFICANCE;
    (squares / f, [limit(below), limit(1.0 - below)])
}

/// Refuses what no adjustment could be made of: no readings, points or a covariance that are not finite, an impossible reading.
fn refuse_what_cannot_be(
    walked: &[Coord<f64>],
    covariance: &Matrix,
    readings: &[Reading],
) -> Result<(), Fault> {
    let n = walked.len();
    if readings.is_empty() {
        return Err(Fault::usage(
            "tape-nothing",
            "There are no tape readings to adjust to.",
            "Add [[tape]] tables to the job sheet.",
        ));
    }
    let fits =
        covariance.rows() == 2 * n && covariance.columns() == 2 * n && covariance.is_finite();
    if !fits || walked.iter().any(|p| !p.x.is_finite() || !p.y.is_finite()) {
        return Err(Fault::withheld(
            "tape-no-covariance",
            "The walked corners have no usable positions or covariance.",
            "Check the log with `boundwalk inspect`.",
        ));
    }
    readings.iter().try_for_each(|r| r.refuse_impossible(n))
}

/// The fault for readings that no points can meet.
fn torn() -> Fault {
    Fault::withheld(
        "tape-torn",
        "The readings and the walk can't be brought together.",
        "A reading is grossly wrong or between the wrong corners; check the letters on the plan.",
    )
}

/// The sum that is minimised.
fn cost_of(covariance: &Matrix, mu: &[f64], points: &[Coord<f64>], readings: &[Reading]) -> f64 {
    let taped: f64 = readings
        .iter()
        .map(|r| ((r.value - r.line.value(points)) / r.sigma).powi(2))
        .sum();
    taped + covariance.between(mu, mu)
}

fn mix(a: &[f64], b: &[f64], share: f64) -> Vec<f64> {
    a.iter().zip(b).map(|(x, y)| x + share * (y - x)).collect()
}

/// The points moved by these distances, x0, y0, x1, …, metres.
fn shifted(points: &[Coord<f64>], by: &[f64]) -> Vec<Coord<f64>> {
    points
        .iter()
        .zip(by.chunks_exact(2))
        .map(|(p, d)| match d {
            [dx, dy] => Coord {
                x: p.x + dx,
                y: p.y + dy,
            },
            _ => *p,
        })
        .collect()
}

/// The largest move of any coordinate, metres.
fn farthest(a: &[Coord<f64>], b: &[Coord<f64>]) -> f64 {
    a.iter()
        .zip(b)
        .map(|(p, q)| (p.x - q.x).abs().max((p.y - q.y).abs()))
        .fold(0.0, f64::max)
}
