//! What is believed about a receiver's errors: the sigma of each fix, and a table of beliefs about the error process.
//!
//! A belief is a pair of a correlation time and a scale (true error over claimed error), with a weight. Before any evidence correlation
//! times are even in their logarithm, and the logarithm of the scale is normal (`crate::process` says why). The table is changed by
//! `evidence` and used by `budget`.

pub use crate::process::{Receiver, SigmaSource, WHITE_SHARE, WOBBLE_M};

use crate::fix::Fix;
use crate::process::{CORRELATION_RANGE_S, ClaimSpread};

/// Sigma of one fix, east and north, metres, and where it came from.
///
/// If the surveyor gives a sigma, it is that. Otherwise it is what the receiver states, but no less than is believed of its class.
/// Otherwise it is the class's planning figure, which for code receivers is multiplied by HDOP (the horizontal dilution of precision: how
/// much the satellites' geometry magnifies errors). A phase receiver's (RTK) error does not follow it.
pub(crate) fn fix_sigma_m(fix: &Fix, given_m: Option<f64>) -> ([f64; 2], SigmaSource) {
    if let Some(sigma_m) = given_m {
        return ([sigma_m; 2], SigmaSource::Given);
    }
    let class = Receiver::of(fix.quality);
    if let (Some(east), Some(north)) = (fix.sigma_east_m, fix.sigma_north_m)
        && east > 0.0
        && north > 0.0
    {
        let (east, north) = (f64::from(east), f64::from(north));
        let floor = match class {
            Receiver::Unknown => Receiver::stating(east.max(north)).floor_m(),
            known => known.floor_m(),
        };
        return ([east.max(floor), north.max(floor)], SigmaSource::Gst);
    }
    // HDOP counts as one at the least, as the class figures are for about that; below one happens under a good sky. Over 20 it is no
    // dilution but a fault.
    let hdop = fix.hdop.map_or(1.0, |h| f64::from(h).clamp(1.0, 20.0));
    match class {
        Receiver::Autonomous | Receiver::Differential => {
            ([class.sigma_m() * hdop; 2], SigmaSource::Hdop)
        }
        Receiver::RtkFloat | Receiver::RtkFixed => ([class.sigma_m(); 2], SigmaSource::Hdop),
        Receiver::Unknown => ([class.sigma_m() * hdop; 2], SigmaSource::Assumed),
    }
}

/// One belief about the error process: how large the error is, in units of the claimed sigma, and over what time it is correlated.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Belief {
    /// How much of the belief this is, 0 to 1.
    pub weight: f64,
    /// How many times its claimed sigma the receiver errs.
    pub scale: f64,
    /// Correlation time of its slow part, seconds.
    pub correlation_s: f64,
}

/// The error process of one receiver on one walk.
///
/// Position error per axis = scale × claimed sigma × (correlated part + white part); the correlated part is a
/// first-order Gauss-Markov process.
#[derive(Debug, Clone, PartialEq)]
pub struct Process {
    /// All beliefs; weights sum to one. Ordered by correlation time, then scale.
    pub beliefs: Vec<Belief>,
    /// The correlation times alone.
    pub correlation_s: Vec<f64>,
    /// What was believed of the logarithm of the scale before any evidence.
    pub claim: ClaimSpread,
    /// Root mean square of the scale before any evidence.
    pub usual: f64,
}

/// How many correlation times there are.
const TIMES: usize = 12;
/// Scales are this many widths of the prior apart, and there are this many on either side of its centre: nothing that a band of 95 %
/// rests on lies beyond.
const SCALE_STEP: f64 = 0.4;
const SCALES_ASIDE: i32 = 7;

impl Process {
    /// The beliefs about a receiver of this class, with a sigma from this source, before any evidence. `correlation_s` is the correlation
    /// time if it is given, else many are believed possible.
    pub(crate) fn prior(
        class: Receiver,
        source: SigmaSource,
        correlation_s: Option<f64>,
    ) -> Process {
        Process::of(class.claim(source), correlation_s)
    }

    /// The beliefs for a given prior of the scale.
    pub(crate) fn of(claim: ClaimSpread, correlation_s: Option<f64>) -> Process {
        let times: Vec<f64> = match correlation_s {
            Some(time) => vec![time],
            None => {
                let (low, high) = (CORRELATION_RANGE_S.0.ln(), CORRELATION_RANGE_S.1.ln());
                (0..TIMES)
                    .map(|k| (low + (high - low) * (k as f64 + 0.5) / TIMES as f64).exp())
                    .collect()
            }
        };
        let scales: Vec<(f64, f64)> = (-SCALES_ASIDE..=SCALES_ASIDE)
            .map(|k| {
                let aside = SCALE_STEP * f64::from(k);
                let scale = (claim.centre + claim.width * aside).exp();
                (scale, (-0.5 * aside * aside).exp())
            })
            .collect();
        let whole = scales.iter().map(|s| s.1).sum::<f64>() * times.len() as f64;
        let mut beliefs = Vec::with_capacity(times.len() * scales.len());
        for &correlation_s in &times {
            beliefs.extend(scales.iter().map(|&(scale, weight)| Belief {
                weight: weight / whole,
                scale,
                correlation_s,
            }));
        }
        let mut process = Process {
            beliefs,
            correlation_s: times,
            claim,
            usual: 1.0,
        };
        process.usual = process.scale();
        process
    }

    /// How many times more this receiver is believed to err than its kind usually does: 1 before any evidence.
    pub(crate) fn beyond_usual(&self) -> f64 {
        self.scale() / self.usual
    }

    /// The sum over the beliefs with this correlation time of their weight times their scale squared.
    pub(crate) fn scale2_of(&self, correlation_s: f64) -> f64 {
        self.beliefs
            .iter()
            .filter(|b| b.correlation_s == correlation_s)
            .map(|b| b.weight * b.scale * b.scale)
            .sum()
    }

    /// Root mean square of the scale over all beliefs: how many times its claim the receiver is believed to err.
    pub(crate) fn scale(&self) -> f64 {
        self.beliefs
            .iter()
            .map(|b| b.weight * b.scale * b.scale)
            .sum::<f64>()
            .sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fix::{Quality, Source};

    /// A table that names no quality but states millimetres is believed down to the centimetre that RTK can do. A phone's metres, and a
    /// claim of a named kind, keep that kind's floor.
    #[test]
    fn a_stated_accuracy_is_honoured_as_far_as_its_kind_can_reach() {
        for (quality, stated_m, sigma_m) in [
            (Quality::Unknown, 0.0093, 0.01),
            (Quality::Unknown, 0.03, 0.03),
            (Quality::Unknown, 0.2, 0.2),
            (Quality::Unknown, 3.2, 3.2),
            (Quality::Autonomous, 0.0093, 0.8),
            (Quality::RtkFixed, 0.0093, 0.01),
        ] {
            let fix = Fix {
                lat_deg: 0.0,
                lon_deg: 0.0,
                height_m: None,
                clock_s: None,
                date: None,
                quality,
                satellites: None,
                hdop: None,
                sigma_east_m: Some(stated_m),
                sigma_north_m: Some(stated_m),
                source: Source::Point,
                file: 0,
                line: 1,
                track: 0,
                segment: 0,
            };
            let ([east_m, _], source) = fix_sigma_m(&fix, None);
            assert!(
                (east_m - sigma_m).abs() < 1e-6,
                "{quality:?} {stated_m} {east_m}"
            );
            assert_eq!(source, SigmaSource::Gst);
        }
    }

    #[test]
    fn prior_weights_sum_to_one_and_have_the_stated_spread() {
        for source in [SigmaSource::Gst, SigmaSource::Hdop, SigmaSource::Given] {
            let process = Process::prior(Receiver::RtkFloat, source, None);
            let claim = Receiver::RtkFloat.claim(source);
            let sum = |value: fn(&Belief) -> f64| -> f64 {
                process.beliefs.iter().map(|b| b.weight * value(b)).sum()
            };
            let mean = sum(|b| b.scale.ln());
            assert!((sum(|_| 1.0) - 1.0).abs() < 1e-12);
            assert!((mean - claim.centre).abs() < 1e-9, "{mean}");
            let width = (sum(|b| b.scale.ln().powi(2)) - mean * mean).sqrt();
            assert!((width / claim.width - 1.0).abs() < 0.03, "{width}");
            assert!(
                process
                    .correlation_s
                    .iter()
                    .all(|&t| (15.0..600.0).contains(&t))
            );
        }
    }
}
