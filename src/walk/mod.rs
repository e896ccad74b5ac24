//! A walk on the plane: what was not walked is taken out of it, it is split into laps, and each lap is closed.
//!
//! The input is the log's fixes (single positions with a time, as a GNSS receiver gives them) on the survey's plane, in metres. The
//! output is a cleaned walk (`clean`), the places where the walker stood still (`pauses`) and the laps, each from one passing of the
//! start to the next (`laps`).
//!
//! Everything here uses time, position and claimed quality only. No fix is deleted without a trace: each one left out is listed with its
//! reason. A sigma is always one standard deviation, per axis.

pub mod clean;
mod gaps;
pub mod jumps;
pub mod laps;
pub mod pace;
pub mod pauses;
mod streams;
pub mod turning;

use crate::process::HELD_SIGMAS;
use crate::process::{CORRELATION_RANGE_S, WHITE_SHARE};
use crate::ring::distance_m;
use geo::Coord;

/// One fix on the plane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spot {
    /// Plane metres.
    pub at: Coord<f64>,
    /// Seconds on the log's clock.
    pub t_s: f64,
    /// The standard deviation that the receiver claims (or that is assumed for its class), east and north, metres.
    pub sigma_m: [f64; 2],
    /// Index into the log's fixes.
    pub fix: usize,
}

/// How far the receiver's error changes within `gap_s` seconds, metres, one sigma of one axis, so that a blunder can be told from noise
/// and walking.
///
/// The error of a receiver is correlated in time: two fixes a second apart share most of it, two fixes ten minutes apart hardly any.
/// Assumed is the quickest process that the band room allows for: a correlation that falls by `exp(-gap / 15 s)`, and a tenth of the
/// variance white (independent from fix to fix). The variance of a difference is then `2 sigma² (0.9 (1 - exp(-gap / 15 s)) + 0.1)`.
pub(crate) fn wander_m(sigma_m: f64, gap_s: f64) -> f64 {
    sigma_m * wander_sigmas(gap_s)
}

/// What [`wander_m`] is for a sigma of one metre. Worked out once where many spots are compared over the same gap.
fn wander_sigmas(gap_s: f64) -> f64 {
    (2.0 * (1.0 - (-gap_s / CORRELATION_RANGE_S.0).exp()) * (1.0 - WHITE_SHARE) + 2.0 * WHITE_SHARE)
        .sqrt()
}

impl Spot {
    /// Root mean square of the sigmas of the two axes, metres.
    pub(crate) fn sigma(&self) -> f64 {
        ((self.sigma_m[0] * self.sigma_m[0] + self.sigma_m[1] * self.sigma_m[1]) / 2.0).sqrt()
    }

    /// Whether the other position is so near to this one that the receiver must have held it: no error that is alive stays so small.
    pub(crate) fn holds(&self, other: &Spot) -> bool {
        distance_m(self.at, other.at) <= HELD_SIGMAS * self.sigma()
    }
}
