//! Data snooping: which reading, if any, does not belong (W. Baarda, *A testing procedure for use in geodetic networks*, Publications on
//! Geodesy 2-5, Delft 1968; known by its abstracts).
//!
//! Every reading is tested by itself for being wrong, and so is a scale error common to all of the tape. The alternative with the largest
//! statistic is named only if no other explains the misclosure nearly as well: the likelihood of two alternatives differs by
//! `exp((w1² - w2²)/2)`, and `ODDS` to one are asked for. Otherwise all that remain are listed, because choosing among them would be
//! guessing. A reading that is named is left out, and the search begins anew with the rest.

use super::adjust::{Adjustment, Residual, adjust_trusting};
use super::checks::may_be_scale;
use super::matrix::Matrix;
use super::reading::Reading;
use super::trust::Trust;
use crate::fault::Fault;
use crate::limits::tape::ODDS;
use geo::Coord;

/// What the search found.
#[derive(Debug, Clone, PartialEq)]
pub enum Finding {
    /// Every reading fits.
    Clean,
    /// One or more readings were named one after the other and left out, and the rest fits.
    Named,
    /// One of these readings (by index) is wrong, and the figure cannot tell which; none was left out for it.
    OneOf(Vec<usize>),
    /// All of the tape is long or short by this factor (tape / true).
    Scale(f64),
}

/// An adjustment of the readings that are left when those that are clearly wrong have been left out.
#[derive(Debug, Clone)]
pub struct Snooped {
    pub finding: Finding,
    /// The readings left out, in the order in which they were named: each by its index into the readings given, and by how much it is too
    /// long (metres or radians).
    pub left_out: Vec<(usize, f64)>,
    /// Indices of the readings used, in order.
    pub used: Vec<usize>,
    /// The adjustment of the readings used.
    pub adjustment: Adjustment,
}

impl Snooped {
    /// Whether the adjusted figure may be relied on.
    #[must_use]
    pub fn accepted(&self) -> bool {
        matches!(self.finding, Finding::Clean | Finding::Named)
    }

    /// What the adjustment says of reading `k`; `None` where it was left out.
    pub(crate) fn residual(&self, k: usize) -> Option<&Residual> {
        let place = self.used.iter().position(|u| *u == k)?;
        self.adjustment.residuals.get(place)
    }
}

/// Adjusts, tests, leaves out what is clearly wrong, and starts over.
///
/// # Errors
/// As [`adjust_trusting`].
pub fn snoop(
    walked: &[Coord<f64>],
    covariance: &Matrix,
    readings: &[Reading],
    freedom: Option<usize>,
    trust: &Trust,
) -> Result<Snooped, Fault> {
    let mut used: Vec<usize> = (0..readings.len()).collect();
    let mut left_out: Vec<(usize, f64)> = Vec::new();
    loop {
        let chosen: Vec<Reading> = used.iter().map(|&i| readings[i].clone()).collect();
        let left = freedom.map(|f| f.saturating_sub(left_out.len()));
        let adjustment = adjust_trusting(walked, covariance, &chosen, left, trust)?;
        let mut alternatives = alternatives(&adjustment, &chosen);
        if alternatives.iter().any(|a| a.w.abs() > trust.critical) {
            let known = (walked, covariance, trust);
            for alternative in &mut alternatives {
                without(alternative, known, &chosen, left, &adjustment);
            }
            trust.is_spent().map_or(Ok(()), Err)?;
        }
        let finding = match suspect(&alternatives, trust.critical, &used) {
            Suspect::Nothing if left_out.is_empty() => Finding::Clean,
            Suspect::Nothing => Finding::Named,
            Suspect::Reading(k, size) => {
                left_out.push((used.remove(k), size));
                continue;
            }
            Suspect::Scale(factor) => Finding::Scale(factor),
            Suspect::OneOf(which) => Finding::OneOf(which),
        };
        return Ok(Snooped {
            finding,
            left_out,
            used,
            adjustment,
        });
    }
}

/// What the tests of one adjustment point to.
enum Suspect {
    Nothing,
    /// This one of the readings in use, by so much too long (metres or radians).
    Reading(usize, f64),
    /// All of the tape, long or short by this factor.
    Scale(f64),
    /// Readings, by their index among all, that explain the misclosure about equally well.
    OneOf(Vec<usize>),
}

/// What the alternatives point to: the best one where it passes the critical value and has no rival, else all that explain the misclosure
/// about as well.
fn suspect(alternatives: &[Alternative], critical: f64, used: &[usize]) -> Suspect {
    let Some(best) = alternatives
        .iter()
        .max_by(|a, b| a.w.abs().total_cmp(&b.w.abs()))
        .filter(|best| best.w.abs() > critical)
    else {
        return Suspect::Nothing;
    };
    let margin = 2.0 * ODDS.ln();
    let rivals: Vec<&Alternative> = alternatives
        .iter()
        .filter(|a| best.w.powi(2) - a.w.powi(2) < margin)
        .collect();
    match best.reading {
        None if rivals.len() == 1 => Suspect::Scale(1.0 + best.size),
        // With two readings, leaving one out would leave nothing that checks the other.
        Some(k) if rivals.len() == 1 && used.len() > 2 => Suspect::Reading(k, best.size),
        _ => {
            let readings = rivals.iter().filter_map(|a| a.reading);
            Suspect::OneOf(readings.map(|k| used[k]).collect())
        }
    }
}

/// One explanation of the misclosure: one reading is wrong, or the whole tape.
struct Alternative {
    /// `None`: a scale error of the whole tape.
    reading: Option<usize>,
    /// Its statistic in sigmas, with the sign of the error.
    w: f64,
    /// The estimated size of the error: metres or radians, or as a part of 1 for a scale.
    size: f64,
}

/// Tests one reading by adjusting without it. In a linear figure that is Baarda's test itself, as the sum of squares falls by w². But a
/// reading that is a metre out bends the figure so far that the linear test blames its neighbours, and this one does not. Leaves the
/// alternative as it is where there is no adjustment without it.
fn without(
    alternative: &mut Alternative,
    (walked, covariance, trust): (&[Coord<f64>], &Matrix, &Trust),
    readings: &[Reading],
    freedom: Option<usize>,
    with: &Adjustment,
) {
    let Some(k) = alternative.reading.filter(|_| readings.len() > 1) else {
        return;
    };
    let mut rest = readings.to_vec();
    let one = rest.remove(k);
    let left = freedom.map(|f| f.saturating_sub(1));
    let Ok(adjusted) = adjust_trusting(walked, covariance, &rest, left, trust) else {
        return;
    };
    let squares = |a: &Adjustment| a.variance_factor * a.freedom as f64;
    let fell = (squares(with) - squares(&adjusted)).max(0.0);
    alternative.size = one.value - one.line.value(&adjusted.points);
    alternative.w = fell.sqrt() * alternative.size.signum();
}

/// All explanations to be tested: each reading, and a scale error where two lengths or more were taped and the factor is one that a tape
/// may have.
fn alternatives(adjustment: &Adjustment, readings: &[Reading]) -> Vec<Alternative> {
    let n = readings.len();
    let mut all: Vec<Alternative> = adjustment
        .residuals
        .iter()
        .enumerate()
        .map(|(k, residual)| {
            let unit: Vec<f64> = (0..n).map(|i| if i == k { 1.0 } else { 0.0 }).collect();
            let (_, size) = adjustment.suspicion(&unit);
            Alternative {
                reading: Some(k),
                w: residual.w,
                size,
            }
        })
        .collect();
    let taped = readings.iter().filter(|r| r.line.is_taped()).count();
    // With one length, a wrong scale and a wrong length are the same thing.
    if taped >= 2 && adjustment.freedom > 0 {
        let lengths: Vec<f64> = readings
            .iter()
            .zip(&adjustment.residuals)
            .map(|(r, residual)| {
                if r.line.is_taped() {
                    residual.adjusted
                } else {
                    0.0
                }
            })
            .collect();
        let (w, size) = adjustment.suspicion(&lengths);
        if may_be_scale(1.0 + size, (size / w).abs()) {
            all.push(Alternative {
                reading: None,
                w,
                size,
            });
        }
    }
    all
}
