//! What is believed about a receiver's errors before and after seeing the log.

use crate::fix::{Fix, Quality};
use crate::normal;
use serde::Serialize;

/// Receiver class, as the log shows it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Receiver {
    Autonomous,
    Differential,
    RtkFloat,
    RtkFixed,
    Unknown,
}

/// Where the position sigma came from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum SigmaSource {
    /// Claimed by the log (GST, GBS, an accuracy field).
    Gst,
    /// The class's figure times HDOP.
    Hdop,
    /// Corrected by what the laps, standstills and the closing showed.
    Laps,
    /// Given by the surveyor.
    Given,
    /// Nothing in the log says anything: a stated assumption.
    Assumed,
}

impl Receiver {
    pub fn of(quality: Quality) -> Receiver {
        match quality {
            Quality::Autonomous | Quality::Pps => Receiver::Autonomous,
            Quality::Differential => Receiver::Differential,
            Quality::RtkFloat => Receiver::RtkFloat,
            Quality::RtkFixed => Receiver::RtkFixed,
            _ => Receiver::Unknown,
        }
    }

    /// Planning figure, metres per axis, one sigma, open sky: autonomous 2.0, SBAS or differential 0.8, RTK float 0.3,
    /// RTK fixed 0.02 (a judgement between published levels; see docs/accuracy.md). A log that says nothing is taken
    /// for an autonomous receiver.
    pub fn sigma_m(self) -> f64 {
        match self {
            Receiver::Autonomous | Receiver::Unknown => 2.0,
            Receiver::Differential => 0.8,
            Receiver::RtkFloat => 0.3,
            Receiver::RtkFixed => 0.02,
        }
    }

    /// The least sigma believed of a receiver of this class, whatever it claims, metres per axis: real receivers
    /// claim a half to a third of their errors, and phones stand still metres away from the truth.
    pub fn floor_m(self) -> f64 {
        match self {
            Receiver::Autonomous | Receiver::Unknown => 0.8,
            Receiver::Differential => 0.3,
            Receiver::RtkFloat => 0.10,
            Receiver::RtkFixed => 0.01,
        }
    }

    /// As sheets say it.
    pub fn text(self) -> &'static str {
        match self {
            Receiver::Autonomous => "autonomous (phone-grade)",
            Receiver::Differential => "differential or SBAS",
            Receiver::RtkFloat => "RTK float",
            Receiver::RtkFixed => "RTK fixed",
            Receiver::Unknown => "unknown receiver",
        }
    }
}

/// Sigma of one fix, east and north, metres, and where it came from.
///
/// HDOP scales code receivers only: a phase receiver's error does not follow it.
pub fn fix_sigma_m(fix: &Fix, given_m: Option<f64>) -> ([f64; 2], SigmaSource) {
    if let Some(sigma_m) = given_m {
        return ([sigma_m; 2], SigmaSource::Given);
    }
    let class = Receiver::of(fix.quality);
    if let (Some(east), Some(north)) = (fix.sigma_east_m, fix.sigma_north_m)
        && east > 0.0
        && north > 0.0
    {
        let floor = class.floor_m();
        return (
            [f64::from(east).max(floor), f64::from(north).max(floor)],
            SigmaSource::Gst,
        );
    }
    // HDOP below one happens under a good sky; the class figures are for about one. Over 20 it is no dilution but a fault.
    let hdop = fix.hdop.map_or(1.0, |h| f64::from(h).clamp(1.0, 20.0));
    match class {
        Receiver::Autonomous | Receiver::Differential => {
            ([class.sigma_m() * hdop; 2], SigmaSource::Hdop)
        }
        Receiver::RtkFloat | Receiver::RtkFixed => ([class.sigma_m(); 2], SigmaSource::Hdop),
        Receiver::Unknown => ([class.sigma_m() * hdop; 2], SigmaSource::Assumed),
    }
}

/// One belief about the error process: how much, in units of the claimed sigma, and over what time it is correlated.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Belief {
    pub weight: f64,
    pub scale: f64,
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
    /// Standard deviation of ln scale before any evidence.
    pub spread: f64,
}

/// Share of the variance that is independent from fix to fix.
pub const WHITE_SHARE: f64 = 0.10;
/// How the pole wobbles about the edge, metres per axis, independent from second to second.
pub const WOBBLE_M: f64 = 0.02;
/// Range over which an unknown correlation time is averaged, seconds, evenly in its logarithm. Real logs show 10 s to
/// many minutes, and no single figure is defensible.
pub const CORRELATION_RANGE_S: (f64, f64) = (15.0, 600.0);
const TIMES: usize = 12;
const SCALES: usize = 9;

impl Process {
    /// Before any evidence. `spread` of the claimed sigma: 0.2 where the log or the surveyor states it, 0.3 where only
    /// HDOP and quality are known, 0.4 where nothing is.
    pub fn prior(source: SigmaSource, correlation_s: Option<f64>) -> Process {
        let spread = match source {
            SigmaSource::Gst | SigmaSource::Given | SigmaSource::Laps => 0.2,
            SigmaSource::Hdop => 0.3,
            SigmaSource::Assumed => 0.4,
        };
        let times: Vec<f64> = match correlation_s {
            Some(time) => vec![time],
            None => {
                let (low, high) = (CORRELATION_RANGE_S.0.ln(), CORRELATION_RANGE_S.1.ln());
                (0..TIMES)
                    .map(|k| (low + (high - low) * (k as f64 + 0.5) / TIMES as f64).exp())
                    .collect()
            }
        };
        // Equal shares of the normal, each at its middle.
        let scales: [f64; SCALES] = std::array::from_fn(|k| {
            (spread * normal::quantile((k as f64 + 0.5) / SCALES as f64)).exp()
        });
        let mut beliefs = Vec::with_capacity(times.len() * SCALES);
        for &time in &times {
            beliefs.extend(scales.map(|scale| Belief {
                weight: 1.0 / (times.len() * SCALES) as f64,
                scale,
                correlation_s: time,
            }));
        }
        Process {
            beliefs,
            correlation_s: times,
            spread,
        }
    }

    /// What the beliefs in this correlation time weigh, times their scale squared.
    pub fn scale2_of(&self, correlation_s: f64) -> f64 {
        self.beliefs
            .iter()
            .filter(|b| b.correlation_s == correlation_s)
            .map(|b| b.weight * b.scale * b.scale)
            .sum()
    }

    /// Root mean square scale.
    pub fn scale(&self) -> f64 {
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

    #[test]
    fn prior_weights_sum_to_one_and_centre_on_the_claim() {
        let process = Process::prior(SigmaSource::Gst, None);
        assert!((process.beliefs.iter().map(|b| b.weight).sum::<f64>() - 1.0).abs() < 1e-12);
        assert!((process.scale() - 1.03).abs() < 0.02, "{}", process.scale());
        assert!(
            process
                .correlation_s
                .iter()
                .all(|&t| (15.0..600.0).contains(&t))
        );
    }
}
