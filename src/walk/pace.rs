//! How a walk goes from fix to fix: its pace, the time of a step, how unsteady single steps are, and how far one step may reach.
//!
//! All of it is learnt from the log. Medians are used throughout, because a few blunders, corners and standstills move a median by
//! little.

use super::{Spot, wander_m};
use crate::limits::walk::jump::NOISE_SIGMAS;
use crate::process::hand::{DRIVEN_M_S, FASTEST_M_S, REACH_WOBBLE_M};
use crate::ring::{distance_m, size_m};

/// Median time between fixes, seconds; 1 where there is none.
pub(super) fn median_step_s(spots: &[Spot]) -> f64 {
    let mut steps: Vec<f64> = spots
        .windows(2)
        .map(|w| w[1].t_s - w[0].t_s)
        .filter(|&s| s > 0.0 && s.is_finite())
        .collect();
    median(&mut steps).unwrap_or(1.0)
}

/// The middle value; the upper of the two middle ones where their number is even. `None` where there is none. Reorders the values.
pub(crate) fn median(values: &mut [f64]) -> Option<f64> {
    if values.is_empty() {
        return None;
    }
    let middle = values.len() / 2;
    let (_, &mut value, _) = values.select_nth_unstable_by(middle, f64::total_cmp);
    Some(value)
}

/// Typical speed while moving, m/s: the median over windows of time in which the walker moved at all; 1 where there was none.
///
/// Windows are one to five seconds long, the longer the unsteadier the receiver, as its noise would pass for speed in short ones; still
/// longer windows would cut corners. A first look over ten seconds finds out whether the edge was driven.
pub(super) fn pace_m_s(spots: &[Spot], step_s: f64, rough_m: f64) -> f64 {
    // Seconds of window for each metre of unsteadiness.
    const SECONDS_A_METRE: f64 = 20.0;
    // Driving is looked for over so long a window, with an even number of fixes: two interleaved streams some metres apart are then
    // compared each with itself, and a metre or two of noise makes no speed worth the name.
    const DRIVEN_S: f64 = 10.0;
    let half = ((0.5 * DRIVEN_S / step_s).round() as usize).clamp(1, 100);
    let mut driven = speeds_m_s(spots, 2 * half);
    match median(&mut driven) {
        Some(pace_m_s) if pace_m_s > DRIVEN_M_S => return pace_m_s,
        _ => {}
    }
    let window_s = (SECONDS_A_METRE * rough_m).clamp(1.0, 5.0);
    let window = ((window_s / step_s).round() as usize).clamp(1, 200);
    let mut speeds = speeds_m_s(spots, window);
    speeds.retain(|&speed| speed < FASTEST_M_S);
    median(&mut speeds).unwrap_or(1.0)
}

/// Speeds over windows of so many steps, m/s, each window beginning half a window after the last. Windows slower than 0.3 m/s, in which
/// the walker stood, are left out.
fn speeds_m_s(spots: &[Spot], window: usize) -> Vec<f64> {
    let stride = (window / 2).max(1);
    spots
        .windows(window + 1)
        .step_by(stride)
        .filter_map(|w| {
            let (first, last) = (w.first()?, w.last()?);
            let speed = distance_m(first.at, last.at) / (last.t_s - first.t_s);
            (speed > 0.3 && speed.is_finite()).then_some(speed)
        })
        .collect()
}

/// Unsteadiness of single steps that the log itself shows, metres per axis.
///
/// It follows from the median size of the second difference `c - 2 b + a` of three evenly timed fixes: an even walk on a straight has
/// none, and corners and pauses are too few to move the median much. For white noise `w` the second difference has a spread of `sqrt(6)
/// w` and a step one of `sqrt(2) w`, hence the division by `sqrt(3)`; the median length of a two-dimensional normal vector is 1.1774
/// sigma.
///
/// The result is no more than the first spot's claimed sigma, and 0 where there are too few spots. `apart` is how many spots lie from one
/// of those compared to the next, `step_s` the time between them.
pub(super) fn rough_m(spots: &[Spot], apart: usize, step_s: f64) -> f64 {
    let mut bends: Vec<f64> = spots
        .windows(2 * apart + 1)
        .map(|w| (&w[0], &w[apart], &w[2 * apart]))
        .filter(|(a, b, c)| (c.t_s - 2.0 * b.t_s + a.t_s).abs() < 0.1 * step_s && a.at != b.at)
        .map(|(a, b, c)| {
            let bend = c.at - b.at * 2.0 + a.at;
            size_m(bend)
        })
        .collect();
    // Two interleaved streams are rough at every step. Limiting it to the claimed sigma keeps them apart when chains are strung.
    let sigma_m = spots.first().map_or(0.0, Spot::sigma);
    (median(&mut bends).unwrap_or(0.0) / (1.1774 * 3f64.sqrt())).min(sigma_m)
}

/// How far walking and noise together may lead from one fix to the next, as learnt from one walk.
pub(super) struct Reach {
    /// Typical speed while moving, metres a second.
    pub pace_m_s: f64,
    /// Unsteadiness of single steps, metres per axis, by [`rough_m`].
    pub rough_m: f64,
    /// Median time between fixes, seconds.
    pub step_s: f64,
}

impl Reach {
    /// The furthest one may get from one fix to the next, metres.
    pub(crate) fn between_m(&self, from: &Spot, to: &Spot) -> f64 {
        let sigma = from.sigma().max(to.sigma());
        let gap_s = (to.t_s - from.t_s).max(0.0);
        self.with_noise_m(gap_s, wander_m(sigma, gap_s).max(self.rough_m))
    }

    /// A smaller limit that is quick to work out, as it leaves out the claimed sigma: nearly every step is within it, and then the full
    /// limit is not needed.
    pub(crate) fn surely_m(&self, from: &Spot, to: &Spot) -> f64 {
        self.with_noise_m((to.t_s - from.t_s).max(0.0), self.rough_m)
    }

    /// What is walked in a hurry, noise on top of that, and the swaying pole, metres.
    fn with_noise_m(&self, gap_s: f64, noise_m: f64) -> f64 {
        let hurry_m_s = 1.7 * self.pace_m_s;
        let fastest_m_s = if self.pace_m_s > DRIVEN_M_S {
            hurry_m_s
        } else {
            hurry_m_s.min(FASTEST_M_S)
        };
        fastest_m_s * gap_s + NOISE_SIGMAS * noise_m + REACH_WOBBLE_M
    }
}
