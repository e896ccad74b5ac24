//! Tape against walk, line by line: how far apart they are in sigmas, and what kind of slip would explain it.
//!
//! The sigma of a difference has two parts: the walk's for that line, from the covariance of the walked corners, and the tape's. A slip
//! is an error of a known kind, such as feet entered as metres or a decimal point in the wrong place, and is recognised by the ratio of
//! tape to walk.

use super::chance;
use super::matrix::{Matrix, dot};
use super::reading::{Line, Reading};
use super::trust::walk_critical;
use crate::limits::tape::{ODDS, STRETCHED_SHARE};
use crate::units::{FOOT_M, YARD_M};
use geo::Coord;
use serde::Serialize;

/// What one check comes to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// The difference is one that 95 of 100 checks stay within.
    Agrees,
    /// Beyond that, but not beyond what one check in a thousand reaches.
    Doubtful,
    /// Beyond that.
    Disagrees,
}

/// One reading beside what the walk says.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Check {
    /// The line's name: `A-B`, `square at C`, `D from A-B`.
    pub line: String,
    /// `m`, or `deg` for an angle.
    pub unit: &'static str,
    pub walked: f64,
    pub walked_sigma: f64,
    pub taped: f64,
    pub taped_sigma: f64,
    /// Tape less walk.
    pub difference: f64,
    /// Difference over its sigma.
    pub sigmas: f64,
    pub verdict: Verdict,
    /// The slip that would explain the difference, if one does.
    pub suspect: Option<&'static str>,
}

impl Check {
    /// Turns a check that was made on the plan into one along the ground, which is `longer` times as long as the plan.
    pub(crate) fn along_ground(&mut self, longer: f64) {
        for metres in [
            &mut self.walked,
            &mut self.walked_sigma,
            &mut self.taped,
            &mut self.taped_sigma,
            &mut self.difference,
        ] {
            *metres *= longer;
        }
    }
}

/// Whether all of the tape is too long or too short by one factor.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Scale {
    /// Tape over walk.
    pub factor: f64,
    pub sigma: f64,
    /// How far the factor lies from 1, in sigmas.
    pub sigmas: f64,
    pub suspect: Option<String>,
}

/// Checks each reading against points with a joint covariance (x0, y0, x1, …).
pub(crate) fn check(
    points: &[Coord<f64>],
    covariance: &Matrix,
    readings: &[Reading],
) -> Vec<Check> {
    readings
        .iter()
        .map(|r| {
            let gradient = r.line.gradient(points);
            let walked = r.line.value(points);
            let walked_sigma = covariance.between(&gradient, &gradient).max(0.0).sqrt();
            let difference = r.value - walked;
            let sigmas = difference / walked_sigma.hypot(r.sigma);
            let (unit, factor) = unit_of(r.line);
            Check {
                line: r.label.clone(),
                unit,
                walked: walked * factor,
                walked_sigma: walked_sigma * factor,
                taped: r.value * factor,
                taped_sigma: r.sigma * factor,
                difference: difference * factor,
                sigmas,
                verdict: verdict(sigmas),
                suspect: (r.line.is_taped() && sigmas.abs() > walk_critical())
                    .then(|| slip(r.value / walked, walked_sigma.hypot(r.sigma) / walked.abs()))
                    .flatten(),
            }
        })
        .collect()
}

/// The unit in which people read such a reading, and how many of it make one of ours (a metre or a radian).
pub(crate) fn unit_of(line: Line) -> (&'static str, f64) {
    match line {
        Line::Angle { .. } => ("deg", 180.0 / std::f64::consts::PI),
        _ => ("m", 1.0),
    }
}

/// Judges a difference by its size in sigmas.
fn verdict(sigmas: f64) -> Verdict {
    if sigmas.abs() <= chance::two_sided(0.95) {
        Verdict::Agrees
    } else if sigmas.abs() <= walk_critical() {
        Verdict::Doubtful
    } else {
        Verdict::Disagrees
    }
}

/// The scale common to all lengths, by weighted least squares of `tape = k * walk` under the walk's covariance and the tape's sigma.
/// `None` with fewer than two lengths, which cannot tell a scale from a slip, or where it is not a number.
pub(crate) fn scale(
    points: &[Coord<f64>],
    covariance: &Matrix,
    readings: &[Reading],
) -> Option<Scale> {
    let lengths: Vec<&Reading> = readings
        .iter()
        .filter(|r| matches!(r.line, Line::Length { .. }))
        .collect();
    if lengths.len() < 2 {
        return None;
    }
    let rows: Vec<Vec<f64>> = lengths.iter().map(|r| r.line.gradient(points)).collect();
    let design = Matrix::from_fn(rows.len(), 2 * points.len(), |i, j| rows[i][j]);
    let noise: Vec<f64> = lengths.iter().map(|r| r.sigma.powi(2)).collect();
    let spread = design
        .times(covariance)
        .times(&design.transpose())
        .plus(&Matrix::diagonal(&noise));
    let walked: Vec<f64> = lengths.iter().map(|r| r.line.value(points)).collect();
    let taped: Vec<f64> = lengths.iter().map(|r| r.value).collect();
    let factor_of = spread.cholesky()?;
    let weighted = factor_of.solve(&walked);
    let information = dot(&walked, &weighted);
    let factor = dot(&taped, &weighted) / information;
    let sigma = (1.0 / information).sqrt();
    let sigmas = (factor - 1.0) / sigma;
    if !sigmas.is_finite() {
        return None;
    }
    // One slip in one length moves the common factor too. It is a scale error only if every tape agrees once the factor is taken out.
    let each_fits = lengths.iter().zip(&walked).enumerate().all(|(i, (r, w))| {
        (r.value - factor * w).abs() <= walk_critical() * spread.at(i, i).sqrt()
    });
    let stretched = || {
        let way = if factor > 1.0 { "longer" } else { "shorter" };
        let percent = 100.0 * (factor - 1.0).abs();
        may_stretch(factor).then(|| format!("all tapes are {percent:.1} % {way} than the walk"))
    };
    let suspect = if sigmas.abs() > walk_critical() && each_fits {
        slip(factor, sigma)
            .map(|words| format!("all tapes: {words}"))
            .or_else(stretched)
    } else {
        None
    };
    Some(Scale {
        factor,
        sigma,
        sigmas,
        suspect,
    })
}

/// Whether a tape may be out by this factor without a slip, as stretched or worn ones are.
fn may_stretch(factor: f64) -> bool {
    (factor - 1.0).abs() <= STRETCHED_SHARE
}

/// Whether a tape may be out by this factor (known to one relative sigma), stretched or by a slip.
pub(super) fn may_be_scale(factor: f64, sigma: f64) -> bool {
    may_stretch(factor) || slip(factor, sigma).is_some()
}

/// The slip of the unit or of the decimal point that makes about this ratio of tape to truth; `None` where none does, or where none
/// explains it far better than no slip.
fn slip(ratio: f64, sigma: f64) -> Option<&'static str> {
    let known: [(f64, &'static str); 8] = [
        (
            1.0 / FOOT_M,
            "reads like feet entered as metres (1 ft is 0.3048 m)",
        ),
        (
            1.0 / YARD_M,
            "reads like yards entered as metres (1 yd is 0.9144 m)",
        ),
        (
            FOOT_M,
            "reads like metres entered as feet (1 ft is 0.3048 m)",
        ),
        (
            YARD_M,
            "reads like metres entered as yards (1 yd is 0.9144 m)",
        ),
        (10.0, "reads ten times too long: a decimal point?"),
        (0.1, "reads ten times too short: a decimal point?"),
        (100.0, "reads like centimetres entered as metres"),
        (1000.0, "reads like millimetres entered as metres"),
    ];
    if ratio <= 0.0 || !ratio.is_finite() {
        return None;
    }
    // A slip must explain the ratio far better than no slip does, as the length of a poor walk is near to several slips.
    let far2 = 2.0 * ODDS.ln() * sigma * sigma;
    known
        .into_iter()
        .map(|(factor, words)| ((ratio / factor).ln().abs(), words))
        // Relative sigma of the ratio is that of the walked length.
        .filter(|(off, _)| *off <= 3.0 * sigma && ratio.ln().powi(2) - off.powi(2) >= far2)
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, words)| words)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    fn points() -> Vec<Coord<f64>> {
        [(0.0, 0.0), (12.0, 0.0), (12.0, 9.0)]
            .map(|(x, y)| Coord { x, y })
            .to_vec()
    }

    fn covariance(sigma_m: f64) -> Matrix {
        Matrix::diagonal(&[sigma_m * sigma_m; 6])
    }

    fn tape(from: usize, to: usize, value: f64) -> Reading {
        Reading {
            line: Line::Length { from, to },
            value,
            sigma: 0.02,
            label: format!("{from}-{to}"),
        }
    }

    #[test]
    fn sigma_of_a_walked_length_is_that_of_its_ends() {
        let checks = check(&points(), &covariance(0.1), &[tape(0, 1, 12.1)]);
        let c = &checks[0];
        assert_abs_diff_eq!(c.walked_sigma, 0.1 * 2.0_f64.sqrt(), epsilon = 1e-12);
        assert_abs_diff_eq!(
            c.sigmas,
            0.1 / 0.02_f64.hypot(0.02_f64.sqrt()),
            epsilon = 1e-9
        );
        assert_eq!(c.verdict, Verdict::Agrees);
        assert!(c.suspect.is_none());
    }

    #[test]
    fn a_wrong_unit_is_named() {
        for (value, word) in [
            (12.0 / 0.3048, "feet entered as metres"),
            (12.0 * 0.3048, "metres entered as feet"),
            (12.0 / 0.9144, "yards entered as metres"),
            (12.0 * 0.9144, "metres entered as yards"),
            (1.2, "decimal point"),
        ] {
            let checks = check(&points(), &covariance(0.05), &[tape(0, 1, value)]);
            assert_eq!(checks[0].verdict, Verdict::Disagrees);
            let suspect = checks[0].suspect.expect("a suspect");
            assert!(suspect.contains(word), "{value}: {suspect}");
        }
        // A tape that is a metre too long fits no slip of the unit.
        let checks = check(&points(), &covariance(0.05), &[tape(0, 1, 13.0 + 1.2)]);
        assert!(checks[0].suspect.is_none());
    }

    #[test]
    fn a_common_scale_is_seen_in_all_tapes_together_and_one_slip_is_not_a_scale() {
        let feet: Vec<Reading> = [(0, 1, 12.0), (1, 2, 9.0), (0, 2, 15.0)]
            .map(|(i, j, d)| tape(i, j, d / 0.3048))
            .to_vec();
        let seen = scale(&points(), &covariance(0.05), &feet).expect("three lengths");
        assert_abs_diff_eq!(seen.factor, 1.0 / 0.3048, epsilon = 1e-9);
        assert!(
            seen.suspect
                .expect("suspect")
                .contains("feet entered as metres")
        );
        let long: Vec<Reading> = [(0, 1, 12.0), (1, 2, 9.0), (0, 2, 15.0)]
            .map(|(i, j, d)| tape(i, j, d * 1.02))
            .to_vec();
        let seen = scale(&points(), &covariance(0.01), &long).expect("three lengths");
        assert!(seen.suspect.expect("suspect").contains("2.0 % longer"));
        // No tape is two fifths too long, so that it must be the walk that is wrong.
        let long: Vec<Reading> = [(0, 1, 12.0), (1, 2, 9.0), (0, 2, 15.0)]
            .map(|(i, j, d)| tape(i, j, d * 1.4))
            .to_vec();
        let seen = scale(&points(), &covariance(0.6), &long).expect("three lengths");
        assert!(seen.sigmas > walk_critical(), "{seen:?}");
        assert_eq!(seen.suspect, None);
        let slip = [tape(0, 1, 13.0), tape(1, 2, 9.0), tape(0, 2, 15.0)];
        assert!(
            scale(&points(), &covariance(0.01), &slip)
                .expect("three")
                .suspect
                .is_none()
        );
        assert!(scale(&points(), &covariance(0.01), &slip[..1]).is_none());
    }
}
