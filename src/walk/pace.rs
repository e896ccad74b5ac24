//! How a walk goes from fix to fix: its pace, the time of a step, how unsteady single steps are, and how far one may reach.

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

pub(crate) fn median(values: &mut [f64]) -> Option<f64> {
    if values.is_empty() {
        return None;
    }
    let middle = values.len() / 2;
    let (_, &mut value, _) = values.select_nth_unstable_by(middle, f64::total_cmp);
    Some(value)
}

/// Typical walking speed, m/s: median over windows in which the walker moved at all. They are long enough, one to five
/// seconds, to keep the receiver's noise out of it; longer ones cut corners.
pub(super) fn pace_m_s(spots: &[Spot], step_s: f64, rough_m: f64) -> f64 {
    const SECONDS_A_METRE: f64 = 20.0;
    // Two woven streams a few metres apart lie on each other again after an even number of fixes, and over so long a metre or
    // two of noise are no speed.
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

/// Speeds over so many steps, m/s, where there was any.
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

/// Unsteadiness of single steps that the log itself shows, metres per axis: from the median second difference of evenly
/// timed fixes, which corners and pauses hardly touch. For white noise `w` the second difference has a spread of
/// `sqrt(6) w` and a step one of `sqrt(2) w`; the median length of a two-dimensional normal is 1.1774 sigma.
///
/// `apart` is how many spots lie between those compared, `step_s` the time between them.
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
    // Two woven streams are rough at every step; that is for the chains to find out.
    let sigma_m = spots.first().map_or(0.0, Spot::sigma);
    (median(&mut bends).unwrap_or(0.0) / (1.1774 * 3f64.sqrt())).min(sigma_m)
}

/// What walking and noise together may do between two fixes.
pub(super) struct Reach {
    pub pace_m_s: f64,
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

    /// No more than [`Reach::between_m`], and quick: nearly every step is within it.
    pub(crate) fn surely_m(&self, from: &Spot, to: &Spot) -> f64 {
        self.with_noise_m((to.t_s - from.t_s).max(0.0), self.rough_m)
    }

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
