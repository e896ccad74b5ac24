//! Walk and tape brought together: the checks, the adjustment, what was found, and the ring and area that follow.
//!
//! The input is the corners as walked with their joint covariance, each lawn's area with its variance and its covariances with the
//! corners, and the readings of the tape. There are two ways to an adjusted area: correct the whole walk's area by what the tape says of
//! the corners, or take the area of the adjusted corners with the edge between them. Both are fair estimates, and the one with the
//! smaller sigma is used.

use super::adjust::Adjustment;
use super::carried::{Carried, HungRing, carry};
use super::checks::{Check, Scale, check, scale, unit_of};
use super::found::found;
use super::matrix::Matrix;
use super::reading::Reading;
use super::snoop::{Snooped, snoop};
use super::trust::{Trust, walk_critical};
use crate::fault::Fault;
use crate::finding::{Finding, Found};
use crate::limits::tape::{FACTOR_SIGNIFICANCE, POWER, SIGNIFICANCE};
use geo::Coord;
use serde::Serialize;

/// What walk and tape say of each other, as it stands in the result.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Agreement {
    pub checks: Vec<Check>,
    /// Null with fewer than two lengths.
    pub scale: Option<Scale>,
    pub adjustment: Option<Report>,
}

/// The adjustment, as it stands in the result.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Report {
    /// Whether the adjusted ring and area were taken over.
    pub accepted: bool,
    /// `clean`, `named`, `one-of`, `scale`, `torn`.
    pub finding: &'static str,
    /// The finding itself; in the result it is a sentence or two.
    pub message: Found,
    pub freedom: usize,
    pub variance_factor: f64,
    /// The variance factor passes between these, two-sided at `factor_significance`.
    pub factor_limits: [f64; 2],
    pub factor_significance: f64,
    pub factor_passes: bool,
    /// The significance of the test of one reading (how often it errs by chance), and the power for which its smallest detectable error
    /// is stated.
    pub significance: f64,
    pub power: f64,
    /// Critical values: of a tape against a walk (by Student's distribution in place of the normal one of Baarda's test), and Pope's,
    /// null below two degrees of freedom.
    pub w_critical: f64,
    pub tau_critical: Option<f64>,
    pub rounds: usize,
    pub readings: Vec<ReadingReport>,
    pub points: Vec<PointReport>,
    /// One for each lawn.
    pub areas: Vec<AreaReport>,
}

/// One reading after the adjustment; values in `unit`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ReadingReport {
    pub line: String,
    pub unit: &'static str,
    pub taped: f64,
    pub adjusted: f64,
    /// Tape less adjusted.
    pub residual: f64,
    /// The share of an error in this reading that shows in its own residual, 0 to 1; null where the reading was left out.
    pub redundancy: Option<f64>,
    pub w: Option<f64>,
    pub tau: Option<f64>,
    /// The smallest error that is found with chance `power`.
    pub detectable: Option<f64>,
    /// What an error of that size would do to the area if it went unnoticed, m².
    pub undetected_m2: Option<f64>,
    pub left_out: bool,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PointReport {
    pub name: String,
    pub shift_east_m: f64,
    pub shift_north_m: f64,
    /// One sigma per axis after the adjustment: the root mean square of both axes.
    pub sigma_m: f64,
}

/// One lawn inside its edge, before deductions.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AreaReport {
    pub lawn: String,
    pub before_m2: f64,
    pub before_sigma_m2: f64,
    pub after_m2: f64,
    pub after_sigma_m2: f64,
    pub from: From,
}

/// What an adjusted area rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum From {
    /// The whole walk, corrected by what the tape says of the corners.
    Walk,
    /// The adjusted corners, with the edge between them straight where it was taped, else as walked.
    Corners,
}

/// What is brought together.
#[derive(Debug, Clone)]
pub struct Walked<'a> {
    pub names: &'a [String],
    pub points: &'a [Coord<f64>],
    /// Covariance of the points, in the order x0, y0, x1, …
    pub covariance: &'a Matrix,
    pub lawns: Vec<Lawn>,
}

/// One lawn's area as walked, and as its corners have it.
#[derive(Debug, Clone)]
pub struct Lawn {
    pub label: String,
    /// The area of the whole walk.
    pub area_m2: f64,
    /// Its variance, m⁴, and its covariances with the points, m³.
    pub variance_m4: f64,
    pub with_points_m3: Vec<f64>,
    /// The ring, hung on its corners; `None` with fewer than two.
    pub ring: Option<HungRing>,
    /// Variance that the way between the corners adds to the ring's area, m⁴.
    pub wander_m4: f64,
}

/// The agreement, and the adjusted points and areas where the adjustment was accepted.
#[derive(Debug, Clone)]
pub struct Settled {
    pub agreement: Agreement,
    /// `None` where the walk is kept as it is.
    pub adjusted: Option<Adjusted>,
}

#[derive(Debug, Clone)]
pub struct Adjusted {
    pub points: Vec<Coord<f64>>,
    pub covariance: Matrix,
    /// The lawns in the order given.
    pub lawns: Vec<AdjustedLawn>,
    pub shown: Shown,
}

/// What an error in the walk or in a reading does to the adjusted areas, and whether the readings show it.
#[derive(Debug, Clone)]
pub struct Shown {
    adjustment: Adjustment,
    /// One for each lawn, in the order given.
    answers: Vec<Answer>,
    /// From this size on, in sigmas, a reading's normalised residual is told.
    pub critical: f64,
}

/// How a lawn's adjusted area depends on what went into the adjustment.
#[derive(Debug, Clone)]
enum Answer {
    /// It rests on the walk, corrected: the covariances of its area with the points, m³.
    Walk(Vec<f64>),
    /// It rests on the adjusted points: the derivative of the area by them, metres.
    Corners(Vec<f64>),
}

impl Shown {
    /// By how many sigmas the reading that shows it best is moved if the walked points are moved by `moved` (x0, y0, x1, …, metres).
    pub(crate) fn sigmas(&self, moved: &[f64]) -> f64 {
        self.adjustment.shows(moved)
    }

    /// What moving the walked points by `moved` does to the adjusted area of a lawn, m², which without tape would change by `walked_m2`.
    pub(crate) fn area_m2(&self, lawn: usize, walked_m2: f64, moved: &[f64]) -> f64 {
        match self.answers.get(lawn) {
            Some(Answer::Corners(gradient)) => self.adjustment.answer(gradient, moved),
            Some(Answer::Walk(with)) => {
                walked_m2 + self.adjustment.correction_by_points(with, moved)
            }
            None => walked_m2,
        }
    }

    /// The largest change of all areas together by one misread reading of which nothing is told, m²; `None` where a misread one would
    /// never be told.
    pub(crate) fn misread_m2(&self) -> Option<f64> {
        let by_lawn: Vec<Vec<f64>> = self
            .answers
            .iter()
            .map(|answer| match answer {
                Answer::Corners(gradient) => self.adjustment.influence(gradient),
                Answer::Walk(with) => self.adjustment.correction_by_reading(with),
            })
            .collect();
        let largest = self.adjustment.residuals.iter().enumerate().map(|(k, r)| {
            let by: f64 = by_lawn.iter().filter_map(|of| of.get(k)).sum();
            (by * r.detectable).abs()
        });
        Some(largest.fold(0.0, f64::max)).filter(|m2| m2.is_finite())
    }
}

/// One lawn after the adjustment.
#[derive(Debug, Clone, PartialEq)]
pub struct AdjustedLawn {
    pub area_m2: f64,
    pub sigma_m2: f64,
    pub from: From,
}

/// Checks the walk against the readings and adjusts it to them. An adjustment that cannot be made or trusted is a finding, not an error.
pub(crate) fn settle(walked: &Walked<'_>, readings: &[Reading]) -> Settled {
    let checks = check(walked.points, walked.covariance, readings);
    let scale = scale(walked.points, walked.covariance, readings);
    let (adjustment, adjusted) = if readings.is_empty() {
        (None, None)
    } else {
        let rings = walked.lawns.iter().filter_map(|lawn| lawn.ring.as_ref());
        let trust = Trust::of_walk(rings.map(HungRing::corners).collect());
        match snoop(walked.points, walked.covariance, readings, None, &trust) {
            Ok(snooped) => {
                let wrong_scale = scale.as_ref().and_then(|s| s.suspect.as_deref());
                let outcome = Outcome::of(walked, readings, &snooped, wrong_scale);
                (Some(outcome.report(&checks)), outcome.adjusted())
            }
            Err(fault) => (Some(torn(readings, &fault)), None),
        }
    };
    Settled {
        agreement: Agreement {
            checks,
            scale,
            adjustment,
        },
        adjusted,
    }
}

/// What an adjustment makes of the walk, whether it is taken over or not.
struct Outcome<'a> {
    walked: &'a Walked<'a>,
    readings: &'a [Reading],
    snooped: &'a Snooped,
    /// What all tapes have wrong in common, in words; `None` where they have nothing.
    wrong_scale: Option<&'a str>,
    /// The factor by which all variances are too small: 1 where the readings disagree no more than their sigmas say.
    inflation: f64,
    /// Each lawn's area as its corners have it, where it hangs on corners.
    carried: Vec<Option<Carried>>,
    lawns: Vec<AdjustedLawn>,
    /// Covariance of the adjusted points.
    covariance: Matrix,
}

impl<'a> Outcome<'a> {
    /// Works out the lawns from the adjustment, whether it is going to be accepted or not.
    fn of(
        walked: &'a Walked<'a>,
        readings: &'a [Reading],
        snooped: &'a Snooped,
        wrong_scale: Option<&'a str>,
    ) -> Outcome<'a> {
        let adjustment = &snooped.adjustment;
        // The readings disagree by more than their sigmas say, and no single one is to blame: then all sigmas were too small.
        let inflation = if adjustment.passes() {
            1.0
        } else {
            adjustment.variance_factor.max(1.0)
        };
        let by_corners = |lawn: &Lawn| {
            let ring = lawn.ring.as_ref()?;
            Some(carry(ring, walked.points, adjustment))
        };
        let carried: Vec<Option<Carried>> = walked.lawns.iter().map(by_corners).collect();
        let lawns = walked.lawns.iter().zip(&carried);
        Outcome {
            lawns: lawns
                .map(|(lawn, carried)| surer(lawn, carried.as_ref(), adjustment, inflation))
                .collect(),
            walked,
            readings,
            snooped,
            wrong_scale,
            inflation,
            carried,
            covariance: adjustment.covariance.scaled(inflation),
        }
    }

    /// Whether the adjusted points and areas may be relied on.
    fn accepted(&self) -> bool {
        self.snooped.accepted() && self.wrong_scale.is_none()
    }

    fn report(&self, checks: &[Check]) -> Report {
        let adjustment = &self.snooped.adjustment;
        let message = match self.wrong_scale {
            Some(words) => Finding::OneError(words.to_owned()).into(),
            None => found(self.readings, checks, self.snooped, self.inflation),
        };
        Report {
            accepted: self.accepted(),
            finding: message.code(),
            message,
            freedom: adjustment.freedom,
            variance_factor: adjustment.variance_factor,
            factor_limits: adjustment.factor_limits,
            factor_significance: FACTOR_SIGNIFICANCE,
            factor_passes: adjustment.passes(),
            significance: SIGNIFICANCE,
            power: POWER,
            w_critical: walk_critical(),
            tau_critical: adjustment.tau_critical(),
            rounds: adjustment.rounds,
            readings: reading_reports(self.readings, self.snooped, &self.carried, &self.lawns),
            points: point_reports(self.walked, &adjustment.points, &self.covariance),
            areas: self.area_reports(),
        }
    }

    fn area_reports(&self) -> Vec<AreaReport> {
        let lawns = self.walked.lawns.iter().zip(&self.lawns);
        lawns
            .map(|(before, after)| AreaReport {
                lawn: before.label.clone(),
                before_m2: before.area_m2,
                before_sigma_m2: before.variance_m4.sqrt(),
                after_m2: after.area_m2,
                after_sigma_m2: after.sigma_m2,
                from: after.from,
            })
            .collect()
    }

    /// The points and areas that take the walk's place; `None` where it is to be kept as it is.
    fn adjusted(self) -> Option<Adjusted> {
        if !self.accepted() {
            return None;
        }
        let adjustment = &self.snooped.adjustment;
        let lawns = self.walked.lawns.iter().zip(&self.lawns);
        let answers = lawns.map(|(before, after)| {
            match before.ring.as_ref().filter(|_| after.from == From::Corners) {
                Some(ring) => Answer::Corners(ring.gradient_after(self.walked.points, adjustment)),
                None => Answer::Walk(before.with_points_m3.clone()),
            }
        });
        Some(Adjusted {
            points: adjustment.points.clone(),
            shown: Shown {
                adjustment: adjustment.clone(),
                answers: answers.collect(),
                critical: walk_critical(),
            },
            covariance: self.covariance,
            lawns: self.lawns,
        })
    }
}

/// The surer of the area by the walk and the area by the corners, which are both fair estimates.
fn surer(
    lawn: &Lawn,
    carried: Option<&Carried>,
    adjustment: &Adjustment,
    inflation: f64,
) -> AdjustedLawn {
    let (correction_m2, left_m4) =
        adjustment.predict(lawn.variance_m4, &lawn.with_points_m3, inflation);
    let by_walk = AdjustedLawn {
        area_m2: lawn.area_m2 + correction_m2,
        sigma_m2: left_m4.sqrt(),
        from: From::Walk,
    };
    let by_corners = carried.map(|c| AdjustedLawn {
        area_m2: c.area_m2,
        sigma_m2: (c.corner_sigma_m2.powi(2) * inflation + lawn.wander_m4).sqrt(),
        from: From::Corners,
    });
    match by_corners {
        Some(corners) if corners.sigma_m2 < by_walk.sigma_m2 => corners,
        _ => by_walk,
    }
}

/// What the adjustment makes of each reading, those left out as well.
fn reading_reports(
    readings: &[Reading],
    snooped: &Snooped,
    carried: &[Option<Carried>],
    lawns: &[AdjustedLawn],
) -> Vec<ReadingReport> {
    readings
        .iter()
        .enumerate()
        .map(|(k, r)| {
            let (unit, factor) = unit_of(r.line);
            let place = snooped.used.iter().position(|u| *u == k);
            let residual = snooped.residual(k);
            let adjusted = r.line.value(&snooped.adjustment.points);
            ReadingReport {
                line: r.label.clone(),
                unit,
                taped: r.value * factor,
                adjusted: adjusted * factor,
                residual: (r.value - adjusted) * factor,
                redundancy: residual.map(|r| r.redundancy),
                w: residual.map(|r| r.w),
                tau: residual.map(|r| r.tau),
                detectable: residual
                    .map(|r| r.detectable * factor)
                    .filter(|d| d.is_finite()),
                undetected_m2: place.and_then(|p| undetected(p, carried, lawns)),
                left_out: residual.is_none(),
            }
        })
        .collect()
}

/// What an unnoticed error in a reading (by its place among those used) would do to all areas that rest on the corners, m²; `None` where
/// that is nothing or infinite.
fn undetected(place: usize, carried: &[Option<Carried>], lawns: &[AdjustedLawn]) -> Option<f64> {
    let sum: f64 = carried
        .iter()
        .zip(lawns)
        .filter(|(_, lawn)| lawn.from == From::Corners)
        .filter_map(|(c, _)| c.as_ref()?.undetected_m2.get(place))
        .sum();
    (sum.is_finite() && sum > 0.0).then_some(sum)
}

/// By how much the adjustment moves each point, and how sure the point is after it.
fn point_reports(
    walked: &Walked<'_>,
    points: &[Coord<f64>],
    covariance: &Matrix,
) -> Vec<PointReport> {
    walked
        .names
        .iter()
        .zip(walked.points)
        .zip(points)
        .enumerate()
        .map(|(i, ((name, before), after))| PointReport {
            name: name.clone(),
            shift_east_m: after.x - before.x,
            shift_north_m: after.y - before.y,
            sigma_m: (0.5 * (covariance.at(2 * i, 2 * i) + covariance.at(2 * i + 1, 2 * i + 1)))
                .max(0.0)
                .sqrt(),
        })
        .collect()
}

/// The report on readings that cannot be brought together: nothing was adjusted.
fn torn(readings: &[Reading], fault: &Fault) -> Report {
    let message: Found = Finding::Torn(format!("{} {}", fault.what(), fault.advice())).into();
    Report {
        finding: message.code(),
        message,
        freedom: readings.len(),
        factor_significance: FACTOR_SIGNIFICANCE,
        significance: SIGNIFICANCE,
        power: POWER,
        w_critical: walk_critical(),
        ..Report::default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tape::reading::Line;
    use approx::assert_abs_diff_eq;

    fn corners() -> Vec<Coord<f64>> {
        [(0.0, 0.0), (12.0, 0.0), (12.0, 9.0), (0.0, 9.0)]
            .map(|(x, y)| Coord { x, y })
            .to_vec()
    }

    fn names() -> Vec<String> {
        ["A", "B", "C", "D"].map(String::from).to_vec()
    }

    fn tape(from: usize, to: usize, value: f64) -> Reading {
        let names = names();
        Reading {
            line: Line::Length { from, to },
            value,
            sigma: 0.02,
            label: format!("{}-{}", names[from], names[to]),
        }
    }

    fn settled(sigma_m: f64, readings: &[Reading]) -> Settled {
        let points = corners();
        let covariance = Matrix::from_fn(8, 8, |i, j| match (i == j, i % 2 == j % 2) {
            (true, _) => sigma_m * sigma_m,
            (false, true) => 0.7 * sigma_m * sigma_m,
            _ => 0.0,
        });
        let ring = HungRing::new(&points, Some).expect("corners");
        let gradient = ring.area_gradient(&points, 4);
        settle(
            &Walked {
                names: &names(),
                points: &points,
                covariance: &covariance,
                lawns: vec![Lawn {
                    label: "lawn".into(),
                    area_m2: 108.0,
                    variance_m4: covariance.between(&gradient, &gradient),
                    with_points_m3: covariance.times_vector(&gradient),
                    ring: Some(ring),
                    wander_m4: 0.0,
                }],
            },
            readings,
        )
    }

    #[test]
    fn tapes_that_fit_are_taken_over() {
        let readings = [
            tape(0, 1, 12.01),
            tape(1, 2, 9.0),
            tape(2, 3, 12.0),
            tape(3, 0, 8.99),
            tape(0, 2, 15.0),
        ];
        let settled = settled(0.8, &readings);
        let report = settled.agreement.adjustment.expect("adjusted");
        assert!(report.accepted, "{}", report.message);
        let area = &report.areas[0];
        assert!(area.after_sigma_m2 < 0.1 * area.before_sigma_m2);
        assert_abs_diff_eq!(area.after_m2, 108.0, epsilon = 0.3);
        assert!(settled.adjusted.is_some());
        // With one redundant length at most, and a walk by phone, a misread tape would hardly be noticed: that must be said.
        assert!(
            report.message.to_string().contains("Smallest misreading"),
            "{}",
            report.message
        );
    }

    #[test]
    fn feet_for_metres_are_said_and_not_used() {
        let readings = [
            tape(0, 1, 12.0 / 0.3048),
            tape(1, 2, 9.0 / 0.3048),
            tape(0, 2, 15.0 / 0.3048),
        ];
        let settled = settled(0.3, &readings);
        let report = settled.agreement.adjustment.expect("tried");
        assert!(!report.accepted);
        assert_eq!(report.finding, "scale");
        assert!(
            report
                .message
                .to_string()
                .contains("feet entered as metres"),
            "{}",
            report.message
        );
        assert!(settled.adjusted.is_none());
    }

    #[test]
    fn one_tape_against_a_good_walk_is_not_used_if_it_disagrees() {
        let settled = settled(0.014, &[tape(0, 1, 13.0)]);
        let report = settled.agreement.adjustment.expect("tried");
        assert!(!report.accepted);
        assert!(
            report
                .message
                .to_string()
                .contains("A-B and the walk don't fit"),
            "{}",
            report.message
        );
        let none = super::tests::settled(0.014, &[]);
        assert!(none.agreement.adjustment.is_none());
    }
}
